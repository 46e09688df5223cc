//! Checks tables and arguments given by a script against the table in [`api`](super::api).
//! Raw access only: no metamethod of the script runs from here.

use mlua::{Function, MultiValue, Table, Value};

use diag::{Code, Diagnostic, nearest};
use knit::needle::{Needle, Side, Span};
use knit::program::{CastOnMethod, Structure};
use knit::shaping::Ends;

use super::api::{Field, Kind, Need};

pub(super) const MOST_TEXT: usize = 2_000;
const MOST_NAME: usize = 60;
const MOST_TEXTS: usize = 100;
/// Characters of a text that a message shows.
const MOST_SHOWN: usize = 40;
/// A table with more faults than this is not worth reading on.
const MOST_FAULTS: usize = 8;
const MOST_RANGES: usize = 5;
/// Fields of a table that are read at a go; those with more, if any, are read one by one.
const MOST_PAIRS: usize = 40;
const MOST_POINTS: usize = 200;
/// Higher and wider than anything knitted.
const MOST_MM: f64 = 100_000.0;
/// Beyond 2^53 a number no longer tells its neighbours apart.
const MOST_INTEGER: f64 = 9_007_199_254_740_992.0;

/// A checked value.
#[derive(Clone, Debug)]
pub(super) enum Checked {
    Text(String),
    Texts(Vec<String>),
    Needle(Needle),
    Needles(Span),
    Side(Side),
    Structure(Structure),
    Method(CastOnMethod),
    Whole(u32),
    Number(f64),
    Flag(bool),
    Rounding(Rounding),
    Ends(Ends),
    Function(Function),
    Ranges(Vec<Range>),
    Points(Vec<(f64, f64)>),
    Table(Table),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rounding {
    Nearest,
    Up,
    Down,
}

/// Whole numbers from `from` to `to`, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub from: i64,
    pub to: i64,
    pub step: i64,
}

impl Range {
    pub fn count(self) -> u64 {
        if self.to < self.from { 0 } else { ((self.to - self.from) / self.step) as u64 + 1 }
    }
}

/// What is wrong with one value, to be put behind its name: "must be a needle, not 3".
pub(super) struct Problem {
    pub code: Code,
    pub message: String,
    pub hint: Option<String>,
}

/// The checked fields of one table or the arguments of one call.
pub(super) struct Fields {
    fields: &'static [Field],
    values: Vec<Option<Checked>>,
}

/// Declares an accessor: the value of a field of that kind, `None` when it was left out.
macro_rules! accessor {
    ($name:ident, $variant:ident, $type:ty) => {
        pub fn $name(&self, field: &str) -> Option<$type> {
            match self.get(field) {
                Some(Checked::$variant(value)) => Some(value.clone()),
                _ => None,
            }
        }
    };
}

impl Fields {
    accessor!(text, Text, String);
    accessor!(texts, Texts, Vec<String>);
    accessor!(needle, Needle, Needle);
    accessor!(needles, Needles, Span);
    accessor!(side, Side, Side);
    accessor!(structure, Structure, Structure);
    accessor!(method, Method, CastOnMethod);
    accessor!(whole, Whole, u32);
    accessor!(number, Number, f64);
    accessor!(rounding, Rounding, Rounding);
    accessor!(ends, Ends, Ends);
    accessor!(function, Function, Function);
    accessor!(ranges, Ranges, Vec<Range>);
    accessor!(points, Points, Vec<(f64, f64)>);
    accessor!(table, Table, Table);

    pub fn flag(&self, field: &str) -> bool {
        matches!(self.get(field), Some(Checked::Flag(true)))
    }

    /// For a flag that is set unless it is given as `false`.
    pub fn flag_unless_false(&self, field: &str) -> bool {
        !matches!(self.get(field), Some(Checked::Flag(false)))
    }

