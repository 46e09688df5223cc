//! The script API as its table says it: every example runs, every argument is checked, and the
//! pages made from the table are up to date.

use diag::Code;
use std::collections::BTreeMap;
use std::path::PathBuf;

use knit::garment::{CountSpec, Counted, Extent, Garment, MeasuredPart};
use knit::needle::{Needle, Side, Span};
use knit::program::{Action, Beds, CastOnMethod, HangLoops, Step, Structure, Which};
use script::schema::{CallForm, Need, RECORDS, functions, methods};
use script::{
    API_VERSION, GarmentInput, GaugeInput, Limits, MachineInput, Plugin, PluginSource,
    ScriptFailure, ScriptHost, reference,
};

const MANIFEST: &str = r#"
id = "sample"
title = "Sample"
version = "1.0.0"
api = 1
summary = "Tries the API."
measures = ["head_girth"]
structures = ["plain", "rib 1x1"]

[sections]
body = "Body"
band = "Band"
"#;

/// Runs a script written for the first API.
fn run(script: &str) -> Result<Garment, ScriptFailure> {
    run_for(1, script)
}

pub fn run_for(api: u32, script: &str) -> Result<Garment, ScriptFailure> {
    run_fixed(api, script, BTreeMap::new())
}

/// With numbers that the knitter fixed.
pub fn run_fixed(
    api: u32,
    script: &str,
    fixed: BTreeMap<String, i64>,
) -> Result<Garment, ScriptFailure> {
    let manifest = MANIFEST.replace("api = 1", &format!("api = {api}"));
    let files = BTreeMap::from([
        ("plugin.toml".to_owned(), manifest.into_bytes()),
        ("init.luau".to_owned(), script.as_bytes().to_vec()),
        ("shapes.luau".to_owned(), b"return { wedge = 8 }".to_vec()),
    ]);
    let plugin =
        Plugin::load(PluginSource { folder: "plugins/sample".to_owned(), files }, &["head_girth"])
            .map_err(ScriptFailure::Fault)?;
    let gauge = GaugeInput { stitch_mm: 3.5, row_mm: 2.5, stretch: 1.6 };
    let input = GarmentInput {
        size_id: "adult-m".to_owned(),
        size_label: "Adult M".to_owned(),
        size_age: None,
        size_group: "adult".to_owned(),
        body: BTreeMap::from([("head_girth".to_owned(), 560.0)]),
        options: BTreeMap::new(),
        fixed,
        gauges: ["plain", "rib 1x1"].map(|name| (name.to_owned(), gauge)).into(),
        machine: MachineInput {
            id: "standard".to_owned(),
            needles: 200,
            pitch_mm: 4.5,
            ribber: true,
        },
    };
    ScriptHost::new(Limits::default()).garment(&plugin, &input)
}

fn garment(script: &str) -> Garment {
    run(script).unwrap_or_else(|failure| panic!("{}\n{script}", failure.diagnostics()))
}

#[test]
fn every_example_runs() {
    for entry in functions().chain(methods()) {
        assert!(!entry.doc.is_empty() && !entry.example.is_empty(), "{}", entry.name);
        assert!((1..=API_VERSION).contains(&entry.since), "{}", entry.name);
        let script =
            format!("return function(input)\n{}\nreturn {{ pieces = {{}} }}\nend", entry.example);
        for api in entry.since..=API_VERSION {
            if let Err(failure) = run_for(api, &script) {
                panic!("API {api}: {}\n{script}", failure.diagnostics());
            }
        }
    }
}

#[test]
fn every_required_argument_is_asked_for_by_name() {
    for entry in functions().filter(|e| e.args.iter().any(|a| a.need == Need::Required)) {
        let call = format!("return function()\n{}()\nend", entry.name);
        let Err(ScriptFailure::Fault(found)) = run_for(entry.since, &call) else {
            panic!("{}", entry.name)
        };
        for field in entry.args.iter().filter(|a| a.need == Need::Required) {
            let asked = found.iter().any(|fault| {
                fault.code == Code::ScriptMissingField
                    && fault.message == format!("{} needs `{}`", entry.name, field.name)
                    && fault.place.as_ref().map(|p| p.line) == Some(2)
            });
            assert!(asked, "{}: {}: {found}", entry.name, field.name);
        }
    }
}

