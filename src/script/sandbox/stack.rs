//! The call stack of the script, as far as it lies in the plugin.

use mlua::Lua;
use mlua::debug::Debug;

use crate::code::{Spot, chunk_of};

/// Deeper than any honest function calls a constructor from.
const DEPTH: usize = 200;

/// The innermost line of a plugin's source on the call stack.
pub(crate) fn spot(lua: &Lua) -> Option<Spot> {
    innermost(lua, 0, |module, frame| {
        Some(Spot { module: module.to_owned(), line: frame.current_line()? })
    })
}

/// The innermost line of `module` on the call stack, 0 when it is not there. The frames of the host's
/// function itself and of the prelude's round it, `ours`, are passed over: telling where a frame comes
/// from takes longer than the step that asks.
pub(crate) fn line_in(lua: &Lua, module: &str, ours: usize) -> u32 {
    innermost(lua, ours, |name, frame| if name == module { frame.current_line() } else { None })
        .and_then(|line| u32::try_from(line).ok())
        .unwrap_or(0)
}

/// Asks `pick` about each frame of the plugin's, innermost first, until it answers.
fn innermost<T>(lua: &Lua, from: usize, pick: impl Fn(&str, &Debug<'_>) -> Option<T>) -> Option<T> {
    for level in from..DEPTH {
        let found = lua.inspect_stack(level, |frame| {
            let source = frame.source();
            let module = chunk_of(source.source.as_deref()?)?;
            pick(module, frame)
        });
        match found {
            None => return None,
            Some(Some(found)) => return Some(found),
            Some(None) => {}
        }
    }
    None
}
