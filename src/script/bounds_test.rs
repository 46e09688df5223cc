//! Every bound on what a script does and returns, met and passed by one.

use std::collections::BTreeMap;
use std::time::Duration;

use diag::{Code, Diagnostics};
use knit::garment::Garment;
use knit::view::Form;

use crate::{
    GarmentInput, GarmentSource, GaugeInput, Limits, MachineInput, Plugin, PluginSource,
    ScriptFailure, ScriptHost,
};

/// A script for an API in parts, and what is said of it; nothing where it is to be let through.
struct Try {
    api: u32,
    before: &'static str,
    steps: &'static str,
    rest: &'static str,
    told: &'static str,
}

/// Of a whole garment that differs in this.
const HONEST: &str = "step.cast_on{ needles = \"L20-R20\", method = \"wound\" }, step.knit{ rows = 2 }, step.cast_off(),";
const SOUND: Try = Try { api: 2, before: "", steps: HONEST, rest: "", told: "" };

fn before(before: &'static str, told: &'static str) -> Try {
    Try { before, told, ..SOUND }
}

fn steps(steps: &'static str, told: &'static str) -> Try {
    Try { steps, told, ..SOUND }
}

fn rest(rest: &'static str, told: &'static str) -> Try {
    Try { rest, told, ..SOUND }
}

fn plugin(api: u32, script: &str, others: &[(&str, &str)]) -> Result<Plugin, Diagnostics> {
    let manifest = format!(
        "id = \"bounded\"\ntitle = \"Bounded\"\nversion = \"1.0.0\"\napi = {api}\nsummary = \"Tries bounds.\"\n\
         measures = [\"head_girth\"]\nstructures = [\"plain\"]\n[sections]\nbody = \"Body\"\n"
    );
    let files = [("plugin.toml", manifest.as_str()), ("init.luau", script)];
    let files = files.iter().chain(others);
    let files: BTreeMap<String, Vec<u8>> =
        files.map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect();
    let source = PluginSource { folder: "plugins/bounded".to_owned(), files };
    Plugin::load(source, &["head_girth", "hand_girth"])
}

fn input(fixed: &[(&str, i64)]) -> GarmentInput {
    let gauge = GaugeInput { stitch_mm: 4.0, row_mm: 2.5, stretch: 1.6 };
    GarmentInput {
        size_id: "some".to_owned(),
        body: BTreeMap::from([("head_girth".to_owned(), 560.0)]),
        gauges: BTreeMap::from([("plain".to_owned(), gauge)]),
        fixed: fixed.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect(),
        machine: MachineInput {
            id: "standard".to_owned(),
            needles: 200,
            pitch_mm: 4.5,
            ribber: false,
        },
        ..GarmentInput::default()
    }
}

/// Far more than anything here takes.
fn limits() -> Limits {
    Limits { deadline: Duration::from_secs(20), ..Limits::default() }
}

fn script(of: &Try) -> String {
    format!(
        "return function(input)\n{}\nreturn {{ pieces = {{ piece{{ name = \"body\", steps = {{ {} }} }} }}, {} }}\nend\n",
        of.before, of.steps, of.rest
    )
}

/// The honest garment with so much more in it.
fn with(rest: &str) -> String {
    let honest = script(&SOUND);
    let (head, _) = honest.rsplit_once(" }\nend").expect("an end");
    format!("{head}{rest} }}\nend\n")
}

fn run(
    limits: Limits,
    api: u32,
    script: &str,
    fixed: &[(&str, i64)],
) -> Result<Garment, ScriptFailure> {
    let plugin = plugin(api, script, &[]).map_err(ScriptFailure::Fault)?;
    ScriptHost::new(limits).garment(&plugin, &input(fixed))
}

/// What is said of it, hints and all; nothing where it is a garment.
fn said(made: Result<Garment, ScriptFailure>) -> String {
    let Err(failure) = made else { return String::new() };
    let kind = if matches!(failure, ScriptFailure::Refused(_)) { "refused" } else { "fault" };
    let each = failure.diagnostics().iter().map(|fault| {
        format!("{kind} {}: {} ({})", fault.code, fault.message, fault.hints.join("; "))
    });
    each.collect::<Vec<_>>().join("\n")
}

/// What is amiss, of all of them.
fn tried(all: &[Try]) {
    let amiss = all.iter().filter_map(|of| {
        let (whole, told) = (script(of), of.told);
        let said = said(run(limits(), of.api, &whole, &[]));
        let as_it_should = said.is_empty() == told.is_empty() && said.contains(told);
        (!as_it_should).then(|| format!("{told:?} for\n{whole}{said}\n"))
    });
    let amiss: Vec<String> = amiss.collect();
    assert!(amiss.is_empty(), "{}", amiss.join("\n"));
}

