//! Fields of a form for an entry of the workspace: what a field shows of the entry's file, and what
//! is written of what was typed. What an entry may say is the file's own business; faults that the
//! file has with it are told at the field they are about.

use std::collections::BTreeMap;

use super::page_form::Choice;
use super::page_parts::FaultView;
use super::posted::Posted;
use diag::{Code, Diagnostic, Diagnostics, Severity};
use serde_json::{Map, Value};
use store::workspace::{Fields, Given, unwritten_line};
use units::{UnitError, number, with_unit};

/// The form's key of faults that are about the colours of a yarn.
pub(super) const COLOURS: &str = "colours";

/// An entry's keys as its file has them.
pub(super) type Table = Map<String, Value>;

/// The form's key of an entry's own name.
pub(super) const OWN: &str = "own";

/// What a field takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Takes {
    Text,
    /// A quantity: a bare number is meant in this unit.
    In(&'static str),
    Whole,
    Number,
    /// One of the choices, or nothing.
    Choice,
    /// `true` or `false`, or nothing, of the choices.
    Flag,
    /// Any of the choices.
    Several,
}

/// A field as it is described.
#[derive(Clone, Debug)]
pub(super) struct FieldSpec {
    /// The table of the entry that the key lies in; none: the entry itself.
    pub table: Option<&'static str>,
    pub key: String,
    pub label: String,
    pub help: String,
    pub placeholder: &'static str,
    pub takes: Takes,
    pub required: bool,
    /// What may be chosen: as files have it, and as people read it.
    pub choices: Vec<(String, String)>,
    /// The heading it stands under; none: it stands open at the top.
    pub group: &'static str,
}

impl FieldSpec {
    pub fn new(key: impl Into<String>, label: impl Into<String>, takes: Takes) -> FieldSpec {
        FieldSpec {
            table: None,
            key: key.into(),
            label: label.into(),
            help: String::new(),
            placeholder: "",
            takes,
            required: false,
            choices: Vec::new(),
            group: "",
        }
    }

    pub fn help(mut self, help: impl Into<String>) -> FieldSpec {
        self.help = help.into();
        self
    }

    pub fn like(mut self, placeholder: &'static str) -> FieldSpec {
        self.placeholder = placeholder;
        self
    }

    pub fn within(mut self, table: &'static str) -> FieldSpec {
        self.table = Some(table);
        self
    }

    pub fn under(mut self, group: &'static str) -> FieldSpec {
        self.group = group;
        self
    }

    pub fn required(mut self) -> FieldSpec {
        self.required = true;
        self
    }

    pub fn of<A: Into<String>, B: Into<String>>(
        mut self,
        choices: impl IntoIterator<Item = (A, B)>,
    ) -> FieldSpec {
        self.choices = choices.into_iter().map(|(a, b)| (a.into(), b.into())).collect();
        self
    }

    /// The form's key.
    pub fn name(&self) -> String {
        match (self.key.as_str(), self.table) {
            (OWN, _) => OWN.to_owned(),
            (key, None) => format!("f.{key}"),
            (key, Some(table)) => format!("f.{table}.{key}"),
        }
    }

    pub fn id(&self) -> String {
        self.name().replace('.', "-")
    }

    /// What an entry says.
    pub fn shown(&self, entry: &Table) -> Vec<String> {
        let own = match self.table {
            None => entry.get(&self.key),
            Some(table) => entry.get(table).and_then(|inner| inner.get(&self.key)),
        };
        match own {
            None => Vec::new(),
            Some(Value::Array(all)) => all.iter().map(said).collect(),
            Some(one) => vec![said(one)],
        }
    }

    /// What was typed; blanks are nothing.
    pub fn typed(&self, posted: &Posted) -> Vec<String> {
        let name = self.name();
        let all = posted.0.iter().filter(|(key, _)| *key == name).map(|(_, text)| text.trim());
        all.filter(|text| !text.is_empty()).map(str::to_owned).collect()
    }

