use std::rc::Rc;

use mlua::{Function, Lua, LuaOptions, MultiValue, StdLib, Value};

use super::call_state::{CallState, Halt};
use super::input_tables::InputMetas;
use super::loader::Loader;
use super::prelude::run_prelude;
use super::registry::{keep_allowed, register};
use super::stack::spot;
use crate::code::OUT_OF_MEMORY;

/// Room beyond the limit on a script, so that our own reading and reporting still fits when a
/// script has used its share to the last byte.
const HEADROOM: usize = 16 << 20;

/// One virtual machine, closed and ready.
pub(crate) struct Sandbox {
    pub lua: Lua,
    pub state: Rc<CallState>,
    /// Bytes in use before any script has run.
    pub empty: usize,
    pub loader: Rc<Loader>,
    pub input_metas: InputMetas,
    xpcall: Function,
    on_error: Function,
}

impl Sandbox {
    pub fn new(state: Rc<CallState>) -> mlua::Result<Sandbox> {
        let libraries = StdLib::COROUTINE
            | StdLib::TABLE
            | StdLib::STRING
            | StdLib::UTF8
            | StdLib::BIT
            | StdLib::MATH
            | StdLib::BUFFER
            | StdLib::VECTOR;
        let lua = Lua::new_with(libraries, LuaOptions::default())?;
        let base = lua.globals();
        keep_allowed(&base)?;
        let xpcall: Function = base.raw_get("xpcall")?;
        let makers = run_prelude(&lua, &state)?;
        let loader = Rc::new(Loader::new(&lua, base)?);
        register(&lua, &state, &loader, &makers)?;
        let input_metas = InputMetas::new(&lua, &makers.absent)?;
        let on_error = lua.create_function({
            let state = Rc::clone(&state);
            move |lua, error: Value| {
                if error.as_string().is_some_and(|text| text.as_bytes() == OUT_OF_MEMORY.as_bytes())
                {
                    return Err(state.halt(lua, Halt::Memory));
                }
                state.raised_at.replace(spot(lua));
                Ok(error)
            }
        })?;
        lua.set_interrupt({
            let state = Rc::clone(&state);
            move |lua| state.tick(lua)
        });
        lua.sandbox(true)?;
        let empty = lua.used_memory();
        lua.set_memory_limit(empty + state.limits.memory + HEADROOM)?;
        Ok(Sandbox { lua, state, empty, loader, input_metas, xpcall, on_error })
    }

    /// Calls `function` and says where it failed if it did: `Err` holds the error value.
    pub fn call(
        &self,
        function: &Function,
        arguments: MultiValue,
    ) -> mlua::Result<Result<MultiValue, Value>> {
        let mut passed = MultiValue::new();
        passed.push_back(Value::Function(function.clone()));
        passed.push_back(Value::Function(self.on_error.clone()));
        passed.extend(arguments);
        let mut results: MultiValue = self.xpcall.call(passed)?;
        match results.pop_front() {
            Some(Value::Boolean(true)) => Ok(Ok(results)),
            _ => Ok(Err(results.pop_front().unwrap_or(Value::Nil))),
        }
    }

    /// The main function of a module of the plugin in hand, in an environment of its own.
    pub fn load(&self, module: &str) -> mlua::Result<Function> {
        self.loader.load(&self.lua, &self.state, module)
    }
}
