use mlua::{Function, MultiValue, Table, Value};

use diag::{Code, Diagnostic, nearest};
use knit::edge::RowAt;
use knit::needle::{Needle, Side, Span};
use knit::program::{CastOnMethod, Structure, WorkingEnds};
use knit::shaping::Ends;

use super::check::check;
use super::checked::{AskedDecision, Checked, Rounding, SearchRange};
use super::misfit::FieldFault;
use super::show::{What, clip, describe};
use crate::schema::{FieldSpec, Need};

/// A table with more faults than this is not worth reading on.
const MOST_FAULTS: usize = 8;
/// Fields of a table that are read at a go; those with more, if any, are read one by one.
const MOST_PAIRS: usize = 40;

/// The checked fields of one table or the arguments of one call.
pub(crate) struct CheckedFields {
    fields: &'static [FieldSpec],
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

impl CheckedFields {
    accessor!(text, Text, String);
    accessor!(texts, Texts, Vec<String>);
    accessor!(needle, Needle, Needle);
    accessor!(needles, Needles, Span);
    accessor!(side, Side, Side);
    accessor!(sides, Sides, WorkingEnds);
    accessor!(structure, Structure, Structure);
    accessor!(method, Method, CastOnMethod);
    accessor!(whole, Whole, u32);
    accessor!(number, Number, f64);
    accessor!(rounding, Rounding, Rounding);
    accessor!(ends, Ends, Ends);
    accessor!(function, Function, Function);
    accessor!(ranges, Ranges, Vec<SearchRange>);
    accessor!(decisions, Decisions, Vec<AskedDecision>);
    accessor!(points, Points, Vec<(f64, f64)>);
    accessor!(table, Table, Table);
    accessor!(row_at, Place, RowAt);

    pub fn flag(&self, field: &str) -> bool {
        matches!(self.get(field), Some(Checked::Flag(true)))
    }

    /// For a flag that is set unless it is given as `false`.
    pub fn flag_unless_false(&self, field: &str) -> bool {
        !matches!(self.get(field), Some(Checked::Flag(false)))
    }

    /// Faults for fields that are given and came with a later API than the garment's.
    pub fn newer_than(&self, api: u32, what: What<'_>) -> impl Iterator<Item = FieldFault> {
        let given = self.fields.iter().zip(&self.values).filter(|(_, value)| value.is_some());
        given.filter(move |(field, _)| field.since > api).map(move |(field, _)| FieldFault {
            field: field.name.to_owned(),
            fault: newer(&format!("`{}` of {what}", field.name), field.since, api),
        })
    }

    /// Whether the field was given.
    pub fn has(&self, field: &str) -> bool {
        self.get(field).is_some()
    }