#[test]
fn what_a_script_calls_has_bounds() {
    tried(&[
        SOUND,
        before("for i = 1, 200 do decide_count{ name = `n{i}`, mm = 100, per = 4 } end", ""),
        before(
            "for i = 1, 201 do decide_count{ name = `n{i}`, mm = 100, per = 4 } end",
            "more than 200 numbers are decided",
        ),
        before(
            "for i = 1, 2 do decide_count{ name = \"n\", mm = 100, per = 4 } end",
            "`n` is decided twice",
        ),
        before("decide_count{ name = \"Big\", mm = 100, per = 4 }", "can't be called `Big`"),
        before(
            "decide_count{ name = \"n\", mm = 100, per = 4, multiple = 20, least = 21, most = 39 }",
            "`n` can be no number: from 40 on, 20 at most",
        ),
        before("assert(decide_count{ name = \"n\", mm = 100, per = 4, most = 20 } == 20)", ""),
        before("assert(decide_count{ name = \"n\", mm = 100, per = 4, least = 30 } == 30)", ""),
        before(
            "decide{ of = { a = { 1, 1000 }, b = { 1, 1001 } }, cost = function(c) return 1 end }",
            "decide would try 1001000 combinations",
        ),
        before(
            "fit.best{ over = { { 1, 1000 }, { 1, 1001 } }, cost = function(a, b) return 1 end }",
            "fit.best would try 1001000 combinations",
        ),
        before(
            "fit.best{ over = { { 1, 5, 0 } }, cost = function(a) return 1 end }",
            "a step below 1",
        ),
        before("needles.span(\"R3\", \"L3\")", "`first` is R3 and `last` is L3"),
        before("needles.centred(4):shift(1000)", ""),
        before("needles.centred(4):shift(-1001)", "no bed is so long"),
        before("needles.slice(10, 5, 4)", "`first` is 5 and `last` is 4"),
        before("needles.slice(10, 5, 11)", "`last` is 11, but there are 10 needles"),
        before("needles.at(4, 5)", "`i` is 5, but there are 4 needles"),
        before("needles.centred(4):left(5)", "`n` is 5, but there are 4 needles"),
        before("needles.centred(4):right(5)", "`n` is 5, but there are 4 needles"),
        before("for i = 1, 100 do warn(\"much\") end", ""),
        before("for i = 1, 101 do warn(\"much\") end", "more than 100 warnings"),
        before("warn(string.rep(\"ä\", 2000))", ""),
        before("warn(string.rep(\"ä\", 2001))", "over 2000 characters"),
        before("warn(\"a\\27b\")", "must not hold control characters"),
        before("fit.to_multiple(1, 1, 2^53 - 1)", ""),
        before("fit.to_multiple(1, 1, 2^53)", "must be a whole number"),
        before("fit.round(1, 2)", "takes 1 arguments, not 2"),
        before("fit.round(0/0)", "must be a number from"),
        before("step.mark{}", "step.mark needs `name`"),
        before(
            "edge{ piece = \"body\", side = \"left\", from = { name = \"m\", rows = 100000 } }",
            "",
        ),
        before(
            "edge{ piece = \"body\", side = \"left\", from = { name = \"m\", rows = 100001 } }",
            "must be a whole number or a mark",
        ),
        before(
            "step.cast_on{ needles = { first = \"R2\", last = \"L2\" }, method = \"wound\" }",
            "must be needles such as",
        ),
        before(
            "pcall(refuse, { reason = \"first\" }) pcall(refuse, { reason = \"second\" })",
            "refused script::refused: first",
        ),
        before("undeclared = 1", "was never declared"),
        Try { api: 1, ..before("undeclared = 1", "") },
        before("require(\"./init\")", "the plugin has no `init.luau`"),
        before("require(\"./../other\")", "is not a module of this plugin"),
        before("require(\"parts/heel\")", "plugin.toml asks for no part `heel`"),
        Try {
            api: 1,
            ..before("require(\"parts/heel\")", "requiring a part came with script API 2")
        },
        before("string.rep(\"x\", 1e9)", "fault script::memory"),
        before("pcall(string.rep, \"x\", 3e8)", "fault script::memory"),
    ]);
}

