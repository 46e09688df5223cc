//! Numbers that a garment decides and a knitter fixes: what a script is given, what is refused with
//! which way out, and how they travel wherever options do.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use diag::Code;
use knit::garment::{Decision, Garment};
use script::ScriptFailure;
use serde_json::{Value, json};

use crate::demo::Demo;
use crate::script_api::run_fixed;
use crate::server::{Server, problem};
use crate::support::oddments;

/// Stitches and rows of a strip, 200 by 300 mm at a gauge of 3.5 by 2.5 mm, and half the stitches.
const STRIP: &str = "decide{ of = {
    stitches = { 40, 80, 2, title = 'Stitches across', may = { 20, 120, 2 } },
    rows = { 100, 140, may = { 10, 300 } },
    half = { may = { 5, 60 }, follows = function(c) return c.stitches / 2 end },
}, cost = function(c)
    if c.half > c.rows then return nil end
    return (3.5 * c.stitches - 200) ^ 2 + (2.5 * c.rows - 300) ^ 2
end }";

fn body(statements: &str) -> String {
    format!("return function(input)\n{statements}\nreturn {{ pieces = {{}} }}\nend")
}

fn fixes(fixed: &[(&str, i64)]) -> BTreeMap<String, i64> {
    fixed.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect()
}

fn run(statements: &str, fixed: &[(&str, i64)]) -> Result<Garment, ScriptFailure> {
    run_fixed(2, &body(statements), fixes(fixed))
}

fn decided(statements: &str, fixed: &[(&str, i64)]) -> Vec<(String, i64, bool)> {
    let garment = run(statements, fixed).unwrap_or_else(|f| panic!("{}", f.diagnostics()));
    garment.decisions.iter().map(|d| (d.name.clone(), d.value, d.fixed)).collect()
}

fn is(all: &[(&str, i64, bool)]) -> Vec<(String, i64, bool)> {
    all.iter().map(|(name, n, fixed)| ((*name).to_owned(), *n, *fixed)).collect()
}

/// Message and hints of what refuses it.
fn refused(statements: &str, fixed: &[(&str, i64)]) -> String {
    match run(statements, fixed) {
        Err(ScriptFailure::Refused(found)) => {
            let told = found.iter().map(|fault| {
                assert_eq!(fault.code, Code::Decision, "{fault}");
                format!("{} ({})", fault.message, fault.hints.join("; "))
            });
            told.collect::<Vec<_>>().join("\n")
        }
        other => panic!("{statements} {fixed:?}: {other:?}"),
    }
}

/// Code, message and hint of a script's own fault, at its line.
fn faulty(statements: &str) -> (Code, String) {
    match run(statements, &[]) {
        Err(ScriptFailure::Fault(found)) => {
            let fault = found.iter().next().expect("a fault");
            assert!(fault.place.is_some(), "{statements}: {fault}");
            (fault.code, format!("{} ({})", fault.message, fault.hints.join("; ")))
        }
        other => panic!("{statements}: {other:?}"),
    }
}

#[test]
fn numbers_are_chosen_by_name_and_told_in_the_order_of_their_names() {
    let statements = format!(
        "local c, fixed = {STRIP}
         assert(c.stitches == 58 and c.rows == 120 and c.half == 29)
         assert(next(fixed) == nil)"
    );
    let garment = run(&statements, &[]).expect("sound");
    let decision = |name: &str, title: &str, value, from, to, step| Decision {
        name: name.to_owned(),
        title: title.to_owned(),
        value,
        from,
        to,
        step,
        fixed: false,
    };
    let expected = [
        decision("half", "Half", 29, 5, 60, 1),
        decision("rows", "Rows", 120, 10, 300, 1),
        decision("stitches", "Stitches across", 58, 20, 120, 2),
    ];
    assert_eq!(garment.decisions, expected);
}