    /// Bytes of all texts in it.
    pub fn text_bytes(&self) -> usize {
        let bytes = |value: &Checked| match value {
            Checked::Text(text) => text.len(),
            Checked::Texts(texts) => texts.iter().map(String::len).sum(),
            _ => 0,
        };
        self.values.iter().flatten().map(bytes).sum()
    }

    fn get(&self, field: &str) -> Option<&Checked> {
        let at = self.fields.iter().position(|f| f.name == field)?;
        self.values[at].as_ref()
    }
}

/// The fields of a table as they lie in it, all of them named.
pub(super) type Pairs = Vec<(String, Value)>;

/// The fields of a table, unless there is something odd about it: then [`read`] says what.
pub(super) fn pairs(table: &Table) -> Option<Pairs> {
    let mut all = Pairs::with_capacity(8);
    let walked = table.for_each(|name: String, value: Value| {
        if all.len() >= MOST_PAIRS {
            return Err(mlua::Error::StackError);
        }
        all.push((name, value));
        Ok(())
    });
    walked.is_ok().then_some(all)
}

/// Checks fields without a word: `None` for whatever [`read`] would find fault with, and for some
/// of what it would not. The usual way through, with fewer calls into the machine.
pub(super) fn read_pairs(pairs: &Pairs, fields: &'static [Field], also: &[&str]) -> Option<Fields> {
    let mut values: Vec<Option<Checked>> = fields.iter().map(|_| None).collect();
    for (name, value) in pairs {
        match fields.iter().position(|field| field.name == name) {
            Some(at) => values[at] = Some(check(fields[at].kind, value).ok()?),
            None if also.contains(&name.as_str()) => {}
            None => return None,
        }
    }
    let whole = fields.iter().zip(&values).all(|(f, v)| f.need != Need::Required || v.is_some());
    whole.then_some(Fields { fields, values })
}

/// Reads the fields of `table`. `what` names it in messages; keys in `also` are let through.
/// Faults go to `faults`, all that were found.
pub(super) fn read(
    table: &Table,
    fields: &'static [Field],
    what: &str,
    also: &[&str],
    faults: &mut Vec<Diagnostic>,
) -> mlua::Result<Fields> {
    if let Some(found) = pairs(table).and_then(|pairs| read_pairs(&pairs, fields, also)) {
        return Ok(found);
    }
    let before = faults.len();
    let mut values = vec![None; fields.len()];
    let mut seen = vec![false; fields.len()];
    let each = table.for_each(|key: Value, value: Value| {
        let name = key.as_string().and_then(|text| text.to_str().ok());
        let Some(name) = name.as_deref() else {
            faults.push(nameless(&key, fields, what));
            return enough(faults, before);
        };
        match fields.iter().position(|field| field.name == name) {
            Some(at) => {
                seen[at] = true;
                match check(fields[at].kind, &value) {
                    Ok(checked) => values[at] = Some(checked),
                    Err(problem) => faults.push(problem.of(&fields[at], what)),
                }
            }
            None if also.contains(&name) => {}
            None => faults.push(unknown(&clip(name), fields, what)),
        }
        enough(faults, before)
    });
    if faults.len() == before {
        each?;
    }
    for (field, seen) in fields.iter().zip(seen) {
        if field.need == Need::Required && !seen {
            faults.push(missing(field, what));
        }
    }
    Ok(Fields { fields, values })
}

/// Ends the walk over a table that has had its share of faults.
fn enough(faults: &[Diagnostic], before: usize) -> mlua::Result<()> {
    if faults.len() - before < MOST_FAULTS { Ok(()) } else { Err(mlua::Error::runtime("enough")) }
}

fn nameless(key: &Value, fields: &'static [Field], what: &str) -> Diagnostic {
    Diagnostic::error(
        Code::ScriptUnknownField,
        format!("{what} has an entry without a name ({})", describe(key)),
    )
    .hint(format!("it takes {}", listing(fields)))
}

