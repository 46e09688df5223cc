//! One value against what it has to be.

use mlua::{Table, Value};

use diag::{Code, nearest};
use knit::edge::RowAt;
use knit::needle::{Needle, Span};
use knit::program::{CastOnMethod, Structure, WorkingEnds};
use knit::shaping::Ends;

use super::asked::decisions;
use super::checked::{Checked, Rounding, SearchRange};
use super::lists::items;
use super::misfit::Misfit;
use super::scalar::{between, finite, integer, range_of, text, whole, with_text};
use super::show::{MOST_SHOWN, clip, describe, is_plain};
use crate::schema::ValueKind;

const MOST_NAME: usize = 60;
const MOST_TEXTS: usize = 100;
const MOST_RANGES: usize = 5;
const MOST_POINTS: usize = 200;
/// Rows from a mark: more than any piece has.
const MOST_SHIFT: f64 = 100_000.0;
/// Higher and wider than anything knitted.
const MOST_MM: f64 = 100_000.0;

/// Checks one value.
pub(super) fn check(kind: ValueKind, value: &Value) -> Result<Checked, Misfit> {
    match kind {
        ValueKind::Name => name(value).map(Checked::Text),
        ValueKind::Text => text(value).map(Checked::Text),
        ValueKind::Texts => texts(value).map(Checked::Texts),
        ValueKind::Needle => {
            with_text("a needle such as \"L3\"", value, |text| parsed(text, Checked::Needle))
        }
        ValueKind::Needles => needles(value),
        ValueKind::Side => {
            with_text("\"left\" or \"right\"", value, |text| parsed(text, Checked::Side))
        }
        ValueKind::Sides => sides(value),
        ValueKind::Edge => match value {
            Value::Table(table) => Ok(Checked::Table(table.clone())),
            Value::String(_) => name(value).map(Checked::Text),
            _ => Err(Misfit::wanted("the name of an open edge, or a table (Edge)", value)),
        },
        ValueKind::Mark => match mark(value) {
            Some(RowAt::Mark(name, 0)) => Ok(Checked::Text(name)),
            Some(_) => Err(Misfit::new(
                Code::ScriptWrongType,
                "must be a mark itself, and this is a place some rows from one".to_owned(),
            )
            .hint("only `from` and `to` of an edge take such a place")),
            None => name(value).map(Checked::Text),
        },
        ValueKind::Place(low, high) => match value {
            Value::String(_) => name(value).map(|name| Checked::Place(RowAt::Mark(name, 0))),
            Value::Table(_) => mark(value)
                .map(Checked::Place)
                .ok_or_else(|| Misfit::wanted("a whole number or a mark", value)),
            _ => whole(low, high, value).map(|row| Checked::Place(RowAt::Row(row))),
        },
        ValueKind::Structure => structure(value).map(Checked::Structure),
        ValueKind::CastOnMethod => cast_on_method(value).map(Checked::Method),
        ValueKind::Rounding => rounding(value).map(Checked::Rounding),
        ValueKind::Ends => ends(value).map(Checked::Ends),
        ValueKind::Word(known) => one_word(known, value).map(Checked::Text),
        ValueKind::Whole(low, high) => whole(low, high, value).map(Checked::Whole),
        ValueKind::Integer => integer(value).map(Checked::Number),
        ValueKind::Number => finite(value).map(Checked::Number),
        ValueKind::Between(low, high) => between(low, high, value).map(Checked::Number),
        ValueKind::Flag => match value {
            Value::Boolean(flag) => Ok(Checked::Flag(*flag)),
            _ => Err(Misfit::wanted("true or false", value)),
        },
        ValueKind::Function => match value {
            Value::Function(function) => Ok(Checked::Function(function.clone())),
            _ => Err(Misfit::wanted("a function", value)),
        },
        ValueKind::Ranges => {
            ranges(table(|| "a list of ranges such as { { 1, 9 } }", value)?).map(Checked::Ranges)
        }
        ValueKind::Decisions => {
            decisions(table(|| "a table of decisions such as { stitches = { 10, 20 } }", value)?)
                .map(Checked::Decisions)
        }
        ValueKind::Chooser => check(ValueKind::Function, value),
        ValueKind::Points => {
            points(table(|| "a list of points such as { { 0, 150 }, { 280, 200 } }", value)?)
                .map(Checked::Points)
        }
        ValueKind::Steps => table(|| "a list of steps", value).cloned().map(Checked::Table),
        ValueKind::List(record) => {
            let wanted = || format!("a list of tables ({})", record.name);
            table(wanted, value).cloned().map(Checked::Table)
        }
        ValueKind::Record(record) => {
            let wanted = || format!("a table ({})", record.name);
            table(wanted, value).cloned().map(Checked::Table)
        }
    }
}

