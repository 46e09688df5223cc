//! Nothing of chance reaches a script: no address, no clock, no leftover of another run. What a script
//! can see of the machine is the same in every process and in every call.

use std::collections::BTreeSet;

use diag::Code;
use proptest::prelude::*;
use script::{Limits, ScriptFailure, ScriptHost};

use crate::hostile::{fault_of, input, inside, load};
use crate::support::{oddments, tries};

const MANIFEST: &str = r#"
id = "chance"
title = "Chance"
version = "1.0.0"
api = 1
summary = "Looks for chance."
measures = ["head_girth"]
structures = ["plain"]

[sections]
body = "Body"
"#;

/// What a script says of itself, as the reason of a refusal.
fn told(host: &mut ScriptHost, script: &str) -> String {
    let plugin = load(&[("init.luau", script.as_bytes())]).expect("it compiles");
    match host.garment(&plugin, &input()) {
        Err(ScriptFailure::Refused(found)) => {
            found.iter().next().expect("a refusal").message.clone()
        }
        other => panic!("{other:?}\n{script}"),
    }
}

/// Values that the machine knows by their address alone.
const ADDRESSED: [(&str, &str); 5] = [
    ("a table", "{}"),
    ("a function", "function() end"),
    ("a coroutine", "coroutine.create(function() end)"),
    ("a buffer", "buffer.create(4)"),
    // What a fault of ours is to a script that catches it.
    ("a caught fault", "select(2, pcall(fit.round, {}))"),
];

/// Every way in which a script can make an entry, each on line 4. `k` is the key, `t` the table.
const WAYS: [&str; 14] = [
    "t[k] = 1",
    "setmetatable(t, { __index = function() return 0 end }) t[k] += 1",
    "t = { [k] = 1 }",
    "t = { 1, 2, a = 3, [k] = 1, 4 }",
    "t.a, t[k] = 1, 2",
    "rawset(t, k, 1)",
    "local set = rawset set(t, k, 1)",
    "assert(pcall(rawset, t, k, 1))",
    "local function put() t[k] = 1 end put()",
    "coroutine.wrap(function() t[k] = 1 end)()",
    "for i = 1, 3 do if i == 2 then t[k] = i end end",
    "setmetatable(t, { __newindex = {} }) t[k] = 1",
    "setmetatable(t, { __newindex = rawset }) t[k] = 1",
    "local function put(a, b, ...) a[b] = ... end put(t, k, 1)",
];

#[test]
fn no_entry_lies_where_chance_puts_it() {
    let mut host = ScriptHost::new(Limits::default());
    for (kind, value) in ADDRESSED {
        for way in WAYS {
            let body = format!("local t, k = {{ n = 0 }}, {value}\nlocal _ = t\n{way}");
            let fault = fault_of(&mut host, &inside(&body));
            assert_eq!(fault.code, Code::ScriptError, "{kind}, {way}: {fault:?}");
            assert!(fault.message.contains(&format!("{kind} can't be a key")), "{way}: {fault:?}");
            assert!(
                fault.hints.iter().any(|hint| hint.contains("a name or a number")),
                "{fault:?}"
            );
            let place = fault.place.unwrap_or_else(|| panic!("{way}: no line"));
            assert_eq!(place.line, 4, "{kind}, {way}");
        }
    }
}

#[test]
fn keys_that_are_values_are_let_through() {
    let script = inside(
        "local t = {}\n\
         for i = 1, 40 do t[i * 1.5] = i end\n\
         for i = 1, 9 do t[i] = i t['w' .. i] = i end\n\
         t[true], t[false], t[vector.create(1, 2, 3)] = 1, 2, 3\n\
         rawset(t, 'raw', 4) t['raw'] += 1\n\
         local n, sum = 0, 0\n\
         for _, v in t do n += 1 sum += v end\n\
         for _, v in pairs(t) do n += 1 sum += v end\n\
         for _, v in next, t do n += 1 sum += v end\n\
         refuse{ reason = `{n} {sum} {t.raw} {t[vector.create(1, 2, 3)]} {t[{}]} {#t}` }",
    );
    let mut host = ScriptHost::new(Limits::default());
    assert_eq!(told(&mut host, &script), "177 2727 5 3 nil 9");
}

