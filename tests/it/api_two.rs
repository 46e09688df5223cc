//! The second script API: what is new in it, what an older garment is told of it, and a garment that
//! uses each new step, from script to pattern.

use diag::Code;
use knit::edge::{EdgePlace, EdgeRange};
use knit::needle::{BedSpan, Side};
use knit::program::{Action, Fashion, Inset, Joint, Structure, Transfer, Which, WorkingEnds};
use script::ScriptFailure;
use script::schema::{Need, functions};
use serde_json::Value;

use crate::script_api::run_for;
use crate::support::oddments;

/// A garment of these steps and this finishing.
fn script(steps: &str, finishing: &str) -> String {
    format!(
        "return function(input)\nreturn {{ pieces = {{ piece{{ name = \"body\", steps = {{\n{steps}\n}} }} }}, \
         finishing = {{\n{finishing}\n}} }}\nend"
    )
}

fn refused(api: u32, steps: &str, finishing: &str) -> (Code, String, Option<usize>) {
    match run_for(api, &script(steps, finishing)) {
        Err(ScriptFailure::Fault(found)) => {
            let fault = found.iter().next().expect("a fault");
            let hint = fault.hints.join("; ");
            assert!(!hint.is_empty(), "{fault}");
            (fault.code, format!("{}; {hint}", fault.message), fault.place.as_ref().map(|p| p.line))
        }
        other => panic!("{steps} {finishing}: {other:?}"),
    }
}

fn actions(api: u32, steps: &str) -> Vec<Action> {
    let garment = run_for(api, &script(steps, "")).expect("sound");
    garment.program.pieces[0].steps.iter().map(|step| step.action.clone()).collect()
}

fn finishing(api: u32, steps: &str) -> Vec<Action> {
    let garment = run_for(api, &script("", steps)).expect("sound");
    garment.program.finishing.iter().map(|step| step.action.clone()).collect()
}

#[test]
fn an_older_garment_is_told_what_it_can_not_use_yet() {
    for entry in functions().filter(|entry| entry.since > 1) {
        let call = format!("return function()\n{}\nend", entry.example);
        let Err(ScriptFailure::Fault(found)) = run_for(1, &call) else { panic!("{}", entry.name) };
        let fault = found.iter().next().expect("a fault");
        assert_eq!(fault.code, Code::ScriptApi, "{}: {found}", entry.name);
        assert!(fault.hints[0].contains("set `api = 2` in plugin.toml"), "{found}");
        assert_eq!(fault.place.as_ref().map(|place| place.line), Some(2), "{found}");
    }
    for call in [
        "step.decrease{ side = \"left\", inset = 2 }",
        "step.decrease{ side = \"left\", at = \"L3\" }",
        "step.increase{ side = \"both\" }",
        // Without a constructor, the reader finds it.
        "{ op = \"increase\", side = \"left\", inset = 2 }",
        "{ op = \"break_yarn\" }",
        "{ op = \"decrease\", side = \"both\" }",
    ] {
        let (code, told, _) = refused(1, call, "");
        assert_eq!(code, Code::ScriptApi, "{call}: {told}");
        assert!(told.contains("script API 2") && told.contains("set `api = 2`"), "{told}");
    }
    for call in [
        "step.graft{ first = \"a\", second = { piece = \"body\", side = \"left\" } }",
        "step.seam{ first = \"a\", second = { piece = \"body\", side = \"left\" } }",
        "step.seam{ first = { piece = \"body\", side = \"cast_on\" }, second = { piece = \"body\", side = \"left\" } }",
        "step.seam{ first = { piece = \"body\", side = \"left\", to = 9 }, second = { piece = \"body\", side = \"right\" } }",
        "step.sew_on{ edge = \"a\", to = { piece = \"body\", side = \"left\" } }",
        "step.gather_edge{ edge = { name = \"a\" } }",
    ] {
        let (code, told, _) = refused(1, "", call);
        assert_eq!(code, Code::ScriptApi, "{call}: {told}");
    }
}

#[test]
fn what_needs_a_later_api_is_optional_before_it() {
    for entry in functions() {
        for field in entry.args.iter().filter(|field| field.since > entry.since) {
            assert!(field.need != Need::Required, "{}: {}", entry.name, field.name);
        }
    }
}

