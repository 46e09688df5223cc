//! What a finished piece took against what was expected, and what that changes.

use super::estimate::{Minutes, Need};
use super::program::Structure;
use super::stash::Date;
use super::swatch::SwatchSet;
use super::yarn::{LoopLength, loop_length};
use units::Mass;

/// What was noted of a finished piece, or would be.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recorded {
    /// Each ball on the scale, section after section.
    pub chain: Vec<BallWeighed>,
    /// What each section took, over all its balls.
    pub sections: Vec<TakenSection>,
    /// The yarn in a stitch, before the record and after it.
    pub learnt: Vec<Learnt>,
    /// The minutes it took, where they were noted.
    pub time: Option<TimeTaken>,
    /// The gift it was, which is done now.
    pub gift: Option<GiftEnded>,
    /// The piece it goes on with, where it is not one of its own.
    pub joined: Option<Joined>,
    /// The piece it is, where it is one of its own and may be the rest of a record that names none.
    pub apart: Option<Apart>,
}

/// A record that names no piece, and lacks what was weighed now: nobody knows whether they are one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Apart {
    /// What the new records have in common.
    pub piece: String,
    /// The line of the older one in records.toml.
    pub line: u32,
    /// Its sections.
    pub sections: Vec<String>,
    /// Its day, where noted.
    pub date: Option<Date>,
}

/// A piece that was begun in the records, of which more was weighed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Joined {
    /// What its records have in common.
    pub piece: String,
    /// Its sections so far.
    pub sections: Vec<String>,
    /// The day of the latest, where noted.
    pub date: Option<Date>,
}

/// A ball on the scale before and after a section took of it.
#[derive(Clone, Debug, PartialEq)]
pub struct BallWeighed {
    /// Name of the section.
    pub section: String,
    /// Id of the remnant.
    pub remnant: String,
    /// Id of its yarn.
    pub yarn: String,
    /// Its weight before.
    pub before: Mass,
    /// Its weight after; less.
    pub after: Mass,
}

impl BallWeighed {
    /// What the section took of it. Never negative: the way in sees to it.
    pub fn took_g(&self) -> f64 {
        self.before.grams() - self.after.grams()
    }
}

/// Minutes of work on a finished piece.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeTaken {
    /// What was noted.
    pub took: f64,
    /// What the estimate said.
    pub expected: Minutes,
    /// What it says of the next one.
    pub next: Minutes,
}

/// A gift that is done.
#[derive(Clone, Debug, PartialEq)]
pub struct GiftEnded {
    /// Id of the gift.
    pub gift: String,
    /// Remnants of which more was set aside than it took, with the grams that are free again.
    pub freed: Vec<(String, f64)>,
    /// Whether any yarn was set aside for it.
    pub planned: bool,
}

/// A section on the scale.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenSection {
    /// Name of the section.
    pub section: String,
    /// Id of the yarn.
    pub yarn: String,
    /// Grams gone from the scale.
    pub took_g: f64,
    /// What the estimate said.
    pub expected: Need,
    /// Stitches of the section by fabric, over all its yarns: what is noted beside its weight.
    pub stitches: Vec<(Structure, u64)>,
}

/// The yarn in a stitch, before a record and after it.
#[derive(Clone, Debug, PartialEq)]
pub struct Learnt {
    /// Id of the yarn.
    pub yarn: String,
    /// The fabric the stitch is of.
    pub structure: Structure,
    /// As estimated without the record.
    pub before: LoopLength,
    /// As estimated with it.
    pub after: LoopLength,
}

impl Learnt {
    /// What changed for these structures, each once.
    pub fn between(
        yarn: &str,
        before: &SwatchSet,
        after: &SwatchSet,
        structures: &[Structure],
    ) -> Vec<Learnt> {
        let mut structures = structures.to_vec();
        structures.sort_unstable();
        structures.dedup();
        structures
            .into_iter()
            .map(|structure| Learnt {
                yarn: yarn.to_owned(),
                structure,
                before: loop_length(before, structure),
                after: loop_length(after, structure),
            })
            .collect()
    }
}
