//! Garments that go on from their middle: what is knitted stays, what is settled is kept, the rest is
//! chosen anew; and what is told of twelve things that happen to a knitter.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Mutex;

use app::{CarryAsk, CarryKeys, GradeRequest};
use axum::http::StatusCode;
use knit::carry::{CarriedOn, WorkPlace, differs_so_far};
use knit::size_run::SizeRun;
use knit::stash::NamedSwatches;
use report::PrintLook;
use units::LengthUnit;

use crate::demo::Demo;
use crate::server::{Server, problem};
use crate::support::{bench, demo, oddments};

/// What is asked of a garment in one size on the standard bed.
fn carried(
    garment: &str,
    size: &str,
    fixed: &[(&str, i64)],
    ask: &CarryAsk,
) -> Result<CarriedOn, diag::Diagnostics> {
    let (bench, swatch) = (bench(), demo("standard"));
    let plugin = bench.garment(garment).expect("it is shipped");
    let options = fixed.iter().map(|(name, n)| (format!("fix.{name}"), n.to_string())).collect();
    bench.carry_on(&request(&bench, &plugin, &swatch, size, options), ask)
}

fn request<'a>(
    bench: &'a app::Workbench,
    plugin: &'a script::Plugin,
    swatch: &'a NamedSwatches,
    size: &str,
    options: Vec<(String, String)>,
) -> GradeRequest<'a> {
    GradeRequest {
        plugin,
        machine: bench.machine("standard").expect("it is shipped"),
        swatch,
        options,
        sizes: size.to_owned(),
        person: None,
    }
}

fn keys(at: &str) -> CarryKeys {
    CarryKeys { at: at.to_owned(), ..CarryKeys::default() }
}

fn now(at: &str, gauge: &str) -> CarryAsk {
    CarryKeys { now: vec![gauge.to_owned()], ..keys(at) }.read().expect("it can be read")
}

fn run_of(run: &SizeRun) -> &knit::run::Run {
    &run.good().next().expect("it can be knitted").1.graded.run
}

/// Pieces with the rows of each.
type Pieces = Option<Vec<(String, u32)>>;

/// Pieces of a garment, which is knitted once for all who ask.
fn pieces(garment: &str, size: &str) -> Pieces {
    static KNOWN: Mutex<BTreeMap<(String, String), Pieces>> = Mutex::new(BTreeMap::new());
    let key = (garment.to_owned(), size.to_owned());
    if let Some(known) = KNOWN.lock().expect("sound").get(&key) {
        return known.clone();
    }
    let found = pieces_knitted(garment, size);
    KNOWN.lock().expect("sound").insert(key, found.clone());
    found
}

fn pieces_knitted(garment: &str, size: &str) -> Pieces {
    let (bench, swatch) = (bench(), demo("standard"));
    let plugin = bench.garment(garment).expect("it is shipped");
    let run = bench.grade(&request(&bench, &plugin, &swatch, size, Vec::new())).ok()?;
    let (_, made) = run.good().next()?;
    let of = |piece: &knit::run::PieceRun| (piece.name.clone(), piece.rows.len() as u32);
    Some(made.graded.run.pieces.iter().map(of).collect())
}

const SIZE: &str = "women-m";

/// Every shipped garment with a place in each of its pieces.
fn each_place(mut check: impl FnMut(&str, &str, WorkPlace)) {
    let mut places = 0;
    for id in store::shipped_plugin_ids() {
        let size = if pieces(id, SIZE).is_some() { SIZE } else { "m6-12" };
        let Some(pieces) = pieces(id, size) else { continue };
        // Of a pair the second is as the first.
        for (index, (_, rows)) in pieces.iter().enumerate().take(2) {
            // Unlike places in unlike pieces; the first and the last row too.
            let rows = [0, *rows, rows / 3, rows * 2 / 3 + 1][(index + id.len()) % 4].min(*rows);
            check(id, size, WorkPlace { piece: index, rows });
            places += 1;
        }
    }
    assert!(places > 24, "only {places} places");
}

fn asked_at(garment: &str, size: &str, at: WorkPlace) -> String {
    let pieces = pieces(garment, size).expect("it can be knitted");
    format!("{}:+{}", pieces[at.piece].0, at.rows)
}