/// Checks positional arguments.
pub(super) fn read_arguments(
    arguments: &MultiValue,
    fields: &'static [Field],
    what: &str,
    faults: &mut Vec<Diagnostic>,
) -> Fields {
    let mut values = vec![None; fields.len()];
    for (at, field) in fields.iter().enumerate() {
        match arguments.get(at) {
            None | Some(Value::Nil) => {
                if field.need == Need::Required {
                    faults.push(missing(field, what));
                }
            }
            Some(value) => match check(field.kind, value) {
                Ok(checked) => values[at] = Some(checked),
                Err(problem) => faults.push(problem.of(field, what)),
            },
        }
    }
    if arguments.len() > fields.len() {
        faults.push(
            Diagnostic::error(
                Code::ScriptArguments,
                format!("{what} takes {} arguments, not {}", fields.len(), arguments.len()),
            )
            .hint(format!("they are {}", listing(fields))),
        );
    }
    Fields { fields, values }
}

fn listing(fields: &[Field]) -> String {
    if fields.is_empty() {
        return "nothing".to_owned();
    }
    fields.iter().map(|f| format!("`{}`", f.name)).collect::<Vec<_>>().join(", ")
}

fn unknown(name: &str, fields: &'static [Field], what: &str) -> Diagnostic {
    let fault =
        Diagnostic::error(Code::ScriptUnknownField, format!("{what} has no field `{name}`"));
    match nearest(name, fields.iter().map(|f| f.name)) {
        Some(near) => fault.hint(format!("did you mean `{near}`?")),
        None => fault.hint(format!("it takes {}", listing(fields))),
    }
}

fn missing(field: &Field, what: &str) -> Diagnostic {
    Diagnostic::error(Code::ScriptMissingField, format!("{what} needs `{}`", field.name))
        .hint(format!("`{}`: {}", field.name, field.doc))
}

impl Problem {
    fn new(code: Code, message: String) -> Problem {
        Problem { code, message, hint: None }
    }

    fn wanted(wanted: &str, value: &Value) -> Problem {
        Problem::new(Code::ScriptWrongType, format!("must be {wanted}, not {}", describe(value)))
    }

    fn hint(mut self, hint: impl Into<String>) -> Problem {
        self.hint = Some(hint.into());
        self
    }

    /// With what the field is for as the hint, when there is no better one.
    fn of(self, field: &Field, what: &str) -> Diagnostic {
        let doc = format!("`{}`: {}", field.name, field.doc);
        let hint = self.hint.clone().unwrap_or(doc);
        self.hint(hint).at(field.name, what)
    }

    pub fn at(self, name: &str, what: &str) -> Diagnostic {
        Diagnostic::error(self.code, format!("`{name}` of {what} {}", self.message))
            .maybe_hint(self.hint)
    }
}