/// One reader, one program: the same call is what it was in the first API, and the working end in
/// the second.
#[test]
fn an_end_is_of_all_needles_first_and_of_the_working_ones_then() {
    let calls = "step.decrease{ side = \"left\" }, step.increase{ side = \"right\", count = 2 }";
    let (left, right) = (Side::Left, Side::Right);
    assert_eq!(
        actions(1, calls),
        [Action::Decrease { side: left, count: 1 }, Action::Increase { side: right, count: 2 }]
    );
    let fashion = |ends, count, inset| Fashion { ends, count, inset };
    assert_eq!(
        actions(2, calls),
        [
            Action::Narrow(fashion(WorkingEnds::One(left), 1, Inset::Stitches(0))),
            Action::Widen(fashion(WorkingEnds::One(right), 2, Inset::Stitches(0))),
        ]
    );
    let l3 = "L3".parse().expect("a needle");
    assert_eq!(
        actions(
            2,
            "step.decrease{ side = \"both\", inset = 3 }, step.increase{ side = \"left\", at = \"L3\" }"
        ),
        [
            Action::Narrow(fashion(WorkingEnds::Both, 1, Inset::Stitches(3))),
            Action::Widen(fashion(WorkingEnds::One(left), 1, Inset::Needle(l3))),
        ]
    );
}

#[test]
fn new_steps_become_actions() {
    let on = |ribber: bool, span: &str| BedSpan { ribber, span: span.parse().expect("a span") };
    let moved =
        |from, to, eyelets, structure| Action::Transfer(Transfer { from, to, eyelets, structure });
    let (one, two) = (Structure::Rib1x1, Structure::Rib2x2);
    assert_eq!(
        actions(
            2,
            "step.transfer{ from = \"L3\", to = \"L2\" },\n\
             step.transfer{ from = \"L3\", to = \"L2\", emptied = \"out\" },\n\
             step.transfer{ from = \"L3-R3\", to_bed = \"ribber\", structure = \"rib 2x2\" },\n\
             step.transfer{ from = \"L3-R3\", from_bed = \"ribber\", to_bed = \"main\", emptied = \"work\" },\n\
             step.transfer{ from = \"L3\", to = \"L4\", from_bed = \"ribber\" },\n\
             step.to_rib{ structure = \"rib 2x2\" },\n\
             step.to_rib{ structure = \"rib 1x1\", needles = \"L4-R4\" },\n\
             step.break_yarn(), step.join_yarn(), step.join_yarn{ side = \"left\" }"
        ),
        [
            moved(on(false, "L3"), on(false, "L2"), true, one),
            moved(on(false, "L3"), on(false, "L2"), false, one),
            moved(on(false, "L3-R3"), on(true, "L3-R3"), false, two),
            moved(on(true, "L3-R3"), on(false, "L3-R3"), true, one),
            moved(on(true, "L3"), on(true, "L4"), true, one),
            Action::ToRib { structure: two, which: Which::All },
            Action::ToRib { structure: one, which: Which::Span("L4-R4".parse().expect("a span")) },
            Action::BreakYarn,
            Action::JoinYarn(None),
            Action::JoinYarn(Some(Side::Left)),
        ]
    );
}

#[test]
fn edges_are_one_idea() {
    let edge = |place, from, to| EdgeRange { place, from, to };
    let whole = |place| edge(place, 0, None);
    let open = |name: &str| EdgePlace::Open(name.to_owned());
    let body = || "body".to_owned();
    let found = finishing(
        2,
        "step.graft{ first = \"top\", second = edge{ name = \"end\", from = 3, to = 9 } },\n\
         step.seam{ first = edge{ piece = \"body\", side = \"left\", from = 40 }, second = { piece = \"body\", side = \"cast_off\" } },\n\
         step.sew_on{ edge = edge{ piece = \"body\", side = \"cast_on\" }, piece = \"body\", side = \"right\" },\n\
         step.sew_on{ edge = \"top\", to = edge{ piece = \"body\", side = \"right\" } },\n\
         step.gather_edge{ edge = edge{ piece = \"body\", side = \"left\", to = 20 } }",
    );
    let join = |how, first, second| Action::Join { how, first, second };
    let right = || whole(EdgePlace::Selvedge(body(), Side::Right));
    assert_eq!(
        found,
        [
            join(Joint::Graft, whole(open("top")), edge(open("end"), 3, Some(9))),
            join(
                Joint::Seam,
                edge(EdgePlace::Selvedge(body(), Side::Left), 40, None),
                whole(EdgePlace::CastOff(body())),
            ),
            join(Joint::SewOn, whole(EdgePlace::CastOn(body())), right()),
            join(Joint::SewOn, whole(open("top")), right()),
            Action::Gather(edge(EdgePlace::Selvedge(body(), Side::Left), 0, Some(20))),
        ]
    );
    let Action::PickUp { edge: picked, span } =
        actions(2, "step.pick_up{ edge = \"top\", needles = \"L4-R4\" }").remove(0)
    else {
        panic!("no pick-up");
    };
    assert_eq!((picked, span.len()), (whole(open("top")), 8));
}

