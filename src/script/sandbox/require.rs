use mlua::{Lua, MultiValue, Value};

use diag::{Code, Diagnostic, nearest};

use super::call_state::{CallState, ModuleState};
use super::loader::Loader;
use super::stack::spot;
use crate::code::{INIT, is_module_path};
use crate::schema::FunctionSpec;
use crate::values::{clip, raise, raise_one, read_arguments};

/// `require("./other")`: a module of the plugin, run once in a call.
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
    let module = module_path(lua, &asked).ok_or_else(|| outside(&asked))?;
    match state.modules.borrow().get(&module) {
        Some(ModuleState::Ready(value)) => return Ok(value.clone()),
        Some(ModuleState::Loading) => return Err(in_a_ring(&module)),
        None => {}
    }
    check_known(state, &module)?;
    state.modules.borrow_mut().insert(module.clone(), ModuleState::Loading);
    let results: MultiValue = loader.load(lua, state, &module)?.call(())?;
    let value = match (results.len(), results.front()) {
        (1, Some(value)) if !value.is_nil() => value.clone(),
        _ => {
            return Err(fault(
                format!("`{module}` must return one value"),
                "end it with `return { ... }`",
            ));
        }
    };
    state.modules.borrow_mut().insert(module, ModuleState::Ready(value.clone()));
    Ok(value)
}

fn fault(message: String, hint: impl Into<String>) -> mlua::Error {
    raise_one(Diagnostic::error(Code::ScriptRequire, message).hint(hint))
}

fn outside(asked: &str) -> mlua::Error {
    fault(
        format!("`{}` is not a module of this plugin", clip(asked)),
        "write require(\"./name\") for name.luau in the same folder; nothing outside it can be reached",
    )
}

fn in_a_ring(module: &str) -> mlua::Error {
    fault(
        format!("`{module}` requires itself, directly or through another"),
        "move what both need into a third module",
    )
}

/// Whether the plugin has the module.
fn check_known(state: &CallState, module: &str) -> mlua::Result<()> {
    let code = state.code.borrow();
    let modules = code.iter().flat_map(|code| code.modules.keys());
    let known: Vec<&str> = modules.map(String::as_str).filter(|name| *name != INIT).collect();
    if known.contains(&module) {
        return Ok(());
    }
    let hint = match nearest(module, known) {
        Some(near) => format!("did you mean `./{}`?", near.trim_end_matches(".luau")),
        None => "a module is a .luau file beside init.luau".to_owned(),
    };
    Err(fault(format!("the plugin has no `{module}`"), hint))
}

/// `./name` as a file of the plugin, beside the module that asks.
fn module_path(lua: &Lua, asked: &str) -> Option<String> {
    let name = asked.strip_prefix("./")?;
    let asking = spot(lua).map(|spot| spot.module).unwrap_or_default();
    let folder = asking.rfind('/').map_or("", |at| &asking[..=at]);
    let path = format!("{folder}{}.luau", name.strip_suffix(".luau").unwrap_or(name));
    is_module_path(&path).then_some(path)
}
