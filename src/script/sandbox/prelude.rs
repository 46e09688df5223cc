use std::rc::Rc;
use std::sync::OnceLock;

use mlua::chunk::{ChunkMode, Compiler};
use mlua::{Function, Lua, LuaString, Table, Variadic};

use super::call_state::{CallState, Halt};
use super::plain_find::plain_find;
use crate::code::{OUT_OF_MEMORY, PRELUDE, REPLACED};

/// What the prelude gives us, beside the stand-ins it puts into the libraries.
pub(super) struct Makers {
    /// Refuses keys that would lie in a table by their address.
    pub key: Function,
    /// These make a constructor from our check of its fields.
    pub step: Function,
    pub piece: Function,
    pub view: Function,
    /// Makes a search of the check of its arguments and of what is said of a cost that is none.
    pub best: Function,
    /// The same for numbers with names, of what keeps them too.
    pub decide: Function,
    /// Makes a function that gives needles of our check of what it is given; from the second API on they
    /// are values, whose methods are looked up in the table.
    pub span: Function,
    pub span_methods: Table,
    /// The same for edges, which are values alone.
    pub edge: Function,
    pub edge_methods: Table,
    pub mark: Function,
    pub mark_methods: Table,
    /// Makes the reading of a key that is not in a table of the input.
    pub absent: Function,
}

/// Our own Luau, compiled: once for all machines there will be.
///
/// # Errors
/// Never in a build whose tests pass.
fn compiled_prelude() -> mlua::Result<&'static [u8]> {
    static COMPILED: OnceLock<Vec<u8>> = OnceLock::new();
    if let Some(compiled) = COMPILED.get() {
        return Ok(compiled);
    }
    let compiler = Compiler::new().set_debug_level(1).set_disabled_builtins(REPLACED);
    let compiled = compiler.compile(include_str!("prelude.luau"))?;
    Ok(COMPILED.get_or_init(|| compiled))
}

/// Runs our own Luau, once for a machine.
pub(super) fn run_prelude(lua: &Lua, state: &Rc<CallState>) -> mlua::Result<Makers> {
    let find = lua.create_function(|_, (text, word, from): (LuaString, LuaString, f64)| {
        let found = plain_find(&text.as_bytes(), &word.as_bytes(), from);
        // One nil where nothing was found, as the library's own gives.
        Ok(match found {
            Some((begin, end)) => Variadic::from(vec![Some(begin), Some(end)]),
            None => Variadic::from(vec![None]),
        })
    })?;
    let give_up = lua.create_function({
        let state = Rc::clone(state);
        move |lua, ()| Err::<(), _>(state.halt(lua, Halt::Memory))
    })?;
    let (
        key,
        step,
        piece,
        view,
        best,
        decide,
        span,
        span_methods,
        edge,
        edge_methods,
        mark,
        mark_methods,
        absent,
    ) = lua
        .load(compiled_prelude()?)
        .set_name(format!("={PRELUDE}"))
        .set_mode(ChunkMode::Binary)
        .call((find, give_up, OUT_OF_MEMORY))?;
    Ok(Makers {
        key,
        step,
        piece,
        view,
        best,
        decide,
        span,
        span_methods,
        edge,
        edge_methods,
        mark,
        mark_methods,
        absent,
    })
}
