//! Scripts that loop, gorge, climb out, lie or are merely wrong: each ends within its limits with
//! a diagnostic that names plugin, size, file and line, and the same host then still grades an
//! honest plugin.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use diag::{Code, Diagnostic, Diagnostics};
use knit::garment::Garment;
use script::{
    GarmentInput, GaugeInput, Limits, MachineInput, Plugin, PluginSource, ScriptFailure, ScriptHost,
};

const MANIFEST: &str = r#"
id = "hostile"
title = "Hostile"
version = "1.0.0"
api = 1
summary = "Tries things."
measures = ["head_girth"]
structures = ["plain"]

[sections]
body = "Body"

[options.wedges]
type = "integer"
min = 2
max = 24
default = "auto"
help = "How many wedges."
"#;

/// No timing is asserted but this: far above any limit, far below "for ever".
const WALL: Duration = Duration::from_secs(60);

fn source(files: &[(&str, &[u8])]) -> PluginSource {
    let mut files: BTreeMap<String, Vec<u8>> =
        files.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.to_vec())).collect();
    files.entry("plugin.toml".to_owned()).or_insert_with(|| MANIFEST.as_bytes().to_vec());
    PluginSource { folder: "plugins/hostile".to_owned(), files }
}

pub(crate) fn load(files: &[(&str, &[u8])]) -> Result<Plugin, Diagnostics> {
    Plugin::load(source(files), &["head_girth", "hand_girth"])
}

pub(crate) fn input() -> GarmentInput {
    GarmentInput {
        size_id: "adult-m".to_owned(),
        size_label: "Adult M".to_owned(),
        size_age: None,
        size_group: "adult".to_owned(),
        body: BTreeMap::from([("head_girth".to_owned(), 560.0), ("hand_girth".to_owned(), 190.0)]),
        options: BTreeMap::new(),
        fixed: BTreeMap::new(),
        gauges: BTreeMap::from([(
            "plain".to_owned(),
            GaugeInput { stitch_mm: 3.5, row_mm: 2.5, stretch: 1.6 },
        )]),
        machine: MachineInput {
            id: "standard".to_owned(),
            needles: 200,
            pitch_mm: 4.5,
            ribber: false,
        },
    }
}

const HONEST: &str = r#"
local function width(input)
  return fit.to_multiple(input.body.head_girth * 0.5 / input.gauges.plain.stitch_mm, 2)
end
return function(input)
  local n = width(input)
  return {
    pieces = {
      piece{ name = "body", steps = {
        step.cast_on{ needles = needles.centred(n), method = "wound" },
        step.again{ times = 3, steps = { step.knit{ rows = 2 }, step.mark{ name = "tick" } } },
        step.cast_off(),
      } },
    },
    counts = { { name = "ticks", marks = "tick" } },
  }
end
"#;

pub(crate) fn honest_garment(host: &mut ScriptHost) -> Garment {
    let plugin = load(&[("init.luau", HONEST.as_bytes())]).expect("honest");
    host.garment(&plugin, &input()).expect("an honest garment")
}

/// Runs `script` in `host` and gives its first fault.
pub(crate) fn fault_of(host: &mut ScriptHost, script: &str) -> Diagnostic {
    let found = match load(&[("init.luau", script.as_bytes())]) {
        Err(found) => found,
        Ok(plugin) => match host.garment(&plugin, &input()) {
            Ok(_) => panic!("it was let through:\n{script}"),
            Err(ScriptFailure::Refused(found)) => panic!("it was a refusal: {found}"),
            Err(ScriptFailure::Fault(found)) => {
                for fault in found.iter() {
                    let context = fault.context.join(", ");
                    assert!(context.contains("garment hostile 1.0.0"), "{fault:?}");
                    assert!(context.contains("size adult-m"), "{fault:?}");
                }
                found
            }
        },
    };
    found.iter().next().cloned().expect("a fault")
}

struct Case {
    name: &'static str,
    script: String,
    code: &'static str,
    line: usize,
    /// A part of the message or of a hint.
    says: &'static str,
}

fn case(
    name: &'static str,
    script: impl Into<String>,
    code: &'static str,
    line: usize,
    says: &'static str,
) -> Case {
    Case { name, script: script.into(), code, line, says }
}

/// The body of a garment function that begins on line 2.
pub(crate) fn inside(body: &str) -> String {
    format!("return function(input)\n{body}\nend\n")
}

/// A garment whose only piece has these steps, from line 3.
pub(crate) fn steps(body: &str) -> String {
    inside(&format!(
        "return {{ pieces = {{ piece{{ name = \"body\", steps = {{\n{body}\n}} }} }} }}"
    ))
}

/// A garment with one honest piece and these further fields, from line 2.
fn fields(body: &str) -> String {
    inside(&format!(
        "return {{ {body},\npieces = {{ piece{{ name = \"body\", steps = {{ step.knit() }} }} }} }}"
    ))
}

fn check(cases: Vec<Case>) {
    let mut hasty = ScriptHost::new(Limits::default());
    // Where another limit is tried, a busy machine must not run into the deadline first.
    let patient = Limits { deadline: Duration::from_secs(3), ..Limits::default() };
    let mut patient = ScriptHost::new(patient);
    let honest = honest_garment(&mut hasty);
    let mut failed = Vec::new();
    for case in cases {
        let host = if case.code == "script::deadline" { &mut hasty } else { &mut patient };
        let began = Instant::now();
        let fault = fault_of(host, &case.script);
        let took = began.elapsed();
        let said = format!("{}\n{}", fault.message, fault.hints.join("\n"));
        let at = fault.place.as_ref().map(|p| (p.file.as_str(), p.line));
        let right = took < WALL
            && fault.code.as_str() == case.code
            && at == Some(("plugins/hostile/init.luau", case.line))
            && said.contains(case.says)
            && !fault.hints.is_empty()
            && !said.contains("0x");
        if !right {
            let wanted = (case.code, case.line, case.says);
            failed.push(format!("{}: {took:?}, wanted {wanted:?}, got {fault:#?}", case.name));
        }
        assert_eq!(honest_garment(host), honest, "{}: the host is spoilt", case.name);
    }
    assert!(failed.is_empty(), "{}", failed.join("\n\n"));
}