#[test]
fn of_equals_the_first_wins_whatever_the_order_in_the_script() {
    for of in ["a = { 1, 3 }, b = { 1, 3 }", "b = { 1, 3 }, a = { 1, 3 }"] {
        let statements = format!(
            "local c = decide{{ of = {{ {of} }}, cost = function(c) return math.abs(c.a + c.b - 4) end }}"
        );
        assert_eq!(decided(&statements, &[]), is(&[("a", 1, false), ("b", 3, false)]), "{of}");
    }
    let first = "local c = decide{ of = { a = { 4, 9, 3 }, b = { -2, 3 } } } assert(c.a == 4 and c.b == -2)";
    assert_eq!(decided(first, &[]), is(&[("a", 4, false), ("b", -2, false)]));
    // Nothing that can be is the script's to tell, as it is with fit.best; the names are free again.
    let none = "local c = decide{ of = { a = { 4, 3 } } } assert(c == nil)
         assert(decide{ of = { a = { 1, 9 } }, cost = function() return nil end } == nil)
         local d = decide{ of = { a = { 5, 9 } } } assert(d.a == 5)";
    assert_eq!(decided(none, &[]), is(&[("a", 5, false)]));
}

#[test]
fn what_is_fixed_is_kept_and_the_rest_is_chosen_round_it() {
    let strip = format!("local c, fixed = {STRIP}");
    let chosen = decided(&strip, &[("stitches", 100)]);
    assert_eq!(chosen, is(&[("half", 50, false), ("rows", 120, false), ("stitches", 100, true)]));
    // One that follows may be fixed too, and no longer follows.
    let chosen = decided(&strip, &[("half", 30)]);
    assert_eq!(chosen, is(&[("half", 30, true), ("rows", 120, false), ("stitches", 58, false)]));
    // The script learns it from decide and from nowhere else.
    let seen = "local c, fixed = decide{ of = { rows = { 1, 9 } }, cost = function(c, fixed)
        assert(fixed.rows and c.rows == 7)
        return 0
    end }
    assert(not pcall(function() return input.fixed end))
    assert(not pcall(function() return input.options.rows end))
    assert(fixed.rows and not pcall(function() fixed.rows = false end))";
    assert_eq!(decided(seen, &[("rows", 7)]), is(&[("rows", 7, true)]));
}

#[test]
fn what_can_not_be_is_refused_with_the_nearest_that_can() {
    let strip = format!("local c = {STRIP}");
    for (fixed, told) in [
        (
            &[("stitches", 91)][..],
            "stitches can't be 91: 20 to 120 in steps of 2; 90 or 92 can (fix it to 90, or leave it to the garment)",
        ),
        (
            &[("stitches", 400)],
            "stitches can't be 400: 20 to 120 in steps of 2; 120 can (fix it to 120, or leave it to the garment)",
        ),
        (
            &[("stitches", -7)],
            "stitches can't be -7: 20 to 120 in steps of 2; 20 can (fix it to 20, or leave it to the garment)",
        ),
        // Half the stitches, 20 at least, are more than the rows.
        (
            &[("rows", 15)],
            "rows can't be 15 with the rest of the garment; 20 can (fix rows to 20, or leave it to the garment)",
        ),
        (
            &[("rows", 30), ("stitches", 100)],
            "rows 30 with stitches 100 can't be together; rows 50 can, or stitches 60 can (fix rows to 50, or leave it to the garment)",
        ),
    ] {
        assert_eq!(refused(&strip, fixed), told);
    }
    let gap = "decide{ of = { n = { 1, 9 } }, cost = function(c) if c.n % 4 == 2 then return 0 end return nil end }";
    assert_eq!(
        refused(gap, &[("n", 4)]),
        "n can't be 4 with the rest of the garment; 2 or 6 can (fix n to 2, or leave it to the garment)"
    );
    // Too far to look for, the garment's own choice is told.
    let far = "decide{ of = { a = { 1, 3000 }, n = { 1, 2, may = { 1, 100000 } } }, cost = function(c) return c.n < 3 and 0 or nil end }";
    assert_eq!(
        refused(far, &[("n", 90_000)]),
        "n can't be 90000 with the rest of the garment; the garment would take n 1 (leave it to the garment)"
    );
}