#[test]
fn every_argument_refuses_a_wrong_value_by_name() {
    for entry in functions() {
        for field in entry.args {
            // A coroutine is right for nothing.
            let wrong = "coroutine.create(function() end)";
            let call = match entry.form {
                CallForm::Named => {
                    format!("{}{{ {} = {wrong} }}", entry.name, field.name)
                }
                CallForm::Positional | CallForm::Method => {
                    let before = entry.args.iter().take_while(|a| a.name != field.name);
                    let before: String = before.map(|_| "nil, ").collect();
                    format!("{}({before}{wrong})", entry.name)
                }
            };
            let script = format!("return function()\n{call}\nend");
            let Err(ScriptFailure::Fault(found)) = run_for(entry.since, &script) else {
                panic!("{call}")
            };
            let named = found.iter().any(|fault| {
                fault.message.contains(&format!("`{}` of {}", field.name, entry.name))
                    && !fault.hints.is_empty()
            });
            assert!(named, "{call}: {found}");
        }
    }
}

#[test]
fn steps_become_actions() {
    let garment = garment(
        r#"return function(input)
  return {
    pieces = {
      piece{ name = "body", title = "The body", steps = {
        step.cast_on{ needles = "L24-R23", method = "waste", edge = "start" },
        step.cast_on{ needles = "R1", structure = "rib 1x1", method = "rib" },
        step.knit(),
        step.again{ times = 3, steps = { step.knit{ rows = 2 } } },
        step.hold{ needles = "L2-R3" },
        step.hold{ side = "left", count = 4 },
        step.bring_back{ all = true },
        step.wrap(),
        step.hang{ edge = "start", needle = "L24" },
        step.hang{ edge = "start", needle = "L24", loops = 2 },
        step.hang{ edge = "start", needle = "L24", over = 56 },
        step.transfer_to_main(),
        step.decrease{ side = "left" },
        step.increase{ side = "right", count = 2 },
        step.scrap_off{ edge = "top" },
        step.rehang{ edge = "top", needles = needles.centred(3) },
        step.cast_off{ needles = "L1" },
        step.cast_off(),
        step.dial{ value = 7.5 },
        step.section{ name = "band" },
        step.reset_counter(),
        step.note{ text = "Weigh it." },
        step.mark{ name = "wedge" },
      } },
    },
    finishing = {
      step.graft{ first = "start", second = "top" },
      step.gather_edge{ edge = "top" },
      step.gather_selvedge{ piece = "body", side = "right" },
      step.seam{ first = { piece = "body", side = "left" }, second = { piece = "body", side = "right" } },
      step.sew_on{ edge = "top", piece = "body", side = "left" },
      step.block{ form = "a plate", width_mm = 270, steam = true },
    },
  }
end"#,
    );
    let piece = &garment.program.pieces[0];
    assert_eq!(
        (piece.name.as_str(), piece.title.as_str(), piece.section.as_str()),
        ("body", "The body", "body")
    );
    let span = |text: &str| text.parse::<Span>().expect("a span");
    let actions: Vec<&Action> = piece.steps.iter().map(|s| &s.action).collect();
    assert_eq!(
        actions[0],
        &Action::CastOn {
            span: span("L24-R23"),
            structure: Structure::Plain,
            method: CastOnMethod::Waste,
            edge: Some("start".to_owned()),
        }
    );
    assert_eq!(
        actions[1],
        &Action::CastOn {
            span: span("R1"),
            structure: Structure::Rib1x1,
            method: CastOnMethod::Rib,
            edge: None,
        }
    );
    assert_eq!(actions[2], &Action::Knit { rows: 1 });
    let Action::Repeat { times: 3, steps } = actions[3] else { panic!("{:?}", actions[3]) };
    assert_eq!(steps[0].action, Action::Knit { rows: 2 });
    assert_eq!(steps[0].line, 8);
    assert_eq!(actions[4], &Action::Hold(Which::Span(span("L2-R3"))));
    assert_eq!(actions[5], &Action::Hold(Which::AtSide(Side::Left, 4)));
    assert_eq!(actions[6], &Action::Return(Which::All));
    assert_eq!(actions[7], &Action::Wrap);
    for (at, loops) in
        [(8, HangLoops::Each(1)), (9, HangLoops::Each(2)), (10, HangLoops::SpreadOver(56))]
    {
        let edge = "start".to_owned();
        assert_eq!(actions[at], &Action::Hang { edge, needle: Needle(-24), loops });
    }
    assert_eq!(actions[11], &Action::TransferToMain);
    assert_eq!(actions[12], &Action::Decrease { side: Side::Left, count: 1 });
    assert_eq!(actions[13], &Action::Increase { side: Side::Right, count: 2 });
    assert_eq!(actions[14], &Action::ScrapOff { edge: "top".to_owned(), which: Which::All });
    assert_eq!(
        actions[15],
        &Action::Rehang { edge: "top".to_owned(), span: span("L1-R2"), beds: Beds::Main }
    );
    assert_eq!(actions[16], &Action::CastOff { which: Which::Span(span("L1")) });
    assert_eq!(actions[17], &Action::CastOff { which: Which::All });
    assert_eq!(actions[18], &Action::Dial(7.5));
    assert_eq!(actions[19], &Action::Section("band".to_owned()));
    assert_eq!(actions[20], &Action::ResetCounter);
    assert_eq!(actions[21], &Action::Note("Weigh it.".to_owned()));
    assert_eq!(actions[22], &Action::Mark("wedge".to_owned()));
    let finishing: Vec<&Action> = garment.program.finishing.iter().map(|s| &s.action).collect();
    let selvedge = |side| ("body".to_owned(), side);
    assert_eq!(
        finishing[0],
        &Action::Graft { first: "start".to_owned(), second: "top".to_owned() }
    );
    assert_eq!(finishing[1], &Action::GatherEdge { edge: "top".to_owned() });
    assert_eq!(
        finishing[2],
        &Action::GatherSelvedge { piece: "body".to_owned(), side: Side::Right }
    );
    assert_eq!(
        finishing[3],
        &Action::Seam { first: selvedge(Side::Left), second: selvedge(Side::Right) }
    );
    assert_eq!(
        finishing[4],
        &Action::SewOn { edge: "top".to_owned(), piece: "body".to_owned(), side: Side::Left }
    );
    let Action::Block(block) = finishing[5] else { panic!("{:?}", finishing[5]) };
    assert_eq!((block.form.as_str(), block.width_mm, block.steam), ("a plate", Some(270.0), true));
}

