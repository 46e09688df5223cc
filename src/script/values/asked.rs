//! The numbers a script asks to have decided, by name.

use mlua::{Function, Table, Value};

use diag::{Code, nearest};

use super::checked::{AskedDecision, SearchRange};
use super::lists::items;
use super::misfit::Misfit;
use super::scalar::{integer, range_of, text};
use super::show::{clip, describe, key_name};

/// More dimensions than anyone searches.
const MOST_DECISIONS: usize = 8;
const FIELDS: [&str; 3] = ["title", "may", "follows"];
const MOST_NAME: usize = 40;

/// In the order of their names, so that of equals the same is taken each time.
pub(super) fn decisions(table: &Table) -> Result<Vec<AskedDecision>, Misfit> {
    let mut entries: Vec<(String, Value)> = Vec::new();
    let walked = table.for_each(|key: Value, value: Value| {
        let name = match &key {
            Value::String(text) if text.as_bytes().len() <= MOST_NAME => text.to_string_lossy(),
            other => describe(other),
        };
        entries.push((name, value));
        if entries.len() > MOST_DECISIONS { Err(mlua::Error::StackError) } else { Ok(()) }
    });
    if entries.len() > MOST_DECISIONS {
        return Err(Misfit::new(
            Code::ScriptSize,
            format!("holds more than {MOST_DECISIONS} numbers"),
        )
        .hint("decide first those that the others hang on, and then the others"));
    }
    if walked.is_err() {
        return Err(Misfit::new(Code::ScriptMemory, "can't be read".to_owned()));
    }
    if entries.is_empty() {
        return Err(Misfit::new(Code::ScriptArguments, "holds no number to decide".to_owned())
            .hint("write of = { stitches = { 10, 20 } }"));
    }
    entries.sort_by(|(a, _), (b, _)| a.cmp(b));
    entries.into_iter().map(|(name, value)| asked(&name, &value)).collect()
}

/// What a knitter can type as `fix.NAME`.
pub(crate) fn is_decision_name(name: &str) -> bool {
    name.len() <= MOST_NAME
        && name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// What is said of a name that can't be one.
pub(crate) const NAME_HINT: &str = "a small letter, then small letters, digits and `_`, 40 at most: it is typed as --fix NAME=NUMBER";

fn asked(name: &str, value: &Value) -> Result<AskedDecision, Misfit> {
    if !is_decision_name(name) {
        return Err(Misfit::new(Code::ScriptName, format!("names a number `{}`", clip(name)))
            .hint(NAME_HINT));
    }
    let Value::Table(table) = value else {
        return Err(within(name, Misfit::wanted("a table such as { 10, 20 }", value)));
    };
    let entry = Entry { name, table };
    let (title, follows) = (entry.title()?, entry.follows()?);
    let (ends, named) = entry.ends()?;
    if let Some(key) = named {
        return Err(entry.unknown(&key));
    }
    let may = entry.may()?;
    let range = range_of(&ends).map_err(|fault| within(name, fault))?;
    let (range, may) = match (range, may, &follows) {
        (None, Some(may), Some(_)) if ends.is_empty() => (None, may),
        (Some(range), may, None) => (Some(range), may.unwrap_or(range)),
        (_, _, Some(_)) => {
            return Err(entry.fault(Code::ScriptArguments, "follows from the others").hint(
                "give it `may = { from, to }` and no range: one that follows is not searched",
            ));
        }
        (None, _, None) => {
            return Err(entry
                .fault(Code::ScriptArguments, "has no range")
                .hint(format!("write {name} = {{ from, to }} or {{ from, to, step }}")));
        }
    };
    if let Some(range) = range.filter(|range| range.count() > 0)
        && (may.from > range.from || may.to < range.to)
    {
        return Err(entry
            .fault(Code::ScriptNumber, &format!("is chosen from {range} and may be {may}"))
            .hint("`may` is the wider of the two: what a knitter may fix"));
    }
    Ok(AskedDecision { name: name.to_owned(), title, range, may, follows })
}

/// One of them, as the script wrote it.
struct Entry<'a> {
    name: &'a str,
    table: &'a Table,
}