#[test]
fn what_comes_as_it_was_planned_goes_on_as_it_was_planned() {
    each_place(|id, size, at| {
        let ask = keys(&asked_at(id, size, at)).read().expect("it can be read");
        let on = carried(id, size, &[], &ask).unwrap_or_else(|f| panic!("{id} {at:?}: {f}"));
        assert_eq!(on.at, at, "{id}");
        assert_eq!(on.changed, [], "{id} {at:?}");
        for size in &on.sizes {
            let off = (size.after.mm - size.before.mm).abs();
            assert!(off < 1e-9 && size.mixed.is_none(), "{id} {at:?}: {}", size.after.name);
        }
        // The program is cut, and knits the same.
        let (before, after) = (run_of(&on.before), run_of(&on.after));
        let all = WorkPlace { piece: before.pieces.len() - 1, rows: 0 };
        assert_eq!(differs_so_far(before, after, all), None, "{id} {at:?}");
        // What is done and what is to come are all of it.
        let whole = &on.before.good().next().expect("good").1.graded;
        let stitches = |run: &knit::run::Run| -> u64 {
            run.sections.iter().flat_map(|s| s.stitches.values()).sum()
        };
        let done = knit::carry::knitted(
            &on.after.good().next().expect("good").1.garment.program,
            &on.after.machine,
            at,
        );
        let to_come: u64 = on.to_come.sections.iter().map(|section| section.stitches).sum();
        assert_eq!(stitches(&done) + to_come, stitches(&whole.run), "{id} {at:?}");
    });
}

#[test]
fn what_is_knitted_stays_whatever_the_gauge_is_now() {
    let mut changed = 0;
    each_place(|id, size, at| {
        let gauge = ["plain=+6%x+8%", "plain=-5%x-7%"][(at.piece + id.len()) % 2];
        let ask = now(&asked_at(id, size, at), gauge);
        let on = carried(id, size, &[], &ask).unwrap_or_else(|f| panic!("{id} {at:?}: {f}"));
        let (before, after) = (run_of(&on.before), run_of(&on.after));
        assert_eq!(differs_so_far(before, after, at), None, "{id} {at:?} {gauge}");
        for (was, is) in &on.changed {
            assert!(!on.spent.contains(&was.name), "{id} {at:?}: {} was settled", was.name);
            assert!((is.from..=is.to).contains(&is.value), "{id}: {}", is.name);
        }
        changed += usize::from(!on.changed.is_empty());
    });
    assert!(changed > 12, "numbers were chosen anew {changed} times only");
}

/// Half of a hand knitted at 40 rows, the rest at 36: with the rows as they were it came out longer.
#[test]
fn rows_are_made_up_for_after_the_gauge_has_drifted() {
    let on = carried("mitten", SIZE, &[], &now("left:+60", "plain=28x36")).expect("it goes on");
    let rows = on.changed.iter().find(|(was, _)| was.name == "rows").expect("rows are others");
    assert!(rows.1.value < rows.0.value, "{rows:?}");
    let length = on
        .sizes
        .iter()
        .find(|s| s.after.name == "length")
        .or_else(|| on.sizes.iter().find(|s| s.after.title == "Wrist to tip"));
    let length = length.expect("it is measured");
    // Two rows are the step of it: 5.6 mm.
    assert!((length.after.mm - length.before.mm).abs() <= 5.6, "{length:?}");
    // Fewer stitches at the tip would make it shorter too, and another mitten.
    assert!(on.changed.iter().all(|(was, _)| was.name != "tip_stitches"), "{:?}", on.changed);
}

#[test]
fn rows_too_many_are_taken_up_by_the_number_they_belong_to() {
    let ask = CarryKeys { extra_rows: 4, ..keys("sock-1:+80") }.read().expect("read");
    let on = carried("sock", SIZE, &[], &ask).expect("it goes on");
    let names: Vec<(&str, i64, i64)> =
        on.changed.iter().map(|(a, b)| (a.name.as_str(), a.value, b.value)).collect();
    assert!(names.contains(&("ankle_rows", 40, 42)), "{names:?}");
    assert_eq!(on.at.rows, 84);
    // In the middle of a heel no number takes up rows that are none of it.
    let ask = CarryKeys { extra_rows: 3, ..keys("sock-1:+90") }.read().expect("read");
    let refused = carried("sock", SIZE, &[], &ask).expect_err("no number does");
    assert!(refused.iter().any(|f| f.code.as_str() == "cannot-carry-on"), "{refused}");
}

