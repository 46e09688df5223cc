use super::UnitError;

/// A share as people write it: `5 %`, or a part of one such as `0.05`. Its range is the caller's.
pub fn parse_share(text: &str) -> Option<f64> {
    let text = text.trim();
    match text.strip_suffix('%') {
        Some(percent) => percent.trim().parse::<f64>().ok().map(|p| p / 100.0),
        None => text.parse().ok(),
    }
}

/// A bare number as people write it, with a decimal point or comma and perhaps a sign.
pub fn parse_number(text: &str) -> Option<f64> {
    let text = text.trim().replace('\u{2212}', "-").replace(',', ".");
    let digits = text.strip_prefix(['+', '-']).unwrap_or(&text);
    digits.starts_with(|c: char| c.is_ascii_digit()).then(|| text.parse().ok())?
}

/// Splits "12.5 cm" or "10 1/2 in" into the number and the trimmed rest. Plain and mixed
/// fractions are read since rulers and scales in inches and ounces show them.
pub(super) fn leading_number(text: &str) -> Result<(f64, &str), UnitError> {
    let text = text.trim();
    let whole_end = number_end(text);
    let whole = &text[..whole_end];
    let rest = text[whole_end..].trim_start();
    if whole.is_empty() {
        // A typed hyphen or a pasted minus sign.
        let hint = if text.starts_with(['-', '\u{2212}']) {
            "leave the minus sign out"
        } else {
            "begin with a number, as in `56 cm`"
        };
        return Err(UnitError::new(format!("`{text}` has no number in front"), hint));
    }
    if rest.starts_with(',') && rest[1..].starts_with(|c: char| c.is_ascii_digit()) {
        return Err(UnitError::new(
            format!("`{text}` has a comma in its number"),
            "write decimals with a point and thousands without a mark: `2.5 cm`, `1000 m`",
        ));
    }
    let value: f64 = whole.parse().map_err(|_| {
        UnitError::new(format!("`{whole}` is not a number"), "write it like `12.5`")
    })?;
    // "10 1/2": a second integer directly over a third.
    let second_end = number_end(rest);
    if second_end > 0
        && let Some(after) = rest[second_end..].strip_prefix('/')
    {
        let under_end = number_end(after);
        return match (rest[..second_end].parse::<f64>(), after[..under_end].parse::<f64>()) {
            (Ok(over), Ok(under)) if under > 0.0 && over < under => {
                Ok((value + over / under, after[under_end..].trim_start()))
            }
            _ => Err(UnitError::new(
                format!("`{text}` has a fraction that can't be read"),
                "write it like `10 1/2 in`",
            )),
        };
    }
    if let Some(after) = rest.strip_prefix('/')
        && let under_end @ 1.. = number_end(after)
        && after[under_end..].trim_start().starts_with(|c: char| c.is_alphabetic())
        && let Ok(under) = after[..under_end].parse::<f64>()
        && under > 0.0
    {
        return Ok((value / under, after[under_end..].trim_start()));
    }
    Ok((value, rest))
}

fn number_end(text: &str) -> usize {
    text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len())
}

/// A number with exactly so many decimals. What rounds to nothing has no sign.
pub(super) fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// A number without needless zeros: 12, 12.5, 0.25.
pub(super) fn plain(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
