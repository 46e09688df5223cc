//! The bound: yarn is sold to sections at a price, so that gifts and remnants can be judged apart.
//!
//! The rule that ties them, *each section of a gift made is knitted from remnants*, is given up;
//! instead a gift pays the price of each of its sections and a remnant is paid for the sections
//! it would serve. Each gift then takes its best option, and each remnant its best filling, found
//! exactly by a knapsack over its decigrams. Whatever the prices, the sum is at least as much as
//! any plan is worth; a subgradient method looks for the prices that make it least. Hours are
//! priced the same way. Where it is known which sets of sections a whole group can serve together, the
//! group takes its best set instead.
//!
//! `relaxation` holds what is priced, `pool` the sets of a group, `scope` what is open, `filling`
//! judges remnants, `evaluation` gifts and the sum, `descent` looks for prices, `gathering` for sets.
//! Each rests on those before it.

mod descent;
mod evaluation;
mod filling;
mod gathering;
mod pool;
mod rates;
mod relaxation;
mod scope;

pub(super) use descent::{Aim, Descent, Pace};
pub(super) use evaluation::Verdict;
pub(super) use filling::Scratch;
pub(super) use gathering::Standing;
pub(super) use pool::{EXACT, Pool};
pub(super) use rates::Rates;
pub(super) use relaxation::{Market, Prices, Relaxation};
pub(super) use scope::{Failure, Scope};
