//! What is estimated and not counted: finished sizes, grams and minutes, each with how sure it is, and
//! what finished pieces teach of them.
//!
//! One way: readings make a [`Pitch`], two of them a [`Gauge`], a gauge a loop length
//! ([`loop_from_gauge`]), and the caller turns loops into grams of the model. What was weighed moves
//! these ([`Learnt`]), and gives the need of a piece or of a plan ([`Need`]), the chance that it runs
//! out, and what to set aside. Minutes go the same way ([`TimeTable`], [`Pace`], [`Minutes`]).
//!
//! Every figure carries its sources of error ([`Figure`]), so that what two figures have in common is
//! not taken for chance. Two readings of a figure are told apart: how sure the mean is, and what the
//! next piece will take. Where "±" or an interval is told it is 95 %.
//!
//! Nothing here knows a garment, a run or a file; of the rest of the floor it uses
//! [`Structure`](super::program::Structure) alone. Lengths are millimetres, masses grams, times minutes;
//! spreads are standard deviations, as shares where not said otherwise.

mod belief;
mod effect;
mod figure;
mod filter;
mod finished;
mod gauge;
mod held_against;
mod judged;
mod learnt;
mod lesson;
mod likely;
mod loop_length;
mod matrix;
mod minutes;
mod mixture;
mod need;
mod pace;
mod pace_effect;
mod piece;
mod pitch;
mod record;
mod scale;
mod scatter;
mod source;
mod student;
mod time_table;
mod unevenness;

#[cfg(test)]
mod coverage_test;
#[cfg(test)]
mod learning_test;

pub use effect::{Effect, fabric_spread};
pub use figure::Figure;
pub use finished::{FinishedPart, finished_size};
pub use gauge::{Gauge, Side};
pub use held_against::HeldAgainst;
pub use judged::{Judged, Standing};
pub use learnt::Learnt;
pub use lesson::Lesson;
pub use likely::Likely;
pub use loop_length::{
    RIB_OVER_PLAIN, THICKNESS_SPREAD, TWIN_SPREAD, USUAL_ROWS, gauge_spread, loop_from_gauge,
    loop_from_thickness, pitches_of_loop, rib_loop,
};
pub use minutes::Minutes;
pub use need::Need;
pub use pace::{Pace, PaceRecord};
pub use pace_effect::PaceEffect;
pub use piece::{Piece, PieceNeed, PieceSection, Stitches};
pub use pitch::Pitch;
pub use record::{Record, Weighed, WeighedSection};
pub use scale::{Moisture, OnScale, difference_sd, weighing_sd};
pub use scatter::Scatter;
pub use source::Source;
pub use student::t_975;
pub use time_table::{TimeRow, TimeTable, UnknownOperation};
pub use unevenness::Unevenness;

/// What something is called: a yarn, a gauge, a piece. Cheap to copy, since figures carry many.
pub type Id = std::sync::Arc<str>;

/// Half-width of a 95 % interval in standard deviations of the normal (any printed table).
pub const NORMAL_95: f64 = 1.959_964;
