//! The virtual machine a script runs in: what it can reach and what it can't.

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;
use std::sync::Arc;

use mlua::chunk::{ChunkMode, Compiler};
use mlua::{Function, Lua, LuaOptions, LuaString, MultiValue, StdLib, Table, Value, Variadic};

use diag::{Code, Diagnostic, nearest};

use super::api::{ENTRIES, Entry, Handler};
use super::fault::{OUT_OF_MEMORY, is_shortage, raise_one};
use super::fields::describe;
use super::functions;
use super::input::InputMetas;
use super::plugin::Sources;
use super::state::{State, Stop, spot};

/// The chunk name of our own Luau.
pub(super) const PRELUDE: &str = "[oddments]";

/// Library functions with a stand-in of ours; the compiler must not shortcut them.
pub(super) const REPLACED: [&str; 10] = [
    "string.find",
    "string.match",
    "string.gmatch",
    "string.gsub",
    "string.format",
    "table.sort",
    "tostring",
    "pcall",
    "xpcall",
    "require",
];

/// Functions a Lua author may look for, and why they are not here.
pub(super) const REMOVED: [(&str, &str); 13] = [
    ("math.random", "the same input must always give the same garment"),
    ("string.split", "walk over string.gmatch instead"),
    ("table.move", "copy in a loop, or use table.clone"),
    ("print", "tell the knitter with warn or step.note"),
    ("os", "the same input must always give the same garment"),
    ("io", "what a garment needs is in `input`"),
    ("debug", "errors show their line by themselves"),
    ("_G", "name globals directly, or keep them in a table of your own"),
    ("loadstring", "put code in a module and require it"),
    ("load", "put code in a module and require it"),
    ("dofile", "put code in a module and require it"),
    ("getfenv", "environments are the host's"),
    ("collectgarbage", "memory is the host's"),
];

/// Every name a script can reach without the API. What the language adds later stays out.
const ALLOWED: &[(&str, &[&str])] = &[
    (
        "",
        &[
            "_VERSION",
            "assert",
            "error",
            "getmetatable",
            "ipairs",
            "next",
            "pairs",
            "pcall",
            "rawequal",
            "rawget",
            "rawlen",
            "rawset",
            "select",
            "setmetatable",
            "tonumber",
            "tostring",
            "type",
            "typeof",
            "unpack",
            "xpcall",
        ],
    ),
    (
        "bit32",
        &[
            "arshift", "band", "bnot", "bor", "btest", "bxor", "byteswap", "countlz", "countrz",
            "extract", "lrotate", "lshift", "replace", "rrotate", "rshift",
        ],
    ),
    (
        "buffer",
        &[
            "copy",
            "create",
            "fill",
            "fromstring",
            "len",
            "readbits",
            "readf32",
            "readf64",
            "readi16",
            "readi32",
            "readi8",
            "readstring",
            "readu16",
            "readu32",
            "readu8",
            "tostring",
            "writebits",
            "writef32",
            "writef64",
            "writei16",
            "writei32",
            "writei8",
            "writestring",
            "writeu16",
            "writeu32",
            "writeu8",
        ],
    ),
    (
        "coroutine",
        &["close", "create", "isyieldable", "resume", "running", "status", "wrap", "yield"],
    ),
    (
        "math",
        &[
            "abs", "acos", "asin", "atan", "atan2", "ceil", "clamp", "cos", "cosh", "deg", "exp",
            "floor", "fmod", "frexp", "huge", "isfinite", "isinf", "isnan", "ldexp", "lerp", "log",
            "log10", "map", "max", "min", "modf", "noise", "pi", "pow", "rad", "round", "sign",
            "sin", "sinh", "sqrt", "tan", "tanh",
        ],
    ),
    (
        "string",
        &[
            "byte", "char", "find", "format", "gmatch", "gsub", "len", "lower", "match", "pack",
            "packsize", "rep", "reverse", "sub", "unpack", "upper",
        ],
    ),
    (
        "table",
        &[
            "clear", "clone", "concat", "create", "find", "foreach", "foreachi", "freeze", "getn",
            "insert", "isfrozen", "maxn", "pack", "remove", "sort", "unpack",
        ],
    ),
    ("utf8", &["char", "charpattern", "codepoint", "codes", "len", "offset"]),
    (
        "vector",
        &[
            "abs",
            "angle",
            "ceil",
            "clamp",
            "create",
            "cross",
            "dot",
            "floor",
            "lerp",
            "magnitude",
            "max",
            "min",
            "normalize",
            "one",
            "sign",
            "zero",
        ],
    ),
];

/// Room beyond the limit on a script, so that our own reading and reporting still fits when a
/// script has used its share to the last byte.
const HEADROOM: usize = 16 << 20;

/// One virtual machine, closed and ready.
pub(super) struct Sandbox {
    pub lua: Lua,
    pub state: Rc<State>,
    /// Bytes in use before any script has run.
    pub empty: usize,
    pub loader: Rc<Loader>,
    pub input_metas: InputMetas,
    xpcall: Function,
    on_error: Function,
}

