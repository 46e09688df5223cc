use std::cell::RefCell;
use std::sync::Arc;

use mlua::chunk::ChunkMode;
use mlua::{Function, Lua, Table, Value};

use diag::{Code, Diagnostic};

use super::call_state::CallState;
use crate::code::Sources;
use crate::values::{key_name, raise_one};

/// Gives each call new functions and environments, from code that is loaded once.
pub(crate) struct Loader {
    /// What every environment falls back on; read-only.
    pub base: Table,
    /// The metatable of every environment, of the first API and of those after it.
    to_base: Table,
    declared_only: Table,
    loaded: RefCell<Vec<LoadedModule>>,
}

/// A loaded module that is never called itself: its clones are.
struct LoadedModule {
    code: Arc<Sources>,
    module: String,
    main: Function,
}

impl Loader {
    pub fn new(lua: &Lua, base: Table) -> mlua::Result<Loader> {
        let to_base = lua.create_table()?;
        to_base.raw_set("__index", &base)?;
        to_base.set_readonly(true);
        let declared_only = lua.create_table()?;
        declared_only.raw_set("__index", &base)?;
        declared_only.raw_set("__newindex", undeclared(lua)?)?;
        declared_only.set_readonly(true);
        Ok(Loader { base, to_base, declared_only, loaded: RefCell::default() })
    }

    /// Drops what is loaded; it is loaded again when asked for.
    pub fn forget(&self) {
        self.loaded.take();
    }

    fn environment(&self, lua: &Lua, api: u32) -> mlua::Result<Table> {
        let environment = lua.create_table()?;
        let meta = if api < 2 { &self.to_base } else { &self.declared_only };
        environment.set_metatable(Some(meta.clone()))?;
        environment.set_safeenv(true);
        Ok(environment)
    }

    /// The main function of a module of the plugin in hand, in an environment of its own.
    pub fn load(&self, lua: &Lua, state: &CallState, module: &str) -> mlua::Result<Function> {
        let missing = || mlua::Error::runtime(format!("there is no module `{module}`"));
        let code = state.code.borrow().clone().ok_or_else(missing)?;
        state.note(|reads| &mut reads.modules, module);
        let known = |each: &&LoadedModule| Arc::ptr_eq(&each.code, &code) && each.module == module;
        let main = self.loaded.borrow().iter().find(known).map(|each| each.main.clone());
        let main = match main {
            Some(main) => main,
            None => {
                let bytecode = &code.modules.get(module).ok_or_else(missing)?.bytecode;
                // In an environment no call ever gets: a function a clone makes is never the one
                // that is kept with the code.
                let main = lua
                    .load(bytecode.as_slice())
                    .set_mode(ChunkMode::Binary)
                    .set_name(format!("={module}"))
                    .set_environment(self.environment(lua, state.api.get())?)
                    .into_function()?;
                let kept = LoadedModule { code, module: module.to_owned(), main: main.clone() };
                self.loaded.borrow_mut().push(kept);
                main
            }
        };
        let main = main.deep_clone()?;
        main.set_environment(self.environment(lua, state.api.get())?)?;
        Ok(main)
    }
}

/// Refuses a global that is given a value: from the second API on, a name is declared before it is used.
fn undeclared(lua: &Lua) -> mlua::Result<Function> {
    lua.create_function(|_, (_, key, _): (Value, Value, Value)| {
        let name = key_name(&key);
        Err::<(), _>(raise_one(
            Diagnostic::error(
                Code::ScriptUnknownName,
                format!("`{name}` is given a value and was never declared"),
            )
            .hint(format!("declare it first: local {name} = ...")),
        ))
    })
}