#[test]
fn loops_without_end() {
    let deadline = "script::deadline";
    check(vec![
        case("endless loop", inside("while true do end"), deadline, 2, "200 ms"),
        case("at the top of the chunk", "while true do end\nreturn 1", deadline, 1, "loop"),
        case(
            "pcall in a loop",
            inside("while true do pcall(function()\nwhile true do end\nend) end"),
            deadline,
            3,
            "loop",
        ),
        case(
            "nested pcall",
            inside(
                "local function f() while true do pcall(f) end end\nwhile true do pcall(pcall, f) end",
            ),
            deadline,
            2,
            "loop",
        ),
        case(
            "a deadline caught and then ended in good order",
            inside(
                "pcall(function() while true do end end)\n\
                 return { pieces = { piece{ name = \"body\", steps = { step.knit() } } } }",
            ),
            deadline,
            2,
            "loop",
        ),
        case(
            "xpcall with a handler that loops",
            inside("xpcall(function() error('x') end, function() while true do end end)"),
            deadline,
            2,
            "loop",
        ),
        case(
            "an error whose __tostring loops",
            inside("error(setmetatable({}, { __tostring = function() while true do end end }))"),
            "script::error",
            2,
            "a table",
        ),
        case(
            "a loop in a coroutine",
            inside(
                "local c = coroutine.wrap(function()\nwhile true do end\nend)\nwhile true do c() end",
            ),
            deadline,
            3,
            "loop",
        ),
        case(
            "coroutines without end",
            inside(
                "while true do coroutine.resume(coroutine.create(function() while true do end end)) end",
            ),
            deadline,
            2,
            "loop",
        ),
        case(
            "__index that loops",
            inside(
                "local t = setmetatable({}, { __index = function() while true do end end })\nreturn t.x",
            ),
            deadline,
            2,
            "loop",
        ),
        case(
            "gsub with a callback that loops",
            inside("string.gsub('abc', '.', function() while true do end end)"),
            deadline,
            2,
            "loop",
        ),
        case(
            "sort with an order that loops",
            inside("table.sort({ 3, 2, 1 }, function() while true do end end)"),
            deadline,
            2,
            "loop",
        ),
        case(
            "costs without end",
            inside(
                "fit.best{ over = { { 1, 1000 }, { 1, 1000 } }, cost = function(a, b)\nfor i = 1, 1e9 do end\nreturn 1 end }",
            ),
            deadline,
            3,
            "loop",
        ),
        case(
            "a library function as cost",
            inside("while true do fit.best{ over = { { 1, 1000000 } }, cost = math.abs } end"),
            deadline,
            2,
            "loop",
        ),
    ]);
}

#[test]
fn library_calls_that_run_long() {
    let deadline = "script::deadline";
    check(vec![
        case(
            "find with a pathological pattern",
            inside("string.rep('a', 40):find(string.rep('a?', 40) .. string.rep('a', 40))"),
            deadline,
            2,
            "loop",
        ),
        case(
            "match with a pathological pattern",
            inside("return string.match(string.rep('a', 30000), '.-.-.-.-.-b')"),
            deadline,
            2,
            "loop",
        ),
        case(
            "gsub with a pathological pattern",
            inside("return string.gsub(string.rep('a', 30000), '.-.-.-b', '')"),
            deadline,
            2,
            "loop",
        ),
        case(
            "gmatch with a pathological pattern",
            inside("for _ in string.gmatch(string.rep('a', 30000), '(.-)(.-)(.-)b') do end"),
            deadline,
            2,
            "loop",
        ),
        case(
            "balanced brackets that never close",
            inside("return string.find(string.rep('(', 400000), '%b()')"),
            deadline,
            2,
            "loop",
        ),
        case(
            "plain find of the worst kind, over and over",
            inside(
                "local s = string.rep('a', 4000000)\nlocal w = string.rep('a', 2000000) .. 'b'\nwhile true do s:find(w, 1, true) end",
            ),
            deadline,
            4,
            "loop",
        ),
        case(
            "a pattern of a megabyte",
            inside("return string.match('abc', string.rep('[a]', 400000))"),
            "script::error",
            2,
            "1000 bytes",
        ),
        case(
            "a long set against a long text",
            inside(
                "return string.match(string.rep('a', 3000000), '[' .. string.rep('b', 900) .. 'a]*')",
            ),
            "script::error",
            2,
            "too long",
        ),
        case(
            "a big sort",
            inside("local t = table.create(3000000, 1)\ntable.sort(t)"),
            "script::error",
            3,
            "100000",
        ),
        case(
            "sort with an order that is none",
            inside(
                "local t = {}\nfor i = 1, 1000 do t[i] = i end\ntable.sort(t, function() return true end)",
            ),
            "script::error",
            4,
            "invalid order",
        ),
        case(
            "slow calls on long strings",
            inside("local s = string.rep('x', 3000000)\nwhile true do s = s:reverse() end"),
            "script::memory",
            3,
            "64 MB",
        ),
        case(
            "slow calls on middling strings",
            inside("local s = string.rep('x', 400000)\nwhile true do local t = s:upper() end"),
            "script::memory",
            3,
            "64 MB",
        ),
        case(
            "inserting at the front",
            inside("local t = table.create(2000000, 1)\nwhile true do table.insert(t, 1, 1) end"),
            deadline,
            3,
            "loop",
        ),
        case(
            "walking a long text by its characters",
            inside("local s = string.rep('é', 4000000)\nwhile true do utf8.len(s) end"),
            deadline,
            3,
            "loop",
        ),
        case(
            "a format as wide as a house",
            inside("return string.format('%99999999d', 1)"),
            "script::error",
            2,
            "invalid format",
        ),
        case(
            "an error as long as a book",
            inside("error({ string.rep('x', 20000000) })"),
            "script::error",
            2,
            "a table",
        ),
        case("an error that is nothing", inside("error()"), "script::error", 2, "nil"),
    ]);
}