/// Checks one value.
pub(super) fn check(kind: Kind, value: &Value) -> Result<Checked, Problem> {
    let text = |wanted: &str| match value {
        // Not even copied: it may be as long as the script's memory.
        Value::String(text) if text.as_bytes().len() > 4 * MOST_TEXT => Err(too_long()),
        Value::String(text) => match text.to_str() {
            Ok(text) => Ok(text.to_owned()),
            Err(_) => Err(Problem::new(Code::ScriptText, "is not UTF-8 text".to_owned())),
        },
        _ => Err(Problem::wanted(wanted, value)),
    };
    let table = |wanted: &str| match value {
        Value::Table(table) => Ok(table.clone()),
        _ => Err(Problem::wanted(wanted, value)),
    };
    match kind {
        Kind::Name => {
            let unfit = || {
                Problem::new(Code::ScriptName, format!("can't be {}", describe(value)))
                    .hint(format!("use letters, digits, `_` and `-`, {MOST_NAME} at most"))
            };
            if matches!(value, Value::String(text) if text.as_bytes().len() > MOST_NAME) {
                return Err(unfit());
            }
            let name = text("a name")?;
            let fits = !name.is_empty()
                && name.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
            if fits { Ok(Checked::Text(name)) } else { Err(unfit()) }
        }
        Kind::Text => {
            let text = text("a text")?;
            if text.len() <= MOST_TEXT && is_plain(&text) {
                // The usual text: nothing in it can be wrong.
                return Ok(Checked::Text(text));
            }
            if text.chars().count() > MOST_TEXT {
                return Err(too_long());
            }
            // A long text in the script may run over several lines; the knitter's is one.
            let text = text.replace(['\n', '\t'], " ");
            if text.contains(diag::is_control) {
                return Err(Problem {
                    code: Code::ScriptText,
                    message: "must not hold control characters".to_owned(),
                    hint: Some("leave escapes such as \\27 out".to_owned()),
                });
            }
            Ok(Checked::Text(text))
        }
        Kind::Texts => {
            let list = table("a list of texts")?;
            let mut texts = Vec::new();
            for item in items(&list, MOST_TEXTS)? {
                match check(Kind::Text, &item)? {
                    Checked::Text(text) => texts.push(text),
                    _ => return Err(Problem::wanted("a list of texts", &item)),
                }
            }
            Ok(Checked::Texts(texts))
        }
        Kind::Needle => parsed(&text("a needle such as \"L3\"")?, Checked::Needle),
        Kind::Needles => parsed(&text("needles such as \"L24-R23\"")?, Checked::Needles),
        Kind::Side => parsed(&text("\"left\" or \"right\"")?, Checked::Side),
        Kind::Structure => {
            let name = text("a structure such as \"plain\"")?;
            let known = Structure::ALL.map(Structure::name);
            Structure::parse(&name).map(Checked::Structure).ok_or_else(|| word(&name, &known))
        }
        Kind::CastOnMethod => match text("\"waste\", \"wound\" or \"rib\"")?.as_str() {
            "waste" => Ok(Checked::Method(CastOnMethod::Waste)),
            "wound" => Ok(Checked::Method(CastOnMethod::Wound)),
            "rib" => Ok(Checked::Method(CastOnMethod::Rib)),
            other => Err(word(other, &["waste", "wound", "rib"])),
        },
        Kind::Rounding => match text("\"nearest\", \"up\" or \"down\"")?.as_str() {
            "nearest" => Ok(Checked::Rounding(Rounding::Nearest)),
            "up" => Ok(Checked::Rounding(Rounding::Up)),
            "down" => Ok(Checked::Rounding(Rounding::Down)),
            other => Err(word(other, &["nearest", "up", "down"])),
        },
        Kind::Ends => {
            let name = text("\"one\" or \"both\"")?;
            Ends::parse(&name).map(Checked::Ends).ok_or_else(|| word(&name, &["one", "both"]))
        }
        Kind::Word(known) => {
            let name = text("a word")?;
            if known.contains(&name.as_str()) {
                Ok(Checked::Text(name))
            } else {
                Err(self::word(&name, known))
            }
        }
        Kind::Whole(low, high) => {
            let wanted = || format!("a whole number from {low} to {high}");
            match number(value).filter(|n| n.is_finite() && n.fract() == 0.0) {
                Some(n) if (f64::from(low)..=f64::from(high)).contains(&n) => {
                    Ok(Checked::Whole(n as u32))
                }
                _ => Err(numeric(&wanted(), value).hint("round it with fit.round")),
            }
        }
        Kind::Integer => {
            match number(value).filter(|n| n.abs() < MOST_INTEGER && n.fract() == 0.0) {
                Some(n) => Ok(Checked::Number(n)),
                None => Err(numeric("a whole number", value).hint("round it with fit.round")),
            }
        }
        Kind::Number => match number(value).filter(|n| n.is_finite()) {
            Some(n) => Ok(Checked::Number(n)),
            None => Err(numeric("a finite number", value)),
        },
        Kind::Between(low, high) => match number(value).filter(|n| (low..=high).contains(n)) {
            Some(n) => Ok(Checked::Number(n)),
            None => Err(numeric(&format!("a number from {low} to {high}"), value)),
        },
        Kind::Flag => match value {
            Value::Boolean(flag) => Ok(Checked::Flag(*flag)),
            _ => Err(Problem::wanted("true or false", value)),
        },
        Kind::Function => match value {
            Value::Function(function) => Ok(Checked::Function(function.clone())),
            _ => Err(Problem::wanted("a function", value)),
        },
        Kind::Ranges => ranges(&table("a list of ranges such as { { 1, 9 } }")?),
        Kind::Points => points(&table("a list of points such as { { 0, 150 }, { 280, 200 } }")?),
        Kind::Steps => table("a list of steps").map(Checked::Table),
        Kind::List(record) => {
            table(&format!("a list of tables ({})", record.name)).map(Checked::Table)
        }
        Kind::Record(record) => table(&format!("a table ({})", record.name)).map(Checked::Table),
    }
}

