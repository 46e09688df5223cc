//! Each thing the machine says that is given a meaning, said by the machine itself: a release that
//! words one otherwise fails here.

use std::collections::BTreeMap;

use diag::{Code, Diagnostic};

use crate::faults::SAYINGS;
use crate::{GarmentInput, GaugeInput, Limits, Plugin, PluginSource, ScriptHost};

const MANIFEST: &str = r#"
id = "sayings"
title = "Sayings"
version = "1.0.0"
api = 1
summary = "Goes wrong."
measures = ["head_girth"]
structures = ["plain"]

[sections]
body = "Body"
"#;

/// A part of what the machine says, and a script that makes it say so.
const SAID: [(&str, &str); 26] = [
    ("stack overflow", "local function f() return 1 + f() end return f()"),
    (
        "error in error handling",
        "error(select(2, xpcall(error, function() error('again') end, 'once')), 0)",
    ),
    ("attempt to yield", "coroutine.yield()"),
    ("readonly table", "math.pi = 3"),
    ("attempt to call a nil value", "local t = {} return t.nothing()"),
    ("attempt to index nil", "local t return t.x"),
    ("attempt to index", "local n = 3 return n.x"),
    ("dead coroutine", "local once = coroutine.wrap(function() end) once() once()"),
    ("running coroutine", "coroutine.wrap(function() coroutine.close(coroutine.running()) end)()"),
    ("attempt to perform arithmetic", "return 1 + {}"),
    ("attempt to compare", "return 1 < {}"),
    ("chain too long", "local t = {} t.__index = t setmetatable(t, t) return t.x"),
    ("protected metatable", "setmetatable(input.body, {})"),
    ("out of bounds", "buffer.readu8(buffer.create(1), 5)"),
    ("non-existent bits", "bit32.extract(1, 30, 9)"),
    ("too large", "string.rep(string.rep('x', 1000), 20000000)"),
    ("overflow", "string.pack('i1', 300)"),
    ("too many results", "table.unpack({}, 1, 10000000)"),
    ("a pattern may have", "string.find('x', string.rep('a.', 600))"),
    ("too long for this pattern", "string.find(string.rep('x', 10000), string.rep('a.', 400))"),
    ("entries at most", "table.sort(table.create(100001, 1))"),
    (
        "invalid order function",
        "table.sort({ 3, 1, 2, 5, 4, 7, 6, 9, 8 }, function() return true end)",
    ),
    ("invalid argument", "string.rep({}, 1)"),
    ("missing argument", "string.rep('x')"),
    ("invalid format", "string.pack('y', 1)"),
    ("can't be a key", "local t = {} t[{}] = 1"),
];

fn fault(script: &str) -> Diagnostic {
    let init = format!("return function(input)\n{script}\nend");
    let files = BTreeMap::from([
        ("plugin.toml".to_owned(), MANIFEST.as_bytes().to_vec()),
        ("init.luau".to_owned(), init.into_bytes()),
    ]);
    let source = PluginSource { folder: "sayings".to_owned(), files };
    let plugin = Plugin::load(source, &["head_girth"]).unwrap();
    let input = GarmentInput {
        body: BTreeMap::from([("head_girth".to_owned(), 560.0)]),
        gauges: BTreeMap::from([("plain".to_owned(), GaugeInput::default())]),
        ..GarmentInput::default()
    };
    let failure = ScriptHost::new(Limits::default()).garment(&plugin, &input).unwrap_err();
    let found = failure.diagnostics();
    assert_eq!(found.iter().count(), 1, "{script}: {found}");
    found.iter().next().unwrap().clone()
}

#[test]
fn the_machine_still_says_each() {
    for (part, code, hint) in SAYINGS {
        let said: Vec<&str> =
            SAID.iter().filter(|(said, _)| *said == part).map(|(_, script)| *script).collect();
        let [script] = said[..] else { panic!("{} scripts say `{part}`", said.len()) };
        let fault = fault(script);
        assert!(fault.message.contains(part), "{script}: {}", fault.message);
        assert_eq!((fault.code, &fault.hints[..]), (code, &[hint.to_owned()][..]), "{script}");
    }
    assert_eq!(SAID.len(), SAYINGS.len());
}

#[test]
fn a_function_that_scripts_lack_is_named() {
    let fault = fault("return table.move({ 1 }, 1, 1, 2)");
    assert_eq!(fault.code, Code::ScriptError);
    assert_eq!(fault.hints, ["scripts have no `table.move`: copy in a loop, or use table.clone"]);
}

#[test]
fn what_has_no_meaning_gets_no_hint() {
    let fault = fault("error('of its own', 0)");
    assert_eq!((fault.code, fault.hints.len()), (Code::ScriptError, 0));
}

/// Text a script raises itself, so that the machine is not what says it.
#[test]
fn a_shortage_of_memory_is_told_by_its_beginning() {
    let fault = fault("error('not enough memory for this', 0)");
    assert_eq!(fault.code, Code::ScriptMemory);
}
