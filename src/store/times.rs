use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, Reading};
use super::said_number::said;
use super::shape;
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::TimeRow;
use knit::operation::Operation;

/// How long operations take.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TimesToml {
    #[serde(default)]
    time: Vec<TimeToml>,
}

/// How long one operation takes.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TimeToml {
    /// What is done: "pass", "loop hung", "end darned in".
    #[schemars(required)]
    operation: Option<Field<String>>,
    /// Seconds for doing it once.
    #[schemars(required)]
    seconds: Option<Field<f64>>,
    /// Where the figure comes from: a stopwatch, or common practice.
    #[serde(default)]
    source: String,
}

/// Nothing done once takes longer than a day's work.
const LONGEST_S: f64 = 36_000.0;

/// Reads how long operations take: `[[time]]` tables of operation, seconds, source.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_times(file: &str, text: &str) -> Result<Vec<TimeRow>, Diagnostics> {
    let mut reading = Reading::new(file, text);
    let rows = read_times(&mut reading);
    reading.faults.into_result(rows)
}

/// The sound rows, each of an operation that there is.
pub(super) fn read_times(reading: &mut Reading<'_>) -> Vec<TimeRow> {
    let Some(parsed) = shape::read::<TimesToml>(reading) else { return Vec::new() };
    let names = Operation::ALL.map(Operation::name);
    let mut rows: Vec<TimeRow> = Vec::new();
    for entry in parsed.time {
        let operation = entry.operation.as_ref().and_then(|field| {
            let operation = reading.word(field, "operation", &names, Operation::named)?;
            let twice = rows.iter().any(|row| row.operation == operation.name());
            if twice {
                let fault = format!("`{}` has a time already", operation.name());
                reading.fault(
                    field,
                    Diagnostic::error(Code::Twice, fault)
                        .hint("leave one of the two out: a file has one time for each operation"),
                );
            }
            (!twice).then_some(operation)
        });
        let seconds = entry.seconds.as_ref().and_then(|field| seconds(reading, field));
        if let (Some(operation), Some(seconds)) = (operation, seconds) {
            let operation = operation.name().to_owned();
            rows.push(TimeRow { operation, seconds, source: entry.source });
        }
    }
    rows
}

fn seconds(reading: &mut Reading<'_>, field: &Field<f64>) -> Option<f64> {
    let seconds = *field.get_ref();
    if (0.0..=LONGEST_S).contains(&seconds) {
        return Some(seconds);
    }
    let fault = Diagnostic::error(Code::Range, format!("{} seconds can't be so", said(seconds)))
        .hint(format!("give the seconds it takes once, from 0 to {LONGEST_S}"));
    reading.fault(field, fault);
    None
}