fn too_long() -> Problem {
    Problem::new(Code::ScriptText, format!("has over {MOST_TEXT} characters"))
        .hint("say it shorter, or in several notes")
}

fn word(given: &str, known: &[&str]) -> Problem {
    let problem = Problem::new(Code::ScriptWord, format!("can't be `{}`", clip(given)));
    match nearest(given, known.iter().copied()) {
        Some(near) => problem.hint(format!("did you mean `{near}`?")),
        None => problem.hint(format!("it is one of {}", known.join(", "))),
    }
}

fn parsed<T: std::str::FromStr<Err = String>>(
    text: &str,
    wrap: fn(T) -> Checked,
) -> Result<Checked, Problem> {
    if text.len() <= MOST_SHOWN
        && is_plain(text)
        && let Ok(value) = text.parse()
    {
        return Ok(wrap(value));
    }
    // The parsers quote what they refuse, so a hostile length must not reach them.
    clip(text).parse().map(wrap).map_err(|why| {
        Problem::new(Code::ScriptNeedle, format!("can't be read: {why}"))
            .hint("needles.centred, needles.slice and needles.at make such names")
    })
}

fn numeric(wanted: &str, value: &Value) -> Problem {
    let problem = Problem::wanted(wanted, value);
    match number(value) {
        Some(n) if n.is_nan() => Problem { code: Code::ScriptNumber, ..problem }
            .hint("look for 0/0, or a root of a negative number"),
        Some(n) if n.is_infinite() => {
            Problem { code: Code::ScriptNumber, ..problem }.hint("look for a division by zero")
        }
        Some(_) => Problem { code: Code::ScriptNumber, ..problem },
        None => problem,
    }
}

pub(super) fn number(value: &Value) -> Option<f64> {
    match value {
        Value::Integer(n) => Some(*n as f64),
        Value::Number(n) => Some(*n),
        _ => None,
    }
}

fn ranges(list: &Table) -> Result<Checked, Problem> {
    let wrong = |value: &Value| {
        Problem::wanted("a list of ranges { from, to } or { from, to, step }", value)
    };
    let mut ranges = Vec::new();
    for item in items(list, MOST_RANGES)? {
        let Value::Table(range) = &item else { return Err(wrong(&item)) };
        let mut ends = Vec::new();
        for end in items(range, 3)? {
            match check(Kind::Integer, &end)? {
                Checked::Number(n) => ends.push(n as i64),
                _ => return Err(wrong(&end)),
            }
        }
        match ends[..] {
            [from, to] => ranges.push(Range { from, to, step: 1 }),
            [from, to, step] if step > 0 => ranges.push(Range { from, to, step }),
            [_, _, _] => {
                return Err(Problem::new(Code::ScriptNumber, "has a step below 1".to_owned())
                    .hint("count upwards, in whole steps"));
            }
            _ => return Err(wrong(&item)),
        }
    }
    if ranges.is_empty() {
        return Err(Problem::new(Code::ScriptArguments, "holds no range".to_owned())
            .hint("write over = { { 10, 20 } }"));
    }
    Ok(Checked::Ranges(ranges))
}

