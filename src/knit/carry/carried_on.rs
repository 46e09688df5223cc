use super::{MixedWidth, Uneven, WorkPlace};
use crate::garment::Decision;
use crate::grade::Finished;
use crate::size_run::SizeRun;
use crate::yarn::YarnNeed;
use diag::Diagnostics;

/// A garment that goes on from its middle.
#[derive(Clone, Debug)]
pub struct CarriedOn {
    /// As it was begun.
    pub before: SizeRun,
    /// As it goes on: the program is cut at the place, so that no step lies on both sides.
    pub after: SizeRun,
    /// Where the work stands.
    pub at: WorkPlace,
    /// Steps of the piece in hand that are done.
    pub done: usize,
    /// The numbers that what is knitted has settled, by name.
    pub spent: Vec<String>,
    /// The numbers that are others now: as they were, and as they are.
    pub changed: Vec<(Decision, Decision)>,
    /// Every finished measure as it was promised and as it comes out.
    pub sizes: Vec<CarriedSize>,
    /// Sides sewn together that no longer go well with each other.
    pub uneven: Vec<Uneven>,
    /// Yarn of what is still to knit.
    pub to_come: YarnNeed,
    /// What is odd about it.
    pub warnings: Diagnostics,
}

/// A finished measure before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedSize {
    /// As it was promised.
    pub before: Finished,
    /// At the gauge of each part of it.
    pub after: Finished,
    /// Where the piece changes its width at the place.
    pub mixed: Option<MixedWidth>,
}
