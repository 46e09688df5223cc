use mlua::Value;

use diag::{Code, Diagnostic, Diagnostics};

use super::sayings::{FOLD, meaning};
use crate::code::{OUT_OF_MEMORY, PRELUDE, Sources, Spot};
use crate::values::{Raised, describe};

/// What an error that left the script means. `raised_at` is where the machine was then.
pub(crate) fn explain(value: &Value, code: &Sources, raised_at: Option<Spot>) -> Diagnostics {
    match value {
        Value::String(text) => from_message(&text.to_string_lossy(), code, raised_at),
        Value::Error(error) => explain_error(error, code, raised_at),
        other => place(
            Diagnostic::error(
                Code::ScriptError,
                format!("the script raised {} as an error", describe(other)),
            )
            .hint("raise a text: error(\"...\")"),
            code,
            raised_at,
        )
        .into(),
    }
}

/// What an error of the machine itself means.
pub(crate) fn explain_error(
    error: &mlua::Error,
    code: &Sources,
    raised_at: Option<Spot>,
) -> Diagnostics {
    // The innermost callback knows best where it was called.
    let (mut error, mut traced) = (error, None);
    while let mlua::Error::CallbackError { traceback, cause } = error {
        traced = spot_in_traceback(traceback, code).or(traced);
        error = cause;
    }
    let raised_at = traced.or(raised_at);
    match error {
        mlua::Error::ExternalError(inner) => match inner.downcast_ref::<Raised>() {
            Some(Raised(faults)) => {
                let mut placed = Diagnostics::new();
                placed.extend(faults.iter().map(|f| place(f.clone(), code, raised_at.clone())));
                placed
            }
            None => from_message(&inner.to_string(), code, raised_at),
        },
        mlua::Error::RuntimeError(message) => from_message(message, code, raised_at),
        mlua::Error::MemoryError(_) => from_message(OUT_OF_MEMORY, code, raised_at),
        other => from_message(&other.to_string(), code, raised_at),
    }
}

fn from_message(message: &str, code: &Sources, raised_at: Option<Spot>) -> Diagnostics {
    let traced = message.find("\nstack traceback:").map(|at| &message[at..]);
    let raised_at = traced.and_then(|t| spot_in_traceback(t, code)).or(raised_at);
    let message = message.split("\nstack traceback:").next().unwrap_or(message);
    let (message, named) = strip_places(message, code);
    let spot = named.or(raised_at);
    let shown: String = message.chars().take(500).collect();
    let line = spot
        .as_ref()
        .and_then(|s| code.place(&s.module, s.line))
        .map(|p| p.line_text)
        .unwrap_or_default();
    let meaning = meaning(message, &line);
    place(Diagnostic::error(meaning.code, shown).maybe_hint(meaning.hint), code, spot).into()
}

/// What is said when the limit on memory, in bytes, is reached.
pub(crate) fn memory_fault(limit: usize) -> Diagnostic {
    Diagnostic::error(
        Code::ScriptMemory,
        format!("the script uses over {} MB of memory", limit >> 20),
    )
    .hint(FOLD)
}

fn place(fault: Diagnostic, code: &Sources, spot: Option<Spot>) -> Diagnostic {
    if fault.place.is_some() {
        return fault;
    }
    match spot.and_then(|spot| code.place(&spot.module, spot.line)) {
        Some(place) => fault.at(place),
        None => fault,
    }
}

/// Takes the `module:line: ` fronts off a message. The last one that names a module of the
/// plugin is nearest to the fault.
fn strip_places<'a>(mut message: &'a str, code: &Sources) -> (&'a str, Option<Spot>) {
    let mut spot = None;
    while let Some((front, rest)) = message.split_once(": ") {
        let Some((name, line)) = front.rsplit_once(':') else { break };
        let Ok(line) = line.parse::<usize>() else { break };
        if code.modules.contains_key(name) {
            spot = Some(Spot { module: name.to_owned(), line });
        } else if name != PRELUDE {
            break;
        }
        message = rest;
    }
    (message, spot)
}

/// The first line of a traceback that lies in the plugin: `init.luau:12 function wedge`.
fn spot_in_traceback(traceback: &str, code: &Sources) -> Option<Spot> {
    traceback.lines().find_map(|text| {
        let (name, rest) = text.trim().split_once(':')?;
        let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        let line = rest[..digits].parse().ok()?;
        code.modules.contains_key(name).then(|| Spot { module: name.to_owned(), line })
    })
}