#[test]
fn what_a_script_returns_has_bounds() {
    tried(&[
        steps(
            "step.cast_on{ needles = \"L20-R20\", method = \"wound\" }, step.note{ text = \"x\" }, x = 1",
            "must be a list without gaps or names",
        ),
        steps("step.section{ name = \"body\" }", ""),
        steps("step.section{ name = \"bdy\" }", "no yarn section `bdy` (did you mean `body`?)"),
        steps("{ op = \"knit\", rows = 1, step.knit{ rows = 1 } }", "an entry without a name"),
        steps("{ step.knit{ rows = 1 }, { step.knit{ rows = 1 } } }", ""),
        Try { api: 1, ..steps("{ step.knit{ rows = 1 } }", "a list of steps inside another") },
        Try {
            api: 1,
            ..steps("{ op = \"break_yarn\" }", "step.break_yarn came with script API 2")
        },
        Try {
            api: 1,
            ..steps(
                "{ op = \"decrease\", side = \"left\", inset = 1 }",
                "`inset` of step.decrease came with script API 2",
            )
        },
        rest("counts = { x = 1 }", "must be a list without gaps or names"),
        rest(
            "counts = { { name = \"a\", needles = \"body\" }, { name = \"a\", rows = \"body\" } }",
            "two counts are called `a`",
        ),
        rest("counts = { { name = \"a\", needles = \"bdy\" } }", "names `bdy`, which is no piece"),
        rest(
            "counts = { { name = \"a\", needles = \"body\", rows = \"body\" } }",
            "exactly one of `needles`, `rows`",
        ),
        rest("counts = { { name = \"a b\", rows = \"body\" } }", "can't be \"a b\""),
    ]);
    let other = script(&SOUND).replace("name = \"body\"", "name = \"body\", section = \"bdy\"");
    let told = said(run(limits(), 2, &other, &[]));
    assert!(told.contains("no yarn section `bdy`"), "{told}");
    let counts = |n: usize| {
        let all = (0..n).map(|i| format!("{{ name = \"c{i}\", rows = \"body\" }}"));
        format!("counts = {{ {} }}", all.collect::<Vec<_>>().join(", "))
    };
    for (n, told) in [(200, ""), (201, "has 201 entries, over 200")] {
        let counts = counts(n);
        let whole = with(&counts);
        let said = said(run(limits(), 2, &whole, &[]));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{said}");
    }
    for (length, told) in [(60, ""), (61, "letters, digits, `_` and `-`, 60 at most")] {
        let named =
            format!("counts = {{ {{ name = \"{}\", rows = \"body\" }} }}", "n".repeat(length));
        let whole = with(&named);
        let said = said(run(limits(), 2, &whole, &[]));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{said}");
    }
}

/// A measure of the body that a garment gives, with something in it.
fn measured(more: &str, part: &str) -> String {
    format!(
        "finished = {{ {{ name = \"wide\", target = 100, {more} parts = {{ {{ piece = \"body\", {part} }} }} }} }},"
    )
}

#[test]
fn what_is_measured_has_to_be_there() {
    let wide = || measured("", "width = true");
    let twice =
        wide().replace("} } } },", "} } }, { name = \"wide\", target = 100, parts = {} } },");
    for (rest, told) in [
        (wide(), ""),
        (twice, "two finished measures are called `wide`"),
        (measured("", "width = true, needles = \"L2-R2\""), "exactly one of `width`"),
        (measured("", ""), "exactly one of `width`"),
        (wide().replace("\"body\"", "\"bdy\""), "names `bdy`, which is no piece"),
        (measured("measure = \"head_girth\",", "width = true"), ""),
        (
            measured("measure = \"hand_girth\",", "width = true"),
            "names `hand_girth`, which is no body measure of plugin.toml",
        ),
        (measured("ease_low = 0.2, ease_high = 0.2,", "width = true"), ""),
        (
            measured("ease_low = 0.3, ease_high = 0.2,", "width = true"),
            "an `ease_low` that is not above",
        ),
        (measured("ease_low = 0.3,", "width = true"), "both `ease_low` and `ease_high`"),
        (
            wide()
                + "ratios = { { name = \"r\", of = \"wide\", over = \"wide\", low = 1, high = 1 } }",
            "",
        ),
        (
            wide()
                + "ratios = { { name = \"r\", of = \"wide\", over = \"wide\", low = 2, high = 1 } }",
            "a `low` that is not above `high`",
        ),
        (
            wide()
                + "ratios = { { name = \"r\", of = \"wide\", over = \"wide\", low = 0, high = 1/0 } }",
            "must be a finite number",
        ),
        (
            wide()
                + "ratios = { { name = \"r\", of = \"wide\", over = \"tall\", low = 1, high = 2 } }",
            "names `tall`, which is no finished measure",
        ),
        (
            wide()
                + "ratios = { { name = \"r\", of = \"tall\", over = \"wide\", low = 1, high = 2 } }",
            "names `tall`, which is no finished measure",
        ),
        (
            wide() + "stretches = { { of = \"tall\", over = \"a head\", over_mm = 500 } }",
            "names `tall`, which is no finished measure",
        ),
    ] {
        let whole = with(&rest);
        let said = said(run(limits(), 2, &whole, &[]));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{whole}\n{said}");
    }
}

