use std::borrow::Cow;

use super::UnitError;
use diag::Code;

/// A share as people write it: `5 %`, or a part of one such as `0.05`. Its range is the caller's.
pub fn parse_share(text: &str) -> Option<f64> {
    let text = text.trim();
    match text.strip_suffix('%') {
        Some(percent) => number(percent).ok().map(|p| p / 100.0),
        None => number(text).ok(),
    }
}

/// A bare number as people write it, with a decimal point or comma and perhaps a sign.
pub fn parse_number(text: &str) -> Option<f64> {
    let text = text.trim().replace('\u{2212}', "-");
    let digits = text.strip_prefix(['+', '-']).unwrap_or(&text);
    digits.starts_with(|c: char| c.is_ascii_digit()).then(|| number(&text).ok())?
}

/// A bare number with a decimal point or comma. Its range is the caller's, and so is what is not finite.
///
/// # Errors
/// No number, or a comma that can be read in more ways than one.
pub fn number(text: &str) -> Result<f64, UnitError> {
    let text = text.trim();
    let bare = text.strip_prefix(['+', '-']).unwrap_or(text);
    let sign = &text[..text.len() - bare.len()];
    let no_number =
        || UnitError::new(format!("`{text}` is not a number"), "write it like `12.5` or `12,5`");
    if !bare.contains(',') {
        return text.parse().map_err(|_| no_number());
    }
    if number_end(bare) < bare.len() {
        return Err(no_number());
    }
    format!("{sign}{}", pointed(bare)?).parse().map_err(|_| no_number())
}

/// A number of digits, points and commas with a decimal point. A comma that may part decimals,
/// thousands or two numbers is asked about: each guess would be wrong for somebody.
fn pointed(digits: &str) -> Result<Cow<'_, str>, UnitError> {
    let Some((whole, decimals)) = digits.split_once(',') else { return Ok(digits.into()) };
    if decimals.contains(',') || digits.contains('.') {
        return Err(UnitError::doubtful(
            format!("`{digits}` can be read in more ways than one"),
            "write decimals with a point, thousands without a mark, and `;` or a blank between \
             readings: `13.4; 12`",
        ));
    }
    // Nobody measures to the thousandth of a unit, and many write thousands so.
    if decimals.len() == 3 && whole.len() <= 3 && !whole.starts_with('0') {
        let hint = format!(
            "write `{whole}{decimals}`, or `{whole}.{decimals}` with a point: thousands have no mark"
        );
        let fault = format!("`{digits}` has a comma that can part thousands or decimals");
        return Err(UnitError::doubtful(fault, hint));
    }
    Ok(format!("{whole}.{decimals}").into())
}

/// The parts of a list: `;`, the end of a line and a comma end one. A comma between two digits is a
/// decimal comma and ends none: `37,5 % wool, 62,5 % cotton` is two.
pub fn parts(text: &str) -> Vec<&str> {
    let bytes = text.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let (mut all, mut from) = (Vec::new(), 0);
    for (at, byte) in bytes.iter().enumerate() {
        let ends = match byte {
            b';' | b'\n' => true,
            b',' => !(digit(at.checked_sub(1)) && digit(Some(at + 1))),
            _ => false,
        };
        if ends {
            all.push(&text[from..at]);
            from = at + 1;
        }
    }
    all.push(&text[from..]);
    all.into_iter().map(str::trim).filter(|part| !part.is_empty()).collect()
}

/// Splits readings of a tape: `13.4 13.5 13.4`, `13,4; 13,5`, `13.4, 13.5`, `10 1/2 in 10 3/4 in`. Each
/// comes back with a decimal point, and with the unit that stood behind it.
///
/// # Errors
/// A comma that may part decimals or readings: `13,4,12`, `13,14`.
pub fn readings(text: &str) -> Result<Vec<String>, UnitError> {
    let mut all = Vec::new();
    for part in parts(text) {
        let mut own: Vec<String> = Vec::new();
        for word in part.split_whitespace() {
            let begins = word.starts_with(|c: char| c.is_ascii_digit());
            match own.last_mut() {
                // A unit, or the fraction of a mixed number.
                Some(last) if !begins || (word.contains('/') && is_whole(last)) => {
                    last.push(' ');
                    last.push_str(word);
                }
                _ => own.push(word.to_owned()),
            }
        }
        for reading in own {
            let end = number_end(&reading);
            all.extend(in_commas(&reading[..end], &reading[end..])?);
        }
    }
    Ok(all)
}