#[test]
fn memory_without_end() {
    let memory = "script::memory";
    check(vec![
        case("giant string.rep", inside("return string.rep('x', 1000000000)"), memory, 2, "64 MB"),
        case(
            "rep of a rep",
            inside("local s = string.rep('x', 30000000)\nreturn s:rep(3)"),
            memory,
            3,
            "64 MB",
        ),
        case(
            "rep beyond any size",
            inside("return string.rep(string.rep('x', 100000), 2000000000)"),
            "script::error",
            2,
            "too large",
        ),
        case(
            "a table of a gigabyte",
            inside("local t = {}\nfor i = 1, 1e9 do t[i] = table.create(10000, i) end"),
            memory,
            3,
            "64 MB",
        ),
        case("table.create", inside("return table.create(5e6)"), memory, 2, "64 MB"),
        case(
            "table.create beyond any size",
            inside("return table.create(1e9)"),
            "script::error",
            2,
            "overflow",
        ),
        case(
            "table.create with a value",
            inside("return table.create(5e6, 'x')"),
            memory,
            2,
            "64 MB",
        ),
        case("buffer.create", inside("return buffer.create(1000000000)"), memory, 2, "64 MB"),
        case(
            "a string that doubles",
            inside("local s = 'x'\nwhile true do s = s .. s end"),
            memory,
            3,
            "64 MB",
        ),
        case(
            "concat",
            inside(
                "local t = table.create(1000, string.rep('x', 1000000))\nreturn table.concat(t, ',')",
            ),
            memory,
            3,
            "64 MB",
        ),
        case(
            "gsub that grows",
            inside("return (string.rep('x', 100000):gsub('x', string.rep('y', 100000)))"),
            memory,
            2,
            "64 MB",
        ),
        case(
            "string.pack",
            inside("return string.pack('c2000000000', '')"),
            "script::error",
            2,
            "too large",
        ),
        case(
            "caught again and again",
            inside(
                "local all = {}\nwhile true do pcall(function() all[#all + 1] = string.rep('x', 9000000 + #all) end) end",
            ),
            memory,
            3,
            "64 MB",
        ),
        case(
            "caught once and then ended in good order",
            inside(
                "pcall(string.rep, 'x', 1000000000)\n\
                 return { pieces = { piece{ name = \"body\", steps = { step.knit() } } } }",
            ),
            memory,
            2,
            "64 MB",
        ),
        case(
            "caught by a handler",
            inside("xpcall(string.rep, function() return 1 end, 'x', 1000000000)\nreturn {}"),
            memory,
            2,
            "64 MB",
        ),
        case(
            "caught by a coroutine",
            inside("coroutine.resume(coroutine.create(string.rep), 'x', 1000000000)\nreturn {}"),
            memory,
            2,
            "64 MB",
        ),
        case(
            "coroutines kept",
            inside(
                "local all = {}\nwhile true do all[#all + 1] = coroutine.create(function() end) end",
            ),
            memory,
            3,
            "64 MB",
        ),
    ]);
}

#[test]
fn recursion_without_end() {
    let stack = "script::stack";
    check(vec![
        case(
            "a function",
            inside("local function f() return 1 + f() end\nreturn f()"),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through a metamethod",
            inside(
                "local t = setmetatable({}, {})\ngetmetatable(t).__index = function(t, k) return t[k .. 'x'] end\nreturn t.x",
            ),
            stack,
            3,
            "calls itself",
        ),
        case(
            "through __tostring",
            inside(
                "local t = setmetatable({}, { __tostring = function(t) return tostring(t) end })\nreturn tostring(t)",
            ),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through __concat",
            inside(
                "local m = {}\nm.__concat = function(a, b) return a .. b end\nlocal t = setmetatable({}, m)\nreturn t .. t",
            ),
            stack,
            3,
            "calls itself",
        ),
        case(
            "through pcall",
            inside(
                "local function f() local ok, e = pcall(f) if not ok then error(e, 0) end end\nf()",
            ),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through coroutines",
            inside("local function f() coroutine.wrap(f)() end\nf()"),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through a cost",
            inside("local function f() fit.best{ over = { { 1, 2 } }, cost = f } end\nf()"),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through gsub",
            inside("local function f() string.gsub('a', 'a', f) end\nf()"),
            stack,
            2,
            "calls itself",
        ),
        case(
            "through sort",
            inside("local function f() table.sort({ 1, 2 }, f) end\nf()"),
            stack,
            2,
            "calls itself",
        ),
        case(
            "a chain of __index",
            inside(
                "local t = {}\nfor i = 1, 1000 do t = setmetatable({}, { __index = t }) end\nreturn t.x",
            ),
            "script::error",
            4,
            "__index",
        ),
        case(
            "a ring of __index",
            inside(
                "local a, b = {}, {}\nsetmetatable(a, { __index = b })\nsetmetatable(b, { __index = a })\nreturn a.x",
            ),
            "script::error",
            5,
            "__index",
        ),
        case(
            "unpack of much",
            inside("return select('#', table.unpack({}, 1, 1e7))"),
            "script::error",
            2,
            "too many results",
        ),
    ]);
}

#[test]
fn ways_out() {
    let unknown = "script::unknown_name";
    let require = "script::require";
    let error = "script::error";
    let mut cases = vec![
        case("writing to a library", inside("string.format = nil"), error, 2, "can't be changed"),
        case("writing to the API", inside("step.knit = nil"), error, 2, "can't be changed"),
        case("rawset on a library", inside("rawset(math, 'pi', 3)"), error, 2, "can't be changed"),
        case(
            "the string metatable",
            inside("getmetatable('').__index = nil"),
            error,
            2,
            "can't be changed",
        ),
        case(
            "the API's metatable",
            inside("setmetatable(step, {})"),
            error,
            2,
            "protected metatable",
        ),
        case(
            "the input's metatable",
            inside("setmetatable(input.body, nil)"),
            error,
            2,
            "protected metatable",
        ),
        case(
            "writing to the input",
            inside("input.body.head_girth = 1"),
            error,
            2,
            "can't be changed",
        ),
        case("adding to the input", inside("input.body.nose = 1"), error, 2, "can't be changed"),
        case("clearing the input", inside("table.clear(input.body)"), error, 2, "can't be changed"),
        case("a module above", inside("require('../../x')"), require, 2, "outside"),
        case("a module above, hidden", inside("require('./a/../../x')"), require, 2, "outside"),
        case("an absolute module", inside("require('/etc/passwd')"), require, 2, "outside"),
        case("an alias", inside("require('@self/x')"), require, 2, "outside"),
        case("a drive", inside("require('C:/x')"), require, 2, "outside"),
        case("a back slash", inside("require('.\\\\x')"), require, 2, "outside"),
        case("a zero byte", inside("require('./x\\0y')"), "script::text", 2, "control"),
        case("a dot name", inside("require('./.git')"), require, 2, "outside"),
        case(
            "a module that is not there",
            inside("require('./shapes')"),
            require,
            2,
            "no `shapes.luau`",
        ),
        case("init itself", inside("require('./init')"), require, 2, "no `init.luau`"),
        case("a number for a module", inside("require(7)"), "script::wrong_type", 2, "text"),
        case("math.random", inside("return math.random()"), error, 2, "same garment"),
        case("string.split", inside("return string.split('a,b', ',')"), error, 2, "gmatch"),
        case("table.move", inside("return table.move({}, 1, 1e9, 2)"), error, 2, "clone"),
        case("yield from the garment function", inside("coroutine.yield(1)"), error, 2, "yield"),
    ];
    for name in [
        "_G",
        "os",
        "io",
        "debug",
        "print",
        "load",
        "loadstring",
        "dofile",
        "loadfile",
        "getfenv",
        "setfenv",
        "newproxy",
        "collectgarbage",
        "gcinfo",
        "package",
        "integer",
        "class",
    ] {
        cases.push(case(name, inside(&format!("return {name}")), unknown, 2, name));
    }
    check(cases);
}

