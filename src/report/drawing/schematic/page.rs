//! What is drawn on one page, and in which sizes.

use knit::size_run::{Made, SizeResult, SizeRun};
use units::LengthUnit;

/// As wide as a sheet between its margins.
pub(super) const PAGE_MM: f64 = 178.0;

pub(super) const TEXT: f64 = 3.2;
pub(super) const LINE: f64 = 4.3;
/// More outlines over each other can't be told apart.
pub(super) const MOST_NESTED: usize = 6;

/// The pieces of the sizes shown, in the units asked for.
pub(super) struct Schematic<'a> {
    pub(super) run: &'a SizeRun,
    pub(super) units: &'a [LengthUnit],
    pub(super) shown: &'a [(&'a SizeResult, &'a Made)],
    pub(super) left_out: usize,
}

impl Schematic<'_> {
    pub(super) fn nested(&self) -> bool {
        self.shown.len() > 1
    }

    pub(super) fn label(&self, index: usize) -> &str {
        &self.shown[index].0.body.label
    }
}
