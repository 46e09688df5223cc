//! Numbers and texts as SVG takes them.

use std::fmt::{self, Write as _};

/// A number as SVG takes it: at most three decimals, no trailing noughts, never `-0`.
pub(super) struct Mm(pub f64);

impl fmt::Display for Mm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let thousandths = (self.0 * 1000.0).round() as i64;
        if thousandths < 0 {
            f.write_str("-")?;
        }
        let (whole, rest) = (thousandths.abs() / 1000, thousandths.abs() % 1000);
        if rest == 0 {
            return write!(f, "{whole}");
        }
        let digits = format!("{rest:03}");
        write!(f, "{whole}.{}", digits.trim_end_matches('0'))
    }
}

/// Escapes what XML gives a meaning, and leaves out what it can't hold.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// Hundredths as a number, a blank before it where it needs one.
pub(super) fn short(out: &mut String, hundredths: i64, first: bool) {
    if hundredths < 0 {
        out.push('-');
    } else if !first {
        out.push(' ');
    }
    let (whole, rest) = (hundredths.abs() / 100, hundredths.abs() % 100);
    // Writing to a string can't fail.
    if whole > 0 || rest == 0 {
        let _ = write!(out, "{whole}");
    }
    match (rest, rest % 10) {
        (0, _) => {}
        (_, 0) => {
            let _ = write!(out, ".{}", rest / 10);
        }
        _ => {
            let _ = write!(out, ".{rest:02}");
        }
    }
}
