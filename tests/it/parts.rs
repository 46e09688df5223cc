//! What lets scripts share work: lists of steps in lists, needles as values, parts beside the garments,
//! values shown to the author; and what of it can be abused.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use diag::{Code, Diagnostic, Diagnostics};
use knit::garment::Garment;
use knit::program::{Action, Step, Which};
use script::{GarmentSource, Limits, Plugin, PluginSource, ScriptFailure, ScriptHost};

use crate::hostile::input;
use crate::script_api::run_for;
use crate::support::{bench, oddments_in};

fn made(script: &str) -> Garment {
    run_for(2, script).unwrap_or_else(|failure| panic!("{}\n{script}", failure.diagnostics()))
}

/// The first fault of a script, for an API.
fn fault(api: u32, script: &str) -> Diagnostic {
    let failure = run_for(api, script).expect_err(script);
    failure.diagnostics().iter().next().expect("one").clone()
}

fn line(fault: &Diagnostic) -> Option<usize> {
    fault.place.as_ref().map(|place| place.line)
}

fn rows(steps: &[Step]) -> Vec<u32> {
    let rows = steps.iter().filter_map(|step| match step.action {
        Action::Knit { rows } => Some(rows),
        _ => None,
    });
    rows.collect()
}

/// A script with one piece of these steps.
fn piece_of(before: &str, steps: &str) -> String {
    format!(
        "return function(input)\n{before}\nreturn {{ pieces = {{ piece{{ name = \"body\", steps = {steps} }} }} }}\nend"
    )
}

#[test]
fn lists_in_a_list_stand_for_their_steps_in_order() {
    let script = piece_of(
        "local k = function(n) return step.knit{ rows = n } end",
        "{ k(1), { k(2), {}, { { k(3) }, k(4) } }, step.again{ times = 2, steps = { { k(5) }, k(6) } }, k(7) }",
    );
    let garment = made(&script);
    let steps = &garment.program.pieces[0].steps;
    assert_eq!(rows(steps), [1, 2, 3, 4, 7]);
    let Action::Repeat { times: 2, steps: inner } = &steps[4].action else { panic!("{steps:?}") };
    assert_eq!(rows(inner), [5, 6]);
    let finishing = "return function()\nreturn { pieces = {}, finishing = { { step.note{ text = \"a\" } }, step.note{ text = \"b\" } } }\nend";
    assert_eq!(made(finishing).program.finishing.len(), 2);
    let told = fault(1, &script);
    assert_eq!((told.code, line(&told)), (Code::ScriptApi, Some(3)), "{told}");
}

#[test]
fn a_fault_in_a_list_in_a_list_keeps_its_line() {
    let wrong = "return function()\nlocal function helper()\n  return { step.knit(),\n    { op = \"knit\", rows = -1, line = 4 } }\nend\nreturn { pieces = { piece{ name = \"body\", steps = { helper(), { 7 } } } } }\nend";
    let failure = run_for(2, wrong).expect_err("two faults");
    let found: Vec<_> = failure.diagnostics().iter().map(|f| (f.code, line(f))).collect();
    assert_eq!(found, [(Code::ScriptNumber, Some(4)), (Code::ScriptWrongType, Some(6))]);
    let message = &failure.diagnostics().iter().nth(1).expect("the second").message;
    assert!(message.contains("step 1 in list 2 in `steps` of piece `body`"), "{message}");
}

/// A list that holds itself, once or a thousand times, and one too deep.
#[test]
fn lists_without_an_end_are_refused() {
    let ring = |times: u32| {
        format!(
            "local ring = {{ step.knit() }}\nfor i = 1, {times} do table.insert(ring, ring) end"
        )
    };
    for before in
        [ring(1), ring(1000), "local ring = {}\nfor i = 1, 20 do ring = { ring } end".into()]
    {
        let told = fault(2, &piece_of(&before, "ring"));
        assert_eq!(told.code, Code::ScriptNesting, "{before}: {told}");
        assert!(line(&told).is_some(), "{told}");
    }
    // Wide and not deep: the steps are too many before the depth is.
    let wide = "local k, ring = step.knit(), {}\nfor i = 1, 1000 do ring[i] = k end\nfor j = 1, 3 do local next = {}\nfor i = 1, 1000 do next[i] = ring end\nring = next end";
    let host = &mut ScriptHost::new(Limits::default());
    let plugin = load(&[("init.luau", &piece_of(wide, "ring"))], &[]).expect("loads");
    let Err(ScriptFailure::Fault(found)) = host.garment(&plugin, &input()) else { panic!("made") };
    assert_eq!(found.iter().next().map(|f| f.code), Some(Code::ScriptSteps), "{found}");
}

