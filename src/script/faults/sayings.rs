//! What the machine says, in its own words. It gives its errors as texts and nothing else, so this is
//! the one place that reads them; a test has the machine say each.

use diag::Code;

use crate::code::{OUT_OF_MEMORY, REMOVED};

/// What an error of the machine is, and what to do about it.
pub(super) struct Meaning {
    pub code: Code,
    pub hint: Option<String>,
}

pub(super) const FOLD: &str = "fold repeats with step.again instead of listing every row";

/// A call of what is nil: the line may name a function that scripts don't have.
const CALL_OF_NIL: &str = "attempt to call a nil value";

/// What is nil has no fields: what `decide` gives may be.
const INDEX_OF_NIL: &str = "attempt to index nil";
const NO_CHOICE: &str = "decide gives nil where no choice can be: a range is empty, or the cost is always nil; keep what it gives, and refuse the size if it is nil";

/// Parts of messages, the code and the hint: the first that is in a message counts.
pub(crate) const SAYINGS: [(&str, Code, &str); 26] = [
    ("stack overflow", Code::ScriptStack, "a function calls itself without an end"),
    ("error in error handling", Code::ScriptStack, "a function calls itself without an end"),
    (
        "attempt to yield",
        Code::ScriptError,
        "the garment function must return the garment, not yield",
    ),
    (
        "readonly table",
        Code::ScriptError,
        "libraries, `input`, steps, needles and edges can't be changed: make others, or copy what you need (table.clone)",
    ),
    (CALL_OF_NIL, Code::ScriptError, "there is no function of that name"),
    (INDEX_OF_NIL, Code::ScriptError, "what stands before the dot is nil here"),
    ("attempt to index", Code::ScriptError, "what stands before the dot is no table"),
    ("dead coroutine", Code::ScriptError, COROUTINE),
    ("running coroutine", Code::ScriptError, COROUTINE),
    ("attempt to perform arithmetic", Code::ScriptError, NOT_A_NUMBER),
    ("attempt to compare", Code::ScriptError, NOT_A_NUMBER),
    (
        "chain too long",
        Code::ScriptError,
        "the metatables lead in a ring, or through too many tables",
    ),
    ("protected metatable", Code::ScriptError, "what the host hands out keeps its metatable"),
    ("out of bounds", Code::ScriptError, BOUNDS),
    ("non-existent bits", Code::ScriptError, BOUNDS),
    ("too large", Code::ScriptError, TOO_MUCH),
    ("overflow", Code::ScriptError, TOO_MUCH),
    ("too many results", Code::ScriptError, TOO_MUCH),
    ("a pattern may have", Code::ScriptError, PLAIN_SEARCH),
    ("too long for this pattern", Code::ScriptError, PLAIN_SEARCH),
    ("entries at most", Code::ScriptError, STRICT_ORDER),
    ("invalid order function", Code::ScriptError, STRICT_ORDER),
    ("invalid argument", Code::ScriptError, CHECK_CALL),
    ("missing argument", Code::ScriptError, CHECK_CALL),
    ("invalid format", Code::ScriptError, CHECK_CALL),
    ("can't be a key", Code::ScriptError, KEYS),
];

const COROUTINE: &str = "a coroutine runs once, and can't wake or close itself";
const NOT_A_NUMBER: &str = "one of the two values is not a number: an option left on auto is nil";
const BOUNDS: &str = "count from 0, and stay below the length";
const TOO_MUCH: &str = "ask for less: no garment needs so much";
const PLAIN_SEARCH: &str = "search with string.find(text, word, 1, true), which has no such limit";
const STRICT_ORDER: &str =
    "give a strict order: function(a, b) return a < b end, over fewer entries";
const KEYS: &str = "give it a name or a number and keep the entry under that: what has none lies in no fixed order";
const CHECK_CALL: &str = "check what this call is given";

/// What `message` means. `line` is the line of the script it came from.
pub(super) fn meaning(message: &str, line: &str) -> Meaning {
    if message.starts_with(OUT_OF_MEMORY) {
        return Meaning { code: Code::ScriptMemory, hint: Some(FOLD.to_owned()) };
    }
    let Some((part, code, hint)) = SAYINGS.iter().find(|(part, ..)| message.contains(part)) else {
        return Meaning { code: Code::ScriptError, hint: None };
    };
    if *part == CALL_OF_NIL
        && let Some((name, why)) = REMOVED.iter().find(|(name, _)| line.contains(name))
    {
        let hint = format!("scripts have no `{name}`: {why}");
        return Meaning { code: Code::ScriptError, hint: Some(hint) };
    }
    let hint = match *part {
        INDEX_OF_NIL if line.contains("decide{") || line.contains("decide({") => NO_CHOICE,
        _ => hint,
    };
    Meaning { code: *code, hint: Some(hint.to_owned()) }
}