/// All that might show an address, a clock or what ran before. Each part adds to `out`.
const EVERYTHING: &str = r##"
local out = {}
local function put(...)
	for i = 1, select("#", ...) do
		table.insert(out, tostring((select(i, ...))))
	end
end
local kinds = { {}, function() end, coroutine.create(function() end), buffer.create(4) }

-- Walks, in every way there is.
local t = {}
for i = 1, 30 do
	t["k" .. i * 7 % 31] = i
	t[i * 3] = i
	t[i / 7] = i
end
for i = 1, 30, 3 do
	t["k" .. i] = nil
end
t[true], t[false] = 1, 2
t[vector.create(1, 2, 3)], t[vector.create(3, 2, 1)] = 3, 4
for k, v in t do put(k, v) end
for k, v in pairs(t) do put(k, v) end
for k, v in next, t do put(k, v) end
table.foreach(t, put)
for k, v in table.clone(t) do put(k, v) end
for k, v in setmetatable({}, { __iter = function() return next, t end }) do put(k, v) end
local k
repeat
	k = next(t, k)
	put(k)
until k == nil

-- A key that chance would have placed is refused, caught or not, and leaves nothing behind.
for _, key in kinds do
	local u = { a = 1 }
	put(pcall(function() u[key] = 1 end))
	put(pcall(rawset, u, key, 1))
	u.b, u.c, u[4], u[5] = 2, 3, 4, 5
	for name in u do put(name) end
	put(#u)
end

-- Texts of what has none.
for _, value in kinds do
	put(value, `{value}`, string.format("%s %*", value, value), pcall(string.format, "%d", value))
	put(pcall(string.rep, value), pcall(tonumber, value), typeof(value))
	put(pcall(function() return value .. "" end))
	put(pcall(function() return value < value end))
	put(pcall(function() return value + 1 end))
	put(pcall(function() return value.x.y end))
	put(pcall(function() return #value end))
	put(pcall(function() value() end))
	put(pcall(error, value))
	put(pcall(string.format, "%p", value))
	put(pcall(table.concat, { value }))
	put(pcall(function() for _ in value do end end))
	put(tostring(setmetatable({}, { __type = "mine", __name = "mine" })))
	put(pcall(tostring, setmetatable({}, { __tostring = function() return value end })))
end
put(pcall(next, {}, "absent"))
put(pcall(fit.round, {}), pcall(step.knit, {}), pcall(needles.at, 3, 9))
put(pcall(function() return nobody end), pcall(require, "./nobody"))
put(coroutine.running(), coroutine.status(kinds[3]), coroutine.isyieldable())

-- An order that is none: refused or not, it must come out the same.
for round = 1, 12 do
	local list = {}
	for i = 1, 40 do list[i] = i * round % 17 end
	put(pcall(table.sort, list, function(a, b) return (a * 7 + b * 3) % 5 < 2 end))
	put(table.concat(list, " "))
end

-- How deep a function may go, and what is left when it went too deep.
local depth = 0
local function deeper() depth += 1 return 1 + deeper() end
put((pcall(deeper)), depth)
depth = 0
local function nested() depth += 1 return pcall(nested) end
put(nested(), depth)
depth = 0
local function resumed() depth += 1 return coroutine.wrap(resumed)() end
put((pcall(resumed)), depth)
put(pcall(string.gsub, string.rep("x", 900), string.rep("x?", 400), ""))

-- Rubbish, and memory that was used before.
local weak = setmetatable({}, { __mode = "kv" })
for i = 1, 100 do weak[i] = {} end
local alive = 0
for _ in weak do alive += 1 end
put(alive, buffer.readf64(buffer.create(64), 8), #table.create(20))
put(math.noise(0.3, 0.7), string.pack("d", 0.1), _VERSION)

-- Too long to be told in full.
local text = table.concat(out, ";")
assert(string.find(text, "0x%x") == nil, "an address")
local sum = 0
for i = 1, #text do
	sum = (sum * 31 + string.byte(text, i)) % 2147483648
end
refuse{ reason = `{#out} texts, {#text} bytes, sum {sum}` }
"##;

fn everything() -> String {
    inside(EVERYTHING)
}

#[test]
fn every_call_sees_the_same() {
    let script = everything();
    let mut seen = BTreeSet::new();
    let mut kept = ScriptHost::new(Limits::default());
    for round in 0..6 {
        seen.insert(told(&mut ScriptHost::new(Limits::default()), &script));
        // What ran before, and how much is in use, must not show either.
        let before = format!(
            "local t = {{}} for i = 1, {round}000 do t[i] = {{}} end refuse{{ reason = 'x' }}"
        );
        told(&mut kept, &inside(&before));
        seen.insert(told(&mut kept, &script));
    }
    assert_eq!(seen.len(), 1, "{seen:#?}");
}

/// The heap lies elsewhere in each process.
#[test]
fn every_process_sees_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let garment = folder.path().join("chance");
    std::fs::create_dir(&garment).expect("made");
    std::fs::write(garment.join("plugin.toml"), MANIFEST).expect("written");
    std::fs::write(garment.join("init.luau"), everything()).expect("written");
    let garment = garment.to_str().expect("a path of plain letters");
    let runs: BTreeSet<_> = (0..8)
        .map(|_| {
            let ran = oddments(&["grade", garment, "--sizes", "women-m"]);
            assert_eq!(ran.code, Some(1), "{}", ran.err);
            assert!(ran.err.contains("script::refused"), "{}", ran.err);
            ran.err
        })
        .collect();
    assert_eq!(runs.len(), 1, "{runs:#?}");
}

/// One thing done to a table, and what is left of it told afterwards.
fn deed() -> impl Strategy<Value = String> {
    let key = prop_oneof![
        (1..12_i32).prop_map(|n| n.to_string()),
        (0..6_i32).prop_map(|n| format!("{}", f64::from(n) / 4.0)),
        (0..8_u8).prop_map(|n| format!("\"w{n}\"")),
        any::<bool>().prop_map(|flag| flag.to_string()),
        (0..3_u8).prop_map(|n| format!("vector.create({n}, 1, 2)")),
        (0..4_usize).prop_map(|at| format!("held[{}]", at + 1)),
    ];
    (key, 0..5_u8).prop_map(|(key, what)| match what {
        0 => format!("pcall(function() t[{key}] = nil end)"),
        1 => format!("pcall(rawset, t, {key}, 1)"),
        2 => format!("pcall(function() t = {{ [{key}] = 1, 2 }} end)"),
        _ => format!("pcall(function() t[{key}] = {what} end)"),
    })
}

proptest! {
    #![proptest_config(tries(60))]

    /// Whatever is done to a table, walks and lengths are the same in another machine.
    #[test]
    fn a_table_is_laid_out_without_chance(deeds in prop::collection::vec(deed(), 1..60)) {
        let script = inside(&format!(
            "local held = {{ {{}}, function() end, buffer.create(1), coroutine.create(function() end) }}\n\
             local t, out = {{ 1, 2 }}, {{}}\n\
             {}\n\
             for k, v in t do table.insert(out, `{{k}} {{v}}`) end\n\
             refuse{{ reason = `{{#t}} {{table.concat(out, \";\")}}` }}",
            deeds.join("\n")
        ));
        let seen: BTreeSet<_> =
            (0..4).map(|_| told(&mut ScriptHost::new(Limits::default()), &script)).collect();
        prop_assert_eq!(seen.len(), 1, "{:#?}", seen);
    }
}
