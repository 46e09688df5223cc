//! Diagnostics: what went wrong, where, and what to do about it.
//!
//! The bottom layer: it knows nothing of knitting. Every other layer reports faults as
//! [`Diagnostic`]s and gathers them in [`Diagnostics`] instead of stopping at the first.
//! Nothing here prints; [`render()`] gives a string and the caller decides where it goes.

#![warn(missing_docs)]

mod code;
mod diagnostic;
mod render;
pub mod toml_text;

use std::cmp::Reverse;

pub use code::{Class, Code};
pub use diagnostic::{Diagnostic, Diagnostics, Place, Severity};
pub use render::render;

/// Whether a character would move a terminal's cursor, start an escape or turn text about:
/// control characters other than a line's end, and the bidirectional overrides.
pub fn is_control(c: char) -> bool {
    (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The text with such characters replaced, so that what a script or a file says can't drive the
/// terminal it is shown in.
pub fn harmless(text: &str) -> std::borrow::Cow<'_, str> {
    // Most texts are plain and long: bytes are looked through faster than letters.
    let plain = text.bytes().all(|byte| matches!(byte, b' '..=b'~' | b'\n'));
    if !plain && text.contains(is_control) {
        text.replace(is_control, "\u{fffd}").into()
    } else {
        text.into()
    }
}

/// Finds the candidate nearest to `word`, for "did you mean" hints.
///
/// Returns `None` when nothing is near enough to be worth offering (more than a third of the
/// letters differ).
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // No name is that long, and what a stranger wrote may be of any length.
    if word.len() > 4 * MOST_COMPARED {
        return None;
    }
    let lower = word.to_lowercase();
    candidates
        .into_iter()
        .map(|candidate| {
            // Insertions, removals, substitutions and swaps of neighbours count one each.
            let other = candidate.to_lowercase();
            let distance = strsim::osa_distance(compared(&lower), compared(&other));
            // Of equally near ones that which goes on as the word does: a letter left out is more
            // likely than a wrong one.
            let alike = lower.chars().zip(other.chars()).take_while(|(a, b)| a == b).count();
            (distance, Reverse(alike), candidate)
        })
        .filter(|(distance, _, candidate)| {
            *distance * 3 <= word.chars().count().max(candidate.chars().count())
        })
        .min_by_key(|(distance, alike, _)| (*distance, *alike))
        .map(|(.., candidate)| candidate)
}

/// Letters of a word that are looked at.
const MOST_COMPARED: usize = 64;

/// The first [`MOST_COMPARED`] letters of a word.
fn compared(word: &str) -> &str {
    word.char_indices().nth(MOST_COMPARED).map_or(word, |(end, _)| &word[..end])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_drives_a_terminal_is_replaced_and_plain_text_is_not() {
        assert_eq!(
            harmless("a\u{1b}]52;c;AAAA\u{7}b\r\u{9b}\u{202e}"),
            "a\u{fffd}]52;c;AAAA\u{fffd}b\u{fffd}\u{fffd}\u{fffd}"
        );
        let plain = "28.0 \u{b1} 0.1\nstitches \u{e9}";
        assert!(matches!(harmless(plain), std::borrow::Cow::Borrowed(p) if p == plain));
    }

    #[test]
    fn nearest_offers_a_likely_word_and_stays_silent_otherwise() {
        let words = ["head_girth", "hand_girth", "foot_length"];
        assert_eq!(nearest("head_grith", words), Some("head_girth"));
        assert_eq!(nearest("foot-length", words), Some("foot_length"));
        assert_eq!(nearest("zebra", words), None);
        // A swap of neighbours is one slip, not two; letters are counted, not bytes.
        assert_eq!(nearest("abd", ["adb"]), Some("adb"));
        assert_eq!(nearest("\u{e9}\u{e8}a", ["\u{e9}\u{e8}b"]), Some("\u{e9}\u{e8}b"));
        // Of equally near words the one that goes on as it does.
        assert_eq!(nearest("cast_of", ["cast_on", "cast_off"]), Some("cast_off"));
        assert_eq!(nearest(&"x".repeat(257), [&*"x".repeat(257)]), None);
    }
}