/// Needles as a text, or as the value that `needles.span` gives.
fn needles(value: &Value) -> Result<Checked, Misfit> {
    const WANTED: &str = "needles such as \"L24-R23\"";
    let Value::Table(table) = value else {
        return with_text(WANTED, value, |text| parsed(text, Checked::Needles));
    };
    let end = |key: &str| {
        let Ok(Value::String(text)) = table.raw_get::<Value>(key) else { return None };
        let bytes = text.as_bytes();
        if bytes.len() > MOST_SHOWN {
            return None;
        }
        std::str::from_utf8(&bytes).ok()?.parse::<Needle>().ok()
    };
    match (end("first"), end("last")) {
        (Some(left), Some(right)) if left <= right => Ok(Checked::Needles(Span { left, right })),
        _ => Err(Misfit::wanted(WANTED, value)),
    }
}

/// A mark that is a value, as `mark` gives it.
fn mark(value: &Value) -> Option<RowAt> {
    let table = value.as_table()?;
    let rows = integer(&table.raw_get("rows").ok()?).ok()?;
    let name = name(&table.raw_get("name").ok()?).ok()?;
    (rows.abs() <= MOST_SHIFT).then_some(RowAt::Mark(name, rows as i32))
}

/// What it had to be is only worded where it is not.
fn table<W: AsRef<str>>(wanted: impl FnOnce() -> W, value: &Value) -> Result<&Table, Misfit> {
    match value {
        Value::Table(table) => Ok(table),
        _ => Err(Misfit::wanted(wanted().as_ref(), value)),
    }
}

fn name(value: &Value) -> Result<String, Misfit> {
    let unfit = || {
        Misfit::new(Code::ScriptName, format!("can't be {}", describe(value)))
            .hint(format!("use letters, digits, `_` and `-`, {MOST_NAME} at most"))
    };
    let Value::String(text) = value else { return Err(Misfit::wanted("a name", value)) };
    let bytes = text.as_bytes();
    let fits = (1..=MOST_NAME).contains(&bytes.len())
        && bytes.iter().all(|c| c.is_ascii_alphanumeric() || matches!(c, b'_' | b'-'));
    let name = fits.then(|| std::str::from_utf8(&bytes).ok()).flatten();
    name.map(str::to_owned).ok_or_else(unfit)
}

fn texts(value: &Value) -> Result<Vec<String>, Misfit> {
    let list = table(|| "a list of texts", value)?;
    items(list, MOST_TEXTS)?.iter().map(text).collect()
}

fn structure(value: &Value) -> Result<Structure, Misfit> {
    with_text("a structure such as \"plain\"", value, |name| {
        Structure::parse(name)
            .ok_or_else(|| no_such_word(name, &Structure::ALL.map(Structure::name)))
    })
}

fn cast_on_method(value: &Value) -> Result<CastOnMethod, Misfit> {
    with_text("\"waste\", \"wound\" or \"rib\"", value, |word| match word {
        "waste" => Ok(CastOnMethod::Waste),
        "wound" => Ok(CastOnMethod::Wound),
        "rib" => Ok(CastOnMethod::Rib),
        other => Err(no_such_word(other, &["waste", "wound", "rib"])),
    })
}

