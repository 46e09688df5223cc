//! Balls in turn: any section of any garment, and what is knitted stays what it was.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use knit::in_turn::InTurn;
use knit::program::Structure;
use knit::run::Run;
use knit::size_run::SizeRun;
use serde_json::Value;

use app::GradeRequest;

use crate::demo::Demo;
use crate::server::{Server, problem};
use crate::support::{bench, demo, oddments};

const TAIL_M: f64 = 0.2;

fn graded(id: &str, turns: &[(&str, &str)]) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(id).expect("it is shipped");
    let swatch = demo("standard");
    let options = turns.iter().map(|(name, rows)| (format!("in_turn.{name}"), (*rows).to_owned()));
    let request = GradeRequest {
        plugin: &plugin,
        machine: bench.machine("standard").expect("it is shipped"),
        swatch: &swatch,
        options: options.collect(),
        sizes: "y5-6,women-m".to_owned(),
        person: None,
    };
    bench.grade(&request).expect("it can be asked for")
}

/// What the sections of these names took, added up: stitches, tails, breadths of floats, and the rest.
#[derive(Debug, Default, PartialEq)]
struct Took {
    stitches: BTreeMap<Structure, u64>,
    tails: u32,
    floats: u64,
    sewn: [u64; 3],
}

fn took(run: &Run, is_of: impl Fn(&str) -> bool) -> Took {
    let mut all = Took::default();
    for section in run.sections.iter().filter(|section| is_of(&section.name)) {
        for (structure, count) in &section.stitches {
            *all.stitches.entry(*structure).or_default() += count;
        }
        all.tails += section.tails;
        all.floats += section.float_needles;
        let sewn = [section.sewn_loops, section.seam_rows, section.seam_stitches];
        for (sum, count) in all.sewn.iter_mut().zip(sewn) {
            *sum += count;
        }
    }
    all
}

fn check(id: &str, section: &str, rows: &str, plain: &SizeRun) -> usize {
    let turned = graded(id, &[(section, rows)]);
    let turn = InTurn::parse(section, rows).expect("rows").expect("some");
    let is_ball = |name: &str| InTurn::of_ball(std::slice::from_ref(&turn), name).is_some();
    let mut checked = 0;
    for (a, b) in turned.sizes.iter().zip(&plain.sizes) {
        let Some(b) = b.good().filter(|b| b.graded.run.sections.iter().any(|s| s.name == section))
        else {
            continue;
        };
        let what = format!("{id}, {section}={rows}, {}", a.body.label);
        let a = a.good().unwrap_or_else(|| panic!("{what} can't be made"));
        let (one, other) = (&a.graded, &b.graded);
        assert_eq!(one.finished, other.finished, "{what}");
        assert_eq!(one.counts, other.counts, "{what}");
        for (p, q) in one.run.pieces.iter().zip(&other.run.pieces) {
            assert_eq!((p.stitches, p.rows.len()), (q.stitches, q.rows.len()), "{what}");
            assert_eq!((&p.rows_at, p.selvedges, &p.tally), (&q.rows_at, q.selvedges, &q.tally));
        }
        let (balls, whole) = (took(&one.run, is_ball), took(&other.run, |name| name == section));
        assert_eq!((&balls.stitches, balls.sewn), (&whole.stitches, whole.sewn), "{what}");
        assert!(balls.tails >= whole.tails, "{what}");
        // What more there is, is ends and yarn carried up the edge.
        let more = one.yarn.metres - other.yarn.metres;
        let ends = f64::from(balls.tails - whole.tails) * TAIL_M;
        let carried = balls.floats as f64 - whole.floats as f64;
        assert!((more - ends).abs() <= carried.abs() * 0.01 + 1e-6, "{what}: {more} for {ends}");
        let ops = |run: &Run| run.work.operations.of(knit::operation::Operation::Pass);
        assert_eq!(ops(&one.run), ops(&other.run), "{what}");
        checked += 1;
    }
    checked
}

#[test]
fn what_is_knitted_from_balls_in_turn_is_what_is_knitted_from_one() {
    let mut checked = 0;
    for id in store::shipped_plugin_ids() {
        let plain = graded(id, &[]);
        let sections = plain.garment.sections.iter().map(|(name, _)| name.clone());
        for section in sections.collect::<Vec<_>>() {
            if plain.good().all(|(_, m)| m.graded.run.sections.iter().all(|s| s.name != section)) {
                continue;
            }
            for rows in ["4,4", "3,2,2"] {
                let of_section = check(id, &section, rows, &plain);
                assert!(of_section > 0, "{id} {section}: nothing was checked");
                checked += of_section;
            }
        }
    }
    assert!(checked > 60, "only {checked} were checked");
}

