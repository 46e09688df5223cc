//! A garment in the round as a still: from one side, what lies behind hidden.

mod contour;
mod eye;
mod page;
mod raster;
mod stretch;

pub use eye::Side;
pub use page::{RoundSheet, Shown};

use knit::round::Shape;
use knit::thread::{Paint, Palette};

/// A size in the round, as pictures and files take it.
#[derive(Clone, Copy, Debug)]
pub struct InRound<'r> {
    /// What the size is called.
    pub label: &'r str,
    /// The shape at rest.
    pub shape: &'r Shape,
    /// By part and point, its paint.
    pub paints: &'r [Vec<Paint>],
    /// What paints stand for.
    pub palette: &'r Palette,
    /// What it tells, a sentence each without its full stop.
    pub told: &'r [String],
}
