//! Machine profiles: what a bed offers. No brands; a profile is a pitch, a width and whether
//! there is a ribber.

use super::needle::{Needle, Span};

#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    pub id: String,
    pub title: String,
    /// Distance from needle to needle.
    pub pitch_mm: f64,
    pub needles: u32,
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
