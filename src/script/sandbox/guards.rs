//! What our own code keeps to in the machine.

use std::panic::{AssertUnwindSafe, catch_unwind};

use mlua::{Function, Lua, Table};

use super::call_state::{CallState, Halt};

/// Does `body` without the limit on memory: each entry to a table costs far less then. For work of
/// our own whose size a script can't stretch.
pub(crate) fn unlimited<T>(lua: &Lua, body: impl FnOnce() -> mlua::Result<T>) -> mlua::Result<T> {
    let limit = lua.set_memory_limit(0)?;
    let result = body();
    lua.set_memory_limit(limit)?;
    result
}

/// A panic of ours must not be caught by a script and forgotten, nor a shortage of memory in what
/// the script had us call.
pub(super) fn guarded<T>(
    lua: &Lua,
    state: &CallState,
    body: impl FnOnce() -> mlua::Result<T>,
) -> mlua::Result<T> {
    let result = catch_unwind(AssertUnwindSafe(body))
        .unwrap_or_else(|panic| Err(state.halt(lua, Halt::Panic(panic_text(panic.as_ref())))));
    result.map_err(|error| if is_shortage(&error) { state.halt(lua, Halt::Memory) } else { error })
}

/// What a panic says.
pub(crate) fn panic_text(panic: &(dyn std::any::Any + Send)) -> String {
    panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "a panic without words".to_owned())
}

/// Whether an error that came through a callback says that memory ran out.
fn is_shortage(error: &mlua::Error) -> bool {
    match error {
        mlua::Error::MemoryError(_) => true,
        mlua::Error::CallbackError { cause, .. } => is_shortage(cause),
        _ => false,
    }
}

/// A metatable with nothing but `__index`, out of the script's reach.
pub(crate) fn locked(lua: &Lua, index: Function) -> mlua::Result<Table> {
    let meta = lua.create_table()?;
    meta.raw_set("__index", index)?;
    meta.raw_set("__metatable", "locked")?;
    meta.set_readonly(true);
    Ok(meta)
}
