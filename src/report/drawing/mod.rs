//! Pictures, as SVG: what they are drawn with, and each kind of picture. Drawn from the bed's run;
//! nothing is counted here. Lengths are millimetres on paper, `y` downwards.

mod canvas;
mod finished;
mod fold;
mod laid_flat;
mod numbers;
mod outline;
mod round;
mod row_chart;
mod schematic;
pub(crate) mod shades;
mod size_chart;
mod stack;
mod stitches;
mod stripes;
mod typeface;
mod weighed;
mod words;
mod worn;

pub use canvas::{Anchor, Canvas, Fill, Look, Point};
pub use finished::Drawing;
pub(crate) use fold::Holding;
pub(crate) use laid_flat::LaidFlat;
pub use round::{InRound, RoundSheet, Shown, Side};
pub use row_chart::{RowChartOptions, row_chart, row_charts};
pub use schematic::schematic;
pub(crate) use schematic::{ShownPiece, shown_pieces};
pub use size_chart::{body_picture, finished_picture};
pub use stack::stacked;
pub use stitches::stitches;
pub use stripes::{LegendLine, StripesSheet, contact_sheet, stamp, stripes, worn};
#[cfg(feature = "pdf")]
pub(crate) use typeface::{BOLD, FAMILY, REGULAR};
pub use typeface::{Weight, text_width};
pub use weighed::weighed_picture;
