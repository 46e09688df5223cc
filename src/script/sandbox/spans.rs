//! Needles, as the API gives them: texts with the first API, from the second on values.

use mlua::{IntoLuaMulti, Lua, MultiValue};

use diag::{Code, Diagnostic};
use knit::needle::{Needle, Span};

use super::call_state::CallState;
use crate::values::{CheckedFields, raise_one};

/// Farther than any bed is long.
const MOST_SHIFT: f64 = 1_000.0;

fn whole(fields: &CheckedFields, name: &str) -> u32 {
    fields.whole(name).unwrap_or_default()
}

/// What stands before the colon.
fn receiver(fields: &CheckedFields) -> Span {
    fields.needles("span").unwrap_or(Span::centred(1))
}

/// A text for the first API; the ends and the count for the prelude to make a value of.
fn given(lua: &Lua, state: &CallState, span: Span) -> mlua::Result<MultiValue> {
    if state.api.get() < 2 {
        return span.to_string().into_lua_multi(lua);
    }
    (span.left.to_string(), span.right.to_string(), span.len()).into_lua_multi(lua)
}

pub(super) fn centred(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    given(lua, state, Span::centred(whole(fields, "n")))
}

pub(super) fn slice(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    given(lua, state, some_of(Span::centred(whole(fields, "n")), fields)?)
}

pub(super) fn at(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    let all = Span::centred(whole(fields, "n"));
    nth(all, whole(fields, "i"), "i")?.to_string().into_lua_multi(lua)
}

pub(super) fn span_of(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let first = fields.needles("first").unwrap_or(Span::centred(1));
    let last = fields.needle("last").unwrap_or(first.right);
    if last < first.left {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("`first` is {} and `last` is {last}", first.left),
            )
            .hint("`first` is the left one"),
        ));
    }
    given(lua, state, Span { left: first.left, right: last })
}

pub(super) fn span_left(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let span = receiver(fields);
    given(lua, state, Span { left: span.left, right: nth(span, whole(fields, "n"), "n")? })
}

pub(super) fn span_right(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let (span, n) = (receiver(fields), whole(fields, "n"));
    nth(span, n, "n")?;
    given(lua, state, Span { left: Needle(span.right.0 + 1 - n as i32), right: span.right })
}

pub(super) fn span_shift(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let (span, by) = (receiver(fields), fields.number("by").unwrap_or_default());
    if by.abs() > MOST_SHIFT {
        return Err(raise_one(
            Diagnostic::error(Code::ScriptNumber, format!("`by` is {by}: no bed is so long"))
                .hint("it is a number of needles: 1 to the right, -1 to the left"),
        ));
    }
    let moved = |needle: Needle| Needle(needle.0 + by as i32);
    given(lua, state, Span { left: moved(span.left), right: moved(span.right) })
}

pub(super) fn span_slice(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    given(lua, state, some_of(receiver(fields), fields)?)
}

pub(super) fn span_at(
    lua: &Lua,
    _: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    nth(receiver(fields), whole(fields, "i"), "i")?.to_string().into_lua_multi(lua)
}

/// The needles of `all` from `first` to `last`.
fn some_of(all: Span, fields: &CheckedFields) -> mlua::Result<Span> {
    let (first, last) = (whole(fields, "first"), whole(fields, "last"));
    if first > last {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("`first` is {first} and `last` is {last}"),
            )
            .hint("`first` is the left one"),
        ));
    }
    Ok(Span { left: nth(all, first, "first")?, right: nth(all, last, "last")? })
}

/// The `i`-th of some needles, from 1.
fn nth(all: Span, i: u32, name: &str) -> mlua::Result<Needle> {
    let n = all.len();
    if i > n {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("`{name}` is {i}, but there are {n} needles"),
            )
            .hint("needles are counted from 1 at the left"),
        ));
    }
    Ok(Needle(all.left.0 + i as i32 - 1))
}
