use mlua::chunk::Compiler;

use diag::{Code, Diagnostic, Place};

use super::key_guard::{Unguarded, guard_keys};
use super::module_path::is_module_path;
use super::names::REPLACED;
use super::sources::Module;
use crate::limits::MOST_SOURCE_BYTES;

/// A file of a plugin as text.
pub(crate) fn utf8(folder: &str, path: &str, bytes: &[u8]) -> Result<String, Diagnostic> {
    let refuse = |code, message: String, hint: &str| {
        Err(Diagnostic::error(code, message).hint(hint).at(Place::from_line(
            &format!("{folder}/{path}"),
            "",
            1,
        )))
    };
    if bytes.len() > MOST_SOURCE_BYTES {
        return refuse(
            Code::ScriptSize,
            format!(
                "`{path}` has {} KB, over the {} KB allowed",
                bytes.len() / 1024,
                MOST_SOURCE_BYTES / 1024
            ),
            "split it into modules, or compute what it lists",
        );
    }
    // Compiled chunks start with a low version byte or an escape; no text holds either.
    if bytes.iter().any(|b| *b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c)) {
        return refuse(
            Code::ScriptBinary,
            format!("`{path}` is not a text: it holds control bytes"),
            "only source text is run, never a compiled chunk",
        );
    }
    match String::from_utf8(bytes.to_vec()) {
        Ok(text) => Ok(text),
        Err(error) => {
            let line = bytes[..error.utf8_error().valid_up_to()].split(|b| *b == b'\n').count();
            Err(Diagnostic::error(Code::ScriptUtf8, format!("`{path}` is not UTF-8 text"))
                .hint("save it as UTF-8")
                .at(Place::from_line(
                    &format!("{folder}/{path}"),
                    &String::from_utf8_lossy(bytes),
                    line,
                )))
        }
    }
}

/// Compiles a file of a plugin. Runs nothing of it.
pub(crate) fn compile(folder: &str, path: &str, bytes: &[u8]) -> Result<Module, Diagnostic> {
    if !is_module_path(path) {
        return Err(Diagnostic::error(
            Code::ScriptRequire,
            format!("`{path}` can't be the name of a module"),
        )
        .hint("use a to z, 0 to 9, `_` and `-`, at most 100 in all"));
    }
    let text = utf8(folder, path, bytes)?;
    match compiled(&text) {
        Ok(bytecode) => match guard_keys(&bytecode) {
            Ok(bytecode) => Ok(Module { file: format!("{folder}/{path}"), text, bytecode }),
            Err(why) => {
                Err(unguarded(why).at(Place::from_line(&format!("{folder}/{path}"), &text, 1)))
            }
        },
        Err(error) => {
            let message = match error {
                mlua::Error::SyntaxError { message, .. } => message,
                other => other.to_string(),
            };
            let (line, message) = message
                .trim_start_matches(':')
                .split_once(':')
                .and_then(|(line, rest)| Some((line.trim().parse().ok()?, rest.trim())))
                .unwrap_or((1, message.as_str()));
            Err(Diagnostic::error(Code::ScriptCompile, format!("this is not Luau: {message}"))
                .at(Place::from_line(&format!("{folder}/{path}"), &text, line))
                .hint("the mistake is often on the line before"))
        }
    }
}

/// What the compiler makes of a source. To be run only with its keys guarded.
pub(crate) fn compiled(text: &str) -> mlua::Result<Vec<u8>> {
    Compiler::new()
        // No inlining: line numbers stay those of the source.
        .set_optimization_level(1)
        .set_debug_level(1)
        .set_disabled_builtins(REPLACED)
        .compile(text)
}

/// What is said of code whose keys can't be looked at.
fn unguarded(why: Unguarded) -> Diagnostic {
    match why {
        Unguarded::Crowded => Diagnostic::error(
            Code::ScriptCompile,
            "a function holds too many values at once, or is too long",
        )
        .hint("split it: a part of it can be a function of its own"),
        Unguarded::Unknown => Diagnostic::error(
            Code::ScriptHost,
            "the script host doesn't know its own compiled code",
        )
        .hint("this is a fault of oddments, not of the garment: please report it"),
    }
}
