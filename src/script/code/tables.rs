//! Where tables and their entries stand in the text of a script.

use std::ops::Range;

/// The entries of the innermost table that is open at `at`, or that opens there; `None` where `at` lies in
/// no table.
pub(super) fn table_at(text: &str, at: usize) -> Option<Range<usize>> {
    let mut open = Vec::new();
    let mut found: Option<usize> = None;
    for (place, sign) in signs(text) {
        if place > at && found.is_none() {
            found = Some(*open.last()?);
        }
        match sign {
            b'{' => open.push(place),
            b'}' => {
                let begun = open.pop()?;
                if found == Some(begun) {
                    return Some(begun + 1..place);
                }
            }
            _ => {}
        }
    }
    None
}

/// The `nth` entry, from 1, of a table whose entries are `within`.
pub(super) fn entry(text: &str, within: Range<usize>, nth: usize) -> Option<Range<usize>> {
    let (mut depth, mut count, mut begun) = (0_usize, 1, within.start);
    for (place, sign) in signs(text).filter(|(place, _)| within.contains(place)) {
        match sign {
            b'{' | b'(' | b'[' => depth += 1,
            b'}' | b')' | b']' => depth = depth.checked_sub(1)?,
            b',' | b';' if depth == 0 && count == nth => return Some(begun..place),
            b',' | b';' if depth == 0 => {
                count += 1;
                begun = place + 1;
            }
            _ => {}
        }
    }
    let last = begun..within.end;
    (count == nth && !text[last.clone()].trim().is_empty()).then_some(last)
}

/// Whether what begins at `at` is code, and not within a text or a comment.
pub(super) fn is_code(text: &str, at: usize) -> bool {
    // A bracket put there would be seen.
    let seen = format!("{}{{", &text[..at]);
    signs(&seen).any(|(place, _)| place == at)
}

/// Brackets and marks between entries, with their places, but for those in texts and comments.
fn signs(text: &str) -> impl Iterator<Item = (usize, u8)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    std::iter::from_fn(move || {
        while let Some(sign) = bytes.get(at) {
            let (place, sign) = (at, *sign);
            at = match sign {
                b'-' if text[at..].starts_with("--") => match long(text, at + 2) {
                    Some(end) => end,
                    None => text[at..].find('\n').map_or(bytes.len(), |end| at + end),
                },
                b'"' | b'\'' | b'`' => quoted(bytes, at),
                b'[' => long(text, at).unwrap_or(at + 1),
                _ => at + 1,
            };
            if at == place + 1 && b"{}()[],;".contains(&sign) {
                return Some((place, sign));
            }
        }
        None
    })
}

/// The end of a text in quotes that begins at `at`.
fn quoted(bytes: &[u8], at: usize) -> usize {
    let mut end = at + 1;
    while let Some(byte) = bytes.get(end) {
        match byte {
            b'\\' => end += 2,
            b if *b == bytes[at] => return end + 1,
            _ => end += 1,
        }
    }
    bytes.len()
}

/// The end of a text in long brackets that begins at `at`, if one does.
fn long(text: &str, at: usize) -> Option<usize> {
    let rest = text.get(at..)?.strip_prefix('[')?;
    let level = rest.bytes().take_while(|byte| *byte == b'=').count();
    rest[level..].strip_prefix('[')?;
    let close = format!("]{}]", "=".repeat(level));
    Some(rest.find(&close).map_or(text.len(), |end| at + 1 + end + close.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str =
        "return { -- a { brace\n a = { { 1, \"},\" }, f{ 2, [[ { ]] }, --[[ } ]] { 3; 4 }, } }";

    #[test]
    fn entries_are_found_past_texts_and_comments() {
        let list = TEXT.find("{ { 1").expect("there");
        let within = table_at(TEXT, list + 1).expect("a table");
        let nth = |n| entry(TEXT, within.clone(), n).map(|range| TEXT[range].trim());
        assert_eq!(nth(1), Some("{ 1, \"},\" }"));
        assert_eq!(nth(2), Some("f{ 2, [[ { ]] }"));
        assert_eq!(nth(3), Some("--[[ } ]] { 3; 4 }"));
        assert_eq!(nth(4), None);
    }

    #[test]
    fn the_innermost_table_is_taken_and_broken_text_is_borne() {
        let at = TEXT.find('4').expect("there");
        assert_eq!(table_at(TEXT, at).map(|range| &TEXT[range]), Some(" 3; 4 "));
        for broken in ["{", "}", "{ \"", "--[[", "[==[ {", "{ '\\", "", "\u{e9}{\u{e9}"] {
            for at in 0..=broken.len() {
                assert_eq!(table_at(broken, at), None, "{broken}");
                assert_eq!(entry(broken, 0..broken.len(), 2), None, "{broken}");
            }
        }
    }
}
