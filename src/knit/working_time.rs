//! How long work takes the knitter: the times of its operations, and what was learnt of their pace.

use std::collections::BTreeMap;

use super::estimate::{Minutes, Pace, TimeTable, UnknownOperation};
use super::run::Work;

/// What is known of how long work takes.
#[derive(Clone, Debug)]
pub struct WorkingTime {
    /// Seconds by operation.
    pub times: TimeTable,
    /// What minutes that were noted say of whoever knits.
    pub pace: Pace,
    /// By id of the garment: how many were finished.
    pub made: BTreeMap<String, u32>,
}

impl WorkingTime {
    /// Of a knitter of whom nothing is known.
    pub fn of_anybody(times: TimeTable) -> WorkingTime {
        WorkingTime { times, pace: Pace::nothing(), made: BTreeMap::new() }
    }

    /// Minutes by the operations alone.
    ///
    /// # Errors
    /// An operation of which the table has no time.
    pub fn by_operations(&self, work: &Work) -> Result<f64, UnknownOperation> {
        self.times.minutes(&work.operations.by_name())
    }

    /// Minutes of the next garment of that id, named for its part in a sum: two of one name go well or
    /// badly together.
    pub fn minutes(&self, piece: &str, garment: &str, by_operations: f64) -> Minutes {
        let made = self.made.get(garment).copied().unwrap_or_default();
        self.pace.minutes(piece, garment, made.saturating_add(1), by_operations)
    }
}