/// Where nothing can be with or without what is fixed, the garment says why; and where it refuses
/// for another reason, what is fixed is told beside it.
#[test]
fn a_garment_that_refuses_is_told_of_what_is_fixed() {
    let statements = "local c = decide{ of = { n = { 1, 9 } }, cost = function() return nil end }
        if not c then refuse{ reason = 'too narrow', hints = { 'a wider bed' } } end";
    let Err(ScriptFailure::Refused(found)) = run(statements, &[("n", 3)]) else {
        panic!("refused")
    };
    let fault = found.iter().next().expect("a fault");
    assert_eq!((fault.code, fault.message.as_str()), (Code::ScriptRefused, "too narrow"));
    assert_eq!(fault.hints, ["a wider bed", "or leave to the garment what is fixed: n 3"]);
    // A script can't catch it.
    let caught = "pcall(function() decide{ of = { n = { 1, 9 } } } end)";
    assert_eq!(
        refused(caught, &[("n", 30)]),
        "n can't be 30: 1 to 9; 9 can (fix it to 9, or leave it to the garment)"
    );
}

#[test]
fn what_a_garment_does_not_decide_is_told_with_what_it_does() {
    let strip = format!("local c = {STRIP}");
    assert_eq!(
        refused(&strip, &[("stiches", 50)]),
        "`sample` decides no `stiches` (it decides half, rows, stitches; did you mean `stitches`?)"
    );
    assert_eq!(
        refused("", &[("stitches", 50)]),
        "`sample` decides no `stitches` (it decides no number that can be fixed)"
    );
    let other_way = "if input.machine.ribber then decide{ of = { rib = { 2, 20 } } }
        else decide{ of = { hem = { 2, 20 } } } end";
    assert_eq!(
        refused(other_way, &[("hem", 8)]),
        "hem can't be 8: as it is asked for, `sample` decides no hem \
         (leave it out, or change what it hangs on; here it decides rib)"
    );
}

#[test]
fn a_count_fills_a_length_and_may_be_fixed() {
    let count = |more: &str| {
        format!(
            "local n = decide_count{{ name = 'cast_on', mm = 200, per = 3.5{more} }} warn(tostring(n))"
        )
    };
    let told = |more: &str, fixed: &[(&str, i64)]| {
        let garment = run(&count(more), fixed).expect("sound");
        let d = &garment.decisions[0];
        assert_eq!(garment.warnings, [d.value.to_string()]);
        (d.title.clone(), d.value, d.from, d.to, d.step)
    };
    assert_eq!(told("", &[]), ("Cast on".to_owned(), 57, 29, 114, 1));
    assert_eq!(told(", multiple = 4, plus = 2, rounding = 'up'", &[]).1, 58);
    assert_eq!(
        told(", multiple = 4, plus = 2, least = 10, most = 51", &[]),
        ("Cast on".to_owned(), 50, 10, 50, 4)
    );
    assert_eq!(told(", multiple = 2, title = 'Stitches'", &[("cast_on", 40)]).1, 40);
    assert_eq!(
        refused(&count(", multiple = 2"), &[("cast_on", 41)]),
        "cast_on can't be 41: 30 to 116 in steps of 2; 40 or 42 can (fix it to 40, or leave it to the garment)"
    );
    let (code, text) = faulty(&count(", least = 60, most = 50"));
    assert_eq!(code, Code::ScriptNumber, "{text}");
}