#[test]
fn needles_are_values_one_can_compute_with() {
    let garment = made(
        r#"return function(input)
  local bed = needles.centred(47)
  assert(tostring(bed) == "L23-R24" and bed.first == "L23" and bed.last == "R24" and bed.count == 47)
  assert(tostring(bed:left(3)) == "L23-L21" and tostring(bed:right(3)) == "R22-R24")
  assert(tostring(bed:shift(-1)) == "L24-R23" and bed:shift(1):shift(-1) == bed)
  assert(bed:at(1) == "L23" and bed:at(24) == "R1" and tostring(bed:slice(24, 24)) == "R1")
  assert(bed == needles.span("L23-R24") and bed == needles.span("L23", "R24") and bed ~= needles.centred(46))
  assert("over " .. bed .. "." == "over L23-R24." and string.format("%s", bed) == "L23-R24")
  assert(not pcall(function() bed.first = "L1" end) and not pcall(rawset, bed, "first", "L1"))
  assert(not pcall(setmetatable, bed, {}) and table.isfrozen(bed))
  local names = {}
  for name in pairs(bed) do table.insert(names, name) end
  table.sort(names)
  assert(table.concat(names, " ") == "count first last")
  return { pieces = { piece{ name = "body", steps = {
    step.cast_on{ needles = bed, method = "wound" },
    step.hold{ needles = bed:left(2) },
    step.bring_back{ needles = "L23-L22" },
  } } }, finished = { { name = "girth", target = 1, parts = { { piece = "body", needles = bed:right(4) } } } } }
end"#,
    );
    let steps = &garment.program.pieces[0].steps;
    let span = |text: &str| text.parse::<knit::needle::Span>().expect("a span");
    assert!(matches!(&steps[0].action, Action::CastOn { span: s, .. } if *s == span("L23-R24")));
    assert_eq!(steps[1].action, Action::Hold(Which::Span(span("L23-L22"))));
    // With the first API they are the texts they always were.
    let old = "return function()\nlocal bed = needles.centred(47)\nassert(bed == \"L23-R24\" and type(bed) == \"string\")\nassert(needles.slice(48, 1, 12) == \"L24-L13\")\nreturn { pieces = {} }\nend";
    run_for(1, old).expect("texts");
    let told = fault(1, "return function()\nneedles.span(\"L1\")\nend");
    assert_eq!((told.code, line(&told)), (Code::ScriptApi, Some(2)), "{told}");
}

#[test]
fn needles_that_can_not_be_are_refused_at_their_line() {
    let cases = [
        ("needles.centred(4):left(5)", Code::ScriptNumber, "there are 4 needles"),
        ("needles.centred(4):left(0)", Code::ScriptNumber, "`n` of span:left"),
        ("needles.centred(4).left(2)", Code::ScriptWrongType, "`span` of span:left"),
        ("needles.centred(4):shift(2000)", Code::ScriptNumber, "no bed is so long"),
        ("needles.centred(4):shift(0.5)", Code::ScriptNumber, "`by` of span:shift"),
        ("needles.span(\"R4\", \"L4\")", Code::ScriptNumber, "`first` is R4"),
        ("needles.span({})", Code::ScriptWrongType, "`first` of needles.span"),
        ("needles.centred(4):middle()", Code::ScriptUnknownName, "span.middle"),
        (
            "local s = needles.centred(9) for i = 1, 100 do s = s:shift(1000) end",
            Code::ScriptWrongType,
            "`span` of span:shift",
        ),
        (
            "step.hold{ needles = { first = \"L9\", last = \"L12\" } }",
            Code::ScriptWrongType,
            "`needles` of step.hold",
        ),
        (
            "step.hold{ needles = setmetatable({}, { __index = function() return \"L1\" end }) }",
            Code::ScriptWrongType,
            "`needles` of step.hold",
        ),
        ("getmetatable(needles.centred(4)).__index = nil", Code::ScriptError, "readonly"),
    ];
    for (script, code, words) in cases {
        let told = fault(2, &format!("return function()\n{script}\nend"));
        assert_eq!((told.code, line(&told)), (code, Some(2)), "{script}: {told}");
        assert!(told.message.contains(words), "{script}: {told}");
    }
}

