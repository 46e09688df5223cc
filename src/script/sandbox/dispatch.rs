use mlua::{IntoLuaMulti, Lua, MultiValue, Table, Value};

use diag::{Code, Diagnostic};

use super::call_state::CallState;
use super::kept_steps::KeptStep;
use super::search::search;
use super::stack::line_in;
use super::{decide, edges, functions, shaping, spans};
use crate::code::INIT;
use crate::schema::{CallForm, FunctionSpec, Handler, HostFunction};
use crate::values::{
    CheckedFields, describe, newer, raise, raise_one, read, read_arguments, step_action,
};

/// Frames on the stack in a check that the prelude calls: our own, and the constructor's round it.
const MAKER: usize = 2;

/// Checks the arguments of `spec` and does what it stands for.
pub(super) fn dispatch(
    lua: &Lua,
    state: &CallState,
    spec: &'static FunctionSpec,
    mut arguments: MultiValue,
) -> mlua::Result<MultiValue> {
    let mut faults = Vec::new();
    let what = spec.name;
    let api = state.api.get();
    if spec.since > api {
        return Err(raise_one(newer(what, spec.since, api)));
    }
    // The prelude puts the table it will hand out before the arguments of the script.
    let made = match spec.handler {
        Handler::Step(_) => arguments.pop_front(),
        _ => None,
    };
    let fields = match spec.form {
        CallForm::Positional | CallForm::Method => {
            read_arguments(&arguments, spec.args, what, &mut faults)
        }
        CallForm::Named => {
            let table = single_table(lua, spec, &arguments)?;
            read(&table, spec.args, &what, &[], &mut faults)?
        }
    };
    faults.extend(fields.newer_than(api, &what));
    if !faults.is_empty() {
        return Err(raise(faults.into_iter().map(|found| found.fault).collect()));
    }
    match spec.handler {
        Handler::Step(op) => {
            let action = step_action(op, spec.split().1, &fields, api).map_err(raise_one)?;
            let line = line_in(lua, INIT, MAKER);
            if let Some(Value::Table(made)) = made {
                let step = KeptStep { line, action, text: fields.text_bytes() };
                state.steps.borrow_mut().keep(&made, step);
            }
            line.into_lua_multi(lua)
        }
        Handler::Search => search(lua, &fields),
        Handler::Decide => decide::asked(lua, state, &fields),
        Handler::Piece | Handler::View => line_in(lua, INIT, MAKER).into_lua_multi(lua),
        Handler::Call(which)
        | Handler::Span(which)
        | Handler::Edge(which)
        | Handler::Mark(which) => call(which, lua, state, &fields),
        Handler::Require | Handler::Trace => {
            Err(mlua::Error::runtime(format!("{what} is not set up")))
        }
    }
}

/// The one table a function with named arguments takes.
fn single_table(lua: &Lua, spec: &FunctionSpec, arguments: &MultiValue) -> mlua::Result<Table> {
    match (arguments.len(), arguments.front()) {
        (1, Some(Value::Table(table))) => Ok(table.clone()),
        // `step.wrap()`; what is needed is asked for by name further on.
        (0, _) => lua.create_table(),
        (count, first) => {
            let fault = Diagnostic::error(
                Code::ScriptArguments,
                format!(
                    "{} takes one table, not {}",
                    spec.name,
                    if count == 1 {
                        describe(first.unwrap_or(&Value::Nil))
                    } else {
                        format!("{count} values")
                    }
                ),
            );
            let (before, member) = spec.split();
            Err(raise_one(match before {
                Some(before) if count == 2 => {
                    fault.hint(format!("write {before}.{member} with a dot, not a colon"))
                }
                _ => fault.hint(format!("write {}{{ ... }}", spec.name)),
            }))
        }
    }
}

fn call(
    which: HostFunction,
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let function = match which {
        HostFunction::Edge => edges::edge,
        HostFunction::EdgeSlice => edges::slice,
        HostFunction::EdgeFirst => edges::first,
        HostFunction::EdgeLast => edges::last,
        HostFunction::EdgeAfter => edges::after,
        HostFunction::EdgeShift => edges::shift,
        HostFunction::EdgeOther => edges::other_side,
        HostFunction::EdgeOf => edges::of,
        HostFunction::Mark => edges::mark,
        HostFunction::MarkShift => edges::mark_shift,
        HostFunction::Centred => spans::centred,
        HostFunction::Slice => spans::slice,
        HostFunction::At => spans::at,
        HostFunction::SpanOf => spans::span_of,
        HostFunction::SpanLeft => spans::span_left,
        HostFunction::SpanRight => spans::span_right,
        HostFunction::SpanShift => spans::span_shift,
        HostFunction::SpanSlice => spans::span_slice,
        HostFunction::SpanAt => spans::span_at,
        HostFunction::DecideCount => decide::count,
        HostFunction::ToMultiple => functions::to_multiple,
        HostFunction::Round => functions::round,
        HostFunction::Spread => functions::spread,
        HostFunction::Gaps => shaping::gaps,
        HostFunction::Schedule => shaping::schedule,
        HostFunction::ShortRowHeel => shaping::short_row_heel,
        HostFunction::Wedges => shaping::wedges,
        HostFunction::Along => shaping::along,
        HostFunction::StepsAlong => shaping::steps_along,
        HostFunction::Warn => functions::warn,
        HostFunction::Refuse => functions::refuse,
    };
    function(lua, state, fields)
}
