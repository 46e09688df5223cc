//! The call stack of the script, as far as it lies in the plugin.

use mlua::Lua;

use crate::code::{Spot, chunk_of};

/// The innermost line of a plugin's source on the call stack.
pub(crate) fn spot(lua: &Lua) -> Option<Spot> {
    innermost(lua, |module, line| Some(Spot { module: module.to_owned(), line }))
}

/// The innermost line of `module` on the call stack, 0 when it is not there.
pub(crate) fn line_in(lua: &Lua, module: &str) -> u32 {
    innermost(lua, |name, line| (name == module).then_some(line))
        .and_then(|line| u32::try_from(line).ok())
        .unwrap_or(0)
}

/// Asks `pick` about each frame of the plugin's, innermost first, until it answers.
fn innermost<T>(lua: &Lua, pick: impl Fn(&str, usize) -> Option<T>) -> Option<T> {
    /// Deeper than any honest function calls a constructor from.
    const DEPTH: usize = 200;
    for level in 0..DEPTH {
        let found = lua.inspect_stack(level, |frame| {
            let source = frame.source();
            let module = chunk_of(source.source.as_deref()?)?;
            pick(module, frame.current_line()?)
        });
        match found {
            None => return None,
            Some(Some(found)) => return Some(found),
            Some(None) => {}
        }
    }
    None
}
