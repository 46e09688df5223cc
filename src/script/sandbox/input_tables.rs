//! The frozen tables a garment function is given.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use mlua::{Function, IntoLua, Lua, Table, Value};

use diag::{Code, Diagnostic, nearest};
use knit::program::Structure;

use super::call_state::CallState;
use super::guards::locked;
use crate::garment_input::GarmentInput;
use crate::manifest::{Manifest, OptionValue};
use crate::reads::Reads;
use crate::values::{key_name, raise_one};

/// What lies behind the tables of the input: made once for a machine, as the tables of all calls
/// are frozen and their keys are told by the tables themselves.
pub(crate) struct InputMetas {
    input: Meta,
    size: Meta,
    body: Meta,
    options: Meta,
    gauges: Meta,
    /// By structure.
    gauge: BTreeMap<&'static str, Meta>,
    machine: Meta,
}

/// A metatable under which reading a key that is not there is an error.
struct Meta {
    table: Table,
    /// Keys that are nil and no error; filled for each call.
    absent: Table,
}

impl InputMetas {
    /// `make` takes a table of keys that are nil and no error, and the function that says of any
    /// other that it is one.
    pub fn new(lua: &Lua, make: &Function) -> mlua::Result<InputMetas> {
        let meta = |what: &str| -> mlua::Result<Meta> {
            let absent = lua.create_table()?;
            let fault = lua.create_function({
                let (absent, what) = (absent.clone(), what.to_owned());
                move |_, (table, key): (Table, Value)| {
                    let mut names = keys(&table)?;
                    names.extend(keys(&absent)?);
                    names.sort();
                    Err::<(), _>(raise_one(unknown_key(&what, &key_name(&key), &names)))
                }
            })?;
            let index = make.call((&absent, fault))?;
            Ok(Meta { table: locked(lua, index)?, absent })
        };
        let gauge = |structure: Structure| {
            let name = structure.name();
            Ok((name, meta(&format!("input.gauges[\"{name}\"]"))?))
        };
        Ok(InputMetas {
            input: meta("input")?,
            size: meta("input.size")?,
            body: meta("input.body")?,
            options: meta("input.options")?,
            gauges: meta("input.gauges")?,
            gauge: Structure::ALL.into_iter().map(gauge).collect::<mlua::Result<_>>()?,
            machine: meta("input.machine")?,
        })
    }
}

fn keys(table: &Table) -> mlua::Result<Vec<String>> {
    let mut keys = Vec::new();
    table.for_each(|key: String, _: bool| {
        keys.push(key);
        Ok(())
    })?;
    Ok(keys)
}

/// The `input` table: frozen, and a misspelt key is an error at its line.
pub(crate) fn input_table(
    lua: &Lua,
    state: &Rc<CallState>,
    metas: &InputMetas,
    manifest: &Manifest,
    input: &GarmentInput,
) -> mlua::Result<Table> {
    let size = size(lua, metas, input)?;
    let body = body(manifest, input)?;
    let (options, auto) = options(lua, manifest, input)?;
    let gauges = gauges(lua, metas, manifest, input)?;
    let machine = machine(lua, metas, input)?;
    let watched = state.reads.borrow().is_some();
    let noted = |what, meta, fields, auto: &[&str], note| {
        if watched {
            hollow(lua, state, what, fields, auto, note)
        } else {
            frozen(lua, meta, fields, auto)
        }
    };
    let parts = [
        ("size", size),
        ("body", noted("input.body", &metas.body, body, &[], |reads| &mut reads.measures)?),
        (
            "options",
            noted("input.options", &metas.options, options, &auto, |reads| &mut reads.options)?,
        ),
        ("gauges", noted("input.gauges", &metas.gauges, gauges, &[], |reads| &mut reads.gauges)?),
        ("machine", machine),
    ];
    let parts = parts.into_iter().map(|(name, table)| (name, Value::Table(table))).collect();
    frozen(lua, &metas.input, parts, &[])
}

type FieldsOf<'a> = Vec<(&'a str, Value)>;

fn size(lua: &Lua, metas: &InputMetas, input: &GarmentInput) -> mlua::Result<Table> {
    let mut size = vec![
        ("id", text(lua, &input.size_id)?),
        ("label", text(lua, &input.size_label)?),
        ("group", text(lua, &input.size_group)?),
    ];
    size.extend(input.size_age.map(|age| ("age", Value::Number(age))));
    let ageless: &[&str] = if input.size_age.is_none() { &["age"] } else { &[] };
    frozen(lua, &metas.size, size, ageless)
}

fn body<'a>(manifest: &'a Manifest, input: &GarmentInput) -> mlua::Result<FieldsOf<'a>> {
    let mut body = Vec::new();
    for name in &manifest.measures {
        match input.body.get(name) {
            Some(mm) if mm.is_finite() => body.push((name.as_str(), Value::Number(*mm))),
            _ => {
                return Err(raise_one(
                    Diagnostic::error(Code::ScriptMeasure, format!("this body has no `{name}`"))
                        .hint("give the measure, or pick a size table that has it"),
                ));
            }
        }
    }
    Ok(body)
}

