//! Values as messages show them.

use std::fmt;

use mlua::Value;

/// Characters of a text that a message shows.
pub(super) const MOST_SHOWN: usize = 40;

/// What a table is called in faults. Nearly all have none, so it is only worded where one is told.
pub(crate) type What<'a> = &'a dyn fmt::Display;

/// A name that `word` writes when it is asked for.
pub(crate) fn worded<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result>(word: F) -> Worded<F> {
    Worded(word)
}

pub(crate) struct Worded<F>(F);

impl<F: Fn(&mut fmt::Formatter<'_>) -> fmt::Result> fmt::Display for Worded<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        (self.0)(f)
    }
}

/// A value as a message shows it; never an address, never long.
pub(crate) fn describe(value: &Value) -> String {
    match value {
        Value::Nil => "nil".to_owned(),
        Value::Boolean(flag) => flag.to_string(),
        Value::Integer(n) => n.to_string(),
        Value::Number(n) if n.is_nan() => "NaN (not a number)".to_owned(),
        Value::Number(n) => n.to_string(),
        Value::String(text) if text.as_bytes().is_empty() => "an empty text".to_owned(),
        Value::String(text) => {
            let bytes = text.as_bytes();
            format!("\"{}\"", clip(&String::from_utf8_lossy(&bytes[..bytes.len().min(200)])))
        }
        Value::Table(_) => "a table".to_owned(),
        Value::Function(_) => "a function".to_owned(),
        Value::Thread(_) => "a coroutine".to_owned(),
        other => format!("a {}", other.type_name()),
    }
}

/// A key of a table as a message names it.
pub(crate) fn key_name(key: &Value) -> String {
    describe(key).trim_matches('"').to_owned()
}

/// Whether it is made of printable ASCII alone.
pub(super) fn is_plain(text: &str) -> bool {
    text.bytes().all(|byte| (b' '..=b'~').contains(&byte))
}

/// The first characters, control characters shown as escapes.
pub(crate) fn clip(text: &str) -> String {
    let mut short: String = text.chars().take(MOST_SHOWN).flat_map(char::escape_debug).collect();
    if text.chars().nth(MOST_SHOWN).is_some() {
        short.push('…');
    }
    short
}

/// A number of either kind of the machine's.
pub(crate) fn number(value: &Value) -> Option<f64> {
    match value {
        Value::Integer(n) => Some(*n as f64),
        Value::Number(n) => Some(*n),
        _ => None,
    }
}
