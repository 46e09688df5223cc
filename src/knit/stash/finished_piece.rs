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
    /// Id of the swatch, where noted.
    pub swatch: Option<String>,
    /// What each section took.
    pub sections: Vec<WeighedSection>,
    /// Minutes of work on the whole piece, at the machine and off it, where noted. Of a piece in several
    /// yarns one record has them.
    pub minutes: Option<f64>,
    /// The day it was weighed, where noted.
    pub date: Option<Date>,
    /// In the knitter's words.
    pub note: Option<String>,
    /// What the records of one piece have in common, where it has several yarns or more than one piece is
    /// finished in a day; records without it go by garment, size and day.
    pub piece: Option<String>,
    /// The knitter was asked about it, and says that it is right however odd it looks.
    pub sure: bool,
}

impl FinishedPiece {
    /// Minutes that work on a piece may take: up to a year of evenings.
    pub const MINUTES: std::ops::RangeInclusive<f64> = 1.0..=100_000.0;
    /// What to do about others.
    pub const MINUTES_HINT: &str = "give the minutes of work on the whole piece, from 1 to 100000";
}

/// The yarn on the scale before and after a section was knitted.
#[derive(Clone, Debug, PartialEq)]
pub struct WeighedSection {
    /// As the garment names it.
    pub name: String,
    /// The yarn on the scale before.
    pub before: Mass,
    /// The yarn on the scale after; not more.
    pub after: Mass,
}

impl WeighedSection {
    /// What went into the section. Never negative: the way in sees to it.
    pub fn used_g(&self) -> f64 {
        self.before.grams() - self.after.grams()
    }
}