impl Sandbox {
    pub fn new(state: Rc<State>) -> mlua::Result<Sandbox> {
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
                    return Err(state.halt(lua, Stop::Memory));
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

/// Gives each call new functions and environments, from code that is loaded once.
pub(super) struct Loader {
    /// What every environment falls back on; read-only.
    base: Table,
    /// The metatable of every environment.
    to_base: Table,
    chunks: RefCell<Vec<Chunk>>,
}

/// A loaded module that is never called itself: its clones are.
struct Chunk {
    code: Arc<Sources>,
    module: String,
    main: Function,
}

impl Loader {
    fn new(lua: &Lua, base: Table) -> mlua::Result<Loader> {
        let to_base = lua.create_table()?;
        to_base.raw_set("__index", &base)?;
        to_base.set_readonly(true);
        Ok(Loader { base, to_base, chunks: RefCell::default() })
    }

    /// Drops what is loaded; it is loaded again when asked for.
    pub fn forget(&self) {
        self.chunks.take();
    }

    fn environment(&self, lua: &Lua) -> mlua::Result<Table> {
        let environment = lua.create_table()?;
        environment.set_metatable(Some(self.to_base.clone()))?;
        environment.set_safeenv(true);
        Ok(environment)
    }

    fn load(&self, lua: &Lua, state: &State, module: &str) -> mlua::Result<Function> {
        let missing = || mlua::Error::runtime(format!("there is no module `{module}`"));
        let code = state.code.borrow().clone().ok_or_else(missing)?;
        state.note(|reads| &mut reads.modules, module);
        let known = |chunk: &&Chunk| Arc::ptr_eq(&chunk.code, &code) && chunk.module == module;
        let main = self.chunks.borrow().iter().find(known).map(|chunk| chunk.main.clone());
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
                let kept = Chunk { code, module: module.to_owned(), main: main.clone() };
                self.chunks.borrow_mut().push(kept);
                main
            }
        };
        let main = main.deep_clone()?;
        main.set_environment(self.environment(lua)?)?;
        Ok(main)
    }
}

/// Does `body` without the limit on memory: each entry to a table costs far less then. For work of
/// our own whose size a script can't stretch.
pub(super) fn unlimited<T>(lua: &Lua, body: impl FnOnce() -> mlua::Result<T>) -> mlua::Result<T> {
    let limit = lua.set_memory_limit(0)?;
    let result = body();
    lua.set_memory_limit(limit)?;
    result
}

/// The module behind a chunk name; `None` for our own code and for C functions.
pub(super) fn chunk_of(source: &str) -> Option<&str> {
    source.strip_prefix('=').filter(|name| !name.starts_with('['))
}

fn keep_allowed(base: &Table) -> mlua::Result<()> {
    for (library, names) in ALLOWED {
        let table = if library.is_empty() { base.clone() } else { base.raw_get(*library)? };
        let keys = table
            .pairs::<Value, Value>()
            .map(|pair| pair.map(|(key, _)| key))
            .collect::<mlua::Result<Vec<Value>>>()?;
        for key in keys {
            let name = key.as_string().map(LuaString::to_string_lossy).unwrap_or_default();
            let is_library = library.is_empty() && ALLOWED.iter().any(|(l, _)| *l == name);
            if !is_library && !names.contains(&name.as_str()) {
                table.raw_set(key, Value::Nil)?;
            }
        }
    }
    Ok(())
}

/// What the prelude gives us, beside the stand-ins it puts into the libraries.
struct Makers {
    /// These make a constructor from our check of its fields.
    step: Function,
    piece: Function,
    view: Function,
    /// Makes a search of the check of its arguments and of what is said of a cost that is none.
    best: Function,
    /// Makes the reading of a key that is not in a table of the input.
    absent: Function,
}

fn run_prelude(lua: &Lua, state: &Rc<State>) -> mlua::Result<Makers> {
    let plain_find =
        lua.create_function(|_, (text, word, from): (LuaString, LuaString, f64)| {
            let found = functions::plain_find(&text.as_bytes(), &word.as_bytes(), from);
            // One nil where nothing was found, as the library's own gives.
            Ok(match found {
                Some((begin, end)) => Variadic::from(vec![Some(begin), Some(end)]),
                None => Variadic::from(vec![None]),
            })
        })?;
    let give_up = lua.create_function({
        let state = Rc::clone(state);
        move |lua, ()| Err::<(), _>(state.halt(lua, Stop::Memory))
    })?;
    let (step, piece, view, best, absent) = lua
        .load(include_str!("prelude.luau"))
        .set_name(format!("={PRELUDE}"))
        .set_compiler(Compiler::new().set_debug_level(1).set_disabled_builtins(REPLACED))
        .call((plain_find, give_up))?;
    Ok(Makers { step, piece, view, best, absent })
}

