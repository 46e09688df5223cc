use std::collections::BTreeMap;

use thiserror::Error;

use crate::operation::Operation;

/// How long operations take: stated, each with its source, never learnt from totals.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TimeTable {
    rows: BTreeMap<String, TimeRow>,
}

/// How long one operation takes.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeRow {
    /// Names it, as in files: `pass`, `needle moved`.
    pub operation: String,
    /// For doing it once, in seconds.
    pub seconds: f64,
    /// Where the figure comes from.
    pub source: String,
}

/// The table has no time for this operation.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("there is no time for `{0}`")]
pub struct UnknownOperation(pub String);

impl TimeTable {
    /// From its rows. A later row of the same operation stands in for an earlier one: a knitter's own after
    /// the ones that come with the program.
    pub fn new(rows: impl IntoIterator<Item = TimeRow>) -> TimeTable {
        TimeTable { rows: rows.into_iter().map(|row| (row.operation.clone(), row)).collect() }
    }

    /// Its rows, by name.
    pub fn rows(&self) -> impl Iterator<Item = &TimeRow> {
        self.rows.values()
    }

    /// Minutes of doing one of them so often; none where the table does not have it.
    pub fn minutes_of(&self, operation: Operation, times: f64) -> f64 {
        self.rows.get(operation.name()).map_or(0.0, |row| row.seconds * times / 60.0)
    }

    /// Minutes of work that does each of these so often.
    ///
    /// # Errors
    /// An operation that the table does not have.
    pub fn minutes(&self, counts: &[(&str, f64)]) -> Result<f64, UnknownOperation> {
        counts.iter().try_fold(0.0, |sum, (operation, times)| {
            let row =
                self.rows.get(*operation).ok_or_else(|| UnknownOperation((*operation).to_owned()));
            Ok(sum + row?.seconds * times / 60.0)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(operation: &str, seconds: f64) -> TimeRow {
        TimeRow { operation: operation.into(), seconds, source: "practice".into() }
    }

    #[test]
    fn work_is_the_sum_of_its_operations_and_ones_own_times_come_first() {
        let table = TimeTable::new([row("pass", 2.0), row("cast on", 120.0), row("pass", 3.0)]);
        assert_eq!(table.minutes(&[("pass", 200.0), ("cast on", 2.0)]), Ok(14.0));
        assert_eq!(table.rows().count(), 2);
        let unknown = table.minutes(&[("pass", 1.0), ("graft", 1.0)]).expect_err("no such row");
        assert_eq!(unknown.to_string(), "there is no time for `graft`");
        // One operation alone; what the table does not have takes none.
        let table = TimeTable::new([row(Operation::ALL[0].name(), 90.0)]);
        assert_eq!(table.minutes_of(Operation::ALL[0], 4.0), 6.0);
        assert_eq!(table.minutes_of(Operation::ALL[1], 4.0), 0.0);
    }
}
