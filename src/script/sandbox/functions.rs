//! What the functions of the API do: checked arguments in, results out.

use mlua::{IntoLuaMulti, Lua, MultiValue};

use diag::{Code, Diagnostic};

use super::call_state::{CallState, Halt};
use crate::values::{CheckedFields, Rounding, raise_one};

const MOST_WARNINGS: usize = 100;

fn whole(fields: &CheckedFields, name: &str) -> u32 {
    fields.whole(name).unwrap_or_default()
}

fn number(fields: &CheckedFields, name: &str) -> f64 {
    fields.number(name).unwrap_or_default()
}

pub(super) fn to_multiple(
    lua: &Lua,
    _: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let multiple = f64::from(whole(fields, "multiple"));
    let plus = fields.number("plus").unwrap_or(0.0);
    next_multiple(number(fields, "x"), multiple, plus, fields.rounding("rounding"))
        .into_lua_multi(lua)
}

/// The number of the form `multiple * k + plus` next to `x`.
pub(super) fn next_multiple(x: f64, multiple: f64, plus: f64, rounding: Option<Rounding>) -> f64 {
    let share = (x - plus) / multiple;
    let times = match rounding.unwrap_or(Rounding::Nearest) {
        Rounding::Nearest => (share + 0.5).floor(),
        Rounding::Up => share.ceil(),
        Rounding::Down => share.floor(),
    };
    times * multiple + plus
}

pub(super) fn round(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    number(fields, "x").round().into_lua_multi(lua)
}

pub(super) fn spread(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    let (total, parts) = (u64::from(whole(fields, "total")), u64::from(whole(fields, "parts")));
    let share = |i: u64| (i + 1) * total / parts - i * total / parts;
    lua.create_sequence_from((0..parts).map(|i| share(i) as f64))?.into_lua_multi(lua)
}

pub(super) fn warn(_: &Lua, state: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    let mut warnings = state.warnings.borrow_mut();
    if warnings.len() >= MOST_WARNINGS {
        return Err(raise_one(
            Diagnostic::error(Code::ScriptSize, format!("more than {MOST_WARNINGS} warnings"))
                .hint("nobody reads so many: warn once, outside the loop"),
        ));
    }
    warnings.extend(fields.text("text"));
    Ok(MultiValue::new())
}

pub(super) fn refuse(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    Err(state.halt(
        lua,
        Halt::Refused {
            reason: fields.text("reason").unwrap_or_default(),
            hints: fields.texts("hints").unwrap_or_default(),
        },
    ))
}
