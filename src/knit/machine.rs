//! Machine profiles: what a bed offers. No brands; a profile is a pitch, a width and whether
//! there is a ribber.

use super::needle::{Needle, Span};

/// A knitting machine as far as the engine minds.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Short name, a key in files and JSON.
    pub id: String,
    /// What a page calls it.
    pub title: String,
    /// Distance from needle to needle.
    pub pitch_mm: f64,
    /// Needles of a bed.
    pub needles: u32,
    /// Whether it has a second bed.
    pub ribber: bool,
    /// Where the figures come from.
    pub source: String,
}

impl Machine {
    /// The whole bed, centred like the numbers on its rail.
    pub fn bed(&self) -> Span {
        let left = (self.needles / 2) as i32;
        Span { left: Needle(-left), right: Needle(self.needles as i32 - left - 1) }
    }
}