#[test]
fn what_is_shown_has_to_go_together() {
    let shown = |part: &str| {
        let view = format!("views = {{ view{{ title = \"Front\", parts = {{ {{ {part} }} }} }} }}");
        run(limits(), 2, &with(&view), &[])
    };
    for (part, told) in [
        ("form = \"flat\", piece = \"body\"", ""),
        ("form = \"flat\", piece = \"bdy\"", "names `bdy`, which is no piece"),
        ("form = \"flat\", piece = \"body\", first = 0.5, last = 0.5", "a `first` that lies below"),
        ("form = \"band\", piece = \"body\", arc_from = 90, arc_to = 90", "an `arc_to` other than"),
        ("form = \"flat\", piece = \"body\", turn = 45", "a `turn` of 0, 90, 180 or 270"),
        ("form = \"tube\", piece = \"body\", turn = 45, front = {}", ""),
        ("form = \"flat\", piece = \"body\", x = 1", "both `x` and `y`"),
        ("form = \"flat\", piece = \"body\", front = {}", "a `front` where it is a tube"),
        ("form = \"tube\", piece = \"body\"", "a `front` where it is a tube"),
    ] {
        let said = said(shown(part));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{part}: {said}");
    }
    for (turn, turned) in [("", false), (", turn = 180", true)] {
        let garment = shown(&format!("form = \"band\", piece = \"body\"{turn}")).expect("made");
        let Form::Band(round) = &garment.views[0].parts[0].form else { panic!("a band") };
        assert_eq!(round.turned, turned);
    }
    let views = |n: usize| {
        let one = "view{ title = \"Front\", parts = { { form = \"flat\", piece = \"body\" } } }, ";
        let whole = with(&format!("views = {{ {} }}", one.repeat(n)));
        said(run(limits(), 2, &whole, &[]))
    };
    assert_eq!(views(12), "");
    assert!(views(13).contains("has 13 entries, over 12"), "{}", views(13));
}

/// Limits that are set small: each is met without a word and not passed.
#[test]
fn limits_hold_to_the_last_step() {
    let small = Limits { steps: 100, passes: 100, ..limits() };
    let row = "local k = step.knit{ rows = 1 }\nlocal s = table.create(N, k)";
    let again = "local s = { step.again{ times = N, steps = { step.dial{ value = 7 } } } }";
    let rows = "local s = { step.again{ times = N, steps = { step.knit{ rows = 2 } } } }";
    let deep = "local s = { step.dial{ value = 7 } }\nfor i = 1, N do s = { step.again{ times = 1, steps = s } } end";
    let text = "local s = table.create(N, step.note{ text = string.rep(\"x\", 2000) })";
    for (limits, steps, fits, over, told) in [
        (small, row, 100, 101, "over 100 steps"),
        (small, again, 99, 100, "over 100 steps when unfolded"),
        (small, rows, 50, 51, "knits over 100 rows"),
        (limits(), deep, 16, 17, "nested over 16 deep"),
        (limits(), text, 2097, 2098, "over 4 MB of text"),
    ] {
        for (n, told) in [(fits, ""), (over, told)] {
            let whole = format!(
                "return function(input)\n{}\nreturn {{ pieces = {{ piece{{ name = \"body\", steps = s }} }} }}\nend\n",
                steps.replace('N', &n.to_string())
            );
            let said = said(run(limits, 2, &whole, &[]));
            assert!(
                said.contains(told) && said.is_empty() == told.is_empty(),
                "{n}: {said}\n{whole}"
            );
        }
    }
    // Reading has a deadline too: this script is done before a clock is looked at.
    let none = Limits { deadline: Duration::ZERO, ..Limits::default() };
    let many = "return function(input)\nlocal s = table.create(20000, step.knit{ rows = 1 })\nreturn { pieces = { piece{ name = \"body\", steps = s } } }\nend\n";
    assert!(said(run(none, 2, many, &[])).contains("too many steps to read"));
    assert_eq!(said(run(none, 2, &many.replace("20000", "200"), &[])), "");
    let short = Limits { deadline: Duration::from_millis(50), ..Limits::default() };
    let told = said(run(short, 2, "return function(input) while true do end end", &[]));
    assert!(told.starts_with("fault script::deadline"), "{told}");
    // What is taken at the last moment is counted, although nothing of the script runs after it.
    let late = "return function(input)\nlocal t = { pieces = {} }\nlocal s = string.rep(\"x\", 100 * 1024 * 1024)\nreturn t\nend\n";
    let told = said(run(limits(), 2, late, &[]));
    assert!(told.starts_with("fault script::memory"), "{told}");
}

