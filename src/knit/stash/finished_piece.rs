use super::{Date, KnittedSection, Sure};
use crate::operation::Operation;
use crate::program::Structure;
use units::Mass;

/// A garment that was knitted and weighed as it grew: what the next estimate learns from.
#[derive(Clone, Debug, Default, PartialEq)]
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
    /// What was knitted in each section, as the bed counted it at the time, where noted. The person may have
    /// grown since, the garment have changed: the piece has not.
    pub knitted: Vec<KnittedSection>,
    /// Yarn in a stitch of each fabric in mm, as its gauge had it at the time, where noted.
    pub loop_mm: Vec<(Structure, f64)>,
    /// Minutes of work on the sections weighed, at the machine and off it, where noted. Of a piece in several
    /// yarns one record has them.
    pub minutes: Option<f64>,
    /// By section that the minutes are of: what was done in it, and how often, where noted.
    pub work: Vec<(String, Vec<(Operation, f64)>)>,
    /// The day it was weighed, where noted.
    pub date: Option<Date>,
    /// In the knitter's words.
    pub note: Option<String>,
    /// What the records of one piece have in common, where it has several yarns, was noted a section at a
    /// time, or more than one piece is finished in a day; records without it go by garment, size and day.
    pub piece: Option<String>,
    /// The knitter was asked about it, and says what of it is right however odd it looks.
    pub sure: Sure,
}

impl FinishedPiece {
    /// Minutes that work on a piece may take: up to a year of evenings.
    pub const MINUTES: std::ops::RangeInclusive<f64> = 1.0..=100_000.0;
    /// What to do about others.
    pub const MINUTES_HINT: &str = "give the minutes of work on what was weighed, from 1 to 100000";

    /// What the bed counted of a section, where noted.
    pub fn knitted(&self, section: &str) -> Option<&KnittedSection> {
        self.knitted.iter().find(|knitted| knitted.name == section)
    }

    /// Yarn in a stitch of a fabric in mm, where noted.
    pub fn loop_of(&self, fabric: Structure) -> Option<f64> {
        self.loop_mm.iter().find(|(own, _)| *own == fabric).map(|(_, mm)| *mm)
    }

    /// What went into a section of it in its yarn, in grams.
    pub fn used_g(&self, section: &str) -> f64 {
        let own = self.sections.iter().filter(|weighed| weighed.name == section);
        own.map(WeighedSection::used_g).sum()
    }
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