    /// Bytes of all texts in it.
    pub fn text_bytes(&self) -> usize {
        let bytes = |value: &Checked| match value {
            Checked::Text(text) => text.len(),
            Checked::Place(RowAt::Mark(name, _)) => name.len(),
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

/// What is said of something that came with a later API than the garment is written for.
pub(crate) fn newer(what: &str, since: u32, api: u32) -> Diagnostic {
    Diagnostic::error(
        Code::ScriptApi,
        format!("{what} came with script API {since}, and this garment is written for API {api}"),
    )
    .hint(format!("set `api = {since}` in plugin.toml, and see plugins/README.md for what changes"))
}

/// The fields of a table as they lie in it, all of them named.
pub(crate) type RawFields = Vec<(String, Value)>;

/// The fields of a table, unless there is something odd about it: then [`read`] says what.
pub(crate) fn raw_fields(table: &Table) -> Option<RawFields> {
    let mut all = RawFields::with_capacity(8);
    let walked = table.for_each(|name: String, value: Value| {
        if all.len() >= MOST_PAIRS {
            return Err(mlua::Error::StackError);
        }
        all.push((name, value));
        Ok(())
    });
    walked.is_ok().then_some(all)
}

/// Fields that are checked one after the other, without a word.
struct Filling<'a> {
    fields: &'static [FieldSpec],
    also: &'a [&'a str],
    values: Vec<Option<Checked>>,
}

impl<'a> Filling<'a> {
    fn new(fields: &'static [FieldSpec], also: &'a [&'a str]) -> Filling<'a> {
        Filling { fields, also, values: fields.iter().map(|_| None).collect() }
    }

    /// `None` for a field that there is not, or that has another value than it must.
    fn put(&mut self, name: &str, value: &Value) -> Option<()> {
        match self.fields.iter().position(|field| field.name == name) {
            Some(at) => self.values[at] = Some(check(self.fields[at].kind, value).ok()?),
            None if self.also.contains(&name) => {}
            None => return None,
        }
        Some(())
    }

    /// `None` where one is missing that must be there.
    fn whole(self) -> Option<CheckedFields> {
        let Filling { fields, values, .. } = self;
        let mut all = fields.iter().zip(&values);
        let whole = all.all(|(field, value)| field.need != Need::Required || value.is_some());
        whole.then_some(CheckedFields { fields, values })
    }
}

/// The checked fields of a table, without a word: `None` for whatever [`read`] would find fault with. The
/// usual way through.
fn read_quick(table: &Table, fields: &'static [FieldSpec], also: &[&str]) -> Option<CheckedFields> {
    let mut filling = Filling::new(fields, also);
    let walked = table.for_each(|name: String, value: Value| {
        filling.put(&name, &value).ok_or(mlua::Error::StackError)
    });
    walked.ok()?;
    filling.whole()
}

/// Checks fields without a word: `None` for whatever [`read`] would find fault with, and for some
/// of what it would not.
pub(crate) fn read_raw(
    raw: &RawFields,
    fields: &'static [FieldSpec],
    also: &[&str],
) -> Option<CheckedFields> {
    let mut filling = Filling::new(fields, also);
    for (name, value) in raw {
        filling.put(name, value)?;
    }
    filling.whole()
}

/// Reads the fields of `table`. `what` names it in messages; keys in `also` are let through.
/// Faults go to `faults`, all that were found.
pub(crate) fn read(
    table: &Table,
    fields: &'static [FieldSpec],
    what: What<'_>,
    also: &[&str],
    faults: &mut Vec<FieldFault>,
) -> mlua::Result<CheckedFields> {
    if let Some(found) = read_quick(table, fields, also) {
        return Ok(found);
    }
    let what = what.to_string();
    let what = what.as_str();
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
                    Err(misfit) => faults.push(misfit.of(&fields[at], what)),
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
    // A field whose name is misspelt is told once, as that.
    let misspelt: Vec<&str> = faults[before..]
        .iter()
        .filter(|found| found.fault.code == Code::ScriptUnknownField)
        .filter_map(|found| nearest(&found.field, fields.iter().map(|f| f.name)))
        .collect();
    for (field, seen) in fields.iter().zip(seen) {
        if field.need == Need::Required && !seen && !misspelt.contains(&field.name) {
            faults.push(missing(field, what));
        }
    }
    Ok(CheckedFields { fields, values })
}

/// Ends the walk over a table that has had its share of faults.
fn enough(faults: &[FieldFault], before: usize) -> mlua::Result<()> {
    if faults.len() - before < MOST_FAULTS { Ok(()) } else { Err(mlua::Error::runtime("enough")) }
}

fn nameless(key: &Value, fields: &'static [FieldSpec], what: &str) -> FieldFault {
    let fault = Diagnostic::error(
        Code::ScriptUnknownField,
        format!("{what} has an entry without a name ({})", describe(key)),
    )
    .hint(format!("it takes {}", listing(fields)));
    FieldFault { field: String::new(), fault }
}

/// Checks positional arguments.
pub(crate) fn read_arguments(
    arguments: &MultiValue,
    fields: &'static [FieldSpec],
    what: &str,
    faults: &mut Vec<FieldFault>,
) -> CheckedFields {
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
                Err(misfit) => faults.push(misfit.of(field, what)),
            },
        }
    }
    if arguments.len() > fields.len() {
        let fault = Diagnostic::error(
            Code::ScriptArguments,
            format!("{what} takes {} arguments, not {}", fields.len(), arguments.len()),
        )
        .hint(format!("they are {}", listing(fields)));
        faults.push(FieldFault { field: String::new(), fault });
    }
    CheckedFields { fields, values }
}

fn listing(fields: &[FieldSpec]) -> String {
    if fields.is_empty() {
        return "nothing".to_owned();
    }
    fields.iter().map(|f| format!("`{}`", f.name)).collect::<Vec<_>>().join(", ")
}

fn unknown(name: &str, fields: &'static [FieldSpec], what: &str) -> FieldFault {
    let fault =
        Diagnostic::error(Code::ScriptUnknownField, format!("{what} has no field `{name}`"));
    let fault = match nearest(name, fields.iter().map(|f| f.name)) {
        Some(near) => fault.hint(format!("did you mean `{near}`?")),
        None => fault.hint(format!("it takes {}", listing(fields))),
    };
    FieldFault { field: name.to_owned(), fault }
}

fn missing(field: &FieldSpec, what: &str) -> FieldFault {
    let fault =
        Diagnostic::error(Code::ScriptMissingField, format!("{what} needs `{}`", field.name))
            .hint(format!("`{}`: {}", field.name, field.doc));
    FieldFault { field: field.name.to_owned(), fault }
}