#[test]
fn a_garment_made_by_hand_is_taken_like_one_made_with_the_constructors() {
    let by_hand = garment(
        r#"return function()
  return { pieces = { { name = "body", steps = { { op = "knit", rows = 2 }, { op = "decrease", side = "left" } } } } }
end"#,
    );
    let made = garment(
        r#"return function()
  return { pieces = { piece{ name = "body", steps = { step.knit{ rows = 2 }, step.decrease{ side = "left" } } } } }
end"#,
    );
    let actions = |garment: &Garment| -> Vec<Action> {
        garment.program.pieces[0].steps.iter().map(|s| s.action.clone()).collect()
    };
    assert_eq!(actions(&by_hand), actions(&made));
    assert_eq!(by_hand.program.pieces[0].steps[0].line, 0);
    assert_eq!(made.program.pieces[0].steps[0].line, 2);
}

/// What a constructor has checked can't become something else; a copy of it can.
#[test]
fn a_step_stays_what_it_was_made_as() {
    let made = garment(
        r#"return function()
  local two, heel = step.knit{ rows = 2 }, shape.short_row_heel{ stitches = 12 }
  for _, each in { two, heel[1] } do
    for _, change in { function() each.rows = 5 end, function() rawset(each, "op", "wrap") end, function() table.clear(each) end } do
      local ok, why = pcall(change)
      assert(not ok and string.find(tostring(why), "readonly", 1, true), tostring(why))
    end
  end
  local nine = table.clone(two)
  nine.rows = 9
  local inner = { two }
  local twice = step.again{ times = 2, steps = inner }
  table.insert(inner, nine)
  return { pieces = { piece{ name = "body", steps = { two, nine, two, twice } } } }
end"#,
    );
    let rows = |steps: &[Step]| -> Vec<u32> {
        let rows = |step: &Step| match step.action {
            Action::Knit { rows } => Some(rows),
            _ => None,
        };
        steps.iter().filter_map(rows).collect()
    };
    let steps = &made.program.pieces[0].steps;
    assert_eq!(rows(steps), [2, 9, 2]);
    let Action::Repeat { times: 2, steps } = &steps[3].action else { panic!("{:?}", steps[3]) };
    assert_eq!(rows(steps), [2, 9]);
}

