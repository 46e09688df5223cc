use super::Date;
use units::Mass;

/// A garment that was knitted and weighed as it grew: what the next estimate learns from.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishedPiece {
    /// Id of the garment.
    pub garment: String,
    /// Id of the size, or the name of the person it was made to measure for.
    pub size: String,
    /// Options as they would be typed.
    pub options: Vec<(String, String)>,
    /// Id of the yarn.
    pub yarn: String,
    /// Ids of the machine profile and of the swatch it was graded on, where noted.
    pub machine: Option<String>,
    pub swatch: Option<String>,
    pub sections: Vec<WeighedSection>,
    pub date: Option<Date>,
    pub note: Option<String>,
}

/// The yarn on the scale before and after a section was knitted.
#[derive(Clone, Debug, PartialEq)]
pub struct WeighedSection {
    pub name: String,
    pub before: Mass,
    pub after: Mass,
}

impl WeighedSection {
    /// What went into the section. Never negative: the way in sees to it.
    pub fn used_g(&self) -> f64 {
        self.before.grams() - self.after.grams()
    }
}