fn is_whole(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// The readings of one run of digits, points and commas, and what stands behind it.
fn in_commas(digits: &str, unit: &str) -> Result<Vec<String>, UnitError> {
    let pieces: Vec<&str> = digits.split(',').collect();
    // Where each has its decimal point, a comma can only part readings.
    if pieces.len() > 1 && pieces.iter().all(|piece| piece.contains('.')) {
        let last = pieces.len() - 1;
        let each = pieces.into_iter().enumerate();
        return Ok(each
            .map(|(n, p)| format!("{p}{}", if n == last { unit } else { "" }))
            .collect());
    }
    if let [whole, second] = pieces[..]
        && second.len() == whole.len()
        && second.len() >= 2
        && let (Ok(a), Ok(b)) = (whole.parse::<f64>(), second.parse::<f64>())
        && (a - b).abs() <= ALIKE * a.max(b)
    {
        return Err(UnitError::doubtful(
            format!("`{digits}` can be one reading or two"),
            format!("write `{whole}.{second}` for one, `{whole}; {second}` for two"),
        ));
    }
    Ok(vec![format!("{}{unit}", pointed(digits)?)])
}

/// Readings of one swatch are as much alike as this, as a share: common practice, since those that
/// differ by more are measured again.
const ALIKE: f64 = 0.12;

/// What was typed with a unit behind it, where it is a bare number: for fields that ask for numbers.
pub fn with_unit(text: &str, unit: &str) -> String {
    let bare = text.parse::<f64>().is_ok()
        || match leading_number(text) {
            Ok((_, rest)) => rest.is_empty(),
            Err(fault) => fault.code == Code::Doubtful && number_end(text) == text.len(),
        };
    if bare { format!("{text} {unit}") } else { text.to_owned() }
}

/// Splits "12.5 cm" or "10 1/2 in" into the number and the trimmed rest. Plain and mixed
/// fractions are read since rulers and scales in inches and ounces show them.
pub(super) fn leading_number(text: &str) -> Result<(f64, &str), UnitError> {
    let text = text.trim();
    let whole_end = number_end(text);
    let whole = &text[..whole_end];
    let rest = text[whole_end..].trim_start();
    if let Some((part, rest)) = one_sign(rest)
        && (whole.is_empty() || is_whole(whole))
    {
        let whole = if whole.is_empty() { 0.0 } else { number(whole)? };
        return Ok((whole + part, rest.trim_start()));
    }
    if whole.is_empty() {
        // A typed hyphen or a pasted minus sign.
        let hint = if text.starts_with(['-', '\u{2212}']) {
            "leave the minus sign out"
        } else {
            "begin with a number, as in `56 cm`"
        };
        return Err(UnitError::new(format!("`{text}` has no number in front"), hint));
    }
    let value = number(whole)?;
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

/// A fraction written as one sign at the beginning, as phones make of "1/2", and what is behind it.
fn one_sign(text: &str) -> Option<(f64, &str)> {
    let mut letters = text.chars();
    let (over, under) = match letters.next()? {
        '½' => (1, 2),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    };
    Some((f64::from(over) / f64::from(under), letters.as_str()))
}

/// Where the number at the beginning ends: digits, points, and commas with a digit behind them.
fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let of_number = |(at, byte): (usize, &u8)| match byte {
        b',' => at > 0 && bytes.get(at + 1).is_some_and(u8::is_ascii_digit),
        _ => byte.is_ascii_digit() || *byte == b'.',
    };
    bytes.iter().enumerate().position(|own| !of_number(own)).unwrap_or(bytes.len())
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
