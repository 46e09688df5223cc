//! Many requests, a line each: what one line asks for, and what is said of one that can't be read.

use serde_json::Value;

use super::Ask;
use crate::diag::Diagnostic;

/// Bytes of a line.
pub const LONGEST_LINE: usize = 64 << 10;

/// One line of a batch, read.
#[derive(Clone, Debug)]
pub struct BatchLine {
    /// Whatever the sender knows it by; null where there is none.
    pub id: Value,
    pub ask: Result<Ask, Diagnostic>,
}

impl BatchLine {
    pub fn read(text: &[u8]) -> BatchLine {
        let bad = |error: serde_json::Error| {
            Diagnostic::error("json", format!("can't read the line: {error}")).hint(
                "a line is a request like {\"garment\": \"tam\", \"sizes\": \"women-m\"}, and may have an `id`",
            )
        };
        let mut value: Value = match serde_json::from_slice(text) {
            Ok(value) => value,
            Err(error) => return BatchLine { id: Value::Null, ask: Err(bad(error)) },
        };
        let id = value.as_object_mut().and_then(|object| object.shift_remove("id"));
        BatchLine { id: id.unwrap_or_default(), ask: serde_json::from_value(value).map_err(bad) }
    }

    /// What is said of a line longer than `longest` bytes.
    pub fn too_long(longest: usize) -> Diagnostic {
        Diagnostic::error("line-too-long", format!("{longest} bytes a line at most"))
    }
}