/// Ranges and functions that no garment would have.
#[test]
fn hostile_ranges_are_told_at_their_line() {
    let of = |entry: &str| format!("decide{{ of = {{ n = {entry} }} }}");
    for (entry, code, word) in [
        ("{ 0/0, 5 }", Code::ScriptNumber, "whole number"),
        ("{ 1, 1/0 }", Code::ScriptNumber, "whole number"),
        ("{ 1, 1e18 }", Code::ScriptNumber, "whole number"),
        ("{ 1, 9, -1 }", Code::ScriptNumber, "step below 1"),
        ("{ 1, 9, 0 }", Code::ScriptNumber, "step below 1"),
        ("{ 1.5, 9 }", Code::ScriptNumber, "whole number"),
        ("{ 1, 9000000000000000 }", Code::ScriptSize, "combinations"),
        ("{ -9007199254740991, 9007199254740991 }", Code::ScriptSize, "combinations"),
        ("{ 1, 2000000 }", Code::ScriptSize, "2000000 combinations, over 1000000"),
        ("{}", Code::ScriptArguments, "has no range"),
        ("{ 1 }", Code::ScriptArguments, "has no range"),
        ("{ 1, 2, 3, 4 }", Code::ScriptSize, "4 numbers"),
        ("7", Code::ScriptWrongType, "a table such as"),
        ("{ 1, 9, titel = 'N' }", Code::ScriptUnknownField, "did you mean `title`?"),
        ("{ 1, 9, title = 7 }", Code::ScriptWrongType, "a text"),
        ("{ 1, 9, may = { 2, 9 } }", Code::ScriptNumber, "may be 2 to 9"),
        ("{ 1, 9, may = 9 }", Code::ScriptWrongType, "may = { from, to }"),
        ("{ 1, 9, may = { 1, 9, -2 } }", Code::ScriptNumber, "step below 1"),
        ("{ 1, 9, follows = function() return 1 end }", Code::ScriptArguments, "no range"),
        ("{ follows = function() return 1 end }", Code::ScriptArguments, "follows from the others"),
        ("{ may = { 1, 9 }, follows = 3 }", Code::ScriptWrongType, "a function"),
        (
            "{ may = { 1, 9 }, follows = function() return 10 end }",
            Code::ScriptNumber,
            "follows from the others as 10",
        ),
        ("{ may = { 1, 9 }, follows = function() return 1.5 end }", Code::ScriptNumber, "1.5"),
        ("{ may = { 1, 9 }, follows = function() return 0/0 end }", Code::ScriptNumber, "NaN"),
        ("{ may = { 1, 9 }, follows = function() return 'x' end }", Code::ScriptNumber, "\"x\""),
    ] {
        let (found, text) = faulty(&of(entry));
        assert!(found == code && text.contains(word), "{entry}: {found:?} {text}");
    }
    for (call, code, word) in [
        ("decide{ of = {} }", Code::ScriptArguments, "no number"),
        ("decide{ of = { [1] = { 1, 2 } } }", Code::ScriptName, "`1`"),
        ("decide{ of = { ['a b'] = { 1, 2 } } }", Code::ScriptName, "--fix NAME=NUMBER"),
        ("decide{ of = { ['\"a\"'] = { 1, 2 } } }", Code::ScriptName, "a"),
        ("decide{ of = { [('n'):rep(41)] = { 1, 2 } } }", Code::ScriptName, "40 at most"),
        (
            "local t = {} for i = 1, 9 do t['n' .. i] = { 1, 2 } end decide{ of = t }",
            Code::ScriptSize,
            "more than 8",
        ),
        ("decide{ of = { n = { 1, 9 } }, cost = 3 }", Code::ScriptWrongType, "a function"),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() return 0/0 end }",
            Code::ScriptNumber,
            "NaN",
        ),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() return false end }",
            Code::ScriptNumber,
            "false",
        ),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() return {} end }",
            Code::ScriptNumber,
            "a table",
        ),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() error('no') end }",
            Code::ScriptError,
            "no",
        ),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function(c) return c.m + 1 end }",
            Code::ScriptError,
            "arithmetic",
        ),
        // Within itself, and twice.
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() decide{ of = { n = { 1, 2 } } } return 0 end }",
            Code::ScriptName,
            "`n` is decided twice",
        ),
        (
            "decide{ of = { n = { 1, 9 } }, cost = function() decide{ of = { m = { 1, 2 } } } return 0 end }",
            Code::ScriptName,
            "`m` is decided twice",
        ),
        (
            "decide{ of = { n = { 1, 9 } } } decide{ of = { n = { 1, 9 } } }",
            Code::ScriptName,
            "twice",
        ),
        (
            "decide{ of = { n = { 1, 9 } } } decide_count{ name = 'n', mm = 9, per = 1 }",
            Code::ScriptName,
            "twice",
        ),
        (
            "for i = 1, 300 do decide_count{ name = 'n' .. i, mm = 9, per = 1 } end",
            Code::ScriptSize,
            "more than 200",
        ),
        ("decide_count{ name = 'N', mm = 9, per = 1 }", Code::ScriptName, "small letter"),
        ("decide_count{ name = 'n', mm = 0/0, per = 1 }", Code::ScriptNumber, "mm"),
        ("decide_count{ name = 'n', mm = 9, per = 0 }", Code::ScriptNumber, "per"),
        // What it hands its functions may be spoilt, and spoils nothing but their answers.
        (
            "decide{ of = { n = { 1, 9 } }, cost = function(c) table.freeze(c) return 0 end }",
            Code::ScriptError,
            "readonly",
        ),
        (
            "decide{ of = { n = { 1, 1000000 } }, cost = function() while true do end end }",
            Code::ScriptDeadline,
            "200 ms",
        ),
    ] {
        let (found, text) = faulty(call);
        assert!(found == code && text.contains(word), "{call}: {found:?} {text}");
    }
    let spoilt = "local c = decide{ of = { a = { 1, 3 }, b = { 1, 3 } }, cost = function(c)
        local cost = 10 - c.a - c.b
        for key in c do c[key] = nil end
        c.a = 'x'
        setmetatable(c, { __index = function() return 7 end, __newindex = function() end })
        return cost
    end }";
    // From the third choice on it reads its own sevens: the first of these equals is taken.
    assert_eq!(decided(spoilt, &[]), is(&[("a", 1, false), ("b", 3, false)]));
    let written = "local c = decide{ of = { a = { 1, 3 } }, cost = function(c)
        local a = c.a
        c.a = 'x'
        return -a
    end } assert(c.a == 3)";
    assert_eq!(decided(written, &[]), is(&[("a", 3, false)]));
    // What goes wrong in a search leaves no name behind that can be told as decided.
    let left =
        "pcall(function() decide{ of = { n = { 1, 9 } }, cost = function() error('no') end } end)";
    assert_eq!(decided(left, &[]), []);
    assert!(refused(left, &[("n", 3)]).contains("decides no n"), "{}", refused(left, &[("n", 3)]));
}