#[test]
fn no_more_faults_are_told_than_anyone_reads() {
    let wrong = "{ name = 1 }, ".repeat(30);
    let whole = with(&format!("counts = {{ {wrong} }}"));
    let Err(failure) = run(limits(), 2, &whole, &[]) else { panic!("it was let through") };
    assert_eq!(failure.diagnostics().iter().count(), 20);
    let wrong: String = (0..20).map(|n| format!("odd{n} = 1, ")).collect();
    let whole = format!("return function(input) step.knit{{ rows = 1, {wrong} }} end");
    let Err(failure) = run(limits(), 2, &whole, &[]) else { panic!("it was let through") };
    assert_eq!(failure.diagnostics().iter().count(), 8);
}

#[test]
fn what_is_fixed_is_taken_or_refused() {
    let chosen = "decide{ of = { a = { 1, 20 } }, cost = function(c) return c.a end }";
    let far = "decide{ of = { a = { 1, 10, may = { 1, 2000000000 } } }, cost = function(c) if c.a > 10 then return nil end return c.a end }";
    let refusing = "decide_count{ name = \"a\", mm = 40, per = 4 } refuse{ reason = \"no\" }";
    for (before, fixed, told) in [
        (chosen, ("a", 20), ""),
        (chosen, ("a", 21), "refused decision: a can't be 21"),
        (chosen, ("b", 3), "refused decision: `bounded` decides no `b`"),
        (refusing, ("a", 12), "or leave to the garment what is fixed: a"),
        // So far from what can be that nobody looks that far.
        (far, ("a", 1_000_000_000), "the garment would take a 1"),
    ] {
        let said = said(run(limits(), 2, &script(&Try { before, ..SOUND }), &[fixed]));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{said}");
    }
}

#[test]
fn modules_do_not_require_themselves() {
    let init = format!("local other = require(\"./other\")\n{}", script(&SOUND));
    let ring = [
        ("other.luau", "return require(\"./third\")"),
        ("third.luau", "return require(\"./other\")"),
    ];
    let plugin = plugin(2, &init, &ring).expect("loads");
    let made = ScriptHost::new(limits()).garment(&plugin, &input(&[]));
    let Err(ScriptFailure::Fault(found)) = made else { panic!("{made:?}") };
    let fault = found.iter().next().expect("one");
    assert_eq!(fault.code, Code::ScriptRequire);
    assert!(fault.message.contains("requires itself"), "{}", fault.message);
}

#[test]
fn what_a_part_gives_stays_as_it_is() {
    let source = |folder: &str, files: &[(&str, &str)]| PluginSource {
        folder: folder.to_owned(),
        files: files.iter().map(|(name, text)| ((*name).into(), text.as_bytes().into())).collect(),
    };
    let manifest = |more: &str| {
        format!(
            "id = \"bit\"\ntitle = \"Bit\"\nversion = \"1.0.0\"\napi = 2\nsummary = \"A bit.\"\n\
             measures = [\"head_girth\"]\nstructures = [\"plain\"]\n[sections]\nbody = \"Body\"\n{more}"
        )
    };
    let part = source(
        "plugins/parts/bit",
        &[
            ("part.toml", &manifest("")),
            ("init.luau", "return { n = 1 }"),
            ("sample.luau", &script(&SOUND)),
        ],
    );
    for (before, told) in
        [("assert(require(\"parts/bit\").n == 1)", ""), ("require(\"parts/bit\").n = 2", "fault")]
    {
        let init = script(&Try { before, ..SOUND });
        let files = [("plugin.toml", &*manifest("[parts]\nbit = \"1\"\n")), ("init.luau", &init)];
        let own = source("plugins/bit", &files);
        let whole = GarmentSource {
            parts: BTreeMap::from([("bit".to_owned(), part.clone())]),
            ..own.into()
        };
        let plugin = Plugin::load(whole, &["head_girth"]).expect("loads");
        let said = said(ScriptHost::new(limits()).garment(&plugin, &input(&[])));
        assert!(said.contains(told) && said.is_empty() == told.is_empty(), "{said}");
    }
}