#[test]
fn the_largest_that_the_yarn_is_enough_for_is_made() {
    let ask = |left: &str| {
        CarryKeys {
            left: Some(left.to_owned()),
            scale_step: Some("0.1 g".to_owned()),
            ..keys("scarf:+200")
        }
        .read()
        .expect("read")
    };
    let length = |on: &CarriedOn| on.sizes.iter().map(|s| s.after.mm).fold(0.0, f64::max);
    let (small, large) = (
        carried("scarf", SIZE, &[], &ask("15 g")).expect("enough"),
        carried("scarf", SIZE, &[], &ask("30 g")).expect("enough"),
    );
    for (on, left) in [(&small, 15.0), (&large, 30.0)] {
        let wants = on.to_come.need.to_have(0.05, 0.0);
        assert!(wants <= left, "{wants} g of {left}");
        // And no less than it could be: a tenth is the coarsest step of it.
        assert!(on.to_come.need.grams() > left * 0.7, "{} g of {left}", on.to_come.need.grams());
    }
    assert!(length(&small) < length(&large));
    let refused = carried("scarf", SIZE, &[], &ask("0.2 g"));
    let refused = refused.map(|on| on.at).expect_err("too little").to_string();
    assert!(refused.contains("gives out"), "{refused}");
}

#[test]
fn what_cannot_be_read_is_told() {
    for (given, says) in [
        (keys("hat"), "is no place"),
        (keys("hat:"), "is no place"),
        (keys(":12"), "is no place"),
        (keys("hat:-3"), "is no place"),
        (CarryKeys { now: vec!["plain".into()], ..keys("hat:1") }, "no gauge"),
        (CarryKeys { now: vec!["moss=20x20".into()], ..keys("hat:1") }, "no fabric `moss`"),
        (CarryKeys { now: vec!["plain=28".into()], ..keys("hat:1") }, "lacks stitches or rows"),
        (CarryKeys { now: vec!["plain=28x1e9".into()], ..keys("hat:1") }, "no count"),
        (CarryKeys { now: vec!["plain=+80%x0%".into()], ..keys("hat:1") }, "no count"),
        (CarryKeys { extra_rows: 4_000_000, ..keys("hat:1") }, "rows too many"),
        (CarryKeys { left: Some("much".into()), ..keys("hat:1") }, "much"),
        (CarryKeys { risk: Some("200 %".into()), ..keys("hat:1") }, "no chance"),
    ] {
        let faults = given.read().expect_err("it can't be read").to_string();
        assert!(faults.contains(says), "{given:?}: {faults}");
    }
    for (at, says) in [
        ("glove:3", "there is no piece `glove`"),
        ("hat:900", "never shows 900"),
        ("hat:+421", "has 420 rows"),
    ] {
        let faults = carried("tam", SIZE, &[], &keys(at).read().expect("read")).expect_err(at);
        assert!(faults.to_string().contains(says), "{at}: {faults}");
    }
    let often = keys("left:22").read().expect("read");
    let often = carried("mitten", SIZE, &[], &often).expect_err("shown three times");
    assert!(often.to_string().contains("left:+22 or left:+48"), "{often}");
    let twice =
        CarryKeys { now: vec!["plain=28x40".into(), "circular=28x40".into()], ..keys("hat:+9") };
    let twice = carried("tam", SIZE, &[], &twice.read().expect("read")).expect_err("told twice");
    assert!(twice.to_string().contains("told twice"), "{twice}");
}

/// What happens, and the command it is told with.
const DRIFTS: [(&str, &[&str]); 12] = [
    ("the band came out with 190 loops", &["tam", "--at", "hat:+0", "--fix", "band_stitches=190"]),
    ("half-way the fabric is looser", &["tam", "--at", "hat:212", "--now", "plain=27x39"]),
    ("a sock's foot is tighter in rows", &["sock", "--at", "sock-1:+80", "--now", "plain=+1%x+6%"]),
    ("a mitten is looser after the thumb", &["mitten", "--at", "left:+60", "--now", "plain=27x38"]),
    ("four rows too many before the heel", &["sock", "--at", "sock-1:+80", "--extra-rows", "4"]),
    ("two rows too many before the thumb", &["mitten", "--at", "left:+48", "--extra-rows", "2"]),
    (
        "the back is done, the front is looser",
        &["pullover", "--at", "front:+60", "--now", "plain=27x38"],
    ),
    ("18 g are left for a scarf", &["scarf", "--at", "scarf:+200", "--left", "18 g"]),
    ("the hat's ball is short", &["hat", "--at", "hat:+60", "--left", "20 g"]),
    ("a needle breaks before the hat", &["tam", "--at", "hat:+0", "--broken", "L17"]),
    (
        "the second front is tighter",
        &["cardigan", "--at", "right-front:+20", "--now", "plain=29x42"],
    ),
    ("nothing is left to speak of", &["mitten", "--at", "left:+60", "--left", "2 g"]),
];