fn register(
    lua: &Lua,
    state: &Rc<State>,
    loader: &Rc<Loader>,
    makers: &Makers,
) -> mlua::Result<()> {
    let base = &loader.base;
    for entry in ENTRIES {
        let (namespace, member) = entry.split();
        let table = match namespace {
            None => base.clone(),
            Some(name) => match base.raw_get::<Option<Table>>(name)? {
                Some(table) => table,
                None => {
                    let table = lua.create_table()?;
                    table.set_metatable(Some(strict(lua, name)?))?;
                    base.raw_set(name, &table)?;
                    table
                }
            },
        };
        let state = Rc::clone(state);
        let function = match entry.handler {
            Handler::Require => {
                let loader = Rc::clone(loader);
                lua.create_function(move |lua, arguments: MultiValue| {
                    guarded(lua, &state, || {
                        functions::require(lua, &state, entry, &arguments, |module| {
                            loader.load(lua, &state, module)
                        })
                    })
                })?
            }
            _ => lua.create_function(move |lua, arguments: MultiValue| {
                guarded(lua, &state, || functions::dispatch(lua, &state, entry, arguments))
            })?,
        };
        let function: Function = match entry.handler {
            Handler::Step => makers.step.call((function, member))?,
            Handler::Piece => makers.piece.call(function)?,
            Handler::View => makers.view.call(function)?,
            Handler::Search => {
                let wrong = lua.create_function(|_, (cost, choice): (Value, Variadic<f64>)| {
                    Err::<(), _>(functions::no_cost(&cost, &choice))
                })?;
                makers.best.call((function, wrong))?
            }
            Handler::Call(_) | Handler::Require => function,
        };
        table.raw_set(member, function)?;
    }
    base.set_metatable(Some(unknown_global(lua)?))
}

/// A panic of ours must not be caught by a script and forgotten, nor a shortage of memory in what
/// the script had us call.
fn guarded<T>(lua: &Lua, state: &State, body: impl FnOnce() -> mlua::Result<T>) -> mlua::Result<T> {
    let result = catch_unwind(AssertUnwindSafe(body))
        .unwrap_or_else(|panic| Err(state.halt(lua, Stop::Panic(panic_text(panic.as_ref())))));
    result.map_err(|error| if is_shortage(&error) { state.halt(lua, Stop::Memory) } else { error })
}

pub(super) fn panic_text(panic: &(dyn std::any::Any + Send)) -> String {
    panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "a panic without words".to_owned())
}

/// A metatable that offers the nearest name for a misspelt one.
fn strict(lua: &Lua, namespace: &'static str) -> mlua::Result<Table> {
    let index = lua.create_function(move |_, (_, key): (Value, Value)| {
        let members = || {
            ENTRIES.iter().map(Entry::split).filter(|(n, _)| *n == Some(namespace)).map(|(_, m)| m)
        };
        let name = key_name(&key);
        let fault =
            Diagnostic::error(Code::ScriptUnknownName, format!("there is no `{namespace}.{name}`"));
        Err::<(), _>(raise_one(match nearest(&name, members()) {
            Some(near) => fault.hint(format!("did you mean `{namespace}.{near}`?")),
            None => fault
                .hint(format!("`{namespace}` has {}", members().collect::<Vec<_>>().join(", "))),
        }))
    })?;
    locked(lua, index)
}

fn unknown_global(lua: &Lua) -> mlua::Result<Table> {
    let index = lua.create_function(|_, (_, key): (Value, Value)| {
        let name = key_name(&key);
        let fault =
            Diagnostic::error(Code::ScriptUnknownName, format!("nothing is called `{name}` here"));
        if let Some((_, why)) = REMOVED.iter().find(|(removed, _)| *removed == name) {
            return Err::<(), _>(raise_one(fault.hint(format!("scripts have no `{name}`: {why}"))));
        }
        let known = ALLOWED
            .iter()
            .flat_map(|(library, names)| {
                let own: &[&str] = if library.is_empty() { names } else { &[] };
                own.iter().copied().chain([*library])
            })
            .chain(ENTRIES.iter().map(|e| e.split().0.unwrap_or(e.name)))
            .filter(|name| !name.is_empty());
        Err(raise_one(match nearest(&name, known) {
            Some(near) => fault.hint(format!("did you mean `{near}`?")),
            None => fault.hint(format!("declare it first: local {name} = ...")),
        }))
    })?;
    locked(lua, index)
}

fn key_name(key: &Value) -> String {
    describe(key).trim_matches('"').to_owned()
}

/// A metatable with nothing but `__index`, out of the script's reach.
pub(super) fn locked(lua: &Lua, index: Function) -> mlua::Result<Table> {
    let meta = lua.create_table()?;
    meta.raw_set("__index", index)?;
    meta.raw_set("__metatable", "locked")?;
    meta.set_readonly(true);
    Ok(meta)
}