impl Entry<'_> {
    fn fault(&self, code: Code, what: &str) -> Misfit {
        Misfit::new(code, format!("has `{}`, which {what}", self.name))
    }

    fn unknown(&self, key: &str) -> Misfit {
        let fault = self.fault(Code::ScriptUnknownField, &format!("has no field `{}`", clip(key)));
        match nearest(key, FIELDS) {
            Some(near) => fault.hint(format!("did you mean `{near}`?")),
            None => fault.hint("it takes { from, to, step }, `title`, `may` and `follows`"),
        }
    }

    fn field(&self, name: &str) -> Result<Option<Value>, Misfit> {
        let unread = |_| self.fault(Code::ScriptMemory, "can't be read");
        self.table.raw_get::<Option<Value>>(name).map_err(unread)
    }

    fn title(&self) -> Result<Option<String>, Misfit> {
        let title = self.field("title")?;
        title.map(|value| text(&value)).transpose().map_err(|fault| within(self.name, fault))
    }

    fn follows(&self) -> Result<Option<Function>, Misfit> {
        match self.field("follows")? {
            None => Ok(None),
            Some(Value::Function(function)) => Ok(Some(function)),
            Some(other) => {
                let wanted = Misfit::wanted("followed by a function", &other);
                Err(within(self.name, wanted))
            }
        }
    }

    fn may(&self) -> Result<Option<SearchRange>, Misfit> {
        let wrong = |value: &Value| {
            let wanted = "a table with `may = { from, to }` or `{ from, to, step }`";
            within(self.name, Misfit::wanted(wanted, value))
        };
        let Some(value) = self.field("may")? else { return Ok(None) };
        let Value::Table(list) = &value else { return Err(wrong(&value)) };
        let found = whole_numbers(list).and_then(|ends| range_of(&ends));
        let range = found.map_err(|fault| within(self.name, fault))?;
        range.map(Some).ok_or_else(|| wrong(&value))
    }

    /// The numbers of the range, and a name that is none of its fields.
    fn ends(&self) -> Result<(Vec<i64>, Option<String>), Misfit> {
        let length = self.table.raw_len();
        let mut stray = None;
        let walked = self.table.for_each(|key: Value, _: bool| {
            let known = match &key {
                Value::String(_) => FIELDS.contains(&key_name(&key).as_str()),
                Value::Integer(at) => *at >= 1 && *at as usize <= length,
                Value::Number(at) => at.fract() == 0.0 && *at >= 1.0 && *at <= length as f64,
                _ => false,
            };
            if known {
                return Ok(());
            }
            stray = Some(key_name(&key));
            Err(mlua::Error::StackError)
        });
        if walked.is_err() && stray.is_none() {
            return Err(self.fault(Code::ScriptMemory, "can't be read"));
        }
        if length > 3 {
            return Err(self
                .fault(Code::ScriptSize, &format!("has {length} numbers"))
                .hint("a range is { from, to } or { from, to, step }"));
        }
        let mut ends = Vec::with_capacity(length);
        for at in 1..=length {
            let value: Value = self
                .table
                .raw_get(at)
                .map_err(|_| self.fault(Code::ScriptMemory, "can't be read"))?;
            ends.push(integer(&value).map_err(|fault| within(self.name, fault))? as i64);
        }
        Ok((ends, stray))
    }
}

fn whole_numbers(list: &Table) -> Result<Vec<i64>, Misfit> {
    items(list, 3)?.iter().map(|value| integer(value).map(|n| n as i64)).collect()
}

/// The fault of a value, told of the number it belongs to.
fn within(name: &str, misfit: Misfit) -> Misfit {
    let message = format!("has `{name}`, which {}", misfit.message);
    Misfit { code: misfit.code, message, hint: misfit.hint }
}