fn points(list: &Table) -> Result<Checked, Problem> {
    let wrong = |value: &Value| Problem::wanted("a list of points { height, width } in mm", value);
    let mut points = Vec::new();
    for item in items(list, MOST_POINTS)? {
        let Value::Table(point) = &item else { return Err(wrong(&item)) };
        let mut ends = Vec::new();
        for end in items(point, 2)? {
            match check(Kind::Between(0.0, MOST_MM), &end)? {
                Checked::Number(n) => ends.push(n),
                _ => return Err(wrong(&end)),
            }
        }
        match ends[..] {
            [height, width] => points.push((height, width)),
            _ => return Err(wrong(&item)),
        }
    }
    Ok(Checked::Points(points))
}

/// The items of a list of at most `most`, in order.
pub(super) fn items(list: &Table, most: usize) -> Result<Vec<Value>, Problem> {
    let length = list.raw_len();
    if length > most {
        return Err(Problem::new(Code::ScriptSize, format!("has {length} entries, over {most}"))
            .hint("make it shorter"));
    }
    let broken = |_| Problem::new(Code::ScriptMemory, "can't be read".to_owned());
    let mut all = Vec::with_capacity(length);
    for at in 1..=length {
        all.push(list.raw_get::<Value>(at).map_err(broken)?);
    }
    match stray_key(list, length) {
        Ok(None) => Ok(all),
        Ok(Some(key)) => Err(Problem::new(
            Code::ScriptList,
            format!("must be a list without gaps or names; it has {key}"),
        )
        .hint("a nil inside a list makes a gap: leave such entries out")),
        Err(_) => Err(broken(mlua::Error::StackError)),
    }
}

/// A key of `list` that is not one of `1..=length`, as a message shows it.
pub(super) fn stray_key(list: &Table, length: usize) -> mlua::Result<Option<String>> {
    let mut stray = None;
    // The values don't matter: as truths they cost nothing to hand over.
    let walked = list.for_each(|key: Value, _: bool| {
        let place = number(&key).filter(|n| n.fract() == 0.0);
        if place.is_some_and(|n| n >= 1.0 && n <= length as f64) {
            return Ok(());
        }
        stray = Some(describe(&key));
        // Only ends the walk.
        Err(mlua::Error::StackError)
    });
    match stray {
        Some(key) => Ok(Some(key)),
        None => walked.map(|()| None),
    }
}

/// A value as a message shows it; never an address, never long.
pub(super) fn describe(value: &Value) -> String {
    match value {
        Value::Nil => "nil".to_owned(),
        Value::Boolean(flag) => flag.to_string(),
        Value::Integer(n) => n.to_string(),
        Value::Number(n) if n.is_nan() => "NaN (not a number)".to_owned(),
        Value::Number(n) => n.to_string(),
        Value::String(text) if text.as_bytes().is_empty() => "an empty text".to_owned(),
        Value::String(text) => {
            let bytes = text.as_bytes();
            format!("\"{}\"", clip(&String::from_utf8_lossy(&bytes[..bytes.len().min(200)])))
        }
        Value::Table(_) => "a table".to_owned(),
        Value::Function(_) => "a function".to_owned(),
        Value::Thread(_) => "a coroutine".to_owned(),
        other => format!("a {}", other.type_name()),
    }
}

/// Whether it is made of printable ASCII alone.
fn is_plain(text: &str) -> bool {
    text.bytes().all(|byte| (b' '..=b'~').contains(&byte))
}

/// The first characters, control characters shown as escapes.
pub(super) fn clip(text: &str) -> String {
    let mut short: String = text.chars().take(MOST_SHOWN).flat_map(char::escape_debug).collect();
    if text.chars().nth(MOST_SHOWN).is_some() {
        short.push('…');
    }
    short
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
