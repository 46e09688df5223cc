//! What a script finds by name.

use std::rc::Rc;

use mlua::{Function, Lua, LuaString, MultiValue, Table, Value, Variadic};

use diag::{Code, Diagnostic, nearest};

use super::call_state::CallState;
use super::decide::{Found, WrongValue, not_decided, settle};
use super::dispatch::dispatch;
use super::guards::{guarded, locked, unlimited};
use super::loader::Loader;
use super::prelude::Makers;
use super::require::require;
use super::search::no_cost;
use super::trace::trace;
use crate::code::{ALLOWED, KEY_GUARD, REMOVED};
use crate::schema::{CallForm, EDGE, FieldSpec, FunctionSpec, Handler, functions, methods};
use crate::values::{key_name, raise_one};

/// Takes out of the libraries what is not on the list.
pub(super) fn keep_allowed(base: &Table) -> mlua::Result<()> {
    for (library, names) in ALLOWED {
        let table = if library.is_empty() { base.clone() } else { base.raw_get(*library)? };
        let keys = table
            .pairs::<Value, Value>()
            .map(|pair| pair.map(|(key, _)| key))
            .collect::<mlua::Result<Vec<Value>>>()?;
        for key in keys {
            let name = key.as_string().map(LuaString::to_string_lossy).unwrap_or_default();
            let is_library = library.is_empty() && ALLOWED.iter().any(|(l, _)| *l == name);
            if !is_library && !names.contains(&name.as_str()) {
                table.raw_set(key, Value::Nil)?;
            }
        }
    }
    Ok(())
}

/// Puts the functions of the API into the globals every environment falls back on.
pub(super) fn register(
    lua: &Lua,
    state: &Rc<CallState>,
    loader: &Rc<Loader>,
    makers: &Makers,
) -> mlua::Result<()> {
    makers.span_methods.set_metatable(Some(strict(lua, "span", &[])?))?;
    makers.mark_methods.set_metatable(Some(strict(lua, "mark", &[])?))?;
    makers.edge_methods.set_metatable(Some(strict(lua, "edge", EDGE.fields)?))?;
    for spec in functions().chain(methods()) {
        let (namespace, member) = spec.split();
        let table = match (spec.form, namespace) {
            (CallForm::Method, Some("edge")) => makers.edge_methods.clone(),
            (CallForm::Method, Some("mark")) => makers.mark_methods.clone(),
            (CallForm::Method, _) => makers.span_methods.clone(),
            (_, None) => loader.base.clone(),
            (_, Some(name)) => library(lua, &loader.base, name)?,
        };
        let checked = match spec.handler {
            Handler::Require => loading(lua, state, loader, spec)?,
            Handler::Trace => showing(lua, state, spec)?,
            _ => checking(lua, state, spec)?,
        };
        let function: Function = match spec.handler {
            Handler::Step(_) => makers.step.call((checked, member))?,
            Handler::Piece => makers.piece.call(checked)?,
            Handler::View => makers.view.call(checked)?,
            Handler::Span(_) => makers.span.call(checked)?,
            Handler::Mark(_) => makers.mark.call(checked)?,
            Handler::Edge(_) => makers.edge.call(checked)?,
            Handler::Search => {
                let wrong = lua.create_function(|_, (cost, choice): (Value, Variadic<f64>)| {
                    Err::<(), _>(no_cost(&cost, &choice))
                })?;
                makers.best.call((checked, wrong))?
            }
            Handler::Decide => {
                let settle = deciding(lua, state)?;
                let wrong =
                    lua.create_function(|_, told: WrongValue| Err::<(), _>(not_decided(told)))?;
                makers.decide.call((checked, settle, wrong))?
            }
            Handler::Call(_) | Handler::Require | Handler::Trace => checked,
        };
        table.raw_set(member, function)?;
    }
    makers.span_methods.set_readonly(true);
    makers.edge_methods.set_readonly(true);
    makers.mark_methods.set_readonly(true);
    loader.base.raw_set(KEY_GUARD, &makers.key)?;
    loader.base.set_metatable(Some(unknown_global(lua)?))
}

