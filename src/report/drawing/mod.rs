//! Pictures, as SVG: what they are drawn with, and each kind of picture. Drawn from the bed's run;
//! nothing is counted here. Lengths are millimetres on paper, `y` downwards.

mod canvas;
mod stripes;
mod typeface;
mod worn;

pub use canvas::{Anchor, Canvas, Drawing, Fill, Look, Point, Weight};
pub use stripes::{Sheet, contact_sheet, stripes};
pub use typeface::text_width;