#[test]
fn a_global_is_declared_before_it_is_given_a_value() {
    for assigned in ["count = 1", "function helper() end", "step = {}", "local a a, b = 1, 2"] {
        let script = format!("return function()\n{assigned}\nreturn {{ pieces = {{}} }}\nend");
        let told = fault(2, &script);
        assert_eq!(
            (told.code, line(&told)),
            (Code::ScriptUnknownName, Some(2)),
            "{assigned}: {told}"
        );
        assert!(told.hints[0].starts_with("declare it first: local "), "{told}");
        run_for(1, &script).expect("an older garment may");
    }
}

/// A garment with parts, each given by its files.
pub fn load(
    own: &[(&str, &str)],
    parts: &[(&str, &[(&str, &str)])],
) -> Result<Plugin, Diagnostics> {
    let files = |files: &[(&str, &str)]| -> BTreeMap<String, Vec<u8>> {
        files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
    };
    let mut own = PluginSource { folder: "plugins/made".to_owned(), files: files(own) };
    let asked: String = parts.iter().map(|(name, _)| format!("{name} = \"1\"\n")).collect();
    let manifest = manifest("made", &asked);
    own.files.entry("plugin.toml".to_owned()).or_insert(manifest.into_bytes());
    let parts = parts.iter().map(|(name, of)| {
        let mut files = files(of);
        files
            .entry("part.toml".to_owned())
            .or_insert_with(|| part_manifest(name, "1.0.0", "").into_bytes());
        ((*name).to_owned(), PluginSource { folder: format!("plugins/parts/{name}"), files })
    });
    let mut source = GarmentSource { parts: parts.collect(), ..own.into() };
    source.known_parts = source.parts.keys().cloned().collect();
    Plugin::load(source, &["head_girth"])
}

pub fn manifest(id: &str, parts: &str) -> String {
    format!(
        "id = \"{id}\"\ntitle = \"Made\"\nversion = \"1.0.0\"\napi = 2\nsummary = \"Made.\"\n\
         measures = [\"head_girth\"]\nstructures = [\"plain\"]\n[sections]\nbody = \"Body\"\n[parts]\n{parts}"
    )
}

pub fn part_manifest(id: &str, version: &str, parts: &str) -> String {
    format!(
        "id = \"{id}\"\ntitle = \"Part\"\nversion = \"{version}\"\napi = 2\nsummary = \"A part.\"\n[parts]\n{parts}"
    )
}

fn first(found: Result<Plugin, Diagnostics>) -> Diagnostic {
    found.expect_err("refused").iter().next().expect("one").clone()
}

const HEEL: &str = "return { rows = function(n) return { step.knit{ rows = n } } end }";
const INIT: &str = "local heel = require(\"parts/heel\")\n\
    return function()\n  return { pieces = { piece{ name = \"body\", steps = {\n    heel.rows(4),\n  } } } }\nend";

#[test]
fn a_part_is_required_by_its_name_and_may_require_others() {
    let turn = "return { once = require(\"./turn/once\") }";
    let parts: &[(&str, &[(&str, &str)])] = &[
        (
            "heel",
            &[
                (
                    "init.luau",
                    "local turn = require(\"parts/turn\")\nreturn { rows = function(n) return turn.once(n) end }",
                ),
                ("part.toml", &part_manifest("heel", "1.4.2", "turn = \"1\"\n")),
            ],
        ),
        (
            "turn",
            &[
                ("init.luau", turn),
                ("turn/once.luau", "return function(n) return step.knit{ rows = n } end"),
            ],
        ),
    ];
    let plugin = load(&[("init.luau", INIT)], parts).expect("loads");
    let garment = ScriptHost::new(Limits::default()).garment(&plugin, &input()).expect("made");
    let steps = &garment.program.pieces[0].steps;
    // A step knows the garment's line, whichever part made it.
    assert_eq!((rows(steps), steps[0].line), (vec![4], 4));
}

