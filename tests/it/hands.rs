//! What the hands do and no step counts: weights, pitch, ends of yarn, held needles on the yarn's way.

use knit::program::{Action, CastOnMethod, Step};
use knit::size_run::SizeRun;
use units::LengthUnit;

use crate::support::{bench, demo, grade, oddments, oddments_in};

fn graded(garment: &str, size: &str) -> SizeRun {
    grade(garment, "standard", &demo("standard"), size, &[]).expect("graded")
}

/// The written pattern, with single blanks.
fn told(run: &SizeRun) -> String {
    let text = report::pattern_text(run, &report::PrintLook::new(LengthUnit::Cm), true);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pattern(garment: &str) -> String {
    told(&graded(garment, "women-m"))
}

/// The words stand in that order.
fn in_order(text: &str, words: &[&str]) {
    let mut rest = text;
    for word in words {
        let at = rest.find(word).unwrap_or_else(|| panic!("`{word}` is missing in {rest}"));
        rest = &rest[at + word.len()..];
    }
}

const SIZED: [(&str, &str); 18] = [
    ("bootee", "m6-12"),
    ("cardigan", "women-m"),
    ("cuff", "women-m"),
    ("hat", "women-m"),
    ("headband", "women-m"),
    ("helmet", "y5-6"),
    ("leg-warmer", "women-m"),
    ("mitred-square", "women-m"),
    ("mitt", "women-m"),
    ("mitten", "women-m"),
    ("neck-ring", "women-m"),
    ("pullover", "women-m"),
    ("scarf", "women-m"),
    ("shawl", "women-m"),
    ("slipover", "women-m"),
    ("sock", "women-m"),
    ("sock-flat", "women-m"),
    ("tam", "women-m"),
];

fn any(steps: &[Step], is: &impl Fn(&Action) -> bool) -> bool {
    steps.iter().any(|step| match &step.action {
        Action::Repeat { steps, .. } => any(steps, is),
        action => is(action),
    })
}

/// Every garment: weights where loops begin, once where short rows begin, and never two lines of rows
/// after one another.
#[test]
fn the_pattern_says_what_is_hung_and_minded() {
    for (garment, size) in SIZED {
        let run = graded(garment, size);
        let text = told(&run);
        let (_, made) = run.good().next().unwrap_or_else(|| panic!("{garment} can't be knitted"));
        for piece in &made.garment.program.pieces {
            let wound = |action: &Action| {
                matches!(action, Action::CastOn { method: CastOnMethod::Wound, .. })
            };
            let waste = |action: &Action| {
                matches!(action, Action::CastOn { method: CastOnMethod::Waste, .. })
            };
            if any(&piece.steps, &waste) {
                in_order(
                    &text,
                    &["in a colour that is nowhere", "hang claw weights", "ravel cord"],
                );
            }
            if any(&piece.steps, &wound) {
                assert!(text.contains("claw weight"), "{garment}");
            }
        }
        let chapters: Vec<&str> = text.split("## ").collect();
        for chapter in &chapters {
            let begins = chapter.matches("Some needles rest from here: ").count();
            assert!(begins <= 1, "{garment}: {chapter}");
            if chapter.contains("Wrap: ") {
                assert_eq!(begins, 1, "{garment}: {chapter}");
            }
        }
        assert!(!text.contains("times as long as the row"), "{garment}");
    }
}

#[test]
fn a_tube_is_set_to_full_pitch_before_its_loops_are_transferred() {
    let text = pattern("sock");
    in_order(
        &text,
        &[
            "half a pitch apart",
            "as a tube on needles",
            "Set the beds to full pitch, so that their needles face each other.",
            "Transfer every ribber loop",
            "cover it",
        ],
    );
}

#[test]
fn needles_that_come_back_beside_the_carriage_keep_the_yarn_underneath() {
    for garment in ["tam", "hat"] {
        let text = pattern(garment);
        let text = text.split("## Hat").nth(1).expect("the hat");
        assert!(text.contains("L22. Keep the yarn underneath.") || garment == "hat", "{text}");
        let back = text.matches(" back to upper working position").count();
        assert_eq!(text.matches("Keep the yarn underneath.").count(), back, "{garment}: {text}");
    }
    // A heel brings them back away from the carriage.
    assert!(!pattern("sock").contains("Keep the yarn underneath."));
}

/// Three times the width and a hand for a graft, half as much again and two hands for a seam, a thumb's
/// girth and side from one end.
#[test]
fn ends_are_as_long_as_what_they_sew() {
    // 46 loops of 100 / 28 mm: 164 mm.
    let tam = pattern("tam");
    in_order(&tam, &["leaving an end of 60 cm to graft with", "Take 35 cm of the yarn for it."]);
    assert!(tam.contains("go on loop for loop"), "{tam}");
    // Up the side 26 rows of rib and 76 plain ones of about 2.5 mm: 255 mm. The slope at the fold has its own.
    let mitten = pattern("mitten");
    in_order(&mitten, &["Leave an end of 60 cm, to sew the side with.", "Knit the zigzag row"]);
    // 16 loops and 30 cm, 26 rows half as much again and 20 cm.
    in_order(
        &mitten,
        &[
            "leaving an end of 70 cm to draw the edge up with",
            "Sew with what is left of the same end.",
            "Sew with the end at the cast-on edge.",
            "Sew with what is left of the same end.",
            "Sew with the end that hangs there.",
        ],
    );
    assert_eq!(mitten.matches("of the yarn for it").count(), 0, "the wound loops have their own");
}

/// The plate lies between the top as knitted and the rim.
#[test]
fn the_plate_is_as_wide_as_top_and_rim_allow() {
    let text = pattern("tam");
    assert!(text.contains("such as a plate, 28.9 cm across."), "{text}");
    in_order(&text, &["draw the band's edge in underneath", "waste yarn"]);
}

const SHORT_ROWS: &str = "return function(input)
\treturn {
\t\tpieces = { piece({ name = \"flap\", title = \"Flap\", section = \"flap\", steps = {
\t\t\tstep.cast_on({ needles = needles.centred(40), method = \"wound\" }),
\t\t\tstep.hold({ side = \"left\", count = 20 }),
\t\t\tstep.again({ times = 4, steps = {
\t\t\t\tstep.knit({ rows = 1 }),
SAID\t\t\t\tstep.bring_back({ side = \"left\", count = 2 }),
\t\t\t\tstep.wrap(),
\t\t\t\tstep.knit({ rows = 1 }),
\t\t\t} }),
\t\t\tstep.bring_back({ all = true }),
\t\t\tstep.cast_off(),
\t\t} }) },
\t\tfinished = { { name = \"width\", title = \"Width\", target = 143, parts = { { piece = \"flap\", width = true } } } },
\t}
end
";

/// Needles that come back under the yarn are warned of, unless the script says where the carriage is; the
/// pattern tells to keep the yarn underneath either way.
#[test]
fn needles_that_come_back_under_the_yarn_are_warned_of() {
    let folder = tempfile::tempdir().expect("a folder");
    let flap = folder.path().join("flap");
    std::fs::create_dir(&flap).expect("made");
    let manifest = "id = \"flap\"\ntitle = \"Flap\"\nversion = \"1.0.0\"\napi = 2\nsummary = \"A flap.\"\n\
        measures = [\"head_girth\"]\nstructures = [\"plain\"]\n[sections]\nflap = \"Flap\"\n";
    std::fs::write(flap.join("plugin.toml"), manifest).expect("written");
    let write = |said: &str| {
        let script = SHORT_ROWS.replace("SAID", said);
        std::fs::write(flap.join("init.luau"), script).expect("written");
    };
    let run = |arguments: &[&str]| oddments_in(folder.path(), arguments);
    let pattern = ["pattern", "./flap", "--size", "women-m"];
    write("");
    let ran = run(&pattern);
    let told = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("ringing back L2-L1 on the carriage's side"), "{ran:?}");
    assert!(ran.out.contains("Keep the yarn"), "{ran:?}");
    let check = run(&["garment", "check", "./flap"]);
    assert!(check.err.contains("warning[yarn-across]"), "{check:?}");
    assert!(check.err.contains("flap/init.luau:8") && check.err.contains("hint:"), "{check:?}");
    let json = run(&["grade", "./flap", "--sizes", "women-m", "--format", "json"]);
    assert!(json.out.contains("yarn-across"), "{}", json.out);
    write("\t\t\t\tstep.carriage_at({ side = \"left\" }),\n");
    for ran in [run(&pattern), run(&["garment", "check", "./flap"])] {
        assert!(!ran.err.contains("yarn-across") && !ran.out.contains("ringing back L"), "{ran:?}");
    }
    assert!(run(&pattern).out.contains("Keep the yarn"), "{:?}", run(&pattern));
}

/// Who knits what is shipped is told in the step alone.
#[test]
fn no_shipped_garment_warns_of_needles_under_the_yarn() {
    for id in bench().garment_ids() {
        let sizes = if id == "mitred-square" { "all" } else { "m3-6,y5-6,women-m" };
        for machine in ["standard", "bulky"] {
            let run = grade(&id, machine, &demo(machine), sizes, &[]).expect("graded");
            let warned = run.good().flat_map(|(_, made)| made.diagnostics.iter());
            let across: Vec<_> = warned.filter(|d| d.code == diag::Code::YarnAcross).collect();
            assert!(across.is_empty(), "{id} on {machine}: {across:?}");
        }
    }
}

/// Notes of the bootee and the leg warmer that answer what a knitter asks.
#[test]
fn small_garments_say_what_comes_out_uneven_or_unlike() {
    let told = |garment: &str, size: &str| {
        let ran = oddments(&["pattern", garment, "--size", size]);
        assert_eq!(ran.code, Some(0), "{ran:?}");
        ran.out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let bootee = told("bootee", "m3-6");
    assert!(bootee.contains("One edge has four rows more"), "{bootee}");
    // As the step that sews it says.
    assert!(bootee.contains("they are eased in along the whole seam"), "{bootee}");
    assert!(bootee.contains(" of them, spread evenly"), "{bootee}");
    for (size, from) in [("m6-12", "over"), ("y5-6", "below")] {
        let warmer = told("leg-warmer", size);
        assert!(warmer.contains(&format!("Length, from {from} the knee")), "{size}: {warmer}");
    }
}

/// The end that sews the slope of a mitten's tip, left where the yarn is threaded again: half as long again as
/// the slope as it is knitted, and something to hold, in whole 5 cm or inches.
#[test]
fn the_end_for_the_slope_of_a_tip_is_told_in_the_unit_of_the_pattern() {
    for (size, machine) in [("y5-6", "standard"), ("women-m", "standard"), ("men-xl", "mid")] {
        let run = grade("mitten", machine, &demo(machine), size, &[]).expect("graded");
        let (_, made) = run.good().next().expect("it can be knitted");
        let told = |unit: LengthUnit| -> f64 {
            let text = report::pattern_text(&run, &report::PrintLook::new(unit), false);
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let (_, rest) = text
                .split_once("Thread the good yarn again, leaving an end of ")
                .unwrap_or_else(|| panic!("{size}: {text}"));
            let (end, _) = rest.split_once(" to sew the side with.").expect("what for");
            let (number, symbol) = end.split_once(' ').expect("a unit");
            assert_eq!(symbol, unit.symbol());
            number.parse().expect("a number")
        };
        let (cm, inches) = (told(LengthUnit::Cm), told(LengthUnit::In));
        assert!((cm - 2.54 * inches).abs() < 5.0, "{size}: {cm} cm, {inches} in");
        // As often as a stitch is taken in at both ends of a half, every second row.
        let program = &made.garment.program;
        let times = program.pieces[0].steps.iter().rev().find_map(|step| match &step.action {
            knit::program::Action::Repeat { times, .. } => Some(f64::from(*times)),
            _ => None,
        });
        let (stitch, row) = {
            let gauge = &run.gauges[0];
            (100.0 / gauge.stitches.per_ten.per_10_cm(), 100.0 / gauge.rows.per_ten.per_10_cm())
        };
        let times = times.expect("a tip");
        let slope_cm = (2.0 * times * row).hypot(times * stitch) / 10.0;
        assert!(
            cm >= 1.5 * slope_cm + 10.0 && cm < 1.5 * slope_cm + 30.0,
            "{size}: {cm}, {slope_cm}"
        );
    }
}
