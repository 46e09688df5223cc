//! Gifts and stash: which gifts to make, in which option, from which remnants.
//!
//! The model is an [`Instance`]: remnants in yarn groups, gifts with their options, sections and
//! deadlines, and [`Weights`]. [`solve()`] finds a [`Plan`] and a bound that no plan exceeds;
//! [`check()`] and [`objective`] judge any plan from the model alone; [`explain()`] says why a gift is
//! left out and what would let it in; [`shop_for`] and [`shop_within`] say what to buy. All quantities are whole numbers (decigrams, minutes, tenths
//! of a point), so that sums are exact. What is wrong is told as data too ([`InstanceFault`],
//! [`Breach`], [`Unmet`]); `words` alone turns it into texts.
//!
//! How the solver works, from the outside in: `solve` runs rounds of fixed turns on
//! any number of threads and folds their results in order. `search` finds good plans by annealed
//! ruin and recreate, with `insertion` to put gifts back. `relax` prices yarn and so bounds what
//! any plan can be worth, group by group as a whole where `packing` can tell what goes together;
//! `branch` and `pooled` split what the bound leaves open, `exhaust` tries out what is small enough,
//! and `amounts` shares joined remnants out exactly. `rank` chooses among plans of equal worth.
//!
//! Pure: no clock, no files, no chance but a seeded generator, no hash order. It knows yarn groups
//! and needs as numbers only, nothing of garments, people or how a need came about.

#![warn(missing_docs)]

mod amounts;
mod branch;
mod breach;
mod check;
mod exhaust;
mod explain;
mod faults;
mod fit;
mod insertion;
mod instance;
mod instance_fault;
mod layout;
mod link;
mod packing;
#[allow(clippy::module_inception, reason = "the file is named after its type")]
mod plan;
mod points;
mod pooled;
mod problem;
mod random;
mod rank;
mod relax;
mod search;
mod shopping;
mod solve;
mod stop;
mod unmet;
mod words;
mod work;

pub use breach::{Breach, MadeBreach, SectionBreach};
pub use check::{check, objective};
pub use explain::{Explanation, Obstacle, Reason, Remedy, explain};
pub use faults::Faults;
pub use instance::{Deadline, Gift, GiftOption, Instance, Remnant, Section, Weights};
pub use instance_fault::{GiftFault, InstanceFault, WeightOf};
pub use plan::{Chunk, Made, Plan};
pub use points::Points;
pub use shopping::{Budget, Offer, Shopping, shop_for, shop_within};
pub use solve::{Outcome, Progress, SolveSettings, solve};
pub use stop::StopFlag;
pub use unmet::{Unmet, UnmetReason};
