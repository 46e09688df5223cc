//! What a finished piece took against what was expected, and what that changes.

use super::program::Structure;
use super::reserve::Grams;
use super::swatch::SwatchSet;
use super::yarn::{LoopLength, loop_length};

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
    pub expected: Grams,
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
