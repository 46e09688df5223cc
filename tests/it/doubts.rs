//! What is doubted or told while the knitter still has it at hand: slips of the tape and of units, yarn that
//! nobody knows enough of, a gauge that no work drifts to. All figures are invented.

use crate::demo::Demo;
use crate::support::Ran;

fn good(demo: &Demo, args: &[&str]) -> Ran {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    ran
}

/// A woman who avoids wool and washes by machine, a hat for her, and 100 g of a yarn of which no more is known
/// than `more` says.
fn of_unknown_yarn(more: &[&str]) -> Demo {
    let demo = Demo::empty();
    let yarn = ["yarn", "add", "mystery", "--yarn", "400 m/100 g", "--colour", "grey #888888"];
    good(&demo, &[&yarn[..], more].concat());
    good(&demo, &["stash", "add", "--id", "m-1", "--yarn", "mystery", "--weight", "100 g"]);
    let wenna = ["people", "add", "Wenna", "--size", "women-m", "--avoids-fibre", "wool"];
    good(&demo, &[&wenna[..], &["--wash", "machine"]].concat());
    good(&demo, &["gifts", "add", "--person", "Wenna", "--garment", "hat", "--id", "hat"]);
    demo
}

#[test]
fn yarn_of_unknown_fibres_is_not_planned_for_whoever_avoids_some() {
    let made = |demo: &Demo| demo.plan(&[])["gifts"].as_array().map_or(0, Vec::len);
    let why = |demo: &Demo| {
        good(demo, &["plan", "--today", "2026-09-01", "--work", "4", "--explain"]).out
    };
    let demo = of_unknown_yarn(&[]);
    assert_eq!(made(&demo), 0);
    let told = why(&demo);
    assert!(told.contains("avoids wool, and nothing is said of this one's fibres"), "{told}");
    let demo = of_unknown_yarn(&["--fibres", "100 % cotton"]);
    assert_eq!(made(&demo), 0);
    let told = why(&demo);
    assert!(told.contains("by machine at most, and nothing is said of this one's care"), "{told}");
    let known = ["--fibres", "100 % cotton", "--care", "machine 40"];
    assert_eq!(made(&of_unknown_yarn(&known)), 1);
}

#[test]
fn remnants_of_unknown_lots_are_joined_with_a_word() {
    let demo = Demo::empty();
    good(&demo, &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp=#335544"]);
    good(&demo, &["people", "add", "Wenna", "--size", "women-m"]);
    good(&demo, &["gifts", "add", "--person", "Wenna", "--garment", "hat", "--id", "hat"]);
    let minded = |balls: &[(&str, &str, &[&str])]| {
        for (id, weight, more) in balls {
            let ball = ["stash", "add", "--id", id, "--yarn", "kelp", "--weight", weight];
            good(&demo, &[&ball[..], more].concat());
        }
        let plan = demo.plan(&[]);
        let gift = &plan["gifts"][0];
        assert_eq!(gift["gift"], "hat", "{plan:#}");
        for (id, ..) in balls {
            good(&demo, &["stash", "remove", id]);
        }
        gift["cautions"].to_string().contains("Compare them in daylight")
    };
    assert!(minded(&[("k-1", "35 g", &[]), ("k-2", "35 g", &[])]));
    assert!(!minded(&[("k-1", "35 g", &["--lot", "A"]), ("k-2", "35 g", &["--lot", "A"])]));
    assert!(!minded(&[("k-1", "100 g", &[])]));
}

#[test]
fn a_slip_of_the_tape_is_told_when_the_swatch_is_noted() {
    let demo = Demo::empty();
    let ran = good(
        &demo,
        &[
            "swatch",
            "add",
            "slip",
            "--yarn",
            "400 m/100 g",
            "--structure",
            "plain",
            "--stitches",
            "40",
            "--widths",
            "14.3 cm; 16.3 cm; 14.3 cm",
            "--rows",
            "60",
            "--heights",
            "15.0 cm; 15.1 cm; 14.9 cm",
        ],
    );
    assert!(ran.err.contains("one reading of 40 stitches stands apart: 16.3 cm"), "{}", ran.err);
}

#[test]
fn a_measure_far_from_any_in_the_table_is_told_when_it_is_given() {
    let demo = Demo::empty();
    let ran = good(&demo, &["people", "add", "Wenna", "--measure", "head_girth=22 mm"]);
    assert!(ran.err.contains("is the unit right? in for mm would make it 55.9 cm"), "{}", ran.err);
    let ran = good(&demo, &["people", "change", "Wenna", "--measure", "head_girth=56 cm"]);
    assert_eq!(ran.err, "");
}

#[test]
fn a_gauge_that_no_work_drifts_to_is_refused_counted_as_told() {
    let now = |gauge: &str| {
        let demo = Demo::new();
        demo.run(&["carry-on", "tam", "--size", "women-m", "--at", "hat:212", "--now", gauge])
    };
    for far in ["plain=50x70", "plain=14x40"] {
        let ran = now(far);
        assert!(
            ran.code == Some(1) && ran.err.contains("% off the swatch's"),
            "{far}: {}",
            ran.err
        );
    }
    assert_eq!(now("plain=27x39").code, Some(0));
    assert_eq!(now("plain=+39%x+0%").code, Some(0));
}

#[test]
fn a_yarn_without_a_colour_is_answered_in_flags() {
    let ran = Demo::empty().run(&["yarn", "add", "slate", "--yarn", "400 m/100 g"]);
    assert!(ran.code == Some(2) && ran.err.contains("--colour \"slate #"), "{}", ran.err);
}

#[test]
fn a_gift_due_today_is_not_called_past() {
    let demo = of_unknown_yarn(&["--fibres", "100 % cotton", "--care", "machine 40"]);
    good(&demo, &["gifts", "change", "hat", "--due", "2026-10-01"]);
    let told = |day| good(&demo, &["plan", "--today", day, "--work", "2"]).err;
    assert!(told("2026-10-01").contains("`hat` is due today"), "{}", told("2026-10-01"));
    assert!(told("2026-10-02").contains("`hat` was due on 2026-10-01"), "{}", told("2026-10-02"));
}

#[test]
fn pictures_are_in_the_yarn_of_the_swatch_where_it_is_the_only_one() {
    let demo = Demo::empty();
    good(
        &demo,
        &[
            "swatch",
            "add",
            "mine",
            "--yarn",
            "400 m/100 g",
            "--structure",
            "plain",
            "--stitches",
            "40",
            "--widths",
            "14.3 cm",
            "--rows",
            "60",
            "--heights",
            "15.0 cm",
            "--machine",
            "standard",
        ],
    );
    let yarn = |id: &str, shade: &str| {
        let add =
            ["yarn", "add", id, "--yarn", "400 m/100 g", "--colour", shade, "--swatch", "mine"];
        good(&demo, &add);
    };
    let picture = || {
        good(
            &demo,
            &["pattern", "hat", "--sizes", "women-m", "--format", "svg", "--picture", "stripes"],
        )
        .out
    };
    yarn("slate", "slate #123456");
    let own = picture();
    assert!(own.contains("#123456"), "the swatch's yarn");
    yarn("dulse", "dulse #654321");
    let either = picture();
    assert!(!either.contains("#123456") && !either.contains("#654321"), "the demo yarn stands in");
}
