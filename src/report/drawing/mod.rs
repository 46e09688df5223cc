//! Pictures, as SVG: what they are drawn with, and each kind of picture. Drawn from the bed's run;
//! nothing is counted here. Lengths are millimetres on paper, `y` downwards.

mod canvas;
mod typeface;

pub use canvas::{Anchor, Canvas, Drawing, Look, Weight};
pub use typeface::text_width;
#[cfg(feature = "pdf")]
pub(in crate::report) use typeface::{BOLD, FAMILY, REGULAR};
