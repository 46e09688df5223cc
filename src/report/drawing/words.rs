//! Words set in lines: wrapped, or cut to a width.

use super::{Weight, text_width};

/// Breaks a text at its blanks into lines no wider than `width`; a word that is too wide is cut.
pub fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if !line.is_empty() && text_width(&longer, size, Weight::Regular) > width {
            lines.push(fitted(&line, size, width, Weight::Regular));
            line = word.to_owned();
        } else {
            line = longer;
        }
    }
    if !line.is_empty() {
        lines.push(fitted(&line, size, width, Weight::Regular));
    }
    lines
}

/// The text, or as much of its beginning as fits with dots behind it.
pub fn fitted(text: &str, size: f64, width: f64, weight: Weight) -> String {
    if text_width(text, size, weight) <= width {
        return text.to_owned();
    }
    let mut room = width - text_width("...", size, weight);
    let mut short = String::new();
    for c in text.chars() {
        room -= text_width(c.encode_utf8(&mut [0; 4]), size, weight);
        if room < 0.0 {
            break;
        }
        short.push(c);
    }
    format!("{}...", short.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_within_the_width_and_lose_no_word() {
        let text = "needles across, rows upwards, as the fabric lies flat when it leaves the bed";
        let lines = wrapped(text, 2.8, 40.0);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|line| text_width(line, 2.8, Weight::Regular) <= 40.0));
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn what_is_too_long_is_cut() {
        let cut = fitted(&"w".repeat(500), 3.0, 30.0, Weight::Bold);
        assert!(cut.ends_with("...") && text_width(&cut, 3.0, Weight::Bold) <= 30.0, "{cut}");
        assert_eq!(fitted("kelp", 3.0, 30.0, Weight::Bold), "kelp");
    }
}
