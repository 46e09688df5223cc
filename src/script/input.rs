//! What a garment function is given, and the frozen tables it sees.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use mlua::{IntoLua, Lua, Table, Value};

use crate::diag::{Diagnostic, nearest};

use super::fault::raise_one;
use super::fields::describe;
use super::manifest::Manifest;
use super::option::OptionValue;
use super::sandbox::locked;
use super::state::{Reads, State};

/// One body, the chosen options, the gauges and the machine. Only the measures the manifest
/// declares reach the script.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GarmentInput {
    pub size_id: String,
    pub size_label: String,
    pub size_group: String,
    /// Mean age in years of the size, or of the nearest one; `None` for adults.
    pub size_age: Option<f64>,
    /// Millimetres by measure name.
    pub body: BTreeMap<String, f64>,
    /// As [`Manifest::parse_options`] gives them; an option on "auto" is absent.
    pub options: BTreeMap<String, OptionValue>,
    /// By structure name.
    pub gauges: BTreeMap<String, GaugeInput>,
    pub machine: MachineInput,
}

/// Millimetres one stitch and one row take.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GaugeInput {
    /// How many times its relaxed width the fabric stretches to.
    pub stretch: f64,
    pub stitch_mm: f64,
    pub row_mm: f64,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct MachineInput {
    pub id: String,
    pub needles: u32,
    pub pitch_mm: f64,
    pub ribber: bool,
}

/// The `input` table: frozen, and a misspelt key is an error at its line.
pub(super) fn build(
    lua: &Lua,
    state: &Rc<State>,
    manifest: &Manifest,
    input: &GarmentInput,
) -> mlua::Result<Table> {
    let frozen =
        |what: &str, fields, nil_keys, note| frozen(lua, state, what, fields, nil_keys, note);
    let mut size = vec![
        ("id".to_owned(), text(lua, &input.size_id)?),
        ("label".to_owned(), text(lua, &input.size_label)?),
        ("group".to_owned(), text(lua, &input.size_group)?),
    ];
    let mut ageless = vec!["age".to_owned()];
    if let Some(age) = input.size_age {
        size.push(("age".to_owned(), Value::Number(age)));
        ageless.clear();
    }
    let size = frozen("input.size", size, ageless, None)?;
    let mut body = Vec::new();
    for name in &manifest.measures {
        match input.body.get(name) {
            Some(mm) if mm.is_finite() => body.push((name.clone(), Value::Number(*mm))),
            _ => {
                return Err(raise_one(
                    Diagnostic::error("script::measure", format!("this body has no `{name}`"))
                        .hint("give the measure, or pick a size table that has it"),
                ));
            }
        }
    }
    let body = frozen("input.body", body, Vec::new(), Some(|reads| &mut reads.measures))?;
    let mut options = Vec::new();
    let mut auto = Vec::new();
    for option in &manifest.options {
        match input.options.get(&option.name).or(option.default.as_ref()) {
            Some(value) => options.push((option.name.clone(), option_value(lua, value)?)),
            None => auto.push(option.name.clone()),
        }
    }
    let options = frozen("input.options", options, auto, Some(|reads| &mut reads.options))?;
    let mut gauges = Vec::new();
    for structure in &manifest.structures {
        let name = structure.name();
        let Some(gauge) =
            input.gauges.get(name).or_else(|| input.gauges.get(structure.gauged_as().name()))
        else {
            return Err(raise_one(
                Diagnostic::error("script::gauge", format!("there is no gauge for {name}"))
                    .hint(format!("add a swatch in {name}")),
            ));
        };
        let fields = vec![
            ("stretch".to_owned(), Value::Number(gauge.stretch)),
            ("stitch_mm".to_owned(), Value::Number(gauge.stitch_mm)),
            ("row_mm".to_owned(), Value::Number(gauge.row_mm)),
        ];
        let what = format!("input.gauges[\"{name}\"]");
        gauges.push((name.to_owned(), Value::Table(frozen(&what, fields, Vec::new(), None)?)));
    }
    let gauges = frozen("input.gauges", gauges, Vec::new(), Some(|reads| &mut reads.gauges))?;
    let machine = frozen(
        "input.machine",
        vec![
            ("id".to_owned(), text(lua, &input.machine.id)?),
            ("needles".to_owned(), Value::Number(f64::from(input.machine.needles))),
            ("pitch_mm".to_owned(), Value::Number(input.machine.pitch_mm)),
            ("ribber".to_owned(), Value::Boolean(input.machine.ribber)),
        ],
        Vec::new(),
        None,
    )?;
    let parts = [
        ("size", size),
        ("body", body),
        ("options", options),
        ("gauges", gauges),
        ("machine", machine),
    ];
    let parts = parts.into_iter().map(|(k, t)| (k.to_owned(), Value::Table(t))).collect();
    frozen("input", parts, Vec::new(), None)
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

/// Where the reading of a key is noted.
type Note = fn(&mut Reads) -> &mut BTreeSet<String>;

/// A read-only table. Reading a key that is neither in it nor in `nil_keys` is an error. In a
/// watched call a table with a `note` is hollow: its fields are handed out, and noted, one by one.
fn frozen(
    lua: &Lua,
    state: &Rc<State>,
    what: &str,
    fields: Vec<(String, Value)>,
    nil_keys: Vec<String>,
    note: Option<Note>,
) -> mlua::Result<Table> {
    let watched = note.filter(|_| state.reads.borrow().is_some());
    let table = lua.create_table_with_capacity(0, fields.len())?;
    let hidden = watched.map(|note| lua.create_table().map(|hidden| (note, hidden))).transpose()?;
    let mut names = nil_keys.clone();
    for (name, value) in fields {
        let holder = hidden.as_ref().map_or(&table, |(_, hidden)| hidden);
        holder.raw_set(name.as_str(), value)?;
        names.push(name);
    }
    let what = what.to_owned();
    let state = Rc::clone(state);
    // The table itself is not looked at: as a truth it costs nothing to hand over.
    let index = lua.create_function(move |_, (_, key): (bool, Value)| {
        // Options left to the engine are asked for again and again, in the cost of a search.
        if hidden.is_none()
            && let Some(name) = key.as_string().and_then(|text| text.to_str().ok())
            && nil_keys.iter().any(|known| *known == *name)
        {
            return Ok(Value::Nil);
        }
        let name = describe(&key).trim_matches('"').to_owned();
        if let Some((note, hidden)) = &hidden
            && names.contains(&name)
        {
            state.note(*note, &name);
            return hidden.raw_get::<Value>(name);
        }
        if nil_keys.contains(&name) {
            return Ok(Value::Nil);
        }
        Err(raise_one(unknown_key(&what, &name, &names)))
    })?;
    table.set_metatable(Some(locked(lua, index)?))?;
    table.set_readonly(true);
    Ok(table)
}

fn unknown_key(what: &str, name: &str, names: &[String]) -> Diagnostic {
    let fault = Diagnostic::error("script::unknown_input", format!("`{what}` has no `{name}`"));
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