#[test]
fn twelve_things_that_happen_and_what_is_said() {
    let mut page = String::new();
    for (what, given) in DRIFTS {
        let mut arguments = vec!["carry-on", given[0], "--size", SIZE];
        arguments.extend(&given[1..]);
        let ran = oddments(&arguments);
        let _ = writeln!(page, "## {what}\n$ oddments {}", arguments.join(" "));
        // Up to the pattern itself, which has tests of its own.
        let told = ran.out.split("Yarn still to come").next().unwrap_or_default();
        let told = if ran.code == Some(0) { told } else { ran.err.as_str() };
        let _ = writeln!(page, "{}\n", told.trim());
    }
    insta::assert_snapshot!("drifts", page);
}

#[test]
fn it_goes_on_over_http_and_from_the_page_at_the_machine() {
    let server = Server::new();
    let ask = "garment=tam&sizes=women-m&stands=hat:212";
    let answer = server.get(&format!("/api/v1/carry-on?{ask}&now=plain%3D27x39"));
    assert_eq!(answer.status, StatusCode::OK);
    let json = answer.json();
    assert_eq!(json["stands"]["rows_done"], 212);
    assert_eq!(json["stands"]["counter"], 212);
    assert!(json["chapters"][0]["lines"].as_array().is_some_and(|lines| lines.len() > 4), "{json}");
    // The text is the command's.
    let text = server.get(&format!("/api/v1/carry-on?{ask}&now=plain%3D27x39&format=text"));
    let told = oddments(&[
        "carry-on",
        "tam",
        "--size",
        "women-m",
        "--at",
        "hat:212",
        "--now",
        "plain=27x39",
    ]);
    assert_eq!(text.text(), told.out);
    let wrong = server.get(&format!("/api/v1/carry-on?{ask}&now=moss%3D27x39"));
    problem(&wrong, "gauge-now");
    // The page shows it, and leads back to the row in hand.
    let page = server.get(&format!("/carry-on?{ask}&now.plain=27x39"));
    assert_eq!(page.status, StatusCode::OK);
    let link = page
        .text()
        .split("href=\"")
        .find(|part| part.starts_with("/machine?") && part.contains("at="));
    let link =
        link.and_then(|part| part.split('"').next()).expect("a way back").replace("&#38;", "&");
    let machine = server.get(&link);
    assert_eq!(machine.status, StatusCode::OK);
    assert!(machine.text().contains("class=\"figure\">212<"), "{}", machine.text());
    let before = server.get("/machine?garment=tam&sizes=women-m&at=300");
    assert!(before.text().contains("/carry-on?garment=tam"), "the machine leads there");
}

#[test]
fn the_pattern_goes_on_from_the_row_in_hand() {
    let on = carried("tam", SIZE, &[], &keys("hat:212").read().expect("read")).expect("it goes on");
    let text = report::carry_text(&on, PrintLook::new(LengthUnit::Cm), false);
    let flowing = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flowing.contains("212 of its 420 rows are done"), "{text}");
    assert!(flowing.contains("in holding position: L23-R11"), "{text}");
    // The band is done, and what was skipped by now is not told again.
    assert!(!text.contains("\nBand\n----"), "{text}");
    let skipped = flowing.split("where the row counter shows").nth(1).expect("told");
    let first = skipped.split_whitespace().next().expect("a figure");
    assert!(first.trim_end_matches('.').parse::<u32>().expect("a counter") >= 212, "{skipped}");
}

/// How the knitter guards against running out is said once, in the settings.
#[test]
fn what_is_left_is_judged_by_the_reserve_of_the_workspace() {
    let demo = Demo::new();
    let settings = demo.text("oddments.toml");
    let ask = ["carry-on", "tam", "--size", "women-m", "--at", "hat:212"];
    let with = |reserve: &str, more: &[&str]| {
        let changed = settings.replace("risk = \"5 %\"", reserve);
        assert_ne!(changed, settings, "the demo has a risk of its own");
        std::fs::write(demo.path.join("oddments.toml"), changed).expect("written");
        demo.run(&[&ask[..], more].concat())
    };
    // The least that can be knitted from there wants so much to be safe.
    let wants = |reserve: &str, more: &[&str]| -> f64 {
        let ran = with(reserve, &[&["--left", "2 g"], more].concat());
        let told = ran.err.split("wants ").nth(1).and_then(|rest| rest.split(' ').next());
        told.and_then(|grams| grams.parse().ok()).unwrap_or_else(|| panic!("{ran:?}"))
    };
    let careful = wants("risk = \"0.1 %\"", &[]);
    let bold = wants("risk = \"40 %\"", &[]);
    let share = wants("reserve = \"50 %\"", &[]);
    assert!(bold < careful && bold < share, "{bold} {careful} {share}");
    assert_eq!(wants("risk = \"0.1 %\"", &["--risk", "40 %"]), bold);
}