#[test]
fn untruths_in_the_returned_data() {
    let number = "script::number";
    let wrong = "script::wrong_type";
    let field = "script::unknown_field";
    check(vec![
        case("nothing returned", inside("return"), wrong, 1, "must return a table"),
        case("a number returned", inside("return 1"), wrong, 1, "must return a table"),
        case("no function", "return 1", "script::no_function", 1, "must return a function"),
        case("nothing at all", "local x = 1", "script::no_function", 1, "must return a function"),
        case("NaN in a step", steps("step.knit{ rows = 0/0 },"), number, 3, "NaN"),
        case("infinite rows", steps("step.knit{ rows = 1/0 },"), number, 3, "inf"),
        case("half a row", steps("step.knit{ rows = 2.5 },"), number, 3, "whole number"),
        case("1e9 rows", steps("step.knit{ rows = 1e9 },"), number, 3, "100000"),
        case("negative rows", steps("step.knit{ rows = -1 },"), number, 3, "from 0"),
        case("text for a number", steps("step.knit{ rows = \"2\" },"), wrong, 3, "whole number"),
        case(
            "repeats that multiply",
            steps(
                "step.again{ times = 100000, steps = {\nstep.again{ times = 100000, steps = { step.knit{ rows = 100000 } } } } },",
            ),
            "script::rows",
            4,
            "1000000 rows",
        ),
        case(
            "repeats without rows",
            steps(
                "step.again{ times = 100000, steps = {\nstep.again{ times = 100, steps = { step.mark{ name = \"x\" } } } } },",
            ),
            "script::steps",
            3,
            "unfolded",
        ),
        case(
            "a program of a million steps",
            inside(
                "local k = step.knit()\nlocal all = table.create(1000001, k)\n\
                 return { pieces = { piece{ name = \"body\", steps = all } } }",
            ),
            "script::steps",
            4,
            "1000000 steps",
        ),
        case(
            "a million steps, list by list",
            inside(
                "local list = table.create(1000, step.knit())\n\
                 local all = table.create(2000, step.again{ times = 1, steps = list })\n\
                 return { pieces = { piece{ name = \"body\", steps = all } } }",
            ),
            "script::steps",
            3,
            "steps",
        ),
        case("a step of its own", steps("{ op = \"knit\", rows = 0/0 },"), number, 3, "NaN"),
        case(
            "a step of its own, misspelt",
            steps("{ op = \"knit\", rwos = 2 },"),
            field,
            3,
            "did you mean `rows`?",
        ),
        case(
            "an unknown op",
            steps("{ op = \"knot\" },"),
            "script::unknown_step",
            3,
            "did you mean `knit`?",
        ),
        case("no op", steps("{ rows = 2 },"), "script::unknown_step", 1, "step.knit"),
        case("a number for a step", steps("7,"), wrong, 1, "must be a step"),
        case(
            "a misspelt field of a step",
            steps("step.knit{\nrosw = 2 },"),
            field,
            3,
            "did you mean `rows`?",
        ),
        case(
            "a misspelt step",
            steps("step.knitt{ rows = 2 },"),
            "script::unknown_name",
            3,
            "did you mean `step.knit`?",
        ),
        case(
            "a colon for a dot",
            steps("step:knit{ rows = 2 },"),
            "script::arguments",
            3,
            "not a colon",
        ),
        case(
            "a misspelt function",
            inside("\nfit.besst{}"),
            "script::unknown_name",
            3,
            "did you mean `fit.best`?",
        ),
        case(
            "a misspelt global",
            inside("\nstpe.knit()"),
            "script::unknown_name",
            3,
            "did you mean `step`?",
        ),
        case(
            "a needle that is none",
            steps("step.rehang{ edge = \"a\", needles = \"X9\" },"),
            "script::needle",
            3,
            "X9",
        ),
        case(
            "a side that is none",
            steps("step.decrease{ side = \"lef\" },"),
            "script::needle",
            3,
            "left or right",
        ),
        case(
            "hold with too much",
            steps("step.hold{ side = \"left\", count = 1, all = true },"),
            "script::conflict",
            3,
            "either",
        ),
        case(
            "waste without a name",
            steps("step.cast_on{ needles = \"L1-R1\", method = \"waste\" },"),
            "script::conflict",
            3,
            "edge",
        ),
        case(
            "a name of a megabyte",
            steps("step.mark{ name = string.rep(\"x\", 1000000) },"),
            "script::name",
            3,
            "60 at most",
        ),
        case(
            "a note of a megabyte",
            steps("step.note{ text = string.rep(\"x\", 1000000) },"),
            "script::text",
            3,
            "2000",
        ),
        case(
            "a text that is none",
            steps("step.note{ text = \"\\xff\" },"),
            "script::text",
            3,
            "UTF-8",
        ),
        case(
            "a hole in the steps",
            steps("step.knit(), nil, step.knit(),"),
            wrong,
            1,
            "must be a step",
        ),
        case(
            "a named step",
            steps("step.knit(), first = step.knit(),"),
            "script::list",
            2,
            "without gaps or names",
        ),
        case(
            "a section that is not there",
            steps("step.section{ name = \"bodi\" },"),
            "script::unknown_section",
            3,
            "did you mean `body`?",
        ),
        case(
            "a misspelt field of the garment",
            fields("finishd = {}"),
            field,
            2,
            "did you mean `finished`?",
        ),
        case(
            "a misspelt field of a measure",
            fields("finished = { { name = \"girth\",\ntraget = 5, parts = {} } }"),
            field,
            3,
            "did you mean `target`?",
        ),
        case(
            "NaN for a target",
            fields("finished = { { name = \"girth\",\ntarget = 0/0, parts = {} } }"),
            number,
            3,
            "NaN",
        ),
        case(
            "no target",
            fields("\nfinished = { { name = \"girth\", parts = {} } }"),
            "script::missing_field",
            3,
            "target",
        ),
        case(
            "a part of no piece",
            fields(
                "finished = { { name = \"girth\", target = 5,\nparts = { { piece = \"bodi\", width = true } } } }",
            ),
            "script::unknown_name",
            3,
            "did you mean `body`?",
        ),
        case(
            "a part of two kinds",
            fields(
                "finished = { { name = \"girth\", target = 5, parts = { { piece = \"body\", width = true, rows_at = \"left\" } } } }",
            ),
            "script::conflict",
            2,
            "exactly one",
        ),
        case(
            "a measure that is not declared",
            fields(
                "finished = { { name = \"girth\", target = 5, parts = {}, measure = \"hand_girth\" } }",
            ),
            "script::unknown_name",
            2,
            "hand_girth",
        ),
        case(
            "a ratio of nothing",
            fields(
                "ratios = { { name = \"slope\", of = \"a\", over = \"b\", low = 1, high = 2 } }",
            ),
            "script::unknown_name",
            2,
            "no finished measure",
        ),
        case(
            "a count of nothing",
            fields("counts = { { name = \"ticks\" } }"),
            "script::conflict",
            2,
            "exactly one",
        ),
        case(
            "two counts of one name",
            fields(
                "counts = { { name = \"ticks\", marks = \"a\" }, { name = \"ticks\", marks = \"b\" } }",
            ),
            "script::conflict",
            2,
            "two counts",
        ),
        case(
            "a thousand counts",
            inside(
                "local c = {}\nfor i = 1, 1000 do c[i] = { name = \"c\" .. i, marks = \"x\" } end\nreturn { pieces = {}, counts = c }",
            ),
            "script::size",
            4,
            "over 200",
        ),
        case(
            "a function for a caution",
            fields("cautions = { function() end }"),
            wrong,
            2,
            "a function",
        ),
        case(
            "a coroutine for pieces",
            inside("return { pieces = coroutine.create(function() end) }"),
            wrong,
            2,
            "a coroutine",
        ),
        case(
            "a buffer for a target",
            fields("finished = { { name = \"a\", parts = {}, target = buffer.create(1) } }"),
            wrong,
            2,
            "a buffer",
        ),
        case(
            "a vector for a target",
            fields("finished = { { name = \"a\", parts = {}, target = vector.one } }"),
            wrong,
            2,
            "a vector",
        ),
        case("no pieces", inside("return {}"), "script::missing_field", 1, "pieces"),
        case(
            "a repeat that holds itself",
            inside(
                "local s = { op = \"again\", times = 1 }\ns.steps = { s }\n\
                 return { pieces = { piece{ name = \"body\", steps = { s } } } }",
            ),
            "script::nesting",
            2,
            "hold itself",
        ),
        case(
            "a repeat that holds itself twice",
            inside(
                "local s = { op = \"again\", times = 1 }\ns.steps = { s, s, s, s, s, s, s, s, s, s }\n\
                 return { pieces = { piece{ name = \"body\", steps = { s } } } }",
            ),
            "script::nesting",
            2,
            "hold itself",
        ),
        case(
            "a million unknown fields",
            inside(
                "local t = { pieces = {} }\nfor i = 1, 100000 do t[\"x\" .. i] = i end\nreturn t",
            ),
            field,
            1,
            "no field",
        ),
        case(
            "an undeclared measure",
            inside("return input.body.hand_girth"),
            "script::unknown_input",
            2,
            "did you mean `head_girth`?",
        ),
        case(
            "a far measure",
            inside("return input.body.waist"),
            "script::unknown_input",
            2,
            "`measures` in plugin.toml",
        ),
        case(
            "a misspelt input",
            inside("return input.bdoy"),
            "script::unknown_input",
            2,
            "did you mean `body`?",
        ),
        case(
            "a misspelt option",
            inside("return input.options.wegdes"),
            "script::unknown_input",
            2,
            "did you mean `wedges`?",
        ),
        case(
            "a misspelt structure",
            inside("return input.gauges.rib"),
            "script::unknown_input",
            2,
            "`structures`",
        ),
        case(
            "a misspelt machine field",
            inside("return input.machine.needels"),
            "script::unknown_input",
            2,
            "did you mean `needles`?",
        ),
        case("an index of nil", inside("return input.options.wedges.x"), "script::error", 2, "nil"),
        case(
            "sums with nil",
            inside("return input.options.wedges + 1"),
            "script::error",
            2,
            "auto",
        ),
        case(
            "NaN for a cost",
            inside("fit.best{ over = { { 1, 2 } }, cost = function(a)\nreturn 0/0 end }"),
            number,
            2,
            "cost of (1) is NaN",
        ),
        case(
            "a text for a cost",
            inside("fit.best{ over = { { 1, 2 } }, cost = function(a) return 'x' end }"),
            number,
            2,
            "cost of (1)",
        ),
        case(
            "too many candidates",
            inside("fit.best{ over = { { 1, 1e5 }, { 1, 1e5 } }, cost = math.abs }"),
            "script::size",
            2,
            "narrow",
        ),
        case(
            "a range without a step",
            inside("fit.best{ over = { { 1, 2, 0 } }, cost = math.abs }"),
            number,
            2,
            "step",
        ),
        case(
            "six ranges",
            inside("fit.best{ over = { {1,1},{1,1},{1,1},{1,1},{1,1},{1,1} }, cost = math.abs }"),
            "script::size",
            2,
            "over 5",
        ),
        case("a slice beyond the end", inside("needles.slice(10, 5, 11)"), number, 2, "10 needles"),
        case(
            "too many arguments",
            inside("fit.round(1, 2)"),
            "script::arguments",
            2,
            "1 arguments",
        ),
        case(
            "warnings without end",
            inside("for i = 1, 1000 do warn('x') end"),
            "script::size",
            2,
            "warn once",
        ),
    ]);
}

