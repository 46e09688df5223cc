//! Gifts and stash.

mod amounts;
mod branch;
mod check;
mod exhaust;
mod explain;
mod fit;
mod insertion;
mod instance;
mod layout;
#[allow(clippy::module_inception, reason = "the file is named after its type")]
mod plan;
mod points;
mod problem;
mod random;
mod relax;
mod search;
mod solve;

pub use check::{check, objective};
pub use explain::{Explanation, Obstacle, Reason, Remedy, explain};
pub use instance::{Deadline, Gift, GiftOption, Instance, Remnant, Section, Weights};
pub use plan::{Chunk, Made, Plan};
pub use points::Points;
pub use solve::{Outcome, Progress, SolveSettings, StopFlag, solve};

