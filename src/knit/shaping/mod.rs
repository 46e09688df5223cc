//! Shaping sums every knitter does on the back of an envelope, done exactly: even spacing, short
//! rows out and back, wedges, outlines followed by steps. Pure functions of whole numbers and
//! gauges; they make numbers or [`Move`]s for a program. No garment and no body is known here, and
//! nothing is run: what comes of the moves is for the [`bed`](super::bed) to say.

mod gaps;
mod moves;
mod outline;
mod schedule;
mod short_row_heel;
mod wedges;

pub use gaps::{Ends, gaps};
pub use moves::Move;
pub use outline::{Follow, Outline, Stretch};
pub use schedule::{Interval, Schedule, schedule};
pub use short_row_heel::{HeelMarks, ShortRowHeel};
pub use wedges::wedges;