/// The table of functions called `name`, made when first asked for.
fn library(lua: &Lua, base: &Table, name: &'static str) -> mlua::Result<Table> {
    if let Some(table) = base.raw_get::<Option<Table>>(name)? {
        return Ok(table);
    }
    let table = lua.create_table()?;
    table.set_metatable(Some(strict(lua, name, &[])?))?;
    base.raw_set(name, &table)?;
    Ok(table)
}

/// A function of ours, with its arguments checked. None of them calls back into the script.
fn checking(
    lua: &Lua,
    state: &Rc<CallState>,
    spec: &'static FunctionSpec,
) -> mlua::Result<Function> {
    let state = Rc::clone(state);
    lua.create_function(move |lua, arguments: MultiValue| {
        // Lists that are made for a script have 10,000 entries at the most, which fit beyond its limit.
        unlimited(lua, || guarded(lua, &state, || dispatch(lua, &state, spec, arguments)))
    })
}

/// What keeps the numbers that were decided.
fn deciding(lua: &Lua, state: &Rc<CallState>) -> mlua::Result<Function> {
    let state = Rc::clone(state);
    lua.create_function(move |lua, found: Found| {
        unlimited(lua, || guarded(lua, &state, || settle(lua, &state, found)))
    })
}

/// `require`.
fn loading(
    lua: &Lua,
    state: &Rc<CallState>,
    loader: &Rc<Loader>,
    spec: &'static FunctionSpec,
) -> mlua::Result<Function> {
    let (state, loader) = (Rc::clone(state), Rc::clone(loader));
    lua.create_function(move |lua, arguments: MultiValue| {
        guarded(lua, &state, || require(lua, &state, spec, &arguments, &loader))
    })
}

/// `trace`.
fn showing(
    lua: &Lua,
    state: &Rc<CallState>,
    spec: &'static FunctionSpec,
) -> mlua::Result<Function> {
    let state = Rc::clone(state);
    lua.create_function(move |lua, values: MultiValue| {
        guarded(lua, &state, || trace(lua, &state, spec, &values))
    })
}

/// A metatable that offers the nearest name for a misspelt one. What may be left out of a value is nil.
fn strict(
    lua: &Lua,
    namespace: &'static str,
    left_out: &'static [FieldSpec],
) -> mlua::Result<Table> {
    let index = lua.create_function(move |_, (_, key): (Value, Value)| {
        let field = key_name(&key);
        if !left_out.is_empty() && (field == "count" || left_out.iter().any(|f| f.name == field)) {
            return Ok(());
        }
        let members = || {
            functions()
                .chain(methods())
                .map(FunctionSpec::split)
                .filter(|(n, _)| *n == Some(namespace))
                .map(|(_, m)| m)
        };
        let name = field;
        let fault =
            Diagnostic::error(Code::ScriptUnknownName, format!("there is no `{namespace}.{name}`"));
        Err(raise_one(match nearest(&name, members()) {
            Some(near) => fault.hint(format!("did you mean `{namespace}.{near}`?")),
            None => fault
                .hint(format!("`{namespace}` has {}", members().collect::<Vec<_>>().join(", "))),
        }))
    })?;
    locked(lua, index)
}

fn unknown_global(lua: &Lua) -> mlua::Result<Table> {
    let index = lua.create_function(|_, (_, key): (Value, Value)| {
        let name = key_name(&key);
        let fault =
            Diagnostic::error(Code::ScriptUnknownName, format!("nothing is called `{name}` here"));
        if let Some((_, why)) = REMOVED.iter().find(|(removed, _)| *removed == name) {
            return Err::<(), _>(raise_one(fault.hint(format!("scripts have no `{name}`: {why}"))));
        }
        let known = ALLOWED
            .iter()
            .flat_map(|(library, names)| {
                let own: &[&str] = if library.is_empty() { names } else { &[] };
                own.iter().copied().chain([*library])
            })
            .chain(functions().map(|f| f.split().0.unwrap_or(f.name)))
            .filter(|name| !name.is_empty());
        Err(raise_one(match nearest(&name, known) {
            Some(near) => fault.hint(format!("did you mean `{near}`?")),
            None => fault.hint(format!("declare it first: local {name} = ...")),
        }))
    })?;
    locked(lua, index)
}
