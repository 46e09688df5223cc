use serde_json::{Value, json};

use super::{fault_value, grade_value};
use crate::diag::{Diagnostics, Severity, harmless};
use crate::knit::size_run::SizeRun;

/// What is answered to one line of a batch: a line of JSON with the number of the line, its `id`
/// where it has one, and `result` (as [`grade_value`]) or `error`: the first fault, and under `all`
/// every one where there are more.
pub fn batch_answer(line: u64, id: &Value, outcome: Result<&SizeRun, &Diagnostics>) -> String {
    let mut answer = json!({ "line": line });
    if !id.is_null() {
        answer["id"] = id.clone();
    }
    match outcome {
        Ok(run) => answer["result"] = grade_value(run),
        Err(faults) => answer["error"] = error(faults),
    }
    let mut text = answer.to_string();
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