#[test]
fn a_million_steps_made_one_by_one_hit_a_limit() {
    let script = inside(
        "local all = {}\nfor i = 1, 1000000 do all[i] = step.knit{ rows = 2 } end\n\
         return { pieces = { piece{ name = \"body\", steps = all } } }",
    );
    let mut host = ScriptHost::new(Limits::default());
    let fault = fault_of(&mut host, &script);
    // Which comes first depends on how fast the machine is.
    assert!(["script::deadline", "script::memory"].contains(&fault.code.as_str()), "{fault:?}");
    assert_eq!(fault.place.as_ref().map(|p| p.line), Some(3));
    honest_garment(&mut host);
}

#[test]
fn the_memory_limit_has_room_for_any_honest_program() {
    let script = inside(
        "local all = {}\nfor i = 1, 100000 do all[i] = step.knit{ rows = 2 } end\n\
         return { pieces = { piece{ name = \"body\", steps = all } } }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let patient = Limits { deadline: Duration::from_secs(60), ..Limits::default() };
    let garment = ScriptHost::new(patient).garment(&plugin, &input()).expect("100,000 steps");
    assert_eq!(garment.program.pieces[0].steps.len(), 100_000);
}

#[test]
fn a_long_chain_of_modules_fits_on_the_stack() {
    let modules: Vec<(String, String)> = (1..63)
        .map(|i| (format!("m{i}.luau"), format!("return require('./m{}')", i + 1)))
        .chain([("m63.luau".to_owned(), "return 7".to_owned())])
        .collect();
    let mut files: Vec<(&str, &[u8])> =
        modules.iter().map(|(name, text)| (name.as_str(), text.as_bytes())).collect();
    let init = inside("assert(require('./m1') == 7)\nreturn { pieces = {} }");
    files.push(("init.luau", init.as_bytes()));
    let plugin = load(&files).expect("64 modules");
    let outcome = ScriptHost::new(Limits::default()).garment(&plugin, &input());
    assert!(outcome.is_ok(), "{outcome:?}");
    files.push(("one_more.luau", b"return 1"));
    assert_eq!(
        load(&files).expect_err("65").iter().next().map(|f| f.code.as_str()),
        Some("script::size")
    );
}

#[test]
fn plugins_are_shared_between_threads_and_give_the_same_everywhere() {
    fn shared<T: Send + Sync + Clone>(_: &T) {}
    let script = inside(
        "local steps, names = {}, { one = 1, two = 2, three = 3, [4] = 4, [0.5] = 5, [true] = 6 }
        for name, value in pairs(names) do
          table.insert(steps, step.note{ text = tostring(name) .. value })
        end
        return { pieces = { piece{ name = \"body\", steps = steps } } }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    shared(&plugin);
    let run = || ScriptHost::new(Limits::default()).garment(&plugin, &input()).expect("a garment");
    let garments: Vec<Garment> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..4).map(|_| scope.spawn(run)).collect();
        threads.into_iter().map(|t| t.join().expect("no panic")).collect()
    });
    assert!(garments.iter().all(|garment| *garment == garments[0]));
}

#[test]
fn metamethods_of_returned_data_never_run() {
    let script = inside(
        "local trap = { __index = function() while true do end end,
          __len = function() while true do end end, __iter = function() while true do end end,
          __tostring = function() while true do end end, __eq = function() while true do end end }
        local function set(t) return setmetatable(t, trap) end
        return set{ pieces = set{ set{ name = \"body\", section = \"body\",
          steps = set{ set{ op = \"knit\", rows = 2 } } } }, counts = set{} }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let mut host = ScriptHost::new(Limits::default());
    let garment = host.garment(&plugin, &input()).expect("raw access sees plain data");
    assert_eq!(garment.program.pieces[0].steps[0].line, 0);
}

#[test]
fn refuse_is_not_a_fault_and_cannot_be_caught() {
    let script = inside(
        "pcall(function()\nrefuse{ reason = \"The bed is too short.\", hints = { \"Take a longer bed.\" } }\nend)\nwhile true do end",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let mut host = ScriptHost::new(Limits::default());
    let Err(ScriptFailure::Refused(found)) = host.garment(&plugin, &input()) else {
        panic!("it was to be refused");
    };
    let fault = found.iter().next().expect("a reason");
    assert_eq!(fault.code, Code::ScriptRefused);
    assert_eq!(fault.message, "The bed is too short.");
    assert_eq!(fault.hints, ["Take a longer bed."]);
    assert_eq!(fault.place.as_ref().map(|p| p.line), Some(3));
    honest_garment(&mut host);
}

#[test]
fn one_size_does_not_leak_into_the_next() {
    let script = "local shared = require(\"./shared\")\n\
        count = rawget(shared, \"count\") or 0\n\
        shared.count = count + 1\n\
        local calls = 0\n\
        return function(input)\n\
          calls += 1\n\
          warn(calls .. \" \" .. shared.count)\n\
          return { pieces = {} }\n\
        end\n";
    let plugin = load(&[("init.luau", script.as_bytes()), ("shared.luau", b"return {}")])
        .expect("it compiles");
    let mut host = ScriptHost::new(Limits::default());
    for _ in 0..3 {
        let garment = host.garment(&plugin, &input()).expect("a garment");
        assert_eq!(garment.warnings, ["1 1"]);
    }
}

#[test]
fn no_address_reaches_a_script() {
    let script = inside(
        "local t, f = {}, function() end
        local c = coroutine.create(f)
        local seen = { tostring(t), tostring(f), tostring(c), tostring(buffer.create(1)),
          string.format(\"%s %s %*\", t, f, c), `{t} {f}`, (\"%s\"):format(t),
          tostring(input), tostring(step), tostring(step.knit) }
        local _, e = pcall(step.knit, { rows = t })
        seen[#seen + 1] = tostring(e)
        local _, e = pcall(function() return t + 1 end)
        seen[#seen + 1] = tostring(e)
        for _, text in seen do warn(text) end
        return { pieces = {} }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let garment = ScriptHost::new(Limits::default()).garment(&plugin, &input()).expect("a garment");
    assert_eq!(garment.warnings[0], "table");
    assert_eq!(garment.warnings[4], "table function thread");
    assert_eq!(garment.warnings[5], "table function");
    for text in &garment.warnings {
        assert!(!text.contains("0x"), "{text}");
    }
}

#[test]
fn library_stand_ins_behave_like_the_originals() {
    let script = inside(
        "local function same(got, ...)
          local want = table.pack(...)
          assert(#got == #want, #got .. \" results\")
          for i = 1, want.n do assert(got[i] == want[i], tostring(got[i])) end
        end
        same({ string.find(\"hello\", \"l\") }, 3, 3)
        same({ (\"hello\"):find(\"l\", 4) }, 4, 4)
        same({ (\"a.b\"):find(\".\", 1, true) }, 2, 2)
        same({ (\"a.b\"):find(\"%.\") }, 2, 2)
        same({ (\"key=value\"):find(\"(%w+)=(%w+)\") }, 1, 9, \"key\", \"value\")
        assert(select(\"#\", string.find(\"a\", \"z\")) == 1)
        assert(select(\"#\", string.find(\"a\", \"z\", 1, true)) == 1)
        same({ string.find(123, 2) }, 2, 2)
        same({ (\"abc\"):match(\"(a)(b)\") }, \"a\", \"b\")
        same({ (\"abc\"):gsub(\"%w\", \"%0%0\") }, \"aabbcc\", 3)
        same({ (\"abc\"):gsub(\"b\", { b = \"x\" }) }, \"axc\", 1)
        same({ pcall(function(...) return ... end, 1, nil, 3) }, true, 1, nil, 3)
        same({ pcall(error, \"x\", 0) }, false, \"x\")
        same({ xpcall(error, function(e) return e .. \"!\" end, \"x\", 0) }, false, \"x!\")
        same({ coroutine.resume(coroutine.create(function() return coroutine.yield(7) end)) }, true, 7)
        local inner = coroutine.wrap(function() pcall(function() coroutine.yield(1) end) return 2 end)
        same({ inner(), inner() }, 1, 2)
        assert(tostring(nil) == \"nil\" and tostring(1.5) == \"1.5\" and tostring(true) == \"true\")
        assert(not pcall(tostring))
        assert(string.format(\"%d %5.2f %s %q\", 3, 1.5, \"x\", \"y\") == \"3  1.50 x \\\"y\\\"\")
        local t = { 3, 1, 2 }
        table.sort(t)
        same(t, 1, 2, 3)
        table.sort(t, function(a, b) return a > b end)
        same(t, 3, 2, 1)
        return { pieces = {} }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let outcome = ScriptHost::new(Limits::default()).garment(&plugin, &input());
    assert!(outcome.is_ok(), "{}", outcome.expect_err("a failure").diagnostics());
}

#[test]
fn modules_are_run_once_and_named_in_faults() {
    let mut host = ScriptHost::new(Limits::default());
    let mut run = |init: &str, shapes: &str| {
        let files = [
            ("init.luau", init.as_bytes()),
            ("shapes.luau", shapes.as_bytes()),
            ("parts/a.luau", b"return require('./b')" as &[u8]),
            ("parts/b.luau", b"return 7"),
        ];
        match load(&files) {
            Err(found) => Err(ScriptFailure::Fault(found)),
            Ok(plugin) => host.garment(&plugin, &input()),
        }
    };
    let init = "local a, b = require('./shapes'), require('./shapes')\n\
        return function() assert(a == b and require('./parts/a') == 7) return { pieces = {} } end";
    run(init, "return {}").expect("a garment");
    for (shapes, code, line) in [
        ("\nreturn 1 +", "script::compile", 2),
        ("\nerror('no')", "script::error", 2),
        ("\nreturn { f = nope }", "script::unknown_name", 2),
        ("\nreturn require('./shapes')", "script::require", 2),
        ("\nwhile true do end", "script::deadline", 2),
    ] {
        let Err(ScriptFailure::Fault(found)) = run(init, shapes) else { panic!("{shapes}") };
        let fault = found.iter().next().expect("a fault");
        assert_eq!(fault.code.as_str(), code, "{fault:?}");
        let place = fault.place.as_ref().expect("a place");
        assert_eq!(
            (place.file.as_str(), place.line),
            ("plugins/hostile/shapes.luau", line),
            "{fault:?}"
        );
    }
    let Err(ScriptFailure::Fault(found)) = run(init, "local x = 1") else { panic!("no value") };
    let fault = found.iter().next().expect("a fault");
    assert!(fault.message.contains("must return one value"), "{fault:?}");
    assert_eq!(fault.place.as_ref().map(|p| p.line), Some(1));
}

#[test]
fn sources_that_are_refused_before_they_are_compiled() {
    let refused = |files: &[(&str, &[u8])]| {
        let found = load(files).expect_err("refused");
        let fault = found.iter().next().cloned().expect("a fault");
        assert!(!fault.hints.is_empty(), "{fault:?}");
        (
            fault.code.as_str(),
            fault.place.map(|p| format!("{}:{}", p.file, p.line)).unwrap_or_default(),
        )
    };
    let at = |line: usize| format!("plugins/hostile/init.luau:{line}");
    let large = format!("{}return 1", "-- filler\n".repeat(30_000));
    assert!(large.len() > 256 * 1024);
    assert_eq!(refused(&[("init.luau", large.as_bytes())]), ("script::size", at(1)));
    assert_eq!(refused(&[("init.luau", b"\x06\x03abc")]), ("script::binary", at(1)));
    assert_eq!(refused(&[("init.luau", b"\x1bLua")]), ("script::binary", at(1)));
    assert_eq!(refused(&[("init.luau", b"return 1\0")]), ("script::binary", at(1)));
    assert_eq!(refused(&[("init.luau", b"\n\nlocal x = '\xff'")]), ("script::utf8", at(3)));
    assert_eq!(refused(&[("init.luau", b"\nreturn function(")]), ("script::compile", at(2)));
    assert_eq!(refused(&[]), ("plugin::missing", String::new()));
    assert_eq!(
        refused(&[("init.luau", HONEST.as_bytes()), ("Bad Name.luau", b"return 1")]).0,
        "script::require"
    );
}

#[test]
fn sources_that_are_hard_on_a_compiler() {
    let deep = 80_000;
    let wide = 12_000;
    let sources = [
        format!("return {}1{}", "(".repeat(deep), ")".repeat(deep)),
        format!("return {}1{}", "{".repeat(deep), "}".repeat(deep)),
        format!("return {}1", "-".repeat(deep).replace("--", "- ")),
        format!("return {}true", "not ".repeat(50_000)),
        format!("return 'a'{}", "..'a'".repeat(40_000)),
        format!("return 1{}", "+1".repeat(deep)),
        format!("return 1{}", "^1".repeat(deep)),
        format!("return f{}", "()".repeat(deep)),
        format!("return f{}", ".a".repeat(deep)),
        format!("{}{}", "do ".repeat(30_000), "end ".repeat(30_000)),
        format!("{}{}", "while true do ".repeat(10_000), "end ".repeat(10_000)),
        format!("if a then {} end", "elseif a then ".repeat(wide)),
        format!(
            "return {}1{}",
            "function() return ".repeat(wide - 1000),
            " end".repeat(wide - 1000)
        ),
        format!("local x: {}number", "{".repeat(deep)),
        format!("local x: number{}", "|number".repeat(30_000)),
        format!("return {}", "`{".repeat(deep)),
        format!("local a = '{}'\n{}", "x".repeat(2000), "local a = a .. a\n".repeat(150)),
        "local a = 1\n".repeat(20_000),
        format!("return {{ {} }}", "1,".repeat(deep)),
        format!(
            "--!optimize 2\nlocal function f(x) return x * x end\n{}",
            "for i = 1, 100 do f(f(f(i))) end\n".repeat(6_000)
        ),
    ];
    for source in sources {
        assert!(source.len() <= 256 * 1024, "{} {}", source.len(), &source[..40.min(source.len())]);
        let began = Instant::now();
        let _ = load(&[("init.luau", source.as_bytes())]);
        let took = began.elapsed();
        assert!(took < WALL, "{took:?} for {}", &source[..40.min(source.len())]);
    }
}

#[test]
fn manifests_are_checked_before_any_code() {
    let load_manifest = |manifest: &str| {
        load(&[("plugin.toml", manifest.as_bytes()), ("init.luau", b"while true do end")])
    };
    for (api, says) in [
        ("api = 3", "newer than the 2 known here"),
        ("api = 999999999999", "newer than"),
        ("api = 0", "never was"),
        ("api = -1", "never was"),
    ] {
        let found = load_manifest(&MANIFEST.replace("api = 1", api)).expect_err("refused");
        let faults: Vec<_> = found.iter().collect();
        assert_eq!(faults.len(), 1, "one clear sentence: {found}");
        assert_eq!(faults[0].code, Code::PluginApi);
        assert!(faults[0].message.contains(says), "{}", faults[0].message);
        let place = faults[0].place.as_ref().expect("a place");
        assert_eq!((place.file.as_str(), place.line), ("plugins/hostile/plugin.toml", 5));
    }
    let manifest = MANIFEST
        .replace("title", "titel")
        .replace("\"head_girth\"", "\"head_grith\"")
        .replace("\"plain\"", "\"plian\"")
        .replace("max = 24", "max = 1")
        .replace("1.0.0", "one");
    let found = load_manifest(&manifest).expect_err("refused");
    let lines: Vec<(usize, String)> = found
        .iter()
        .map(|f| {
            (
                f.place.as_ref().map_or(0, |p| p.line),
                format!("{}; {}", f.message, f.hints.join("; ")),
            )
        })
        .collect();
    for (line, says) in [
        (3, "did you mean `title`?"),
        (4, "`one` is not a version"),
        (7, "did you mean `head_girth`?"),
        (8, "did you mean `plain`?"),
        (13, "`min` above `max`"),
    ] {
        assert!(
            lines.iter().any(|(at, said)| *at == line && said.contains(says)),
            "{line} {says}: {lines:#?}"
        );
    }
    // A key that is misspelt is not missing as well; one that is not there is.
    assert!(lines.iter().all(|(_, said)| !said.contains("has no `title`")), "{lines:#?}");
    let found = load_manifest(&MANIFEST.replace("title = \"Hostile\"\n", "")).expect_err("refused");
    let fault = found.iter().next().expect("a fault");
    assert_eq!(fault.message, "plugin.toml has no `title`");
    assert_eq!(fault.place.as_ref().map(|place| place.line), Some(1));
}

#[test]
fn options_are_read_all_at_once() {
    let manifest = format!(
        "{MANIFEST}\n[options.ease]\ntype = \"percent\"\nmin = -20\nmax = 20\ndefault = -8\nhelp = \"Ease.\"\n\
         [options.brim]\ntype = \"length\"\nmin = \"2 cm\"\nmax = \"10 cm\"\ndefault = \"5 cm\"\nhelp = \"Brim.\"\n\
         [options.top]\ntype = \"choice\"\nof = [\"round\", \"flat\"]\ndefault = \"round\"\nhelp = \"Top.\"\n\
         [options.lined]\ntype = \"flag\"\ndefault = false\nhelp = \"Lined.\"\n"
    );
    let plugin = load(&[("plugin.toml", manifest.as_bytes()), ("init.luau", HONEST.as_bytes())])
        .expect("a good manifest");
    let options = &plugin.manifest.options;
    let names: Vec<_> = options.iter().map(|o| o.name.as_str()).collect();
    assert_eq!(names, ["wedges", "ease", "brim", "top", "lined"], "as in the file");
    let parse = |given: &[(&str, &str)]| {
        let given: Vec<_> = given.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        plugin.manifest.parse_options(&given)
    };
    let defaults = parse(&[]).expect("defaults");
    assert_eq!(defaults.options.keys().collect::<Vec<_>>(), ["brim", "ease", "lined", "top"]);
    let script = inside(
        "local o = input.options
        assert(o.wedges == nil and o.ease == -0.08 and o.brim == 50 and o.top == \"flat\" and o.lined)
        return { pieces = {} }",
    );
    let plugin = load(&[("plugin.toml", manifest.as_bytes()), ("init.luau", script.as_bytes())])
        .expect("it compiles");
    let options = parse(&[("wedges", "auto"), ("top", "flat"), ("lined", "yes"), ("ease", "-8 %")])
        .expect("good options")
        .options;
    let outcome =
        ScriptHost::new(Limits::default()).garment(&plugin, &GarmentInput { options, ..input() });
    assert!(outcome.is_ok(), "{outcome:?}");
    let found = parse(&[
        ("wegdes", "8"),
        ("wedges", "99"),
        ("ease", "99"),
        ("brim", "5"),
        ("top", "flta"),
        ("lined", "maybe"),
        ("top", "flat"),
        ("lined", "auto"),
    ])
    .expect_err("faults");
    let said: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 8, "{said:#?}");
    for (at, says) in [
        (0, "did you mean `wedges`?"),
        (1, "a whole number from 2 to 24"),
        (2, "from -20 % to 20 %"),
        (3, "no unit"),
        (4, "did you mean `flat`?"),
        (5, "yes or no"),
        (6, "given twice"),
        (7, "given twice"),
    ] {
        assert!(said[at].contains(says), "{}", said[at]);
    }
}

#[test]
fn a_body_or_a_gauge_that_is_missing_is_said_so() {
    let plugin = load(&[("init.luau", HONEST.as_bytes())]).expect("honest");
    let mut host = ScriptHost::new(Limits::default());
    for (input, code) in [
        (GarmentInput { body: BTreeMap::new(), ..input() }, "script::measure"),
        (GarmentInput { gauges: BTreeMap::new(), ..input() }, "script::gauge"),
    ] {
        let Err(ScriptFailure::Fault(found)) = host.garment(&plugin, &input) else { panic!() };
        assert_eq!(found.iter().next().map(|f| f.code.as_str()), Some(code));
    }
    honest_garment(&mut host);
}

#[test]
fn steps_remember_their_line_in_init() {
    let init = "local shapes = require('./shapes')\nlocal function twice()\n  return step.knit{ rows = 2 }\nend\n\
        return function(input)\n  return { pieces = { piece{ name = \"body\", steps = {\n    twice(),\n    shapes.thrice(),\n    step.wrap(),\n  } } } }\nend\n";
    let shapes = "return { thrice = function() return step.knit{ rows = 3 } end }";
    let plugin = load(&[("init.luau", init.as_bytes()), ("shapes.luau", shapes.as_bytes())])
        .expect("it compiles");
    let garment = ScriptHost::new(Limits::default()).garment(&plugin, &input()).expect("a garment");
    let lines: Vec<u32> = garment.program.pieces[0].steps.iter().map(|s| s.line).collect();
    assert_eq!(lines, [3, 8, 9]);
    let place = plugin.place(9).expect("a place");
    assert_eq!(place.to_string(), "plugins/hostile/init.luau:9:5");
    assert_eq!(plugin.place(0), None);
}

/// A weak table shows when rubbish was collected, and that goes by the clock and by what ran before:
/// so nothing is collected within a call.
#[test]
fn a_weak_table_is_no_clock() {
    let mut host = ScriptHost::new(Limits::default());
    let script = inside(
        "local w = setmetatable({}, { __mode = 'v' }) w[1] = {}\nlocal n = 0\n\
         while w[1] and n < 20000 do local j = { n } n += 1 end\nerror('seen after ' .. n)",
    );
    for _ in 0..5 {
        let fault = fault_of(&mut host, &script);
        assert!(fault.message.contains("seen after 20000"), "{}", fault.message);
    }
}
