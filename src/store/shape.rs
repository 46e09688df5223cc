//! TOML of the right shape: every misspelt, missing or mistyped key of a file at once.
//!
//! The schema made from a DTO is walked beside the text. What doesn't fit it is reported and
//! left out, so that the rest can be read and its own faults told in the same breath.

use std::ops::Range;

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};
use serde::de::DeserializeOwned;
use serde_json::Value;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::field::Reading;
use diag::{Code, Diagnostic, nearest, toml_text};

/// The schema of a file, without references and without nulls, which TOML doesn't have.
pub(super) fn schema_of<T: JsonSchema>() -> Schema {
    let settings =
        SchemaSettings::draft2020_12().with(|settings| settings.inline_subschemas = true);
    let mut schema = settings.into_generator().into_root_schema_for::<T>();
    if let Some(object) = schema.as_object_mut() {
        object.values_mut().for_each(without_null);
    }
    schema
}

fn without_null(value: &mut Value) {
    match value {
        Value::Object(object) => {
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|kind| kind != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    object.insert("type".into(), only);
                }
            }
            if let Some(Value::Array(choices)) = object.get_mut("anyOf") {
                choices.retain(|choice| choice["type"] != "null");
                if choices.len() == 1
                    && let Some(Value::Object(only)) = choices.pop()
                {
                    object.remove("anyOf");
                    for (key, value) in only {
                        object.entry(key).or_insert(value);
                    }
                }
            }
            if object.get("default") == Some(&Value::Null) {
                object.remove("default");
            }
            object.values_mut().for_each(without_null);
        }
        Value::Array(all) => all.iter_mut().for_each(without_null),
        _ => {}
    }
}

/// Reads the text as a `T`. Faults of syntax and shape go to the reading, all of them; `None`
/// where nothing can be made of the text.
pub(super) fn read<T: DeserializeOwned + JsonSchema>(reading: &mut Reading<'_>) -> Option<T> {
    read_open(&schema_of::<T>(), reading, |_| {})
}

/// As [`read`], against a schema that takes more keys than the DTO has; `move_open` puts what fits it
/// and is no key of the DTO where the DTO looks for it.
pub(super) fn read_open<T: DeserializeOwned>(
    schema: &Schema,
    reading: &mut Reading<'_>,
    move_open: impl FnOnce(&mut DeTable<'_>),
) -> Option<T> {
    let (mut root, errors) = DeTable::parse_recoverable(reading.text);
    if !errors.is_empty() {
        // What the parser made up to go on with is not the user's: no more is said of it.
        for error in &errors {
            let span = error.span().unwrap_or(0..0);
            let fault = toml_text::placed(error, reading.file, reading.text);
            reading.faults.push_placed(fault, reading.file, reading.text, span);
        }
        return None;
    }
    let whole = 0..0;
    table(schema.as_value(), root.get_mut(), whole, reading);
    move_open(root.get_mut());
    match T::deserialize(toml::de::Deserializer::from(root)) {
        Ok(value) => Some(value),
        Err(error) => {
            // Missing keys were told above; anything else is told here.
            if !reading.faults.has_errors() {
                reading.faults.push(toml_text::placed(&error, reading.file, reading.text));
            }
            None
        }
    }
}

fn table(schema: &Value, table: &mut DeTable<'_>, span: Range<usize>, reading: &mut Reading<'_>) {
    let known = schema["properties"].as_object();
    let others = schema.get("additionalProperties").filter(|others| others.is_object());
    let required = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str);
    for name in required.filter(|name| !table.contains_key(*name)) {
        let fault = Diagnostic::error(Code::Missing, format!("there is no `{name}`"))
            .hint(format!("add a line `{name} = ...`"));
        reading.fault(&Spanned::new(span.start..span.start, ()), fault);
    }
    let mut unfit: Vec<String> = Vec::new();
    for (key, value) in table.iter_mut() {
        let name = key.get_ref().to_string();
        match known.and_then(|known| known.get(&name)).or(others) {
            Some(schema) if fit(schema, value, reading) => continue,
            Some(_) => {}
            None => {
                let known: Vec<&str> =
                    known.into_iter().flat_map(|k| k.keys()).map(String::as_str).collect();
                let hint = match nearest(&name, known.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("what may stand here: {}", known.join(", ")),
                };
                let fault = Diagnostic::error(Code::Key, format!("`{name}` is not known here"));
                reading.fault(key, fault.hint(hint));
            }
        }
        unfit.push(name);
    }
    for name in unfit {
        table.remove(name.as_str());
    }
}

/// Whether a value is of the kind the schema asks for; a fault is told. What is inside a list or
/// a table and doesn't fit is told and taken out.
fn fit(schema: &Value, value: &mut Spanned<DeValue<'_>>, reading: &mut Reading<'_>) -> bool {
    let kinds = kinds(schema);
    let (kind, found) = kind_of(value.get_ref());
    let takes = |kind: &str| kinds.iter().any(|(own, _)| *own == kind);
    // A whole number will do for any number.
    let Some(kind) = Some(kind)
        .filter(|kind| takes(kind))
        .or_else(|| (kind == "integer" && takes("number")).then_some("number"))
    else {
        let wanted: Vec<&str> = kinds.iter().map(|(kind, _)| in_words(kind)).collect();
        let fault =
            Diagnostic::error(Code::Kind, format!("this is {found}, not {}", wanted.join(" or ")))
                .hint("texts stand in double quotes, numbers and true or false without");
        reading.fault(value, fault);
        return false;
    };
    let schema = kinds.iter().find(|(own, _)| *own == kind).map_or(schema, |(_, schema)| schema);
    let span = value.span();
    match value.get_mut() {
        DeValue::Table(inner) => table(schema, inner, span, reading),
        DeValue::Array(all) => {
            let mut sound = true;
            for item in all.iter_mut() {
                sound &= fit(&schema["items"], item, reading);
            }
            return sound;
        }
        _ => {}
    }
    true
}

/// The kinds a schema takes, each with the schema that says so.
fn kinds(schema: &Value) -> Vec<(&str, &Value)> {
    match (&schema["type"], &schema["anyOf"]) {
        (Value::String(kind), _) => vec![(kind, schema)],
        (Value::Array(all), _) => all.iter().filter_map(|k| Some((k.as_str()?, schema))).collect(),
        (_, Value::Array(choices)) => choices.iter().flat_map(kinds).collect(),
        _ => Vec::new(),
    }
}

fn kind_of(value: &DeValue<'_>) -> (&'static str, &'static str) {
    let kind = match value {
        DeValue::String(_) => "string",
        DeValue::Integer(_) => "integer",
        DeValue::Float(_) => "number",
        DeValue::Boolean(_) => "boolean",
        // As a bare date: ours are texts, so that they are written like everything else.
        DeValue::Datetime(_) => return ("datetime", "a date without quotes"),
        DeValue::Array(_) => "array",
        DeValue::Table(_) => "object",
    };
    (kind, in_words(kind))
}

fn in_words(kind: &str) -> &'static str {
    match kind {
        "string" => "a text",
        "integer" => "a whole number",
        "number" => "a number",
        "boolean" => "true or false",
        "array" => "a list",
        _ => "a table",
    }
}
