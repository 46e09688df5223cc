use mlua::{Lua, MultiValue, Value};

use diag::{Code, Diagnostic, nearest};

use super::call_state::{CallState, ModuleState};
use super::loader::Loader;
use super::stack::spot;
use crate::code::{INIT, is_module_path, part_module, shown_module, split_module};
use crate::schema::FunctionSpec;
use crate::values::{clip, newer, raise, raise_one, read_arguments};

/// `require("./other")`: a module of the plugin, run once in a call; `require("parts/heel")`: a part that
/// the manifest asks for.
pub(super) fn require(
    lua: &Lua,
    state: &CallState,
    spec: &'static FunctionSpec,
    arguments: &MultiValue,
    loader: &Loader,
) -> mlua::Result<Value> {
    let mut faults = Vec::new();
    let fields = read_arguments(arguments, spec.args, "require", &mut faults);
    if !faults.is_empty() {
        return Err(raise(faults.into_iter().map(|found| found.fault).collect()));
    }
    let asked = fields.text("path").unwrap_or_default();
    let asking = spot(lua).map(|spot| spot.module).unwrap_or_default();
    let module = match asked.strip_prefix("parts/") {
        Some(name) => part(state, &asking, name)?,
        None => {
            let module = module_path(&asking, &asked).ok_or_else(|| outside(&asked))?;
            check_known(state, &asking, &module)?;
            module
        }
    };
    match state.modules.borrow().get(&module) {
        Some(ModuleState::Ready(value)) => return Ok(value.clone()),
        Some(ModuleState::Loading) => return Err(in_a_ring(&module)),
        None => {}
    }
    state.modules.borrow_mut().insert(module.clone(), ModuleState::Loading);
    let results: MultiValue = loader.load(lua, state, &module)?.call(())?;
    let value = match (results.len(), results.front()) {
        (1, Some(value)) if !value.is_nil() => value.clone(),
        _ => {
            return Err(fault(
                format!("`{}` must return one value", shown_module(&module)),
                "end it with `return { ... }`",
            ));
        }
    };
    // What a part gives is the same for all who require it.
    if let (Value::Table(table), false) = (&value, split_module(&module).0.is_empty()) {
        table.set_readonly(true);
    }
    state.modules.borrow_mut().insert(module, ModuleState::Ready(value.clone()));
    Ok(value)
}

/// The module of a part that whoever asks may require.
fn part(state: &CallState, asking: &str, name: &str) -> mlua::Result<String> {
    let api = state.api.get();
    if api < 2 {
        return Err(raise_one(newer("requiring a part", 2, api)));
    }
    let code = state.code.borrow();
    let asker = split_module(asking).0;
    let asked = code.iter().filter_map(|code| code.parts.get(asker)).flatten();
    let asked: Vec<&str> = asked.map(String::as_str).collect();
    if asked.contains(&name) {
        if asker.is_empty() {
            state.note(|reads| &mut reads.parts, name);
        }
        return Ok(part_module(name, INIT));
    }
    let of = if asker.is_empty() { "plugin.toml" } else { "part.toml" };
    let message = format!("{of} asks for no part `{}`", clip(name));
    let hint = match nearest(name, asked.iter().copied()) {
        Some(near) => format!("did you mean `parts/{near}`?"),
        None => "list it with its version under [parts], such as `heel = \"1\"`".to_owned(),
    };
    Err(fault(message, hint))
}

fn fault(message: String, hint: impl Into<String>) -> mlua::Error {
    raise_one(Diagnostic::error(Code::ScriptRequire, message).hint(hint))
}

fn outside(asked: &str) -> mlua::Error {
    fault(
        format!("`{}` is not a module of this plugin", clip(asked)),
        "write require(\"./name\") for name.luau in the same folder, or require(\"parts/name\") for a part; nothing else outside it can be reached",
    )
}

fn in_a_ring(module: &str) -> mlua::Error {
    fault(
        format!("`{}` requires itself, directly or through another", shown_module(module)),
        "move what both need into a third module",
    )
}

/// Whether there is such a module, beside the one that asks.
fn check_known(state: &CallState, asking: &str, module: &str) -> mlua::Result<()> {
    let code = state.code.borrow();
    let modules = || code.iter().flat_map(|code| code.modules.keys());
    let (part, path) = split_module(module);
    if path != INIT && modules().any(|known| known == module) {
        return Ok(());
    }
    let beside = modules().map(|name| split_module(name)).filter(|(of, _)| *of == part);
    let known = beside.map(|(_, path)| path).filter(|path| *path != INIT);
    let hint = match nearest(path, known) {
        Some(near) => format!("did you mean `./{}`?", near.trim_end_matches(".luau")),
        None => "a module is a .luau file beside init.luau".to_owned(),
    };
    let who = if split_module(asking).0.is_empty() { "plugin" } else { "part" };
    Err(fault(format!("the {who} has no `{path}`"), hint))
}

/// `./name` as a file beside the module that asks, in the folder of the garment or of the part.
fn module_path(asking: &str, asked: &str) -> Option<String> {
    let name = asked.strip_prefix("./")?;
    let (part, asking) = split_module(asking);
    let folder = asking.rfind('/').map_or("", |at| &asking[..=at]);
    let path = format!("{folder}{}.luau", name.strip_suffix(".luau").unwrap_or(name));
    let whole = if part.is_empty() { path.clone() } else { part_module(part, &path) };
    is_module_path(&path).then_some(whole)
}