fn sides(value: &Value) -> Result<Checked, Misfit> {
    with_text("\"left\", \"right\" or \"both\"", value, |text| match text {
        "both" => Ok(Checked::Sides(WorkingEnds::Both)),
        side => parsed(side, |side| Checked::Sides(WorkingEnds::One(side))),
    })
}

fn rounding(value: &Value) -> Result<Rounding, Misfit> {
    with_text("\"nearest\", \"up\" or \"down\"", value, |word| match word {
        "nearest" => Ok(Rounding::Nearest),
        "up" => Ok(Rounding::Up),
        "down" => Ok(Rounding::Down),
        other => Err(no_such_word(other, &["nearest", "up", "down"])),
    })
}

fn ends(value: &Value) -> Result<Ends, Misfit> {
    with_text("\"one\" or \"both\"", value, |name| {
        Ends::parse(name).ok_or_else(|| no_such_word(name, &["one", "both"]))
    })
}

fn one_word(known: &[&str], value: &Value) -> Result<String, Misfit> {
    with_text("a word", value, |word| match known.contains(&word) {
        true => Ok(word.to_owned()),
        false => Err(no_such_word(word, known)),
    })
}

fn no_such_word(given: &str, known: &[&str]) -> Misfit {
    let misfit = Misfit::new(Code::ScriptWord, format!("can't be `{}`", clip(given)));
    match nearest(given, known.iter().copied()) {
        Some(near) => misfit.hint(format!("did you mean `{near}`?")),
        None => misfit.hint(format!("it is one of {}", known.join(", "))),
    }
}

fn parsed<T: std::str::FromStr<Err = String>>(
    text: &str,
    wrap: fn(T) -> Checked,
) -> Result<Checked, Misfit> {
    if text.len() <= MOST_SHOWN
        && is_plain(text)
        && let Ok(value) = text.parse()
    {
        return Ok(wrap(value));
    }
    // The parsers quote what they refuse, so a hostile length must not reach them.
    clip(text).parse().map(wrap).map_err(|why| {
        Misfit::new(Code::ScriptNeedle, format!("can't be read: {why}"))
            .hint("needles.centred, needles.slice and needles.at make such names")
    })
}

fn ranges(list: &Table) -> Result<Vec<SearchRange>, Misfit> {
    let wrong = |value: &Value| {
        Misfit::wanted("a list of ranges { from, to } or { from, to, step }", value)
    };
    let mut ranges = Vec::new();
    for item in items(list, MOST_RANGES)? {
        let Value::Table(range) = &item else { return Err(wrong(&item)) };
        let mut ends = Vec::new();
        for end in items(range, 3)? {
            ends.push(integer(&end)? as i64);
        }
        ranges.push(range_of(&ends)?.ok_or_else(|| wrong(&item))?);
    }
    if ranges.is_empty() {
        return Err(Misfit::new(Code::ScriptArguments, "holds no range".to_owned())
            .hint("write over = { { 10, 20 } }"));
    }
    Ok(ranges)
}

fn points(list: &Table) -> Result<Vec<(f64, f64)>, Misfit> {
    let wrong = |value: &Value| Misfit::wanted("a list of points { height, width } in mm", value);
    let mut points = Vec::new();
    for item in items(list, MOST_POINTS)? {
        let Value::Table(point) = &item else { return Err(wrong(&item)) };
        let mut ends = Vec::new();
        for end in items(point, 2)? {
            ends.push(between(0.0, MOST_MM, &end)?);
        }
        match ends[..] {
            [height, width] => points.push((height, width)),
            _ => return Err(wrong(&item)),
        }
    }
    Ok(points)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_short_plain_needle_is_read() {
        let read = |text: &str| parsed(text, Checked::Needle).is_ok();
        assert!(read("L3") && read(" R12 "));
        let long = format!("L{}3", "0".repeat(MOST_SHOWN));
        for refused in ["L3\n", "\tL3", "L\"3\"", long.as_str()] {
            assert!(!read(refused), "{refused:?}");
        }
    }
}
