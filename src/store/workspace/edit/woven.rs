//! What an edit changed, woven into the text as it was.

use toml_edit::DocumentMut;

use diag::{Code, Diagnostic};

pub(super) fn parsed(path: &str, text: &str) -> Result<DocumentMut, Diagnostic> {
    text.strip_prefix('\u{feff}').unwrap_or(text).parse().map_err(|_| {
        Diagnostic::error(Code::Toml, format!("{path} is not sound TOML: it is left as it is"))
            .hint("mend it first; `oddments stash list` tells where")
    })
}

/// The old text with only that replaced which the edit changed. The editor under us writes all
/// line ends as `\n` and drops a byte order mark: outside the edit, not one byte is to differ.
pub(super) fn woven(path: &str, before: &str, after: &str) -> Result<String, Diagnostic> {
    let (mark, body) = match before.strip_prefix('\u{feff}') {
        Some(body) => ("\u{feff}", body),
        None => ("", before),
    };
    let plain = parsed(path, body)?.to_string();
    if plain != body.replace("\r\n", "\n") {
        return Err(Diagnostic::error(
            Code::UnsafeEdit,
            format!("{path} is written in a way that can't be edited without altering the rest"),
        )
        .hint("make the change by hand"));
    }
    let start = plain.bytes().zip(after.bytes()).take_while(|(a, b)| a == b).count();
    let most = plain.len().min(after.len()) - start;
    let ends = plain.bytes().rev().zip(after.bytes().rev()).take(most);
    let end = ends.take_while(|(a, b)| a == b).count();
    // Back to the lines' ends, so that neither a letter nor a line end is cut in two.
    let start = plain[..floor(&plain, start)].rfind('\n').map_or(0, |i| i + 1);
    let tail = ceiling(&plain, plain.len() - end);
    let tail = plain[tail..].find('\n').map_or(plain.len(), |i| tail + i + 1);
    let end = plain.len() - tail;
    let middle = &after[start.min(after.len())..after.len() - end.min(after.len() - start)];
    let crlf = body.find('\n').is_some_and(|i| body[..i].ends_with('\r'));
    let middle = if crlf { middle.replace('\n', "\r\n") } else { middle.to_owned() };
    Ok(format!("{mark}{}{middle}{}", &body[..original(body, start)], &body[original(body, tail)..]))
}

fn floor(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn ceiling(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at += 1;
    }
    at
}

/// Where the byte `at` of the text with plain line ends is in the text itself. `at` begins a
/// line, or is the end.
fn original(text: &str, at: usize) -> usize {
    let mut plain = 0;
    let mut here = 0;
    for line in text.split_inclusive('\n') {
        if plain >= at {
            break;
        }
        here += line.len();
        plain += line.len() - usize::from(line.ends_with("\r\n"));
    }
    here
}