/// What is wrong in a part is shown at its own line.
#[test]
fn a_fault_in_a_part_is_at_the_parts_line() {
    let heel = "return {\n  rows = function(n)\n    return step.knit{ row = n }\n  end,\n}";
    let plugin = load(&[("init.luau", INIT)], &[("heel", &[("init.luau", heel)])]).expect("loads");
    let failure = ScriptHost::new(Limits::default()).garment(&plugin, &input()).expect_err("wrong");
    let fault = failure.diagnostics().iter().next().expect("one");
    let place = fault.place.as_ref().expect("placed");
    assert_eq!((place.file.as_str(), place.line), ("plugins/parts/heel/init.luau", 3), "{fault}");
}

#[test]
fn parts_that_can_not_be_are_refused_where_they_are_asked_for() {
    let at = |fault: &Diagnostic| {
        let place = fault.place.as_ref().expect("placed");
        (place.file.clone(), place.line_text.trim().to_owned())
    };
    let own = |name: &str| ("plugins/made/plugin.toml".to_owned(), name.to_owned());
    // Not there, and misspelt.
    let told = first(load(
        &[("init.luau", INIT), ("plugin.toml", &manifest("made", "heal = \"1\"\n"))],
        &[("heel", &[("init.luau", HEEL)])],
    ));
    assert_eq!((told.code, at(&told)), (Code::PluginPart, own("heal = \"1\"")), "{told}");
    assert_eq!(told.hints, ["did you mean `heel`?"]);
    // Another version.
    let told = first(load(
        &[("init.luau", INIT)],
        &[("heel", &[("init.luau", HEEL), ("part.toml", &part_manifest("heel", "2.0.1", ""))])],
    ));
    assert_eq!((told.code, at(&told)), (Code::PluginPart, own("heel = \"1\"")), "{told}");
    assert!(told.message.contains("2.0.1 here, and version 1"), "{told}");
    // Two that disagree: the one that asks for what is not there is told, at its own line.
    let told = first(load(
        &[("init.luau", INIT)],
        &[
            ("heel", &[("init.luau", HEEL)]),
            (
                "toe",
                &[
                    ("init.luau", "return {}"),
                    ("part.toml", &part_manifest("toe", "1.0.0", "heel = \"2\"\n")),
                ],
            ),
        ],
    ));
    assert_eq!(at(&told), ("plugins/parts/toe/part.toml".into(), "heel = \"2\"".into()), "{told}");
    // A name that is no name, and one that climbs.
    for name in ["\"../x\"", "\"heel/../toe\"", "Heel"] {
        let text = manifest("made", &format!("{name} = \"1\"\n"));
        let told = first(load(&[("init.luau", INIT), ("plugin.toml", &text)], &[]));
        assert_eq!(told.code, Code::PluginManifest, "{name}: {told}");
        assert!(told.message.contains("can't be the name of a part"), "{name}: {told}");
    }
    // A version that is no figure, and an older garment.
    let told =
        first(load(&[("init.luau", INIT), ("plugin.toml", &manifest("made", "heel = 1\n"))], &[]));
    assert!(told.hints[0].contains("heel = \"1\""), "{told}");
    let older = manifest("made", "heel = \"1\"\n").replace("api = 2", "api = 1");
    let found = load(&[("init.luau", INIT), ("plugin.toml", &older)], &[]).expect_err("older");
    assert!(found.iter().any(|f| f.message.contains("came with script API 2")), "{found}");
    // In a folder of another name.
    let told = first(load(
        &[("init.luau", INIT)],
        &[("heel", &[("init.luau", HEEL), ("part.toml", &part_manifest("toe", "1.0.0", ""))])],
    ));
    assert_eq!(told.code, Code::PluginPart, "{told}");
    assert!(told.message.contains("calls itself `toe`"), "{told}");
}