fn tam(more: &[&str]) -> Value {
    let mut args =
        vec!["grade", "tam", "--sizes", "women-m", "--machine", "standard", "--format", "json"];
    args.extend(more);
    let ran = oddments(&args);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    serde_json::from_str(&ran.out).expect("JSON")
}

fn value(size: &Value, name: &str) -> Value {
    let decisions = size["decisions"].as_array().expect("a list");
    let found = decisions.iter().find(|d| d["name"] == name);
    found.unwrap_or_else(|| panic!("{name} in {decisions:?}"))["value"].clone()
}

const OWN_TAM: [&str; 8] = [
    "--fix",
    "steps=33",
    "--fix",
    "turns=33",
    "--fix",
    "band_stitches=200",
    "--fix",
    "under_needles=12",
];

/// 45 needles, a band of 200 loops, 33 returns a wedge: 198 visits to the band, two loops at two of
/// them. By fixing numbers alone.
#[test]
fn a_tam_of_45_needles_200_loops_and_33_returns_a_wedge() {
    let run = tam(&OWN_TAM);
    let size = &run["sizes"][0];
    assert_eq!(size["knittable"], true, "{size}");
    let counts = &size["counts"];
    assert_eq!(counts["needles"], 45);
    assert_eq!(counts["band_stitches"], 200);
    assert_eq!(counts["hang_points"], 198);
    assert_eq!(counts["rows"], 6 * 33 * 2);
    let band = size["edges"].as_array().expect("edges").iter().find(|e| e["name"] == "band");
    let doubled = band.expect("the band")["points_with_more"].as_array().expect("a list").len();
    assert_eq!(doubled, 2, "{band:?}");
    assert_eq!(run["options"]["fix.band_stitches"], "200");
    for (name, n) in [("wedges", 6), ("steps", 33), ("turns", 33), ("under_needles", 12)] {
        assert_eq!(value(size, name), n, "{name}");
    }
    let mut args = vec!["pattern", "tam", "--sizes", "women-m", "--machine", "standard"];
    args.extend(OWN_TAM);
    let pattern = oddments(&args).out;
    assert!(
        pattern.contains(
            "Fixed: band stitches 200, steps a wedge 33, returns a wedge 33, needles of the under-part 12"
        ),
        "{pattern}"
    );
    let words = pattern.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "Cast on 45 needles, L22-R23, with waste yarn",
        "the band has 200 loops for 198 hang points. Hang two loops where the row counter shows 098 296.",
        "Work what follows 6 times, once for each wedge",
        "Push 33 needles to holding position",
        "Graft the cast-on edge of the hat to the last row of the hat: 45 loops, one to one",
    ] {
        assert!(words.contains(said), "{said}: {pattern}");
    }
    // What it does to the size and the ease is seen, and not that it was asked for alone.
    let free = tam(&[]);
    let ease = |run: &Value| {
        let finished = run["sizes"][0]["finished"].as_array().expect("a list").clone();
        finished.iter().find(|f| f["name"] == "disc").expect("a disc")["mm"].clone()
    };
    assert!(ease(&run).as_f64() < ease(&free).as_f64(), "{run}");
}

