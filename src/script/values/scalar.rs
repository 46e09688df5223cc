//! Texts and numbers against what they have to be.

use mlua::Value;

use diag::Code;

use super::checked::SearchRange;
use super::misfit::Misfit;
use super::show::{is_plain, number};

const MOST_TEXT: usize = 2_000;
/// Beyond 2^53 a number no longer tells its neighbours apart.
const MOST_INTEGER: f64 = 9_007_199_254_740_992.0;

/// What `read` makes of a text, which it is lent: a copy of each would take longer than most are read in.
pub(super) fn with_text<T>(
    wanted: &str,
    value: &Value,
    read: impl FnOnce(&str) -> Result<T, Misfit>,
) -> Result<T, Misfit> {
    let Value::String(text) = value else { return Err(Misfit::wanted(wanted, value)) };
    let bytes = text.as_bytes();
    // Not even looked at: it may be as long as the script's memory.
    if bytes.len() > 4 * MOST_TEXT {
        return Err(too_long());
    }
    match std::str::from_utf8(&bytes) {
        Ok(text) => read(text),
        Err(_) => Err(Misfit::new(Code::ScriptText, "is not UTF-8 text".to_owned())),
    }
}

pub(super) fn text(value: &Value) -> Result<String, Misfit> {
    with_text("a text", value, |text| {
        if text.len() <= MOST_TEXT && is_plain(text) {
            // The usual text: nothing in it can be wrong.
            return Ok(text.to_owned());
        }
        if text.chars().count() > MOST_TEXT {
            return Err(too_long());
        }
        // A long text in the script may run over several lines; the knitter's is one.
        let text = text.replace(['\n', '\t'], " ");
        if text.contains(diag::is_control) {
            return Err(Misfit::new(
                Code::ScriptText,
                "must not hold control characters".to_owned(),
            )
            .hint("leave escapes such as \\27 out"));
        }
        Ok(text)
    })
}

pub(super) fn too_long() -> Misfit {
    Misfit::new(Code::ScriptText, format!("has over {MOST_TEXT} characters"))
        .hint("say it shorter, or in several notes")
}

pub(super) fn whole(low: u32, high: u32, value: &Value) -> Result<u32, Misfit> {
    match number(value).filter(|n| n.is_finite() && n.fract() == 0.0) {
        Some(n) if (f64::from(low)..=f64::from(high)).contains(&n) => Ok(n as u32),
        _ => Err(unrounded(numeric(&format!("a whole number from {low} to {high}"), value), value)),
    }
}

/// To round helps where the number is not a whole one, and nowhere else.
fn unrounded(misfit: Misfit, value: &Value) -> Misfit {
    match number(value) {
        Some(n) if n.is_finite() && n.fract() != 0.0 => misfit.hint("round it with fit.round"),
        _ => misfit,
    }
}

pub(super) fn integer(value: &Value) -> Result<f64, Misfit> {
    number(value)
        .filter(|n| n.abs() < MOST_INTEGER && n.fract() == 0.0)
        .ok_or_else(|| unrounded(numeric("a whole number", value), value))
}

pub(super) fn finite(value: &Value) -> Result<f64, Misfit> {
    number(value).filter(|n| n.is_finite()).ok_or_else(|| numeric("a finite number", value))
}

pub(super) fn between(low: f64, high: f64, value: &Value) -> Result<f64, Misfit> {
    number(value)
        .filter(|n| (low..=high).contains(n))
        .ok_or_else(|| numeric(&format!("a number from {low} to {high}"), value))
}

pub(super) fn numeric(wanted: &str, value: &Value) -> Misfit {
    let misfit = Misfit::wanted(wanted, value);
    match number(value) {
        Some(n) if n.is_nan() => Misfit { code: Code::ScriptNumber, ..misfit }
            .hint("look for 0/0, or a root of a negative number"),
        Some(n) if n.is_infinite() => {
            Misfit { code: Code::ScriptNumber, ..misfit }.hint("look for a division by zero")
        }
        Some(_) => Misfit { code: Code::ScriptNumber, ..misfit },
        None => misfit,
    }
}

/// The range of two or three numbers; `None` of any other count.
pub(super) fn range_of(ends: &[i64]) -> Result<Option<SearchRange>, Misfit> {
    match *ends {
        [from, to] => Ok(Some(SearchRange { from, to, step: 1 })),
        [from, to, step] if step > 0 => Ok(Some(SearchRange { from, to, step })),
        [_, _, _] => Err(Misfit::new(Code::ScriptNumber, "has a step below 1".to_owned())
            .hint("count upwards, in whole steps")),
        _ => Ok(None),
    }
}