/// The misspelt field itself, not the one its table stands in.
#[test]
fn a_misspelt_field_of_a_table_in_a_table_is_shown_at_its_line() {
    let failure = run("\
return function(input)
  return {
    pieces = { piece{ name = \"body\", steps = {} } },
    views = { { title = \"Side\", parts = { {
      form = \"tube\",
      piece = \"body\",
      front = {
        nedles = \"L1-R1\",
      },
    } } } },
  }
end")
    .expect_err("a misspelt field");
    let fault = failure.diagnostics().iter().next().expect("one fault");
    assert_eq!(fault.code, Code::ScriptUnknownField, "{fault}");
    assert_eq!(fault.place.as_ref().map(|place| place.line), Some(8), "{fault}");
}

#[test]
fn everything_that_is_read_off_the_run_comes_across() {
    let garment = garment(
        r#"return function(input)
  warn("The brim is narrow.")
  return {
    pieces = { piece{ name = "body", steps = {} } },
    finished = {
      { name = "girth", title = "Girth", target = 515.2, measure = "head_girth", ease = -0.08, parts = {
        { piece = "body", width = true, times = 2 },
        { piece = "body", needles = "L3-R4" },
        { piece = "body", rows_at = "left" },
      } },
      { name = "depth", target = 200, parts = {} },
    },
    ratios = { { name = "slope", of = "depth", over = "girth", factor = 2, low = 0.5, high = 1.5 } },
    counts = {
      { name = "a", needles = "body" }, { name = "b", title = "Rows", rows = "body" },
      { name = "c", marks = "wedge" }, { name = "d", loops = "band" },
      { name = "e", hang_points = "band" }, { name = "f", pieces = "leaf" },
    },
    cautions = { "Wash it first." },
  }
end"#,
    );
    let girth = &garment.finished[0];
    assert_eq!(
        (girth.target_mm, girth.ease, girth.measure.as_deref()),
        (515.2, Some(-0.08), Some("head_girth"))
    );
    let part =
        |what, times| MeasuredPart { piece: "body".to_owned(), what, times, structure: None };
    let needles = Extent::Needles("L3-R4".parse().expect("a span"));
    assert_eq!(
        girth.parts,
        [part(Extent::Width, 2.0), part(needles, 1.0), part(Extent::RowsAt(Side::Left), 1.0)]
    );
    assert_eq!(
        (garment.finished[1].title.as_str(), &garment.finished[1].measure),
        ("depth", &None)
    );
    let slope = &garment.ratios[0];
    assert_eq!((slope.of.as_str(), slope.over.as_str()), ("depth", "girth"));
    assert_eq!((slope.factor, slope.low, slope.high), (2.0, 0.5, 1.5));
    let count = |name: &str, title: &str, what| CountSpec {
        name: name.to_owned(),
        title: title.to_owned(),
        what,
    };
    let body = || "body".to_owned();
    let band = || "band".to_owned();
    assert_eq!(
        garment.counts,
        [
            count("a", "a", Counted::Needles(body())),
            count("b", "Rows", Counted::Rows(body())),
            count("c", "c", Counted::Marks("wedge".to_owned())),
            count("d", "d", Counted::EdgeLoops(band())),
            count("e", "e", Counted::HangPoints(band())),
            count("f", "f", Counted::Pieces("leaf".to_owned())),
        ]
    );
    assert_eq!(garment.cautions, ["Wash it first."]);
    assert_eq!(garment.warnings, ["The brim is narrow."]);
}

#[test]
fn fitting_finds_the_least_and_the_first_of_equals() {
    garment(
        r#"return function()
  local function same(...) return table.concat({ ... }, " ") end
  -- Equal costs: the first in order, the last range running fastest.
  assert(same(fit.best{ over = { { 1, 3 }, { 1, 3 } }, cost = function(a, b) return math.abs(a + b - 4) end }) == "1 3 0")
  -- The order of the ranges is theirs, downwards counting makes an empty one.
  assert(fit.best{ over = { { 3, 1 } }, cost = function() return 0 end } == nil)
  assert(fit.best{ over = { { 1, 9 } }, cost = function() return nil end } == nil)
  -- Steps stop at the last value that fits.
  local seen = {}
  fit.best{ over = { { 1, 10, 4 } }, cost = function(a) table.insert(seen, a) return a end }
  assert(same(table.unpack(seen)) == "1 5 9")
  -- Five ranges.
  local r = { 1, 2 }
  assert(same(fit.best{ over = { r, r, r, r, r }, cost = function(...) return -select('#', ...) end }) == "1 1 1 1 1 -5")
  -- A search inside a search.
  local a, cost = fit.best{ over = { { 1, 9 } }, cost = function(a)
    local b = fit.best{ over = { { 1, 9 } }, cost = function(b) return math.abs(a * b - 42) end }
    return math.abs(a * b - 42)
  end }
  assert(a == 6 and cost == 0)
  -- A search may wait inside a coroutine.
  local waiting = coroutine.wrap(function() return fit.best{ over = { { 1, 3 } }, cost = coroutine.yield } end)
  assert(waiting() == 1 and waiting(7) == 2 and waiting(5) == 3)
  assert(same(waiting(6)) == "2 5")
  -- Errors of a cost pass through a pcall like any other.
  local ok, why = pcall(fit.best, { over = { { 1, 2 } }, cost = function() error("no", 0) end })
  assert(not ok and string.find(tostring(why), "no", 1, true))
  return { pieces = {} }
end"#,
    );
}

#[test]
fn spreading_adds_up_and_differs_by_one_at_most() {
    garment(
        r#"return function()
  for total = 0, 60 do
    for parts = 1, 20 do
      local shares, sum = fit.spread(total, parts), 0
      assert(#shares == parts)
      for _, share in ipairs(shares) do
        assert(share == math.floor(total / parts) or share == math.ceil(total / parts))
        sum += share
      end
      assert(sum == total)
    end
  end
  for x = -20, 20, 0.25 do
    for _, plus in ipairs({ 0, 1, 2 }) do
      local near, up, down = fit.to_multiple(x, 4, plus), fit.to_multiple(x, 4, plus, "up"), fit.to_multiple(x, 4, plus, "down")
      assert((near - plus) % 4 == 0 and (up - plus) % 4 == 0 and (down - plus) % 4 == 0)
      assert(down <= x and x <= up and up - down <= 4 and math.abs(near - x) <= 2)
    end
  end
  for n = 1, 60 do
    assert(needles.slice(n, 1, n) == needles.centred(n))
    assert(needles.at(n, 1) == needles.slice(n, 1, 1))
  end
  return { pieces = {} }
end"#,
    );
}

#[test]
fn records_and_entries_are_documented_once() {
    let mut names = std::collections::BTreeSet::new();
    for entry in functions() {
        assert!(names.insert(entry.name), "{} is there twice", entry.name);
    }
    for record in RECORDS {
        assert!(record.fields.iter().all(|f| !f.doc.is_empty()), "{}", record.name);
    }
}

/// Compares a page made from the table with the file; with ODDMENTS_BLESS=1 writes the file.
fn up_to_date(file: &str, wanted: impl Fn(&str) -> String) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("plugins").join(file);
    let found = std::fs::read_to_string(&path).unwrap_or_default();
    let wanted = wanted(&found);
    if found == wanted {
        return;
    }
    if std::env::var_os("ODDMENTS_BLESS").is_some() {
        std::fs::write(&path, wanted).expect("write the page");
        return;
    }
    let mut difference = String::new();
    let (mut old, mut new) = (found.lines(), wanted.lines());
    for number in 1.. {
        match (old.next(), new.next()) {
            (None, None) => break,
            (a, b) if a == b => {}
            (a, b) => {
                difference += &format!("{number}\n-{}\n+{}\n", a.unwrap_or(""), b.unwrap_or(""));
                if difference.len() > 4_000 {
                    difference += "...\n";
                    break;
                }
            }
        }
    }
    panic!("plugins/{file} is stale; run the tests with ODDMENTS_BLESS=1\n{difference}");
}

#[test]
fn the_reference_page_is_up_to_date() {
    up_to_date("README.md", |page| {
        let sizes = store::default_size_table().expect("sound");
        let page = reference::splice(page).expect("plugins/README.md has both marks");
        reference::splice_measures(&page, sizes.known()).expect("plugins/README.md has both marks")
    });
}

#[test]
fn the_smallest_garment_of_the_page_is_one() {
    let page = include_str!("../../plugins/README.md");
    let block = |language: &str| {
        let (_, rest) = page.split_once(&format!("```{language}\n")).expect("a code block");
        rest.split_once("```").expect("its end").0.to_owned()
    };
    let files = BTreeMap::from([
        ("plugin.toml".to_owned(), block("toml").into_bytes()),
        ("init.luau".to_owned(), block("lua").into_bytes()),
    ]);
    let source = PluginSource { folder: "plugins/square".to_owned(), files };
    let plugin = Plugin::load(source, &["hand_girth"]).expect("the page is right");
    let input = GarmentInput {
        body: BTreeMap::from([("hand_girth".to_owned(), 190.0)]),
        gauges: [("plain".to_owned(), GaugeInput { stitch_mm: 3.5, row_mm: 2.5, stretch: 1.6 })]
            .into(),
        machine: MachineInput { needles: 200, ..MachineInput::default() },
        ..GarmentInput::default()
    };
    let garment =
        ScriptHost::new(Limits::default()).garment(&plugin, &input).expect("the page is right");
    assert_eq!(garment.program.pieces[0].steps[1].action, Action::Knit { rows: 38 });
    let short = GarmentInput { machine: MachineInput::default(), ..input };
    let outcome = ScriptHost::new(Limits::default()).garment(&plugin, &short);
    assert!(matches!(outcome, Err(ScriptFailure::Refused(_))), "{outcome:?}");
}

#[test]
fn the_stubs_are_up_to_date() {
    let known = store::default_size_table().expect("sound");
    up_to_date("oddments.d.luau", |_| reference::stubs(known.known()));
}

#[test]
fn the_tutorial_names_every_body_measure() {
    let page = include_str!("../../plugins/TUTORIAL.md");
    let sizes = store::default_size_table().expect("sound");
    for measure in sizes.known().iter() {
        assert!(page.contains(&format!("`{}`", measure.name())), "{measure}");
    }
}

#[test]
fn a_joinable_section_must_be_a_section() {
    let source = store::shipped_plugin("tam").expect("shipped");
    let text = std::str::from_utf8(&source.files["plugin.toml"]).expect("text");
    let parse = |text: &str| script::Manifest::parse("plugin.toml", text, &["head_girth"]);
    assert_eq!(parse(text).expect("sound").joinable, ["hat"]);
    let wrong = text.replace("joinable = [\"hat\"]", "joinable = [\"hatt\"]");
    let faults = parse(&wrong).expect_err("no such section");
    let fault = faults.iter().next().expect("one");
    assert!(fault.message.contains("`hatt` is not among"), "{faults}");
    assert!(fault.hints[0].contains("hat"), "{faults}");
    let line = fault.place.as_ref().expect("placed").line as usize;
    assert!(wrong.lines().nth(line - 1).is_some_and(|l| l.contains("hatt")), "{faults}");
}
