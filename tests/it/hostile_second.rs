//! A second round of scripts that mean harm: each ends by a limit of the host with a diagnostic at
//! a line, the same one when it is run again, and the host still serves an honest plugin.

use std::time::Duration;

use diag::Diagnostic;
use knit::garment::Garment;
use knit::program::Action;
use script::{Limits, ScriptFailure, ScriptHost};

use crate::hostile::{fault_of, honest_garment, input, inside, load, steps};

/// What it tries, the script, the code, the line in init.luau and words of what is said.
type Case = (&'static str, String, &'static str, usize, &'static str);

const DEADLINE: &str = "script::deadline";
const MEMORY: &str = "script::memory";
const STACK: &str = "script::stack";
const ERROR: &str = "script::error";

/// Where another limit is tried, a busy machine must not run into the deadline first.
fn patient() -> ScriptHost {
    ScriptHost::new(Limits { deadline: Duration::from_secs(20), ..Limits::default() })
}

fn hasty() -> ScriptHost {
    ScriptHost::new(Limits { deadline: Duration::from_millis(50), ..Limits::default() })
}

fn check(cases: Vec<Case>) {
    check_in(patient(), cases);
}

fn check_in(mut patient: ScriptHost, cases: Vec<Case>) {
    let mut hasty = hasty();
    let mut failed = Vec::new();
    for (name, script, code, line, words) in cases {
        let host = if code == DEADLINE { &mut hasty } else { &mut patient };
        let first = fault_of(host, &script);
        let second = fault_of(host, &script);
        let shown = |fault: &Diagnostic| format!("{}\n{}", fault.message, fault.hints.join("\n"));
        let at = first.place.as_ref().map(|place| place.line);
        if first.code.as_str() != code
            || at != Some(line)
            || !shown(&first).contains(words)
            || first.hints.is_empty()
            || first != second
        {
            failed.push(format!("{name}: wanted {code} at {line} ({words}), got {first:#?}"));
        }
        honest_garment(host);
    }
    assert!(failed.is_empty(), "{}", failed.join("\n\n"));
}

/// Runs what must come to a garment, in two hosts, and gives what it warned of.
fn warned(files: &[(&str, &[u8])]) -> Vec<String> {
    let plugin = load(files).expect("it compiles");
    let run = || {
        let made = patient().garment(&plugin, &input());
        made.unwrap_or_else(|failure| panic!("{}", failure.diagnostics()))
    };
    let (first, second): (Garment, Garment) = (run(), run());
    assert_eq!(first, second);
    first.warnings
}

/// `body` of a garment function that warns, and then returns an empty garment.
fn telling(body: &str) -> String {
    inside(&format!("{body}\nreturn {{ pieces = {{}} }}"))
}

#[test]
fn a_shortage_of_memory_cannot_be_caught_in_disguise() {
    let gorge = "string.rep('x', 1000000000)";
    let end = "return { pieces = {} }";
    check(vec![
        (
            "in a wrapped coroutine",
            inside(&format!("pcall(coroutine.wrap(function() {gorge} end))\n{end}")),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in a wrapped coroutine inside another",
            inside(&format!(
                "pcall(coroutine.wrap(function() coroutine.wrap(function() {gorge} end)() end))\n{end}"
            )),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in a generator of a loop",
            inside(&format!(
                "pcall(function() for _ in coroutine.wrap(function() {gorge} end) do end end)\n{end}"
            )),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in a cost",
            inside(&format!(
                "pcall(fit.best, {{ over = {{ {{ 1, 2 }} }}, cost = function() {gorge} end }})\n{end}"
            )),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in an order",
            inside(&format!("pcall(table.sort, {{ 1, 2 }}, function() {gorge} end)\n{end}")),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in a replacement",
            inside(&format!("pcall(string.gsub, 'a', 'a', function() {gorge} end)\n{end}")),
            MEMORY,
            2,
            "64 MB",
        ),
        (
            "in a metamethod",
            inside(&format!(
                "local t = setmetatable({{}}, {{ __tostring = function() {gorge} end }})\npcall(tostring, t)\n{end}"
            )),
            MEMORY,
            3,
            "64 MB",
        ),
        (
            "by the handler itself",
            inside(&format!(
                "pcall(xpcall, error, function() {gorge} end)\npcall(buffer.create, 1000000000)\n{end}"
            )),
            MEMORY,
            3,
            "64 MB",
        ),
    ]);
    // In a module that a pcall requires.
    let init = inside(&format!("pcall(require, './gorge')\n{end}"));
    let plugin = load(&[("init.luau", init.as_bytes()), ("gorge.luau", gorge.as_bytes())]);
    let plugin = plugin.or_else(|_| {
        let module = format!("local x = {gorge}\nreturn x");
        load(&[("init.luau", init.as_bytes()), ("gorge.luau", module.as_bytes())])
    });
    let Err(ScriptFailure::Fault(found)) =
        patient().garment(&plugin.expect("it compiles"), &input())
    else {
        panic!("it was let through");
    };
    assert_eq!(found.iter().next().map(|fault| fault.code.as_str()), Some(MEMORY), "{found}");
}

#[test]
fn a_deadline_cannot_be_caught_in_disguise() {
    let spin = "while true do end";
    let end = "return { pieces = {} }";
    check(
        [
            ("a wrapped coroutine", format!("pcall(coroutine.wrap(function() {spin} end))")),
            (
                "a coroutine closed over it",
                format!("local c = coroutine.create(function() {spin} end) coroutine.resume(c) pcall(coroutine.close, c)"),
            ),
            ("an order", format!("pcall(table.sort, {{ 1, 2 }}, function() {spin} end)")),
            ("a replacement", format!("pcall(string.gsub, 'a', 'a', function() {spin} end)")),
            (
                "a cost",
                format!("pcall(fit.best, {{ over = {{ {{ 1, 2 }} }}, cost = function() {spin} end }})"),
            ),
            (
                "a handler that goes on",
                format!("xpcall(function() {spin} end, function() {spin} end)"),
            ),
            (
                "a handler that fails",
                format!("while true do xpcall(function() {spin} end, function(e) error(e) end) end"),
            ),
            (
                "an iterator",
                format!("pcall(function() for _ in setmetatable({{}}, {{ __iter = function() {spin} end }}) do end end)"),
            ),
            (
                "a call, a length, a comparison",
                format!(
                    "local t = setmetatable({{}}, {{ __call = function() {spin} end, __len = function() {spin} end, __lt = function() {spin} end }}) pcall(t) pcall(function() return #t end) pcall(function() return t < t end)"
                ),
            ),
            (
                "an overflow caught and begun again",
                "local function f() pcall(f) f() end while true do pcall(f) end".to_owned(),
            ),
        ]
        .into_iter()
        .map(|(name, body)| (name, inside(&format!("{body}\n{end}")), DEADLINE, 2, "loop"))
        .collect(),
    );
}

#[test]
fn library_calls_that_take_their_time() {
    check(
        [
            ("nothing, two thousand million times", "while true do string.rep('', 2147483647) end"),
            ("a number of megabytes", "local s = string.rep('9', 8000000) while true do tonumber(s) end"),
            ("a number to base 2", "local s = string.rep('1', 8000000) while true do tonumber(s, 2) end"),
            ("a sum of texts", "local s = string.rep('9', 8000000) while true do local x = s + 1 end"),
            ("joining nothing", "local t = table.create(2000000, '') while true do table.concat(t) end"),
            ("looking for what is not there", "local t = table.create(2000000, 1) while true do table.find(t, 2) end"),
            ("the greatest key", "local t = table.create(2000000, 1) while true do table.maxn(t) end"),
            ("taking from the front", "local t = table.create(2000000, 1) while true do table.remove(t, 1) t[#t + 1] = 1 end"),
            ("filling a buffer", "local b = buffer.create(30000000) while true do buffer.fill(b, 0, 1) end"),
            ("copying a buffer", "local b = buffer.create(30000000) while true do buffer.copy(b, 1, b, 0, 29999999) end"),
            ("comparing long texts", "local s = string.rep('x', 8000000) local a, b = s .. 'a', s .. 'b' while true do local x = a < b end"),
            ("walking by a library function", "local t = table.create(2000000, 1) while true do table.foreachi(t, type) end"),
            ("counting letters backwards", "local s = string.rep('é', 4000000) while true do utf8.offset(s, -3999999) end"),
            ("sorting by a library function", "local t = {} for i = 1, 50000 do t[i] = i end while true do pcall(table.sort, t, rawequal) end"),
            ("packing", "while true do string.pack(string.rep('i8', 100), table.unpack(table.create(100, 1))) end"),
            ("clearing a large table", "local t = table.create(2000000, 1) while true do table.clear(t) end"),
        ]
        .into_iter()
        .map(|(name, body)| (name, inside(&format!("{body}\nreturn {{}}")), DEADLINE, 2, "loop"))
        .collect(),
    );
}

#[test]
fn memory_by_other_roads() {
    // Less than the default: filling it takes the test's time.
    let limits =
        Limits { memory: 16 << 20, deadline: Duration::from_secs(20), ..Limits::default() };
    check_in(
        ScriptHost::new(limits),
        [
            ("buffers kept", "local all = {} while true do all[#all + 1] = buffer.create(100000) end"),
            ("a buffer as text", "local b = buffer.create(45000000) local s = buffer.tostring(b)"),
            ("a text as a buffer", "local s = string.rep('x', 45000000) local b = buffer.fromstring(s)"),
            ("a wide format", "local s = string.rep('x', 1000000) local all = {} while true do all[#all + 1] = string.format('%s%d', s, #all) end"),
            ("more and more arguments", "local function f(...) return f(1, ...) end f()"),
            ("closures kept", "local all = {} while true do local n = #all all[n + 1] = function() return n end end"),
            ("vectors as keys", "local t, i = {}, 0 while true do i += 1 t[vector.create(i, i, i)] = i end"),
            ("clones of clones", "local t = table.create(1000000, 1) local all = {} while true do all[#all + 1] = table.clone(t) end"),
            ("arguments kept", "local t = table.create(5000, 1) local all = {} while true do all[#all + 1] = table.pack(table.unpack(t)) end"),
            ("bytes kept", "local s = string.rep('x', 5000) local all = {} while true do all[#all + 1] = { string.byte(s, 1, -1) } end"),
            ("texts turned", "local s = string.rep('x', 1000000) local i = 0 while true do i += 1 s = (i .. s):reverse():upper() end"),
            ("steps kept", "local all = {} while true do all[#all + 1] = step.note{ text = string.rep('x', 1500) .. #all } end"),
        ]
        .into_iter()
        .map(|(name, body)| (name, inside(&format!("{body}\nreturn {{}}")), MEMORY, 2, "16 MB"))
        .collect(),
    );
}

#[test]
fn recursion_by_other_roads() {
    let words = "calls itself";
    check(
        [
            ("a comparison", "local m = {} local t, u = setmetatable({}, m), setmetatable({}, m) m.__eq = function(a, b) return a == b end return t == u"),
            ("a call", "local t = setmetatable({}, {}) getmetatable(t).__call = function(t) return 1 + t() end return t()"),
            ("a length", "local t = setmetatable({}, {}) getmetatable(t).__len = function(t) return #t end return #t"),
            ("a sign", "local t = setmetatable({}, {}) getmetatable(t).__unm = function(t) return -t end return -t"),
            ("a write", "local t = setmetatable({}, {}) getmetatable(t).__newindex = function(t, k, v) t[k] = v end t.x = 1"),
            ("two that call each other", "local f, g function f() return 1 + g() end function g() return 1 + f() end f()"),
            ("a walk through a ring", "local t = {} t.t = t local function walk(t) for _, v in t do walk(v) end end walk(t)"),
        ]
        .into_iter()
        .map(|(name, body)| (name, inside(body), STACK, 2, words))
        .collect(),
    );
}

#[test]
fn ways_out_by_other_roads() {
    let frozen = "can't be changed";
    check(
        [
            ("the table behind texts", "rawset(getmetatable('').__index, 'rep', nil)", frozen),
            ("a new method for texts", "getmetatable('').__index.steal = 1", frozen),
            ("putting into the API", "table.insert(step, 1)", frozen),
            ("clearing a library", "table.clear(math)", frozen),
            ("sorting a library", "table.sort(step, 1)", frozen),
            ("a metatable for a function", "setmetatable(step.knit, {})", "check what this call is given"),
            ("a metatable for a text", "setmetatable('', {})", "check what this call is given"),
            ("the base of all names", "rawset(getmetatable(setmetatable({}, { __index = math })).__index, 'pi', 3)", frozen),
            ("what is behind the API", "getmetatable(step).__index()", "no function of that name"),
            ("a step that was checked", "step.knit{ rows = 1 }.rows = 5", frozen),
            ("what is behind the input", "rawset(input, 'body', {})", frozen),
            ("a part of the input", "rawset(input.gauges.plain, 'stitch_mm', 1)", frozen),
            ("a size", "input.size.id = 'x'", frozen),
            ("reading past a buffer", "return buffer.readu32(buffer.create(4), 1)", "stay below"),
            ("reading before a buffer", "return buffer.readu8(buffer.create(4), -1)", "stay below"),
            ("reading far off", "return buffer.readf64(buffer.create(4), 4294967296)", "stay below"),
            ("an offset that is none", "return buffer.readu8(buffer.create(4), 0/0 + 4294967295)", "stay below"),
            ("copying past a buffer", "buffer.copy(buffer.create(4), 0, buffer.create(4), 0, 2147483647)", "stay below"),
            ("writing past a buffer", "buffer.writestring(buffer.create(4), 2, 'xyz')", "stay below"),
            ("filling past a buffer", "buffer.fill(buffer.create(4), 0, 1, 5)", "stay below"),
            ("bits past a buffer", "return buffer.readbits(buffer.create(4), 30, 32)", "stay below"),
            ("bits that are not there", "return bit32.extract(1, 40, 9)", "stay below"),
            ("a vector's part", "local v = vector.one v.x = 5", "attempt to index vector"),
            ("yielding from an order", "table.sort({ 2, 1 }, function() coroutine.yield() end)", "yield"),
            ("yielding from a replacement", "string.gsub('a', 'a', coroutine.yield)", "yield"),
            ("closing what runs", "coroutine.wrap(function() coroutine.close(coroutine.running()) end)()", "coroutine"),
            ("resuming what runs", "coroutine.wrap(function() local ok, e = coroutine.resume(coroutine.running()) error(e, 0) end)()", "resume"),
            ("waking the dead", "local f = coroutine.wrap(function() end) f() f()", "dead coroutine"),
            ("an error that is a coroutine", "error(coroutine.create(type))", "a coroutine"),
            ("an error that is a buffer", "error(buffer.create(9))", "a buffer"),
            ("an error that is a vector", "error(vector.one)", "a vector"),
            ("an error that is the input", "error(input)", "a table"),
            ("an error that answers all", "error(setmetatable({}, { __index = function() while true do end end, __concat = function() while true do end end, __metatable = 'x' }))", "a table"),
        ]
        .into_iter()
        .map(|(name, body, words)| (name, inside(body), ERROR, 2, words))
        .collect(),
    );
}

#[test]
fn returned_data_that_would_explode_later() {
    check(vec![
        (
            "one text in a million steps, in short lists",
            inside(
                "local k = step.note{ text = string.rep('x', 2000) }\nlocal list = table.create(100, k)\n\
                 local all = table.create(100, step.again{ times = 1, steps = list })\n\
                 local top = table.create(90, step.again{ times = 1, steps = all })\n\
                 return { pieces = { piece{ name = \"body\", steps = top } } }",
            ),
            "script::text",
            2,
            "MB of text",
        ),
        (
            "ops as long as the memory",
            inside(
                "local op = string.rep('k', 30000000)\nlocal list = table.create(19, { op = op })\n\
                 return { pieces = { piece{ name = \"body\", steps = list } } }",
            ),
            "script::unknown_step",
            1,
            "make steps with",
        ),
        (
            "a needle as long as the memory",
            steps("step.cast_on{ needles = string.rep('L', 30000000), method = \"wound\" }"),
            "script::text",
            3,
            "2000 characters",
        ),
        (
            "a structure as long as the memory",
            steps(
                "step.cast_on{ needles = \"L1-R1\", structure = string.rep('p', 30000000), method = \"wound\" }",
            ),
            "script::text",
            3,
            "2000 characters",
        ),
        (
            "a name beyond what can be shown",
            inside("return { pieces = { piece{ name = string.rep('n', 61), steps = {} } } }"),
            "script::name",
            2,
            "60 at most",
        ),
        (
            "a field as long as the memory",
            steps("step.knit{ [string.rep('r', 30000000)] = 1 }"),
            "script::unknown_field",
            3,
            "it takes `rows`",
        ),
        (
            "thousands of pieces",
            inside(
                "local all = {}\nfor i = 1, 5000 do all[i] = piece{ name = \"p\" .. i, section = \"body\", steps = {} } end\n\
                 return { pieces = all }",
            ),
            "script::size",
            4,
            "5000 entries",
        ),
        (
            "a garment that is its own piece",
            inside("local g = {}\ng.pieces = { g }\nreturn g"),
            "script::unknown_field",
            3,
            "no field `pieces`",
        ),
        (
            "a list of steps that holds itself",
            inside(
                "local list = {}\nlist[1] = { op = \"again\", times = 2, steps = list }\n\
                 return { pieces = { piece{ name = \"body\", steps = list } } }",
            ),
            "script::nesting",
            3,
            "hold itself",
        ),
        (
            "a doubling of repeats",
            inside(
                "local list = { step.knit() }\n\
                 for i = 1, 14 do list = table.create(60, { op = \"again\", times = 99, steps = list }) end\n\
                 return { pieces = { piece{ name = \"body\", steps = list } } }",
            ),
            "script::rows",
            3,
            "1000000 rows",
        ),
        (
            "rows beyond counting, repeat in repeat",
            steps(
                "step.again{ times = 100000, steps = { step.again{ times = 100000, steps = { step.again{ times = 100000, steps = { step.knit() } } } } } }",
            ),
            "script::rows",
            3,
            "1000000 rows",
        ),
        (
            "a hundred warnings and one",
            inside("for i = 1, 101 do warn(\"w\" .. i) end"),
            "script::size",
            2,
            "100 warnings",
        ),
    ]);
}

#[test]
fn nothing_a_size_left_anywhere_is_there_in_the_next() {
    let init = "local m = require(\"./m\")\nlocal kept = {}\n\
        function spread() return 1 end\n\
        return function(input)\n\
          local seen = {}\n\
          local function look(name, value) if value ~= nil then seen[#seen + 1] = name end end\n\
          look(\"module\", rawget(m, \"left\")) look(\"deep\", rawget(m.deep, \"left\"))\n\
          look(\"made\", m.made().left) look(\"upvalue\", kept.left)\n\
          for name, library in { string = string, math = math, table = table, step = step, fit = fit,\n\
            needles = needles, input = input, body = input.body, size = input.size,\n\
            text = getmetatable(\"\"), bit32 = bit32, buffer = buffer, coroutine = coroutine } do\n\
            look(name, rawget(library, \"left\")) pcall(rawset, library, \"left\", 1)\n\
            pcall(function() library.left = 1 end) pcall(setmetatable, library, { __index = { left = 1 } })\n\
            pcall(table.insert, library, 1) pcall(table.clear, library)\n\
          end\n\
          look(\"global\", m.global()) m.set()\n\
          m.left, m.deep.left, m.made().left, kept.left = 1, 1, 1, 1\n\
          m.hold(input) m.hold(coroutine.create(function() m.hold(1) end))\n\
          warn(#seen == 0 and \"nothing\" or table.concat(seen, \" \"))\n\
          return { pieces = {} }\n\
        end\n";
    let module = "local shared, held = {}, {}\nleft = false\n\
        return { deep = {}, made = function() return shared end,\n\
        hold = function(x) held[#held + 1] = x end, set = function() left = 1 end,\n\
        global = function() return left or nil end }\n";
    let plugin = load(&[("init.luau", init.as_bytes()), ("m.luau", module.as_bytes())]);
    let plugin = plugin.expect("it compiles");
    let mut host = patient();
    for round in 0..4 {
        let garment = host.garment(&plugin, &input());
        let garment = garment.unwrap_or_else(|failure| panic!("{}", failure.diagnostics()));
        assert_eq!(garment.warnings, ["nothing"], "round {round}");
        honest_garment(&mut host);
    }
}

/// Past the number that is kept, steps are read from their tables, and come out the same.
#[test]
fn thirty_thousand_steps_are_read_like_three() {
    let script = inside(
        "local steps = {}\nfor i = 1, 30000 do steps[i] = step.knit{ rows = i % 7 + 1 } end\n\
         return { pieces = { piece{ name = \"body\", steps = steps } } }",
    );
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let made = patient().garment(&plugin, &input());
    let made = made.unwrap_or_else(|failure| panic!("{}", failure.diagnostics()));
    let steps = &made.program.pieces[0].steps;
    assert_eq!(steps.len(), 30_000);
    for (at, step) in (1_u32..).zip(steps) {
        assert_eq!((&step.action, step.line), (&Action::Knit { rows: at % 7 + 1 }, 3));
    }
}

/// What is loaded once must not fill the machine: 400 garments with code of some size each, as a
/// server comes by that reads a garment again after each save.
#[test]
fn the_code_of_many_garments_leaves_room_for_the_last() {
    let mut host = patient();
    for round in 0..400 {
        let words: String = (0..4_000).map(|at| format!("\"{round}-{at}\",")).collect();
        let script = format!(
            "local words = {{ {words} }}\nreturn function() assert(#words == 4000) return {{ pieces = {{}} }} end\n"
        );
        let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
        let made = host.garment(&plugin, &input());
        made.unwrap_or_else(|failure| panic!("round {round}: {}", failure.diagnostics()));
    }
    // What a fresh machine gives to a script, this one still gives.
    let large = telling("local b = buffer.create(50 * 1024 * 1024) warn(tostring(buffer.len(b)))");
    let plugin = load(&[("init.luau", large.as_bytes())]).expect("it compiles");
    let made = host.garment(&plugin, &input());
    let made = made.unwrap_or_else(|failure| panic!("{}", failure.diagnostics()));
    assert_eq!(made.warnings, ["52428800"]);
}

#[test]
fn no_chance_reaches_a_script() {
    let script = telling(
        "local function order(t) local all = {} for k in t do all[#all + 1] = tostring(k) end return table.concat(all, \" \") end
        local words, mixed = {}, { [true] = 1, [false] = 2, [0.5] = 3, [-7] = 4, [1e300] = 5, [vector.one] = 6 }
        for i = 1, 60 do words[\"w\" .. i * 7919 % 1000] = i end
        for i = 1, 20 do mixed[\"x\" .. i] = i mixed[i / 3] = i end
        for i = 1, 30 do words[\"w\" .. i * 7919 % 1000] = nil words[\"v\" .. i] = i end
        warn(order(words)) warn(order(mixed))
        local t = setmetatable({}, { __type = \"thing\", __name = \"thing\" })
        warn(tostring(t) .. \" \" .. tostring(coroutine.running()) .. \" \" .. tostring(warn) .. \" \" .. tostring(string.rep))
        local _, e = pcall(error, t) warn(tostring(e)) warn(`{e}`)
        local _, e = xpcall(function() return t.x.y end, function(e) return e end) warn(tostring(e))
        local _, e = pcall(function() return {} < {} end) warn(tostring(e))
        local _, e = pcall(function() return #nil end) warn(tostring(e))
        local _, e = pcall(string.rep) warn(tostring(e))
        local _, e = pcall(setmetatable, 1) warn(tostring(e))
        local _, e = pcall(fit.round, t) warn(tostring(e))
        local _, e = pcall(function() return step.knit({ [t] = t }) end) warn(tostring(e))
        warn(tostring(math.noise(0.3, 0.7)) .. math.sin(1e9) .. math.exp(0.1) .. 7 % -3)
        warn(string.format(\"%q %*\", \"a\", buffer.create(3)) .. typeof(vector.one) .. type(t) .. typeof(t))",
    );
    let told = warned(&[("init.luau", script.as_bytes())]);
    assert!(told.iter().all(|text| !text.contains("0x")), "{told:#?}");
    // What ran before in the same machine changes nothing.
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    let mut host = patient();
    for _ in 0..3 {
        honest_garment(&mut host);
        let garment = host.garment(&plugin, &input());
        let garment = garment.unwrap_or_else(|failure| panic!("{}", failure.diagnostics()));
        assert_eq!(garment.warnings, told);
    }
}

#[test]
fn a_stand_in_for_wrap_behaves_like_the_original() {
    let script = telling(
        "local f = coroutine.wrap(function(a, b) local c, d = coroutine.yield(a + b, nil) return c, nil, d, nil end)
        assert(select(\"#\", f(1, 2)) == 2) assert(select(\"#\", f(3, 4)) == 4)
        local got = {} for v in coroutine.wrap(function() for i = 1, 3 do coroutine.yield(i) end end) do got[#got + 1] = v end
        assert(#got == 3)
        local ok, e = pcall(coroutine.wrap(function() error({ code = 7 }) end)) assert(not ok and e.code == 7)
        local ok, e = pcall(coroutine.wrap(function() error(\"x\", 0) end)) assert(not ok and string.find(e, \"x\", 1, true))
        local ok, e = pcall(coroutine.wrap(function() error() end)) assert(not ok and e == nil)
        local ok, e = pcall(coroutine.wrap, 7) assert(not ok and string.find(e, \"wrap\", 1, true))
        local outer = coroutine.wrap(function() local inner = coroutine.wrap(function() coroutine.yield(1) return 2 end)
          coroutine.yield(inner()) coroutine.yield(inner()) end)
        assert(outer() == 1 and outer() == 2)
        warn(\"same\")",
    );
    assert_eq!(warned(&[("init.luau", script.as_bytes())]), ["same"]);
    // An error inside names its own line.
    check(vec![(
        "an error in a wrapped coroutine",
        inside("local f = coroutine.wrap(function()\nlocal x = nil\nreturn x.y\nend)\nf()"),
        ERROR,
        4,
        "is nil here",
    )]);
}
