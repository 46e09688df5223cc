//! Attacks on what came with the second script API: ranges of decisions, ranges of edges, marks, parts that
//! loop, and parts that disagree. Each ends with its message at its line, the same one when it is run again,
//! and costs no more than a count of steps says: no clock is asked. The host then serves an honest garment.

use std::time::Duration;

use diag::{Code, Diagnostic, Diagnostics};
use knit::bed;
use script::{Limits, Plugin, ScriptFailure, ScriptHost};

use crate::hostile::{honest_garment, input};
use crate::parts::{load, manifest, part_manifest};
use crate::script_api::run_for;
use crate::support::bench;

/// What it tries, the statements or steps of it, the code and words of what is said.
type Attack = (&'static str, &'static str, Code, &'static str);

/// A host whose limits are no matter of a clock: where another limit is tried, a busy machine must not run
/// into the deadline first.
fn patient() -> ScriptHost {
    ScriptHost::new(Limits { deadline: Duration::from_secs(60), ..Limits::default() })
}

fn first(found: &Diagnostics) -> Diagnostic {
    found.iter().next().cloned().expect("a fault")
}

fn words(fault: &Diagnostic) -> String {
    format!("{}\n{}", fault.message, fault.hints.join("\n"))
}

/// A garment of the statements on line 2.
fn of_statements(statements: &str) -> String {
    format!("return function(input)\n{statements}\nreturn {{ pieces = {{}} }}\nend")
}

/// Loads a garment that is made with parts, each its `init.luau`, and runs it.
fn with_parts(init: &str, parts: &[(&str, &[(&str, &str)])]) -> Result<(), Diagnostics> {
    let plugin: Plugin = load(&[("init.luau", init)], parts)?;
    let mut host = patient();
    let ran = |host: &mut ScriptHost| match host.garment(&plugin, &input()) {
        Ok(_) => Ok(()),
        Err(ScriptFailure::Fault(found) | ScriptFailure::Refused(found)) => Err(found),
    };
    let (once, again) = (ran(&mut host), ran(&mut host));
    let told = |ran: &Result<(), Diagnostics>| ran.as_ref().err().map(first);
    assert_eq!(told(&once), told(&again), "{init}");
    honest_garment(&mut host);
    once
}

fn refused(attacks: &[Attack]) {
    let mut missed = Vec::new();
    for (name, statements, code, says) in attacks {
        let run = || with_parts(&of_statements(statements), &[]).err().map(|found| first(&found));
        let Some(fault) = run() else {
            missed.push(format!("{name}: it was let through"));
            continue;
        };
        let line = fault.place.as_ref().map(|place| place.line);
        // What a script raises itself says what it likes; the check adds a hint.
        let hinted = !fault.hints.is_empty() || fault.code == Code::ScriptError;
        let sound = fault.code == *code && words(&fault).contains(says) && hinted;
        if !sound || line != Some(2) {
            missed.push(format!("{name}: wanted {code:?} ({says}) at line 2, got {fault:#?}"));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n\n"));
}

#[test]
fn ranges_of_decisions_cost_no_more_than_is_tried() {
    refused(&[
        (
            "eight ranges whose product is past any number",
            "decide{ of = { a = { 1, 1e9 }, b = { 1, 1e9 }, c = { 1, 1e9 }, d = { 1, 1e9 }, e = { 1, 1e9 }, f = { 1, 1e9 }, g = { 1, 1e9 }, h = { 1, 1e9 } } }",
            Code::ScriptSize,
            "combinations",
        ),
        (
            "a range over all whole numbers in one step",
            "decide{ of = { n = { -9007199254740991, 9007199254740991, 9007199254740991 } }, cost = function(c) return 0/0 end }",
            Code::ScriptNumber,
            "NaN",
        ),
        (
            "a range that answers for itself by a metatable",
            "decide{ of = setmetatable({}, { __index = function() return { 1, 2 } end, __len = function() return 9 end }) }",
            Code::ScriptArguments,
            "no number",
        ),
        (
            "a cost that changes the ranges it is asked about",
            "local r = { 1, 5 } local n = 0 decide{ of = { n = r }, cost = function(c) r[2] += 1000 n += 1 c.n = 1 if n > 5 then error('tried too often') end return 1 end } error('tried ' .. n)",
            Code::ScriptError,
            "tried 5",
        ),
        (
            "numbers that follow and decide themselves",
            "local function f() return decide_count{ name = 'm', mm = 9, per = 1 } end decide{ of = { n = { may = { 1, 99 }, follows = f }, k = { 1, 2 } } }",
            Code::ScriptName,
            "`m` is decided twice",
        ),
        (
            "a name a million letters long",
            "decide{ of = { [string.rep('n', 1e6)] = { 1, 2 } } }",
            Code::ScriptName,
            "40 at most",
        ),
        (
            "a count of nothing over nothing",
            "decide_count{ name = 'n', mm = 1/0, per = 1 }",
            Code::ScriptNumber,
            "mm",
        ),
    ]);
}

/// What a fixed number costs to refuse is bounded too: so many calls of the cost, whatever the range.
#[test]
fn a_fixed_number_that_can_not_be_costs_a_bounded_search() {
    let script = "return function(input)\nlocal calls = 0\ndecide{ of = { n = { 1, 1000, may = { -1000000, 1000000 } }, m = { 1, 1000 } }, cost = function(c) calls += 1 if calls > 1200000 then error('searched without end') end return nil end }\nreturn { pieces = {} }\nend";
    let fixed = [("n".to_owned(), 5)].into();
    let Err(failure) = crate::script_api::run_fixed(2, script, fixed) else { panic!("made") };
    let fault = first(failure.diagnostics());
    assert!(!words(&fault).contains("without end"), "{fault:?}");
}

#[test]
fn edges_and_marks_that_can_not_be_are_refused_at_their_line() {
    refused(&[
        (
            "an edge moved past all numbers",
            "local e = edge{ piece = 'a', side = 'left' } for i = 1, 1e6 do e = e:after(100000) end",
            Code::ScriptNumber,
            "begin or end at 200000",
        ),
        (
            "an edge moved before its beginning",
            "edge{ piece = 'a', side = 'left', from = 3 }:shift(-9007199254740991)",
            Code::ScriptNumber,
            "counted from 0",
        ),
        (
            "a stretch longer than its edge",
            "edge{ name = 'a', from = 3, to = 9 }:slice(0, 7)",
            Code::ScriptNumber,
            "ends with it",
        ),
        (
            "the end of what has none",
            "edge{ name = 'a' }:last(3)",
            Code::ScriptMissingField,
            "edge:after",
        ),
        (
            "a mark that holds itself",
            "local m = { rows = 1 } m.name = m edge{ piece = 'a', side = 'left', from = m }",
            Code::ScriptWrongType,
            "a whole number or a mark",
        ),
        (
            "a mark that answers by a metatable",
            "edge{ piece = 'a', side = 'left', from = setmetatable({}, { __index = function() error('asked') end }) }",
            Code::ScriptWrongType,
            "a whole number or a mark",
        ),
        (
            "a mark along stitches",
            "edge{ piece = 'a', side = 'cast_on', from = mark('x') }",
            Code::ScriptWrongType,
            "a mark is a row",
        ),
        (
            "a mark moved out of sight, bit by bit",
            "local m = mark('x') while true do m = m:shift(99999) end",
            Code::ScriptNumber,
            "100000 at most",
        ),
        (
            "a stretch that ends before it begins, by a mark",
            "local m = mark('x') edge{ piece = 'a', side = 'left', from = m:shift(4), to = m }",
            Code::ScriptNumber,
            "`from` is less than `to`",
        ),
        (
            "an edge that is written to",
            "edge{ name = 'a' }.from = 7",
            Code::ScriptError,
            "readonly",
        ),
        (
            "methods taken from an edge and spoilt",
            "getmetatable(edge{ name = 'a' }).__index.first = nil",
            Code::ScriptError,
            "readonly",
        ),
        (
            "a method with another receiver",
            "edge{ name = 'a' }.first({ piece = 'a', sides = 'left' }, 3)",
            Code::ScriptUnknownField,
            "did you mean `side`?",
        ),
    ]);
}

/// Well formed and not there: the bed refuses each, and the run ends.
#[test]
fn edges_that_no_piece_has_are_refused_by_the_bed() {
    let piece = "step.cast_on{ needles = needles.centred(20), method = 'wound' }, step.mark{ name = 'low' }, step.knit{ rows = 30 }, step.cast_off()";
    for (edge, code, says) in [
        (
            "{ piece = 'body', side = 'left', from = mark('high') }",
            Code::EdgeRange,
            "`high` is not passed",
        ),
        (
            "{ piece = 'body', side = 'left', from = mark('low'):shift(-1) }",
            Code::EdgeRange,
            "-1 to 30",
        ),
        (
            "{ piece = 'body', side = 'left', from = mark('low'):shift(99) }",
            Code::EdgeRange,
            "99 to 30",
        ),
        ("{ piece = 'body', side = 'left', from = 'low', to = 99999 }", Code::EdgeRange, "30 rows"),
        ("{ piece = 'body', side = 'inner_left' }", Code::NoSuchEdge, "ends inside it"),
        (
            "{ piece = 'bodi', side = 'inner_left', from = 'low' }",
            Code::NoSuchPiece,
            "did you mean `body`?",
        ),
    ] {
        let script = format!(
            "return function(input)\nreturn {{ pieces = {{ piece{{ name = 'body', steps = {{ {piece} }} }} }},\n\
             finishing = {{ step.gather_edge{{ edge = edge{edge} }} }} }}\nend"
        );
        let garment = run_for(2, &script).unwrap_or_else(|f| panic!("{edge}: {}", f.diagnostics()));
        let bench = bench();
        let run = bed::run(&garment.program, bench.machine("standard").expect("known"));
        let fault = &run.faults.first().unwrap_or_else(|| panic!("{edge}: let through")).diagnostic;
        assert_eq!(fault.code, code, "{edge}: {fault}");
        assert!(words(fault).contains(says) && !fault.hints.is_empty(), "{edge}: {fault:?}");
    }
}

const INIT: &str = "local heel = require(\"parts/heel\")\nreturn function() return heel.made() end";

#[test]
fn parts_that_loop_end_by_what_they_use() {
    let made = |body: &str| format!("return {{ made = function()\n{body}\nend }}");
    for (name, body, code, says) in [
        (
            "one that calls itself",
            "local function f() return f() + 1 end return f()",
            Code::ScriptStack,
            "",
        ),
        (
            "one that gorges",
            "local t = {} while true do t[#t + 1] = string.rep('x', 1000) .. #t end",
            Code::ScriptMemory,
            "64 MB",
        ),
        (
            "one that hands out steps without end",
            "local t = {} for i = 1, 40 do t = { t, t } end return { pieces = { piece{ name = 'body', steps = t } } }",
            Code::ScriptNesting,
            "nested",
        ),
        (
            "one that requires for ever",
            "while true do require('parts/heel') error('it came back') end",
            Code::ScriptRequire,
            "",
        ),
        (
            "one that goes round by its caller",
            "local function again(n) local ok, why = pcall(again, n + 1) error(why, 0) end again(1)",
            Code::ScriptStack,
            "",
        ),
    ] {
        let told = with_parts(INIT, &[("heel", &[("init.luau", &made(body))])]);
        let found = told.err().unwrap_or_else(|| panic!("{name}: let through"));
        let fault = first(&found);
        assert_eq!(fault.code, code, "{name}: {fault:?}");
        assert!(words(&fault).contains(says) && !fault.hints.is_empty(), "{name}: {fault:?}");
    }
    // Modules of a part that require one another.
    let told = with_parts(
        INIT,
        &[(
            "heel",
            &[
                ("init.luau", "return require('./turn')"),
                ("turn.luau", "return require('./toe')"),
                ("toe.luau", "return require('./turn')"),
            ],
        )],
    );
    let fault = first(&told.expect_err("a ring"));
    assert_eq!(fault.code, Code::ScriptRequire, "{fault:?}");
    assert!(
        fault.place.as_ref().is_some_and(|p| p.file.ends_with("parts/heel/toe.luau")),
        "{fault:?}"
    );
}

#[test]
fn parts_that_disagree_are_told_who_wants_what() {
    let heel = "return { made = function() return { pieces = {} } end }";
    let asks = |id: &str, version: &str, of: &str| part_manifest(id, version, of);
    // Two parts want two versions of a third.
    let told = load(
        &[("init.luau", INIT), ("plugin.toml", &manifest("made", "heel = \"1\"\ntoe = \"1\"\n"))],
        &[
            (
                "heel",
                &[("init.luau", heel), ("part.toml", &asks("heel", "1.0.0", "turn = \"1\"\n"))],
            ),
            ("toe", &[("init.luau", heel), ("part.toml", &asks("toe", "1.0.0", "turn = \"2\"\n"))]),
            ("turn", &[("init.luau", heel), ("part.toml", &asks("turn", "1.4.0", ""))]),
        ],
    );
    let fault = first(&told.expect_err("one of them is not served"));
    assert_eq!(fault.code, Code::PluginPart, "{fault:?}");
    assert!(words(&fault).contains("1.4.0") && !fault.hints.is_empty(), "{fault:?}");
    assert!(
        fault.place.as_ref().is_some_and(|p| p.file.ends_with("parts/toe/part.toml")),
        "{fault:?}"
    );
    // A part of another API than the garment's.
    let older = asks("heel", "1.0.0", "").replace("api = 2", "api = 1").replace("[parts]\n", "");
    let told =
        load(&[("init.luau", INIT)], &[("heel", &[("init.luau", heel), ("part.toml", &older)])]);
    assert_eq!(first(&told.expect_err("of another API")).code, Code::PluginPart);
    // What one part puts into a shared one, another does not find there.
    let spoils =
        "local turn = require('parts/turn')\nreturn { made = function() turn.rows = 7 end }";
    let told = with_parts(
        INIT,
        &[
            (
                "heel",
                &[("init.luau", spoils), ("part.toml", &asks("heel", "1.0.0", "turn = \"1\"\n"))],
            ),
            ("turn", &[("init.luau", "return { rows = 1 }")]),
        ],
    );
    let fault = first(&told.expect_err("it is frozen"));
    assert_eq!(fault.code, Code::ScriptError, "{fault:?}");
    // Both decide a number of one name.
    let decides = "return { made = function() decide_count{ name = 'rows', mm = 9, per = 1 } return { pieces = {} } end }";
    let both = "local heel, toe = require('parts/heel'), require('parts/toe')\nreturn function() heel.made() return toe.made() end";
    let told = with_parts(
        both,
        &[("heel", &[("init.luau", decides)]), ("toe", &[("init.luau", decides)])],
    );
    let fault = first(&told.expect_err("decided twice"));
    assert_eq!(fault.code, Code::ScriptName, "{fault:?}");
    assert!(fault.message.contains("`rows` is decided twice"), "{fault:?}");
}