#[test]
fn what_contradicts_itself_is_refused_at_its_line() {
    let cases = [
        ("step.decrease{ side = \"left\", inset = 1, at = \"L3\" }", "", Code::ScriptConflict),
        ("step.decrease{ side = \"both\", at = \"L3\" }", "", Code::ScriptConflict),
        ("step.decrease{ side = \"botch\" }", "", Code::ScriptNeedle),
        ("step.transfer{ to = \"L3\" }", "", Code::ScriptMissingField),
        ("step.transfer{ from = \"L3\", emptied = \"gone\" }", "", Code::ScriptWord),
        ("step.to_rib{ structure = \"plain\" }", "", Code::ScriptWord),
        ("step.pick_up{ edge = 7, needles = \"L3\" }", "", Code::ScriptWrongType),
        ("step.pick_up{ edge = {}, needles = \"L3\" }", "", Code::ScriptMissingField),
        ("", "step.gather_edge{ edge = edge{ piece = \"body\" } }", Code::ScriptMissingField),
        (
            "",
            "step.gather_edge{ edge = edge{ name = \"a\", piece = \"body\", side = \"left\" } }",
            Code::ScriptConflict,
        ),
        (
            "",
            "step.gather_edge{ edge = edge{ name = \"a\", from = 9, to = 9 } }",
            Code::ScriptNumber,
        ),
        (
            "",
            "step.gather_edge{ edge = edge{ piece = \"body\", side = \"top\" } }",
            Code::ScriptWord,
        ),
        ("", "step.sew_on{ edge = \"a\", piece = \"body\" }", Code::ScriptMissingField),
        (
            "",
            "step.sew_on{ edge = \"a\", piece = \"body\", side = \"left\", to = \"b\" }",
            Code::ScriptConflict,
        ),
    ];
    for (steps, ends, code) in cases {
        let (found, told, line) = refused(2, steps, ends);
        assert_eq!(found, code, "{steps} {ends}: {told}");
        let expected = if steps.is_empty() { 5 } else { 3 };
        assert_eq!(line, Some(expected), "{steps} {ends}: {told}");
    }
}

