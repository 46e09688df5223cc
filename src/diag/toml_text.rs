//! TOML text to values, with every fault placed at file:line:column.

use serde::de::DeserializeOwned;

use super::{Code, Diagnostic, Place};

/// Reads `text` as a `T`. `file` is only a name to show.
///
/// # Errors
/// One [`Diagnostic`] that points at the offending key or value. (The parser stops at the first
/// fault of syntax or type; what it lets through is checked by the caller, all at once.)
pub fn parse<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, Diagnostic> {
    toml::from_str(text).map_err(|error| placed(&error, file, text))
}

/// The parser's complaint at its place, with what to do.
pub fn placed(error: &toml::de::Error, file: &str, text: &str) -> Diagnostic {
    let span = error.span().unwrap_or(0..0);
    Diagnostic::error(Code::Toml, error.message().trim().to_owned())
        .at(Place::from_span(file, text, span))
        .hint(hint(error.message()))
}

/// What to do about the parser's complaint.
fn hint(message: &str) -> String {
    if let Some((field, known)) = unknown_field(message) {
        return match super::nearest(field, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("what may stand here: {}", known.join(", ")),
        };
    }
    if let Some(field) = message.strip_prefix("missing field `").and_then(|m| m.split('`').next()) {
        return format!("add a line `{field} = ...`");
    }
    if message.starts_with("invalid type") {
        return "texts stand in double quotes, numbers and true or false without".to_owned();
    }
    "lines read `name = value`, texts in double quotes, lists in square brackets".to_owned()
}

/// Picks the words out of serde's "unknown field `x`, expected one of `a`, `b`".
fn unknown_field(message: &str) -> Option<(&str, Vec<&str>)> {
    let rest = message.strip_prefix("unknown field `")?;
    let (field, rest) = rest.split_once('`')?;
    let known = rest.split('`').skip(1).step_by(2).collect();
    Some((field, known))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Sample {
        stitches: u32,
        rows: u32,
    }

    #[test]
    fn a_misspelt_key_is_placed_and_a_nearer_word_offered() {
        let fault = parse::<Sample>("s.toml", "stitches = 1\nrosw = 2\n").expect_err("misspelt");
        let place = fault.place.expect("a place");
        assert_eq!((place.line, place.column), (2, 1));
        assert_eq!(fault.hints, ["did you mean `rows`?"]);
    }
}