#[test]
fn the_rest_of_a_tam_is_chosen_round_what_is_fixed() {
    let run = tam(&["--fix", "band_stitches=190"]);
    let size = &run["sizes"][0];
    assert_eq!(size["counts"]["band_stitches"], 190);
    assert_eq!(value(size, "steps"), 34, "{size}");
    let text = oddments(&["grade", "tam", "--sizes", "women-m", "--fix", "band_stitches=190"]).out;
    assert!(text.contains("\nFixed: band stitches 190\n"), "{text}");
    let told = oddments(&["grade", "tam", "--sizes", "women-m", "--fix", "band_stitches=191"]);
    assert_eq!(told.code, Some(1), "{}", told.out);
    assert!(
        told.err.contains("band_stitches can't be 191: 2 to 200 in steps of 2; 190 or 192 can"),
        "{}",
        told.err
    );
    for (fix, word) in [
        ("ease=3", "`ease` is an option: --set ease=..."),
        ("band_stiches=190", "did you mean `band_stitches`?"),
        ("wedges=many", "no whole number"),
        ("wedges", "has no `=` in it"),
    ] {
        let told = oddments(&["grade", "tam", "--sizes", "women-m", "--fix", fix]);
        assert!(told.code != Some(0) && told.err.contains(word), "{fix}: {}", told.err);
    }
    // `auto` leaves it to the garment, as with options.
    let auto = tam(&["--fix", "band_stitches=auto"]);
    assert_eq!(auto["sizes"], tam(&[])["sizes"]);
    let shown = oddments(&["garment", "show", "tam"]).out;
    assert!(
        shown.contains("  band_stitches = 200  (Band stitches; from 2 to 200 in steps of 2)"),
        "{shown}"
    );
}

