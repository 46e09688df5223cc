//! `trace`: values that a script shows its author.

use mlua::{Lua, MultiValue};

use super::call_state::CallState;
use super::stack::spot;
use crate::schema::FunctionSpec;
use crate::trace::Trace;
use crate::values::{listed, newer, raise_one};

/// Calls of `trace` that are kept.
const MOST_TRACES: usize = 100;

/// Notes what is shown, in a call that is watched; otherwise nothing is done, not even looked at.
pub(super) fn trace(
    lua: &Lua,
    state: &CallState,
    spec: &'static FunctionSpec,
    values: &MultiValue,
) -> mlua::Result<()> {
    let api = state.api.get();
    if spec.since > api {
        return Err(raise_one(newer(spec.name, spec.since, api)));
    }
    let mut reads = state.reads.borrow_mut();
    let Some(reads) = reads.as_mut().filter(|reads| reads.traces.len() < MOST_TRACES) else {
        return Ok(());
    };
    let code = state.code.borrow();
    let place = spot(lua).and_then(|spot| code.as_ref()?.place(&spot.module, spot.line));
    reads.traces.push(Trace { place, text: listed(values) });
    Ok(())
}