#[test]
fn a_ball_is_carried_up_where_its_next_row_is_near_and_broken_where_it_is_not() {
    let tails = |rows: &str| {
        let run = graded("scarf", &[("scarf", rows)]);
        let made = run.sizes[1].good().expect("it can be made");
        let run = &made.graded.run;
        (took(run, |_| true), run.pieces[0].rows.len() as u32)
    };
    let (near, _) = tails("4,4");
    // Begun and ended twice, carried over four rows at each change but the first.
    assert_eq!(near.tails, 4);
    let (far, rows) = tails("6,6");
    let changes = rows.div_ceil(6) - 1;
    assert_eq!((far.tails, far.floats), (2 + 2 * changes, 0));
    // Three balls of a row each come back to the side where they hang.
    let (thirds, _) = tails("1,1,1");
    assert_eq!(thirds.tails, 6);
    // Odd stripes of two begin at the other side.
    let (odd, rows) = tails("3,3");
    assert_eq!(odd.tails, 2 + 2 * (rows.div_ceil(3) - 1));
}

#[test]
fn the_pattern_tells_of_each_ball_and_stays_folded() {
    let ran = oddments(&["pattern", "scarf", "--size", "women-m", "--in-turn", "scarf=4,4"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    for says in [
        "Two balls in turn: 4 rows of ball 1, 4 rows of ball 2",
        "Yarn, scarf, first ball: 68 g",
        "Yarn, scarf, second ball: 68 g",
        "Do this 77 times:",
        "Ball 2 follows: take it up at the edge; the first time, join it.",
    ] {
        assert!(ran.out.contains(says), "{says}: {}", ran.out);
    }
    let far = oddments(&["pattern", "scarf", "--size", "women-m", "--in-turn", "scarf=10,10"]).out;
    assert!(far.contains("Ball 2 follows: join it."), "{far}");
    assert!(!far.contains("take it up"), "{far}");
}

#[test]
fn what_nobody_would_knit_is_refused_with_a_hint() {
    for (asked, says) in [
        ("hat=4", "1 balls"),
        ("hat=0,4", "no list of rows"),
        ("hat=4,99999999999999999999", "no list of rows"),
        ("hat=", ""),
        ("hut=4,4", "no yarn section `hut`"),
        ("hat", "has no `=`"),
    ] {
        let ran = oddments(&["grade", "tam", "--sizes", "women-m", "--in-turn", asked]);
        if says.is_empty() {
            assert_eq!(ran.code, Some(0), "{asked}: {ran:?}");
            continue;
        }
        assert!(ran.code.is_some_and(|code| code != 0), "{asked}: {ran:?}");
        assert!(ran.err.contains(says) && ran.err.contains("hint:"), "{asked}: {}", ran.err);
    }
    // A section that has no rows as the garment is chosen.
    let ran = oddments(&["grade", "mitten", "--sizes", "women-m", "--in-turn", "contrast=2,2"]);
    assert!(ran.err.contains("nothing of this garment is knitted in its section"), "{}", ran.err);
}

#[test]
fn it_is_asked_for_over_http_and_on_the_page() {
    let server = Server::new();
    let answer = server.get("/api/v1/grade?garment=tam&sizes=women-m&in_turn.hat=4%2C4");
    assert_eq!(answer.status, StatusCode::OK);
    let run: Value = serde_json::from_str(answer.text()).expect("JSON");
    assert!(run.to_string().contains("hat 2"), "{run}");
    let answer = server.get("/api/v1/grade?garment=tam&in_turn.hat=4");
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(problem(&answer, "in-turn").to_string().contains("1 balls"));
    let page = server.get("/grade?garment=tam&sizes=women-m&in_turn.hat=4%2C4");
    assert!(page.text().contains("name=\"in_turn.hat\" value=\"4,4\""), "{}", page.text());
}

/// Rows of the first ball and of the second one, which are all that one ball would take but for its ends.
#[test]
fn each_ball_has_a_row_where_a_remnant_is_asked_for() {
    let json = |args: &[&str]| -> Vec<Value> {
        let ran = oddments(&[&["reach", "--garment", "hat", "--sizes", "women-m"], args].concat());
        assert_eq!(ran.code, Some(0), "{ran:?}");
        serde_json::from_str(&ran.out).expect("JSON")
    };
    let grams = |row: &Value| -> f64 {
        let told = row.as_object().expect("a row").iter().find(|(name, _)| name.contains("Needs"));
        let told = told.expect("grams").1;
        told.as_f64().or_else(|| told.as_str()?.parse().ok()).expect("a number")
    };
    let one = json(&["--format", "json"]);
    let two = json(&["--in-turn", "hat=4,4", "--format", "json"]);
    assert_eq!((one.len(), two.len()), (1, 3), "{two:?}");
    assert_eq!(two[1]["In this yarn"], "hat, first ball");
    assert_eq!(two[2]["In this yarn"], "hat, second ball");
    assert!((grams(&two[1]) + grams(&two[2]) - grams(&two[0])).abs() < 0.11, "{two:?}");
    assert!((grams(&two[0]) - grams(&one[0])).abs() < 0.5, "{two:?} {one:?}");
    let server = Server::new();
    let got = server.get("/api/v1/reach?garment=hat&sizes=women-m&in_turn.hat=4%2C4");
    assert_eq!(got.json().as_array(), Some(&two));
    let wrong = server.get("/api/v1/reach?garment=hat&sizes=women-m&in_turn.hat=4");
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(problem(&wrong, "in-turn").to_string().contains("1 balls"));
    // With half of it a remnant is enough for either ball, and not for all of it.
    let reached = json(&["--in-turn", "hat=4,4", "--weight", "30 g", "--format", "json"]);
    assert_eq!(reached.len(), 2, "{reached:?}");
}

/// In a workspace, from the gift to the record.
#[test]
fn two_balls_are_wished_pinned_planned_and_recorded() {
    let demo = Demo::new();
    let gift = ["gifts", "add", "--person", "Ruan", "--garment", "hat", "--id", "two-balls"];
    let with = |more: &[&str]| demo.run(&[&gift[..], more].concat());
    let before = demo.text("gifts.toml");
    for (turn, says) in [("hat=4", "1 balls"), ("hat=4,x", "no list of rows"), ("hut=4,4", "`hut`")]
    {
        let refused = with(&["--in-turn", turn]);
        assert!(refused.code != Some(0) && refused.err.contains(says), "{turn}: {refused:?}");
        assert!(refused.err.contains("hint:"), "{turn}: {refused:?}");
    }
    for (option, says) in [("ease=banana", "`banana`"), ("in_turn.hat=4", "1 balls")] {
        let refused = with(&["--set", option]);
        assert!(refused.code != Some(0) && refused.err.contains(says), "{option}: {refused:?}");
    }
    let nowhere = with(&["--in-turn", "hat=4,4", "--pin", "hat 3=slate-1"]);
    assert!(nowhere.code != Some(0) && nowhere.err.contains("hat 3"), "{nowhere:?}");
    assert_eq!(demo.text("gifts.toml"), before);
    let server = Server::of(&demo);
    let body = serde_json::json!({ "person": "Ruan", "garment": "hat", "options": { "in_turn.hat": "4" } });
    let refused = server.post("/api/v1/lists/gifts", &body);
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.text());
    // Written into the file by hand it is told at its line.
    let entry = "\n[[gift]]\nid = \"by-hand\"\nperson = \"Ruan\"\ngarment = \"hat\"\n";
    for options in ["{ in_turn.hat = \"4\" }", "{ \"in_turn.hat\" = 4 }"] {
        let file = format!("{before}{entry}options = {options}\n");
        let line = file.lines().count();
        std::fs::write(demo.path.join("gifts.toml"), file).expect("written");
        let ran = demo.run(&["gifts", "list"]);
        assert!(ran.err.contains(&format!("gifts.toml:{line}")), "{options}: {ran:?}");
        assert!(ran.err.contains("1 balls") && ran.err.contains("hint:"), "{options}: {ran:?}");
    }
    std::fs::write(demo.path.join("gifts.toml"), before).expect("written");
    let added = with(&["--in-turn", "hat=4,4"]);
    assert_eq!(added.code, Some(0), "{added:?}");
    // The balls are those of the turn that the gift has.
    let pin = |what: &str| demo.run(&["gifts", "change", "two-balls", "--pin", what]);
    assert!(pin("hat 3=slate-1").code != Some(0), "{:?}", pin("hat 3=slate-1"));
    assert_eq!(pin("hat 2=slate-1").code, Some(0), "{}", demo.text("gifts.toml"));
    let plan = demo.plan(&[]);
    let gifts = plan["gifts"].as_array().expect("gifts");
    let gift = gifts.iter().find(|gift| gift["gift"] == "two-balls").expect("it is planned");
    let text = gift.to_string();
    assert!(text.contains("hat 1") && text.contains("hat 2") && text.contains("slate-1"), "{text}");
    let record = ["record", "hat", "--size", "women-m", "--gift", "two-balls"];
    let balls = ["--used", "hat 1:shoreline-2=12 g", "--used", "hat 2:slate-1=12 g"];
    let lacks = demo.run(&[&record[..], &balls].concat());
    assert!(lacks.code != Some(0) && lacks.err.contains("--in-turn hat=4,4"), "{lacks:?}");
    let ran = demo.run(&[&record[..], &["--in-turn", "hat=4,4"], &balls].concat());
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let records = demo.toml("records.toml");
    let last = records["record"].as_array().expect("records").iter().rev().take(2);
    let last: Vec<String> = last.map(ToString::to_string).collect();
    assert!(
        last.iter().all(|one| one.contains("in_turn.hat") || one.contains("in_turn")),
        "{last:?}"
    );
    let learnt = demo.run(&["learnt", "--format", "csv"]);
    assert!(learnt.code == Some(0) && learnt.out.contains("hat"), "{learnt:?}");
}