#[test]
fn parts_that_ask_for_one_another_are_told_the_ring() {
    let asks = |id: &str, other: &str| part_manifest(id, "1.0.0", &format!("{other} = \"1\"\n"));
    let told = first(load(
        &[("init.luau", INIT), ("plugin.toml", &manifest("made", "heel = \"1\"\n"))],
        &[
            ("heel", &[("init.luau", HEEL), ("part.toml", &asks("heel", "turn"))]),
            ("turn", &[("init.luau", HEEL), ("part.toml", &asks("turn", "toe"))]),
            ("toe", &[("init.luau", HEEL), ("part.toml", &asks("toe", "heel"))]),
        ],
    ));
    assert_eq!(told.code, Code::PluginPart, "{told}");
    assert!(told.message.ends_with("heel -> turn -> toe -> heel"), "{told}");
    let told = first(load(
        &[("init.luau", INIT)],
        &[("heel", &[("init.luau", HEEL), ("part.toml", &asks("heel", "heel"))])],
    ));
    assert!(told.message.ends_with("heel -> heel"), "{told}");
}

/// Parts that mean harm: huge, compiled, reaching out, meddling with what they share.
#[test]
fn hostile_parts_get_nowhere() {
    let huge = format!("return {{}} --{}", "x".repeat(300 * 1024));
    let told = first(load(&[("init.luau", INIT)], &[("heel", &[("init.luau", &huge)])]));
    assert_eq!(told.code, Code::ScriptSize, "{told}");
    let told = first(load(&[("init.luau", INIT)], &[("heel", &[("init.luau", "\u{1b}Lua")])]));
    assert_eq!(told.code, Code::ScriptBinary, "{told}");
    let told = first(load(&[("init.luau", INIT)], &[("heel", &[("other.luau", "return 1")])]));
    assert_eq!(told.code, Code::PluginMissing, "{told}");
    let many: Vec<String> = (0..70).map(|i| format!("m{i}.luau")).collect();
    let mut files: Vec<(&str, &str)> =
        many.iter().map(|name| (name.as_str(), "return 1")).collect();
    files.push(("init.luau", HEEL));
    let told = first(load(&[("init.luau", INIT)], &[("heel", &files)]));
    assert_eq!(told.code, Code::ScriptSize, "{told}");
    let crowd: Vec<String> = (0..40).map(|i| format!("p{i}")).collect();
    let crowd: Vec<(&str, &[(&str, &str)])> =
        crowd.iter().map(|name| (name.as_str(), &[("init.luau", "return {}")][..])).collect();
    let told =
        first(load(&[("init.luau", "return function() return { pieces = {} } end")], &crowd));
    assert!(told.message.contains("more than 32 parts"), "{told}");

    let outcome = |init: &str, heel: &str| {
        let files = [("init.luau", init), ("shapes.luau", "return { secret = 1 }")];
        let plugin = load(&files, &[("heel", &[("init.luau", heel)])]).expect("loads");
        let made = ScriptHost::new(Limits::default()).garment(&plugin, &input());
        made.map_err(|failure| failure.diagnostics().iter().next().expect("one").clone())
    };
    let required = |path: &str| {
        format!("local x = require(\"{path}\")\nreturn function() return {{ pieces = {{}} }} end")
    };
    for path in [
        "parts/../shapes",
        "parts/heel/init",
        "parts/",
        "parts/Heel",
        "parts/toe",
        "/parts/heel",
        "../parts/heel",
        "./parts/heel",
        "@heel/init",
        "./@heel/init",
    ] {
        let told = outcome(&required(path), HEEL).expect_err(path);
        assert_eq!((told.code, line(&told)), (Code::ScriptRequire, Some(1)), "{path}: {told}");
        assert!(!told.hints.is_empty(), "{path}: {told}");
    }
    // A part reaches none of the garment's files, nor a part it did not ask for.
    for path in ["./shapes", "../shapes", "parts/heel", "parts/toe"] {
        let heel = format!("require(\"{path}\")\nreturn {{}}");
        let told = outcome(INIT, &heel).expect_err(path);
        let file = told.place.as_ref().map(|p| p.file.clone());
        assert_eq!(
            (told.code, file.as_deref()),
            (Code::ScriptRequire, Some("plugins/parts/heel/init.luau")),
            "{path}: {told}"
        );
    }
    // What it gives can't be changed by whoever requires it.
    let told =
        outcome(&INIT.replace("return function()", "return function()\n  heel.rows = nil"), HEEL);
    assert_eq!(told.expect_err("frozen").code, Code::ScriptError);
    // It keeps nothing from one size to the next, and a loop in it ends by the clock.
    let counting =
        "local n = 0\nreturn { rows = function() n += 1\n  return step.knit{ rows = n } end }";
    let plugin =
        load(&[("init.luau", INIT)], &[("heel", &[("init.luau", counting)])]).expect("loads");
    let mut host = ScriptHost::new(Limits::default());
    for _ in 0..3 {
        let garment = host.garment(&plugin, &input()).expect("made");
        assert_eq!(rows(&garment.program.pieces[0].steps), [1]);
    }
    let told = outcome(INIT, "while true do end").expect_err("no end");
    assert_eq!(told.code, Code::ScriptDeadline, "{told}");
}

