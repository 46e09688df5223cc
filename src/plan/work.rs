//! What work costs. It is counted in places looked at, never timed, so that a limit of work means
//! the same on any machine.

/// Places in the unit that limits of work are given in.
pub(super) const PLACES_TO_A_UNIT: u64 = 1_000;

/// Knapsack cells that take about as long as looking at one place.
pub(super) const CELLS_TO_A_PLACE: u64 = 16;
