//! Values as `trace` shows them.

use mlua::{MultiValue, Table, Value};

use super::show::{clip, describe, key_name};

/// Values of a call, entries of a table, and characters in all that are shown.
const MOST_VALUES: usize = 20;
const MOST_ENTRIES: usize = 12;
const MOST_TEXT: usize = 400;

/// The values of a call of `trace`, in one line. Raw access alone: nothing of the script's runs.
pub(crate) fn listed(values: &MultiValue) -> String {
    let shown: Vec<String> = values.iter().take(MOST_VALUES).map(value).collect();
    let mut text = shown.join(" ");
    if values.len() > MOST_VALUES {
        text.push_str(" ...");
    }
    if text.chars().count() > MOST_TEXT {
        text = text.chars().take(MOST_TEXT).chain(['…']).collect();
    }
    text
}

fn value(value: &Value) -> String {
    match value {
        Value::String(text) => {
            let bytes = text.as_bytes();
            clip(&String::from_utf8_lossy(&bytes[..bytes.len().min(200)]))
        }
        Value::Table(table) => span(table).unwrap_or_else(|| entries(table)),
        other => describe(other),
    }
}

/// Needles, if that is what the table is.
fn span(table: &Table) -> Option<String> {
    let end = |key: &str| match table.raw_get::<Value>(key) {
        Ok(Value::String(text)) if text.as_bytes().len() <= 10 => Some(text.to_string_lossy()),
        _ => None,
    };
    let (first, last) = (end("first")?, end("last")?);
    Some(if first == last { first } else { format!("{first}-{last}") })
}

/// A table's first entries: those of a list in order, then those with names.
fn entries(table: &Table) -> String {
    let length = table.raw_len();
    let mut shown = Vec::new();
    for at in 1..=length.min(MOST_ENTRIES) {
        shown.push(table.raw_get::<Value>(at).as_ref().map_or_else(|_| "?".to_owned(), describe));
    }
    let mut more = length > MOST_ENTRIES;
    let mut named = Vec::new();
    // Ends the walk where enough is seen; what is left is said to be more.
    let walked = table.for_each(|key: Value, value: Value| {
        if matches!(key, Value::Integer(_) | Value::Number(_)) {
            return Ok(());
        }
        if named.len() + shown.len() >= MOST_ENTRIES {
            return Err(mlua::Error::StackError);
        }
        named.push(format!("{} = {}", key_name(&key), describe(&value)));
        Ok(())
    });
    more |= walked.is_err();
    named.sort();
    shown.extend(named);
    if more {
        shown.push("...".to_owned());
    }
    if shown.is_empty() { "{}".to_owned() } else { format!("{{ {} }}", shown.join(", ")) }
}