/// The first API goes on as it did: two garments written for it, with a module of their own.
#[test]
fn garments_of_the_first_api_come_out_as_ever() {
    for name in ["cuff", "hat"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/first-api").join(name);
        let name = folder.to_str().expect("a plain path");
        let plugin = bench().garment(name).expect("loads");
        assert_eq!(plugin.manifest.api, 1);
        let test = bench().test_garment(name).expect("it can be run");
        assert!(test.cases.len() >= 5);
        for case in test.cases {
            assert!(case.passed(), "{name}: {}: {:?} {}", case.name, case.differences, case.faults);
        }
    }
}

#[test]
fn every_shipped_part_passes_its_check_and_its_cases() {
    assert!(store::shipped_part_names().len() >= 3);
    for name in store::shipped_part_names() {
        let name = format!("parts/{name}");
        let found = bench().check_garment(&name).expect("it can be read").findings;
        assert!(found.is_empty(), "{name}: {found}");
        let test = bench().test_garment(&name).expect("it can be run");
        let figures: usize = test.cases.iter().map(|case| case.figures).sum();
        assert!(test.cases.iter().all(|case| case.passed()) && figures >= 10, "{name}: {figures}");
    }
}

/// A workspace's own part: beside the garment, before a shipped one of its name, tested on its own; its
/// empty case is filled by `--bless`.
#[test]
fn a_workspace_has_parts_of_its_own() {
    let hold = tempfile::tempdir().expect("a folder");
    let write = |path: &str, text: &str| {
        let path = hold.path().join("garments").join(path);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, text).expect("written");
    };
    write("parts/leg/part.toml", &part_manifest("leg", "1.0.0", ""));
    write(
        "parts/leg/init.luau",
        "return { rows = function(n) return { step.knit{ rows = n } } end }",
    );
    write("parts/leg/README.md", "# A leg\n");
    write(
        "parts/leg/sample.luau",
        "local leg = require(\"parts/leg\")\nreturn function(input)\n  trace(\"needles\", input.machine.needles, needles.centred(20))\n  return {\n    pieces = { piece{ name = \"sample\", steps = {\n      step.cast_on{ needles = needles.centred(20), method = \"wound\" },\n      leg.rows(12),\n      step.cast_off(),\n    } } },\n    finished = { { name = \"width\", target = 80, parts = { { piece = \"sample\", width = true } } } },\n    counts = { { name = \"rows\", rows = \"sample\" } },\n  }\nend",
    );
    write("parts/leg/cases/plain.toml", "# Twelve rows, whatever the size.\nsize = \"women-m\"\n");
    write("own/plugin.toml", &manifest("own", "leg = \"1\"\n"));
    write(
        "own/init.luau",
        "local leg = require(\"parts/leg\")\nreturn function(input)\n  return { pieces = { piece{ name = \"body\", steps = {\n    step.cast_on{ needles = needles.centred(20), method = \"wound\" }, leg.rows(input.body.head_girth // 10), step.cast_off() } } },\n    finished = { { name = \"width\", target = 80, parts = { { piece = \"body\", width = true } } } } }\nend",
    );
    let run = |arguments: &[&str]| oddments_in(hold.path(), arguments);
    let graded = run(&["grade", "garments/own", "--sizes", "women-m"]);
    assert_eq!(graded.code, Some(0), "{}", graded.err);
    let graded = run(&["grade", "own", "--garments", "garments", "--sizes", "women-m"]);
    assert_eq!(graded.code, Some(0), "{}", graded.err);

    let empty = run(&["garment", "test", "parts/leg", "--garments", "garments"]);
    assert_eq!(empty.code, Some(1), "a case that expects nothing proves nothing: {}", empty.out);
    assert!(empty.err.contains("--bless"), "{}", empty.err);
    let blessed = run(&["garment", "test", "parts/leg", "--garments", "garments", "--bless"]);
    assert_eq!(blessed.code, Some(0), "{}{}", blessed.out, blessed.err);
    let case =
        fs::read_to_string(hold.path().join("garments/parts/leg/cases/plain.toml")).expect("read");
    assert!(
        case.starts_with("# Twelve rows") && case.contains("[expect.counts]\nrows = 12\n"),
        "{case}"
    );
    write(
        "parts/leg/init.luau",
        "return { rows = function(n) return { step.knit{ rows = n + 1 } } end }",
    );
    let changed = run(&["garment", "test", "garments/parts/leg"]);
    assert_eq!(changed.code, Some(1), "{}", changed.out);

    // What a script shows its author is told by the check, and nowhere else.
    write(
        "parts/leg/init.luau",
        "return { rows = function(n) return { step.knit{ rows = n } } end }",
    );
    let checked = run(&["garment", "check", "garments/parts/leg"]);
    assert_eq!(checked.code, Some(0), "{}{}", checked.out, checked.err);
    assert!(
        checked.out.starts_with("trace at garments/parts/leg/sample.luau:3\n"),
        "{}",
        checked.out
    );
    assert!(checked.out.contains("  needles 200 L10-R10  ("), "{}", checked.out);
    let graded = run(&["grade", "parts/leg", "--garments", "garments", "--sizes", "women-m"]);
    assert_eq!(graded.code, Some(0), "{}", graded.err);
    assert!(!format!("{}{}", graded.out, graded.err).contains("trace"), "{}", graded.out);
    let unknown = run(&["garment", "test", "parts/legg"]);
    assert!(unknown.err.contains("did you mean `parts/leg`?"), "{}", unknown.err);
}

