use serde::Serialize;
use serde_json::Value;

use super::fault_value;
use super::grade_json::RunJson;
use diag::{Diagnostics, Severity, harmless};
use knit::size_run::SizeRun;

#[derive(Serialize)]
struct AnswerJson<'r> {
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<u64>,
    #[serde(skip_serializing_if = "Value::is_null")]
    id: &'r Value,
    #[serde(skip_serializing_if = "Option::is_none")]
    result: Option<RunJson<'r>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<Value>,
}

/// What is answered to one line of a batch: a line of JSON with the number of the line, unless
/// it is to bear none, its `id` where it has one, and `result` (as [`grade_value`](super::grade_value)) or `error`: the first
/// fault, and under `all` every one where there are more.
pub fn batch_answer(
    line: Option<u64>,
    id: &Value,
    outcome: Result<&SizeRun, &Diagnostics>,
) -> String {
    let answer = AnswerJson {
        line,
        id,
        result: outcome.ok().map(RunJson::of),
        error: outcome.err().map(error),
    };
    let mut text = serde_json::to_string(&answer).expect("plain data");
    if let std::borrow::Cow::Owned(clean) = harmless(&text) {
        text = clean;
    }
    text.push('\n');
    text
}

fn error(faults: &Diagnostics) -> Value {
    let first = faults.iter().find(|fault| fault.severity == Severity::Error);
    let mut error = first.or(faults.iter().next()).map_or(Value::Null, fault_value);
    if faults.iter().count() > 1 {
        error["all"] = faults.iter().map(fault_value).collect();
    }
    error
}
