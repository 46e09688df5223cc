//! From an error value of the virtual machine to a diagnostic at file:line.

use std::fmt;

use mlua::Value;

use diag::{Code, Diagnostic, Diagnostics};

use super::fields::describe;
use super::plugin::Sources;
use super::sandbox::{PRELUDE, REMOVED};
use super::state::Spot;

/// Diagnostics on their way through the machine as an error value.
#[derive(Debug)]
pub(super) struct Raised(pub Vec<Diagnostic>);

impl fmt::Display for Raised {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            write!(f, "{}{fault}", if at > 0 { "; " } else { "" })?;
        }
        Ok(())
    }
}

impl std::error::Error for Raised {}

pub(super) fn raise(faults: Vec<Diagnostic>) -> mlua::Error {
    mlua::Error::external(Raised(faults))
}

pub(super) fn raise_one(fault: Diagnostic) -> mlua::Error {
    raise(vec![fault])
}

/// What an error that left the script means. `raised_at` is where the machine was then.
pub(super) fn explain(value: &Value, code: &Sources, raised_at: Option<Spot>) -> Diagnostics {
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

pub(super) fn explain_error(
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

/// How the machine words it.
pub(super) const OUT_OF_MEMORY: &str = "not enough memory";

/// Whether an error that came through a callback says that memory ran out.
pub(super) fn is_shortage(error: &mlua::Error) -> bool {
    match error {
        mlua::Error::MemoryError(_) => true,
        mlua::Error::CallbackError { cause, .. } => is_shortage(cause),
        _ => false,
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
    let (kind, hint) = hint_for(message, &line);
    place(Diagnostic::error(kind, shown).maybe_hint(hint), code, spot).into()
}

pub(super) fn memory_fault(limit: usize) -> Diagnostic {
    Diagnostic::error(
        Code::ScriptMemory,
        format!("the script uses over {} MB of memory", limit >> 20),
    )
    .hint("fold repeats with step.again instead of listing every row")
}

fn hint_for(message: &str, line: &str) -> (Code, Option<String>) {
    let plain = |hint: &str| (Code::ScriptError, Some(hint.to_owned()));
    if message.starts_with(OUT_OF_MEMORY) {
        return (
            Code::ScriptMemory,
            Some("fold repeats with step.again instead of listing every row".to_owned()),
        );
    }
    if message.contains("stack overflow") || message.contains("error in error handling") {
        return (Code::ScriptStack, Some("a function calls itself without an end".to_owned()));
    }
    if message.contains("attempt to yield") {
        return plain("the garment function must return the garment, not yield");
    }
    if message.contains("readonly table") {
        return plain("libraries and `input` can't be changed: copy what you need (table.clone)");
    }
    if message.contains("attempt to call a nil value") {
        if let Some((name, why)) = REMOVED.iter().find(|(name, _)| line.contains(name)) {
            return (Code::ScriptError, Some(format!("scripts have no `{name}`: {why}")));
        }
        return plain("there is no function of that name");
    }
    if message.contains("attempt to index nil") {
        return plain("what stands before the dot is nil here");
    }
    if message.contains("attempt to index") {
        return plain("what stands before the dot is no table");
    }
    if message.contains("dead coroutine") || message.contains("running coroutine") {
        return plain("a coroutine runs once, and can't wake or close itself");
    }
    if message.contains("attempt to perform arithmetic") || message.contains("attempt to compare") {
        return plain("one of the two values is not a number: an option left on auto is nil");
    }
    if message.contains("chain too long") {
        return plain("the metatables lead in a ring, or through too many tables");
    }
    if message.contains("protected metatable") {
        return plain("what the host hands out keeps its metatable");
    }
    if message.contains("out of bounds") || message.contains("non-existent bits") {
        return plain("count from 0, and stay below the length");
    }
    if message.contains("too large")
        || message.contains("overflow")
        || message.contains("too many results")
    {
        return plain("ask for less: no garment needs so much");
    }
    if message.contains("a pattern may have") || message.contains("too long for this pattern") {
        return plain("search with string.find(text, word, 1, true), which has no such limit");
    }
    if message.contains("entries at most") || message.contains("invalid order function") {
        return plain("give a strict order: function(a, b) return a < b end, over fewer entries");
    }
    if message.contains("invalid argument")
        || message.contains("missing argument")
        || message.contains("invalid format")
    {
        return plain("check what this call is given");
    }
    (Code::ScriptError, None)
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