#[test]
fn what_is_shown_to_the_author_is_bounded_and_has_no_address() {
    let script =
        "return function(input)\n  for i = 1, 500 do trace(i) end\n  return { pieces = {} }\nend";
    let plugin = load(&[("init.luau", script)], &[]).expect("loads");
    let (made, reads) = ScriptHost::new(Limits::default()).watch(&plugin, &input());
    made.expect("made");
    assert_eq!(reads.traces.len(), 100);
    let script = "return function(input)\n  trace({ 1, 2, b = true, a = {} }, print_ == nil, function() end, string.rep(\"x\", 9000), { [1] = 1, [9] = 2 })\n  trace()\n  return { pieces = {} }\nend";
    let plugin =
        load(&[("init.luau", &script.replace("print_ == nil", "nil"))], &[]).expect("loads");
    let (_, reads) = ScriptHost::new(Limits::default()).watch(&plugin, &input());
    let text = &reads.traces[0].text;
    assert!(text.starts_with("{ 1, 2, a = a table, b = true } nil a function xxx"), "{text}");
    assert!(text.chars().count() <= 401 && !text.contains("0x"), "{text}");
    assert_eq!(reads.traces[0].place.as_ref().map(|place| place.line), Some(2));
    let told = fault(1, "return function()\ntrace(1)\nend");
    assert_eq!((told.code, line(&told)), (Code::ScriptApi, Some(2)), "{told}");
}

/// The check tells causes before what they bring about, whatever the lines, and not what follows.
#[test]
fn the_check_orders_by_cause() {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = bench().new_garment("late", hold.path()).expect("a new garment");
    let path = folder.join("init.luau");
    let text = fs::read_to_string(&path).expect("read");
    // A mistake at the very end of the script: the manifest's and the cases' faults would come first by
    // line, and the option would be said to be unread.
    let broken = text.replacen(
        "return function(input)",
        "return function(input)\n\tlocal late = nil + 1",
        1,
    );
    assert_ne!(broken, text);
    fs::write(&path, broken).expect("written");
    fs::remove_file(folder.join("README.md")).expect("removed");
    let found = bench().check_garment(folder.to_str().expect("plain")).expect("read").findings;
    let codes: Vec<Code> = found.iter().map(|f| f.code).collect();
    assert_eq!(codes, [Code::ScriptError, Code::NoReadme], "{found}");
}
