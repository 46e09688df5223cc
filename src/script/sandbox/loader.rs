use std::cell::RefCell;
use std::sync::Arc;

use mlua::chunk::ChunkMode;
use mlua::{Function, Lua, Table};

use super::call_state::CallState;
use crate::code::Sources;

/// Gives each call new functions and environments, from code that is loaded once.
pub(crate) struct Loader {
    /// What every environment falls back on; read-only.
    pub base: Table,
    /// The metatable of every environment.
    to_base: Table,
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
        Ok(Loader { base, to_base, loaded: RefCell::default() })
    }

    /// Drops what is loaded; it is loaded again when asked for.
    pub fn forget(&self) {
        self.loaded.take();
    }

    fn environment(&self, lua: &Lua) -> mlua::Result<Table> {
        let environment = lua.create_table()?;
        environment.set_metatable(Some(self.to_base.clone()))?;
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
                    .set_environment(self.environment(lua)?)
                    .into_function()?;
                let kept = LoadedModule { code, module: module.to_owned(), main: main.clone() };
                self.loaded.borrow_mut().push(kept);
                main
            }
        };
        let main = main.deep_clone()?;
        main.set_environment(self.environment(lua)?)?;
        Ok(main)
    }
}
