//! What all that was weighed in a workspace taught, ready to be told: how much yarn this knitter takes, and
//! each piece against what was expected of it.

use super::estimate::{HeldAgainst, Likely, PaceEffect, Standing};
use super::program::Structure;
use super::stash::Date;

/// What was learnt, and from what.
#[derive(Clone, Debug, PartialEq)]
pub struct Taught {
    /// What the knitter takes over all, then by fabric, by yarn and by swatch. Only those of which something
    /// was weighed; none where nothing was.
    pub habits: Vec<Habit>,
    /// Fabrics of which nothing was weighed.
    pub unknown: Vec<Structure>,
    /// How far a piece is held to be from its twin, as a share (standard deviation).
    pub unevenness: f64,
    /// The same before anything was weighed.
    pub usual_unevenness: f64,
    /// What the minutes that were noted say, the knitter's own pace first; none where none were noted.
    pub pace: Vec<PaceHabit>,
    /// Every piece of the records, in their order.
    pub pieces: Vec<PieceTold>,
    /// Weighed swatches that are not learnt from.
    pub odd_swatches: Vec<HeldAgainst>,
}

/// How much more or less yarn than the model something takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Habit {
    /// What takes it.
    pub of: HabitOf,
    /// A factor on the model's grams, and where it lies with 95 %: how sure the habit is, not what one piece
    /// takes.
    pub factor: Likely,
    /// Pieces it was learnt from.
    pub pieces: u32,
    /// Swatches it was learnt from.
    pub swatches: u32,
}

/// How much longer or shorter than its operations something takes.
#[derive(Clone, Debug, PartialEq)]
pub struct PaceHabit {
    /// What takes it; of [`PaceEffect::Practice`] what twice as many made come to.
    pub of: PaceEffect,
    /// A factor on the minutes by the operations, and where it lies with 95 %.
    pub factor: Likely,
    /// Pieces whose minutes it was learnt from.
    pub pieces: u32,
    /// What these took on the average of their logarithms, as they stand: a factor on the minutes by the
    /// operations. Of the knitter alone, and only where practice stands between it and `factor`, which is of the
    /// first of a kind.
    pub as_they_stand: Option<f64>,
}

/// Of what a habit is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HabitOf {
    /// The knitter, in all yarns and fabrics.
    All,
    /// The knitter in a fabric, over all yarns.
    Fabric(Structure),
    /// The knitter in a yarn, over all fabrics.
    Yarn {
        /// Ids of those that were knitted: several where they share a swatch, as colours of one yarn.
        knitted: Vec<String>,
        /// How many more share it.
        others: usize,
    },
    /// Stitches reckoned from a swatch, beyond what knitter, fabric and yarn account for: its id.
    Swatch(String),
    /// Stitches of a yarn without a swatch, whose gauge was guessed: its id.
    Guess(String),
    /// Stitches reckoned from a swatch as it was before it was knitted anew or taken away: its id.
    FormerSwatch(String),
    /// Stitches of a yarn whose gauge was guessed before it had a swatch: its id.
    FormerGuess(String),
}

/// A piece of the records: what it took, and what was expected of it.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceTold {
    /// Its entries in the records, from 1: one for each of its yarns.
    pub entries: Vec<usize>,
    /// Id of the garment.
    pub garment: String,
    /// Id of the size, or the name of the person it was made to measure for.
    pub size: String,
    /// The same as pages call it: "5-6 years".
    pub label: String,
    /// The lines of the records that its entries begin in, where known.
    pub lines: Vec<u32>,
    /// Ids of its yarns.
    pub yarns: Vec<String>,
    /// The day it was weighed, where noted.
    pub date: Option<Date>,
    /// In the knitter's words.
    pub note: Option<String>,
    /// Grams it took.
    pub took_g: f64,
    /// Grams expected from all other pieces and swatches, and where 19 of 20 such lie; `None` where there is
    /// nothing to expect.
    pub expected: Option<Likely>,
    /// The section furthest from what was expected of it, where it has several.
    pub furthest: Option<SectionTold>,
    /// Whether it counts.
    pub counts: Counts,
    /// The knitter says that what it weighed is right, however odd it looks.
    pub sure: bool,
    /// The minutes it took, where they were noted.
    pub time: Option<TimeTold>,
}

/// Minutes of a piece: what it took, and what was expected of the sections they are of.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeTold {
    /// Minutes noted.
    pub took: f64,
    /// Minutes expected from all other pieces, and where 19 of 20 such lie; `None` where they can't be.
    pub expected: Option<Likely>,
    /// What became of them.
    pub standing: Standing,
    /// The knitter says that they are right, however odd they look.
    pub sure: bool,
}

impl PieceTold {
    /// By how much more it took than expected, as a share.
    pub fn differs(&self) -> Option<f64> {
        self.expected.map(|expected| self.took_g / expected.middle - 1.0)
    }
}

/// A section of a piece on the scale.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionTold {
    /// As the garment names it.
    pub name: String,
    /// Grams it took.
    pub took_g: f64,
    /// Grams expected.
    pub expected_g: f64,
}

/// Whether a piece counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Counts {
    /// It was held against the others.
    Held(Standing),
    /// It can't be knitted again, so there is nothing to hold it against: why.
    LeftAside(String),
}

impl Counts {
    /// Whether estimates learn from it.
    pub fn is_learnt_from(&self) -> bool {
        *self == Counts::Held(Standing::Taken)
    }

    /// The word in JSON.
    pub const fn name(&self) -> &'static str {
        match self {
            Counts::Held(Standing::Taken) => "taken",
            Counts::Held(Standing::Asked) => "asked",
            Counts::Held(Standing::Senseless) => "senseless",
            Counts::LeftAside(_) => "left aside",
        }
    }
}