/// A gift, its file, the plan, and the record of it.
#[test]
fn what_is_fixed_travels_with_gifts_and_records() {
    let demo = Demo::new();
    let ran = demo.run(&[
        "gifts",
        "add",
        "--person",
        "Tamsin",
        "--garment",
        "tam",
        "--set",
        "ease=-8 %",
        "--fix",
        "wedges=8",
        "--fix",
        "band_rows=18",
    ]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let text = demo.text("gifts.toml");
    assert!(text.contains("fix.band_rows = 18") && text.contains("fix.wedges = 8"), "{text}");
    let last =
        |demo: &Demo| demo.toml("gifts.toml")["gift"].as_array().expect("a list").last().cloned();
    let gift = last(&demo).expect("a gift");
    assert_eq!(gift["options"]["fix"]["wedges"].as_integer(), Some(8));
    let id = gift["id"].as_str().expect("an id").to_owned();
    let listed = demo.run(&["gifts", "list"]);
    assert!(listed.out.contains("fix.wedges=8"), "{}", listed.out);
    // Changed, and taken out again.
    let ran = demo.run(&["gifts", "change", &id, "--fix", "wedges=7", "--fix", "band_rows="]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let gift = last(&demo).expect("a gift");
    let fixed = gift["options"]["fix"].as_table().expect("a table");
    assert_eq!((fixed.len(), fixed["wedges"].as_integer()), (1, Some(7)), "{gift:?}");
    let wrong = demo.run(&["gifts", "change", &id, "--fix", "wegdes=7"]);
    assert!(wrong.code != Some(0) && wrong.err.contains("decides no `wegdes`"), "{}", wrong.err);
    // A record, as the piece was knitted.
    let ran = demo.run(&["stash", "change", "beacon-1", "--weight", "64 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let ran = demo.run(&[
        "record",
        "tam",
        "--size",
        "y5-6",
        "--fix",
        "wedges=6",
        "--used",
        "band:beacon-1=54 g",
        "--used",
        "hat:beacon-1=16 g",
        "--sure",
    ]);
    let records = demo.toml("records.toml");
    let record = records["record"].as_array().expect("a list").last().cloned().expect("a record");
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(record["options"]["fix"]["wedges"].as_integer(), Some(6), "{record:?}");
    assert!(demo.text("records.toml").contains("fix.wedges = 6"), "{}", demo.text("records.toml"));
    assert_eq!(demo.run(&["gifts", "list"]).code, Some(0));
}

/// Query, JSON as either writes it, the page, and the link that leads back.
#[test]
fn what_is_fixed_travels_over_http() {
    let server = Server::new();
    let of = |answer: &Value| value(&answer["sizes"][0], "band_stitches");
    for query in ["fix.band_stitches=190", "o.fix.band_stitches=190"] {
        let answer = server.get(&format!("/api/v1/grade?garment=tam&sizes=women-m&{query}"));
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        assert_eq!(of(&answer.json()), 190, "{query}");
    }
    for options in [json!({ "fix.band_stitches": 190 }), json!({ "fix": { "band_stitches": 190 } })]
    {
        let ask = json!({ "garment": "tam", "sizes": "women-m", "options": options });
        let answer = server.post("/api/v1/grade", &ask);
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        assert_eq!(of(&answer.json()), 190, "{options}");
    }
    let answer = server.get("/api/v1/grade?garment=tam&sizes=women-m&fix.wedges=x");
    problem(&answer, "decision");
    let page = server.get("/grade?garment=tam&sizes=women-m&fix.band_stitches=190");
    let text = page.text();
    for said in [
        "name=\"fix.band_stitches\" value=\"190\" placeholder=\"chosen: 190\"",
        "name=\"fix.steps\" value=\"\" placeholder=\"chosen: 34\"",
        "<li>Fixed: band stitches 190</li>",
        "/grade?garment=tam&#38;sizes=women-m&#38;fix.band_stitches=190",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    // What can't be keeps its field, beside the nearest that can.
    let page = server.get("/grade?garment=tam&sizes=women-m&fix.band_stitches=191");
    for said in ["value=\"191\" placeholder=\"chosen: 200\"", "190 or 192 can"] {
        assert!(page.text().contains(said), "{said}: {}", page.text());
    }
}