    /// What is written of what was typed.
    ///
    /// # Errors
    /// What is no number, where one is asked for.
    fn given(&self, typed: &[String]) -> Result<Given, UnitError> {
        let [text, ..] = typed else {
            return Ok(Given::Nothing);
        };
        Ok(match self.takes {
            Takes::Text | Takes::Choice => Given::text(text),
            Takes::In(unit) => Given::text(with_unit(text, unit)),
            Takes::Number => Given::typed(&number(text)?.to_string()),
            Takes::Whole => match text.parse() {
                Ok(whole) => Given::Whole(whole),
                Err(_) => {
                    let fault = format!("`{text}` is not a whole number");
                    return Err(UnitError::new(fault, "write it like 3"));
                }
            },
            Takes::Flag => Given::Flag(text == "true"),
            Takes::Several => Given::Texts(typed.to_vec()),
        })
    }
}

fn said(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// What is wrong, by the form's key of the field that it is about; under no key what is about none.
#[derive(Clone, Debug, Default)]
pub(super) struct Wrong(BTreeMap<String, Vec<Diagnostic>>);

impl Wrong {
    pub fn put(&mut self, field: &str, fault: Diagnostic) {
        self.0.entry(field.to_owned()).or_default().push(fault);
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Faults of the workspace's files, each at the field that it is about as far as that can be told:
    /// by the line that is not written, by the key that the fault names, or by what kind of fault it is.
    pub fn of_files(faults: &Diagnostics, specs: &[FieldSpec], posted: &Posted) -> Wrong {
        let mut wrong = Wrong::default();
        for fault in faults.iter() {
            let at = (fault.severity == Severity::Error).then(|| about(fault, specs, posted));
            wrong.put(&at.flatten().unwrap_or_default(), fault.clone());
        }
        wrong
    }

    /// What is about no field.
    pub fn rest(&self) -> Vec<FaultView> {
        self.0.get("").into_iter().flatten().map(FaultView::from).collect()
    }

    /// What is about that field: the line of a file is not the field's.
    pub fn at(&self, field: &str) -> Vec<FaultView> {
        let view = |fault: &Diagnostic| FaultView {
            place: String::new(),
            line: String::new(),
            caret: String::new(),
            context: String::new(),
            ..FaultView::from(fault)
        };
        self.0.get(field).into_iter().flatten().map(view).collect()
    }
}

/// The form's key of the field that a fault is about.
fn about(fault: &Diagnostic, specs: &[FieldSpec], posted: &Posted) -> Option<String> {
    let has_own = || specs.iter().any(|spec| spec.key == OWN);
    let of_key = |key: &str| specs.iter().find(|spec| spec.key == key).map(FieldSpec::name);
    match fault.code {
        Code::Twice | Code::Id | Code::Name if has_own() => return Some(OWN.to_owned()),
        Code::NoSize => return of_key("size"),
        Code::ColourLength => return Some(COLOURS.to_owned()),
        _ => {}
    }
    if let Some(line) = unwritten_line(fault) {
        let begins = line.split('=').next().unwrap_or_default().trim();
        let of_line = |spec: &&FieldSpec| begins == spec.table.unwrap_or(spec.key.as_str());
        // In a table on one line the fault says which of its values it is about.
        let said = |spec: &&FieldSpec| {
            let typed = spec.typed(posted);
            spec.table.is_none() || typed.iter().any(|text| fault.message.contains(text.as_str()))
        };
        let mut all = specs.iter().filter(of_line);
        if let Some(spec) = all.clone().find(said).or_else(|| all.next()) {
            return Some(spec.name());
        }
        if matches!(begins, "shade" | "length" | "[[colour]]") {
            return Some(COLOURS.to_owned());
        }
    }
    let named = fault.message.split('`').nth(1)?;
    match named {
        "colour" => Some(COLOURS.to_owned()),
        _ => of_key(named),
    }
}

/// A field as the page shows it.
pub(super) struct FieldView {
    pub id: String,
    pub name: String,
    pub label: String,
    pub help: String,
    pub placeholder: &'static str,
    pub value: String,
    pub required: bool,
    pub keyboard: &'static str,
    pub select: bool,
    pub several: bool,
    pub choices: Vec<Choice>,
    pub faults: Vec<FaultView>,
}

/// Fields under one heading.
pub(super) struct FieldGroup {
    pub title: &'static str,
    pub open: bool,
    pub fields: Vec<FieldView>,
}

/// The fields in their groups. What was typed goes before what the entry says.
pub(super) fn groups(
    specs: &[FieldSpec],
    entry: &Table,
    posted: Option<&Posted>,
    wrong: &Wrong,
) -> Vec<FieldGroup> {
    let mut groups: Vec<FieldGroup> = Vec::new();
    for spec in specs {
        let now = posted.map_or_else(|| spec.shown(entry), |posted| spec.typed(posted));
        let faults = wrong.at(&spec.name());
        let open = spec.group.is_empty() || !now.is_empty() || !faults.is_empty();
        let field = view(spec, &now, faults);
        match groups.iter_mut().find(|group| group.title == spec.group) {
            Some(group) => {
                group.open |= open;
                group.fields.push(field);
            }
            None => groups.push(FieldGroup { title: spec.group, open, fields: vec![field] }),
        }
    }
    groups
}

fn view(spec: &FieldSpec, now: &[String], faults: Vec<FaultView>) -> FieldView {
    let mut choices = spec.choices.clone();
    // What a file says stays in sight, whether or not it is among the choices.
    if !choices.is_empty() {
        let odd = now.iter().filter(|text| choices.iter().all(|(value, _)| value != *text));
        let odd: Vec<_> = odd.map(|text| (text.clone(), text.clone())).collect();
        choices.extend(odd);
    }
    let choices = choices.into_iter().map(|(value, label)| Choice {
        chosen: now.contains(&value),
        value,
        label,
    });
    FieldView {
        id: spec.id(),
        name: spec.name(),
        label: spec.label.clone(),
        help: spec.help.clone(),
        placeholder: spec.placeholder,
        value: now.first().cloned().unwrap_or_default(),
        required: spec.required,
        keyboard: match spec.takes {
            Takes::Whole => "numeric",
            Takes::Number | Takes::In(_) => "decimal",
            _ => "text",
        },
        select: matches!(spec.takes, Takes::Choice | Takes::Flag),
        several: spec.takes == Takes::Several,
        choices: choices.collect(),
        faults,
    }
}

/// The keys that are to be written: those in which what was typed differs from what the entry says.
pub(super) fn changed(
    specs: &[FieldSpec],
    entry: &Table,
    posted: &Posted,
    wrong: &mut Wrong,
) -> Fields {
    let mut fields = Fields::new();
    let mut inner: Vec<(&'static str, Fields)> = Vec::new();
    for spec in specs.iter().filter(|spec| spec.key != OWN) {
        let typed = spec.typed(posted);
        if typed == spec.shown(entry) {
            continue;
        }
        match (spec.given(&typed), spec.table) {
            (Err(fault), _) => wrong.put(&spec.name(), fault.into_diagnostic()),
            (Ok(given), None) => fields.push((spec.key.clone(), given)),
            (Ok(given), Some(table)) => {
                // A list that is empty takes its key out.
                let given = match (given, spec.takes) {
                    (Given::Nothing, Takes::Several) => Given::Texts(Vec::new()),
                    (given, _) => given,
                };
                match inner.iter_mut().find(|(own, _)| *own == table) {
                    Some((_, own)) => own.push((spec.key.clone(), given)),
                    None => inner.push((table, vec![(spec.key.clone(), given)])),
                }
            }
        }
    }
    fields.extend(inner.into_iter().map(|(table, own)| (table.to_owned(), Given::Merge(own))));
    fields
}