/// Rib that begins amid a piece is knitted as much as one that is cast on.
#[test]
fn a_rib_amid_a_piece_is_to_be_declared() {
    let folder = tempfile::tempdir().expect("a folder");
    for file in ["plugin.toml", "init.luau"] {
        let from = format!("{}/{SAMPLER}/{file}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(from).expect("read");
        let text = text.replace("[\"plain\", \"rib 1x1\"]", "[\"plain\"]");
        std::fs::write(folder.path().join(file), text).expect("written");
    }
    let path = folder.path().to_str().expect("plain");
    let output = oddments(&["garment", "check", path]);
    assert_eq!(output.code, Some(1), "{}", output.out);
    assert!(output.err.contains("structure-undeclared"), "{}", output.err);
    let line = output.err.lines().find(|line| line.contains("init.luau")).unwrap_or_default();
    assert!(!line.is_empty(), "{}", output.err);
    let sound = oddments(&["garment", "check", SAMPLER]);
    assert_eq!(sound.code, Some(0), "{}", sound.err);
}

/// Nothing a script can put into an edge or a step reaches the bed unchecked, and nothing breaks.
#[test]
fn hostile_edges_and_spans_are_refused() {
    let far = "L65535-R65535";
    for (steps, ends) in [
        (format!("step.transfer{{ from = \"{far}\", to = \"{far}\" }}"), ""),
        ("step.decrease{ side = \"left\", inset = 1e9 }".to_owned(), ""),
        ("step.decrease{ side = \"left\", inset = -1 }".to_owned(), ""),
        ("step.pick_up{ edge = { from = 0/0 }, needles = \"L1\" }".to_owned(), ""),
        (
            String::new(),
            "step.graft{ first = setmetatable({}, { __index = function() return 1 end }), second = \"a\" }",
        ),
        (String::new(), "step.gather_edge{ edge = { edge = { name = \"a\" } } }"),
        (String::new(), "step.gather_edge{ edge = { name = string.rep(\"a\", 1000) } }"),
        (String::new(), "step.gather_edge{ edge = { name = \"a\", to = 1e12 } }"),
        (
            String::new(),
            "(function() local e = edge{ name = \"a\" }; e.name = e; return step.gather_edge{ edge = e } end)()",
        ),
    ] {
        match run_for(2, &script(&steps, ends)) {
            Err(ScriptFailure::Fault(found)) => assert!(found.iter().count() >= 1),
            Err(other) => panic!("{steps} {ends}: {other:?}"),
            // What is well formed is the bed's to refuse.
            Ok(garment) => {
                let bed = crate::support::bench();
                let machine = bed.machine("standard").expect("known");
                let run = knit::bed::run(&garment.program, machine);
                assert!(!run.knittable(), "{steps} {ends}");
            }
        }
    }
}

const SAMPLER: &str = "fixtures/sampler";

fn pattern(machine: &str, more: &[&str]) -> String {
    let mut arguments = vec!["pattern", SAMPLER, "--size", "women-m", "--machine", machine];
    arguments.extend(more);
    let output = oddments(&arguments);
    assert_eq!(output.code, Some(0), "{}", output.err);
    output.out
}

/// The lines of a pattern, each on one line, without their numbers.
fn lines(machine: &str) -> Vec<String> {
    let told: Value = serde_json::from_str(&pattern(machine, &["--format", "json"])).expect("JSON");
    let chapters = told[0]["chapters"].as_array().expect("chapters");
    let lines = chapters.iter().flat_map(|chapter| chapter["lines"].as_array().expect("lines"));
    lines.map(|line| line["text"].as_str().expect("a text").to_owned()).collect()
}

#[test]
fn the_sampler_says_each_step_at_the_machine() {
    let told = lines("standard");
    for wanted in [
        "RC 004 COR: For rib 1x1 over L20-R20: move every second stitch, from the second on the \
         left, 20 in all, to the ribber needles facing them, and push the emptied needles of the \
         main bed back to non-working position. Set both carriages to knit. Dial 4.",
        "RC 010 COR: Transfer every ribber loop to the main-bed needle facing it: 40 needles in \
         work. Lower the ribber and cover it. Dial 7.",
        "RC 020 COR: Move the loop of L10 to L9, and leave the emptied needle in working position: \
         the next row makes an eyelet there.",
        "COR: Take 1 in on each side, 2 in from the end: move the 3 last working stitches, \
         together, inwards over 1 needle, onto the stitches there, and push the empty needle back \
         to non-working position. 38 in work after the first time, 32 after the last.",
        "COR: Take 1 in on the left at L8: move all working stitches outside it, together, inwards \
         over 1 needle, onto the stitches there, and push the empty needle back to non-working \
         position: first L16, last L15. 31 in work after the first time, 30 after the last.",
        "RC 034 COR: Make 1 on each side, 1 in from the end: move the last working stitch outwards \
         over 1 needle, and hang the loop below the neighbouring stitch on the needle left empty \
         amid the fabric. 32 in work.",
        "RC 043 COL: Break the yarn, leaving an end to darn in.",
        "RC 043 COL: Take the carriage to the right without knitting, and join the yarn there.",
        "RC 000 COR: Pick up along the last row of the back (loops 13 to 31 from the left) onto \
         L9-R10: 19 loops onto 19 needles, one to one. Hang claw weights under them. Dial 7. Take \
         the waste yarn out.",
        "RC 000 COR: Pick up along the right selvedge of the front (rows 1 to 30) onto L10-R10: 30 \
         rows onto 20 needles, 1 row to a needle, and 2 at 10 of them, spread evenly. Hang claw \
         weights under them. Dial 7.",
        "RC 002 COR: Move the loops of L2-L1 from the main bed to L2-L1 on the ribber, and push \
         the emptied needles back to non-working position.",
        "Graft the left shoulder loops of the front to the last row of the back (loops 1 to 12 from \
         the left): 12 loops, one to one. Take the waste yarn out as you go.",
        "Sew the left selvedge of the front (rows 1 to 20) to the right selvedge of the back (rows \
         1 to 22): 20 rows to 22 rows, 1 row to a row, and 2 at 2 of them, spread evenly. Sew with the \
         end at the cast-on edge.",
        "Sew the cast-on edge of the back on along the cast-on edge of the front: 40 loops to 40 \
         stitches, one to one. Take the waste yarn out as you go. Take 45 cm of the yarn for it.",
        "Draw an end through the cast-off edge of the strap (stitches 1 to 10 from the left), 10 \
         stitches, go round once more and a stitch or two farther, pull it tight and fasten it off. \
         Take 35 cm of the yarn for it.",
    ] {
        assert!(told.iter().any(|line| line == wanted), "{wanted}\n{told:#?}");
    }
    let by_hand = lines("mid");
    for wanted in [
        "RC 004 COR: For rib 1x1 over L20-R20, by hand: knit the rows that follow plain. Dial 2 to \
         5 numbers tighter than for plain. When they are done, every second stitch, from the second \
         on the left, is to be dropped and latched up: 20 in all.",
        "RC 010 COR: Latch the rib over L20-R20 up: one after the other, drop each of the 20 \
         stitches that are to be purl by 6 rows, latch it up again from the other side and hang it \
         back on its needle. Dial 5.",
    ] {
        assert!(by_hand.iter().any(|line| line == wanted), "{wanted}\n{by_hand:#?}");
    }
}

#[test]
fn each_line_of_the_pattern_is_data_too() {
    let told: Value =
        serde_json::from_str(&pattern("standard", &["--format", "json"])).expect("JSON");
    let lines = |chapter: usize| told[0]["chapters"][chapter]["lines"].as_array().expect("lines");
    let step = |chapter: usize, op: &str| -> Value {
        let steps = lines(chapter).iter().map(|line| &line["steps"][0]);
        steps.clone().find(|step| step["op"] == op).unwrap_or_else(|| panic!("no {op}")).clone()
    };
    let narrow = step(0, "decrease");
    assert_eq!((&narrow["side"], &narrow["inset"]), (&"both".into(), &2.into()));
    assert_eq!(narrow["done"]["times"], 4);
    assert_eq!(narrow["done"]["in_work"], serde_json::json!([38, 32]));
    let eyelet = step(0, "transfer");
    assert_eq!((&eyelet["from"], &eyelet["to"]), (&"L10".into(), &"L9".into()));
    assert_eq!(eyelet["emptied"], "work");
    assert_eq!(step(0, "join_yarn")["side"], "right");
    let strap = step(3, "pick_up");
    assert_eq!(strap["edge"]["side"], "right");
    assert_eq!((&strap["done"]["loops"], &strap["done"]["over"]), (&20.into(), &30.into()));
    let seam = step(4, "seam");
    assert_eq!(seam["done"]["first"], serde_json::json!({ "count": 20, "of": "rows" }));
    assert_eq!(seam["second"]["to"], 22);
    // Whatever has a row counter or a number is a step; remarks under a repeat are not.
    for chapter in told[0]["chapters"].as_array().expect("chapters") {
        for line in chapter["lines"].as_array().expect("lines") {
            let numbered = line["numbered"] == true;
            assert_eq!(line["steps"].is_array(), numbered, "{line}");
        }
    }
}

#[test]
fn the_sampler_is_drawn_and_counted_on_every_bed() {
    for machine in ["fine", "standard", "mid", "bulky"] {
        for picture in ["rows", "schematic"] {
            let drawn = pattern(machine, &["--format", "svg", "--picture", picture]);
            assert!(drawn.starts_with("<svg") && drawn.len() > 2_000, "{machine} {picture}");
        }
        let output = oddments(&["grade", SAMPLER, "--machine", machine, "--format", "json"]);
        assert_eq!(output.code, Some(0), "{}", output.err);
        let run: Value = serde_json::from_str(&output.out).expect("JSON");
        let counts = &run["sizes"][0]["counts"];
        assert_eq!(
            counts["stitches"].as_u64().or(counts[0]["value"].as_u64()),
            Some(40),
            "{counts}"
        );
    }
}

/// An edge is cut, moved and turned like needles are; its ends may be marks, by value or by name.
#[test]
fn edges_and_marks_are_values() {
    let side = |side| EdgePlace::Selvedge("body".into(), side);
    let gathered =
        |edge: &str| match finishing(2, &format!("step.gather_edge{{ edge = {edge} }}"))[..] {
            [Action::Gather(ref edge)] => edge.clone(),
            ref other => panic!("{other:?}"),
        };
    let left = "edge{ piece = \"body\", side = \"left\", from = 10, to = 40 }";
    for (method, place, from, to) in [
        (":slice(5, 9)", side(Side::Left), 15, Some(19)),
        (":first(8)", side(Side::Left), 10, Some(18)),
        (":last(8)", side(Side::Left), 32, Some(40)),
        (":after(8)", side(Side::Left), 18, Some(40)),
        (":shift(-10)", side(Side::Left), 0, Some(30)),
        (":other_side()", side(Side::Right), 10, Some(40)),
        (":of(\"back\")", EdgePlace::Selvedge("back".into(), Side::Left), 10, Some(40)),
    ] {
        assert_eq!(gathered(&format!("{left}{method}")), EdgeRange { place, from, to }, "{method}");
    }
    let inner = gathered("edge{ piece = \"body\", side = \"inner_right\" }");
    assert_eq!(inner.place, EdgePlace::Inner("body".into(), Side::Right));
    let by_name = gathered("{ piece = \"body\", side = \"left\", from = \"waist\", to = 60 }");
    let by_value =
        gathered("edge{ piece = \"body\", side = \"left\", from = mark(\"waist\"), to = 60 }");
    assert_eq!(by_name, by_value);
    assert_eq!(actions(2, "step.mark{ name = mark(\"waist\") }"), [Action::Mark("waist".into())]);
    let equal = format!(
        "assert({left} == {left}:shift(4):shift(-4) and {left}.count == 30 and {left}.name == nil)"
    );
    run_for(2, &format!("return function()\n{equal}\nreturn {{ pieces = {{}} }}\nend"))
        .expect("so");
}

/// A neck divided by held stitches has two edges inside, and marks say where a stretch of a side lies.
#[test]
fn a_divided_piece_has_edges_inside_and_marks_along_its_sides() {
    let steps =
        "step.cast_on{ needles = needles.centred(20), method = \"wound\" }, step.knit{ rows = 10 },
        step.mark{ name = \"neck\" },
        step.hold{ needles = needles.centred(20):left(10) },
        step.knit{ rows = 6 }, step.cast_off{ needles = needles.centred(20):right(10) },
        step.break_yarn(), step.bring_back{ all = true }, step.join_yarn{ side = \"right\" },
        step.knit{ rows = 8 }, step.cast_off()";
    let finishing = "step.seam{ first = { piece = \"body\", side = \"inner_left\" }, second = { piece = \"body\", side = \"inner_right\" } },
        step.gather_edge{ edge = edge{ piece = \"body\", side = \"right\", from = mark(\"neck\"):shift(-4) } }";
    let mut garment = run_for(2, &script(steps, finishing)).expect("sound");
    let bench = crate::support::bench();
    let run = knit::bed::run(&garment.program, bench.machine("standard").expect("known"));
    let faults: Vec<_> = run.faults.iter().map(|f| f.diagnostic.to_string()).collect();
    assert!(run.knittable(), "{faults:?}");
    let body = &run.pieces[0];
    assert_eq!(
        body.sides.inner,
        (6, 8),
        "the left end of the right half, then the other way round"
    );
    assert_eq!(
        body.selvedges,
        (18, 16),
        "no row of the one half is counted to the side of the other"
    );
    let rows: Vec<u32> = run.joins.values().map(|join| join.first.count).collect();
    assert_eq!(rows, [6, 10], "4 rows before the neck and 6 behind it");
    knit::marked::settle(&mut garment.program, &run);
    let Action::Gather(edge) = &garment.program.finishing[1].action else { panic!("gathered") };
    assert_eq!((edge.from, edge.to), (6, None), "the pattern says rows");
}