/// Those that have a value, and the names of those on auto.
fn options<'a>(
    lua: &Lua,
    manifest: &'a Manifest,
    input: &GarmentInput,
) -> mlua::Result<(FieldsOf<'a>, Vec<&'a str>)> {
    let (mut options, mut auto) = (Vec::new(), Vec::new());
    for option in &manifest.options {
        match input.options.get(&option.name).or(option.default.as_ref()) {
            Some(value) => options.push((option.name.as_str(), option_value(lua, value)?)),
            None => auto.push(option.name.as_str()),
        }
    }
    Ok((options, auto))
}

fn gauges(
    lua: &Lua,
    metas: &InputMetas,
    manifest: &Manifest,
    input: &GarmentInput,
) -> mlua::Result<FieldsOf<'static>> {
    let mut gauges = Vec::new();
    for structure in &manifest.structures {
        let name = structure.name();
        let (Some(gauge), Some(meta)) = (
            input.gauges.get(name).or_else(|| input.gauges.get(structure.gauged_as().name())),
            metas.gauge.get(name),
        ) else {
            return Err(raise_one(
                Diagnostic::error(Code::ScriptGauge, format!("there is no gauge for {name}"))
                    .hint(format!("add a swatch in {name}")),
            ));
        };
        let fields = vec![
            ("stretch", Value::Number(gauge.stretch)),
            ("stitch_mm", Value::Number(gauge.stitch_mm)),
            ("row_mm", Value::Number(gauge.row_mm)),
        ];
        gauges.push((name, Value::Table(frozen(lua, meta, fields, &[])?)));
    }
    Ok(gauges)
}

fn machine(lua: &Lua, metas: &InputMetas, input: &GarmentInput) -> mlua::Result<Table> {
    let machine = vec![
        ("id", text(lua, &input.machine.id)?),
        ("needles", Value::Number(f64::from(input.machine.needles))),
        ("pitch_mm", Value::Number(input.machine.pitch_mm)),
        ("ribber", Value::Boolean(input.machine.ribber)),
    ];
    frozen(lua, &metas.machine, machine, &[])
}

fn text(lua: &Lua, text: &str) -> mlua::Result<Value> {
    text.into_lua(lua)
}

fn option_value(lua: &Lua, value: &OptionValue) -> mlua::Result<Value> {
    match value {
        OptionValue::Integer(n) => Ok(Value::Number(*n as f64)),
        OptionValue::Number(n) => Ok(Value::Number(*n)),
        OptionValue::Length(length) => Ok(Value::Number(length.mm())),
        OptionValue::Choice(word) => text(lua, word),
        OptionValue::Flag(flag) => Ok(Value::Boolean(*flag)),
    }
}

/// A read-only table. Reading a key that is neither in it nor in `auto` is an error.
fn frozen(lua: &Lua, meta: &Meta, fields: FieldsOf<'_>, auto: &[&str]) -> mlua::Result<Table> {
    let table = lua.create_table_with_capacity(0, fields.len())?;
    for (name, value) in fields {
        table.raw_set(name, value)?;
    }
    meta.absent.clear()?;
    for name in auto {
        meta.absent.raw_set(*name, true)?;
    }
    table.set_metatable(Some(meta.table.clone()))?;
    table.set_readonly(true);
    Ok(table)
}

/// Where the reading of a key is noted.
type Note = fn(&mut Reads) -> &mut BTreeSet<String>;

/// The table of a watched call: its fields are handed out, and noted, one by one.
fn hollow(
    lua: &Lua,
    state: &Rc<CallState>,
    what: &'static str,
    fields: FieldsOf<'_>,
    auto: &[&str],
    note: Note,
) -> mlua::Result<Table> {
    let auto: Vec<String> = auto.iter().map(|name| (*name).to_owned()).collect();
    let mut names = auto.clone();
    let hidden = lua.create_table()?;
    for (name, value) in fields {
        hidden.raw_set(name, value)?;
        names.push(name.to_owned());
    }
    names.sort();
    let state = Rc::clone(state);
    let index = lua.create_function(move |_, (_, key): (Value, Value)| {
        let given = key.as_string().and_then(|text| text.to_str().ok());
        let known = given.as_deref().and_then(|given| names.iter().find(|name| *name == given));
        let Some(name) = known else {
            return Err(raise_one(unknown_key(what, &key_name(&key), &names)));
        };
        state.note(note, name);
        hidden.raw_get::<Value>(name.as_str())
    })?;
    let table = lua.create_table()?;
    table.set_metatable(Some(locked(lua, index)?))?;
    table.set_readonly(true);
    Ok(table)
}

fn unknown_key(what: &str, name: &str, names: &[String]) -> Diagnostic {
    let fault = Diagnostic::error(Code::ScriptUnknownInput, format!("`{what}` has no `{name}`"));
    let near = nearest(name, names.iter().map(String::as_str));
    match (near, what) {
        (Some(near), _) => fault.hint(format!("did you mean `{near}`?")),
        (None, "input.body") => {
            fault.hint(format!("list `{name}` under `measures` in plugin.toml to read it"))
        }
        (None, "input.options") => {
            fault.hint(format!("declare it as [options.{name}] in plugin.toml"))
        }
        (None, "input.gauges") => {
            fault.hint("list the structure under `structures` in plugin.toml")
        }
        (None, _) => fault.hint(format!("it has {}", names.join(", "))),
    }
}
