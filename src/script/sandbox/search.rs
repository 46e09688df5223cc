use mlua::{IntoLuaMulti, Lua, MultiValue, Table, Value};

use diag::{Code, Diagnostic};

use crate::values::{CheckedFields, SearchRange, describe, raise_one};

pub(super) const MOST_CANDIDATES: u64 = 1_000_000;

/// The cost function and the ranges of a search, a `{ from, to, step }` each; the prelude does the
/// search.
pub(super) fn search(lua: &Lua, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    let (Some(ranges), Some(cost)) = (fields.ranges("over"), fields.function("cost")) else {
        return Ok(MultiValue::new());
    };
    let count = ranges.iter().fold(1_u64, |count, range| count.saturating_mul(range.count()));
    if count > MOST_CANDIDATES {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptSize,
                format!("fit.best would try {count} combinations, over {MOST_CANDIDATES}"),
            )
            .hint("narrow the ranges round a first guess"),
        ));
    }
    let bounds = |range: &SearchRange| {
        lua.create_sequence_from([range.from, range.to, range.step].map(|n| n as f64))
    };
    let ranges = ranges.iter().map(bounds).collect::<mlua::Result<Vec<Table>>>()?;
    (cost, ranges).into_lua_multi(lua)
}

/// What is said of a cost that is no finite number.
pub(super) fn no_cost(cost: &Value, choice: &[f64]) -> mlua::Error {
    let given = choice.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    raise_one(
        Diagnostic::error(
            Code::ScriptNumber,
            format!("the cost of ({given}) is {}", describe(cost)),
        )
        .hint("return a number, or nil when that choice can't be"),
    )
}
