//! Options that scale: as large as the yarn goes, in what a remnant reaches and in a plan.

use app::{Reach, ReachRequest};
use knit::estimate::OnScale;
use knit::stash::Reserve;
use serde_json::Value;

use crate::demo::Demo;
use crate::support::{bench, demo, grade, oddments};

fn reach(grams: f64, garment: &str, sizes: &str) -> Reach {
    let bench = bench();
    bench
        .reach(&ReachRequest {
            machine: bench.machine("standard").expect("a profile"),
            swatch: &demo("standard"),
            have: Some(OnScale::weighed(grams, 1.0)),
            garments: vec![garment.to_owned()],
            options: Vec::new(),
            sizes: sizes.to_owned(),
            reserve: Reserve::default(),
        })
        .expect("a sound request")
}

/// Chance of running out at a value, by a grading of its own.
fn chance(garment: &str, name: &str, cm: f64, size: &str, grams: f64) -> f64 {
    let set = format!("{name}={cm} cm");
    let run = grade(garment, "standard", &demo("standard"), size, &[&set]).expect("sound");
    let made = run.good().next().expect("knittable").1;
    made.graded.yarn.need.chance_short(OnScale::weighed(grams, 1.0))
}

#[test]
fn a_remnant_reaches_the_largest_that_it_is_enough_for() {
    for (garment, grams) in [("scarf", 90.0), ("scarf", 140.0), ("shawl", 100.0)] {
        let found = reach(grams, garment, "y7-8,women-m");
        assert_eq!(found.rows.len(), 2);
        for row in &found.rows {
            let (name, value) = row.scaled.as_ref().expect("it scales");
            let cm: f64 = value.strip_suffix(" cm").and_then(|n| n.parse().ok()).expect("cm");
            let at = |cm: f64| chance(garment, name, cm, &row.size, grams);
            assert!(at(cm) <= 0.05, "{garment}: {cm} cm is too large");
            assert!(at(cm + 2.0) > 0.05, "{garment}: {cm} cm, and more would do");
            assert_eq!(row.chance, Some(at(cm)));
        }
    }
}

#[test]
fn a_remnant_too_small_is_told_the_least_and_a_table_without_yarn_stays_as_it_was() {
    let run = |args: &[&str]| oddments(args);
    let ran = run(&["reach", "--weight", "12 g", "--garment", "scarf"]);
    assert_eq!(ran.code, Some(1));
    assert!(ran.err.contains("the least is"), "{}", ran.err);
    let ran = run(&["reach", "--weight", "140 g", "--garment", "scarf", "--sizes", "women-m"]);
    assert!(ran.out.contains("As large") && ran.out.contains("length 1"), "{}", ran.out);
    let ran = run(&["reach", "--garment", "scarf", "--sizes", "women-m"]);
    assert!(!ran.out.contains("As large"), "{}", ran.out);
}

fn told(demo: &Demo, args: &[&str]) {
    let ran = demo.run(args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
}

fn with_yarn(weight: &str) -> Demo {
    let place = Demo::empty();
    told(&place, &["yarn", "add", "kelp", "--yarn", "400 m/100 g", "--colour", "kelp=#335544"]);
    told(&place, &["stash", "add", "--yarn", "kelp", "--weight", weight]);
    told(&place, &["people", "add", "Wenna", "--size", "women-m"]);
    told(&place, &["gifts", "add", "--person", "Wenna", "--garment", "scarf", "--id", "wenna"]);
    place
}

fn gift<'a>(plan: &'a Value, id: &str) -> &'a Value {
    let gifts = plan["gifts"].as_array().expect("a list");
    gifts.iter().find(|gift| gift["gift"] == id).unwrap_or_else(|| panic!("{id} in {plan}"))
}

fn length_of(gift: &Value) -> f64 {
    let text = gift["options"]["length"].as_str().unwrap_or_else(|| panic!("{gift}"));
    text.strip_suffix(" cm").and_then(|n| n.parse().ok()).expect("cm")
}

#[test]
fn a_plan_makes_a_gift_as_large_as_its_yarn_and_accepting_it_fixes_that() {
    let small = length_of(gift(&with_yarn("120 g").plan(&[]), "wenna"));
    let place = with_yarn("200 g");
    let plan = place.plan(&["--accept"]);
    let made = gift(&plan, "wenna");
    let large = length_of(made);
    assert!(large > 1.4 * small, "{large} and {small}");
    let taken = made["sections"][0]["takes"][0]["grams"].as_f64().expect("grams");
    // A centimetre is under a gram.
    assert!((197.0..=200.0).contains(&taken), "{taken} of 200 g");
    let gifts = place.toml("gifts.toml");
    assert_eq!(gifts["gift"][0]["options"]["length"].as_str(), Some(&*format!("{large} cm")));
}

/// What an accepted plan wrote is not what the knitter asked for: planned again, the gift follows its yarn,
/// longer and shorter, and into another garment. A value of the knitter's own stays.
#[test]
fn planned_again_a_gift_is_as_large_as_its_yarn_is_now() {
    let place = with_yarn("120 g");
    let first = length_of(gift(&place.plan(&["--accept"]), "wenna"));
    let id = place.toml("stash.toml")["remnant"][0]["id"].as_str().expect("an id").to_owned();
    let weighed = |weight: &str| told(&place, &["stash", "change", &id, "--weight", weight]);
    let again = || length_of(gift(&place.plan(&["--again", "--accept"]), "wenna"));
    let written = || place.toml("gifts.toml")["gift"][0].clone();
    weighed("200 g");
    let longer = again();
    assert!(longer > 1.4 * first, "{longer} and {first}");
    for key in ["options", "scaled"] {
        assert_eq!(written()[key]["length"].as_str(), Some(&*format!("{longer} cm")), "{key}");
    }
    told(&place, &["gifts", "free", "wenna"]);
    weighed("120 g");
    assert!((again() - first).abs() < 1e-9);
    // Something else, which has no length.
    told(&place, &["gifts", "change", "wenna", "--garment", "hat", "--free"]);
    let plan = place.plan(&["--again", "--accept"]);
    assert_eq!(gift(&plan, "wenna")["garment"], "hat");
    let hat = written();
    for key in ["options", "scaled"] {
        assert!(hat.get(key).is_none_or(|table| table.get("length").is_none()), "{hat:?}");
    }
    // And what the knitter fixes.
    let scarf = ["--garment", "scarf", "--set", "length=90 cm", "--free"];
    told(&place, &[&["gifts", "change", "wenna"][..], &scarf].concat());
    let plan = place.plan(&["--again", "--accept"]);
    assert_eq!(gift(&plan, "wenna")["options"], serde_json::json!({}));
    assert_eq!(written()["options"]["length"].as_str(), Some("90 cm"));
}

/// Changed by hand or by command after it was accepted, it is the knitter's.
#[test]
fn a_value_changed_after_the_plan_is_left_alone() {
    let place = with_yarn("200 g");
    let large = length_of(gift(&place.plan(&["--accept"]), "wenna"));
    assert!(large > 100.0, "{large}");
    told(&place, &["gifts", "free", "wenna"]);
    told(&place, &["gifts", "change", "wenna", "--set", "length=95 cm"]);
    let plan = place.plan(&["--again", "--accept"]);
    assert_eq!(gift(&plan, "wenna")["options"], serde_json::json!({}));
    let gifts = place.toml("gifts.toml");
    assert_eq!(gifts["gift"][0]["options"]["length"].as_str(), Some("95 cm"));
}

#[test]
fn a_gift_that_fixes_it_is_left_alone() {
    let place = with_yarn("200 g");
    told(&place, &["gifts", "change", "wenna", "--set", "length=90 cm"]);
    let plan = place.plan(&[]);
    let made = gift(&plan, "wenna");
    assert_eq!(made["options"], serde_json::json!({}));
    let taken = made["sections"][0]["takes"][0]["grams"].as_f64().expect("grams");
    let run = grade("scarf", "standard", &demo("standard"), "women-m", &["length=90 cm"]);
    let run = run.expect("sound");
    let grams = run.good().next().expect("knittable").1.graded.yarn.need.grams();
    // What is expected and a reserve, the gauge being an estimate; not all there is.
    assert!((grams..1.5 * grams).contains(&taken), "{taken} for {grams}");
}

#[test]
fn a_gift_that_grows_leaves_yarn_for_the_others() {
    let place = with_yarn("220 g");
    told(&place, &["people", "add", "Jago", "--size", "y7-8"]);
    told(&place, &["gifts", "add", "--person", "Jago", "--garment", "hat", "--id", "jago"]);
    let plan = place.plan(&[]);
    assert_eq!(plan["gifts"].as_array().map(Vec::len), Some(2), "{plan}");
    gift(&plan, "jago");
}

/// "Anything warm" is something to wear, not a square of a blanket.
#[test]
fn anything_warm_is_worn() {
    let place = with_yarn("14 g");
    told(&place, &["gifts", "change", "wenna", "--garment", "anything warm"]);
    let plan = place.plan(&[]);
    let made = plan["gifts"].as_array().expect("a list");
    assert!(made.iter().all(|gift| gift["garment"] != "mitred-square"), "{plan}");
    told(&place, &["gifts", "change", "wenna", "--garment", "mitred-square"]);
    assert_eq!(gift(&place.plan(&[]), "wenna")["garment"], "mitred-square");
}

const MANIFEST: &str = r#"id = "strip"
title = "Strip"
version = "1.0.0"
api = 2
summary = "A strip."
measures = []
structures = ["plain"]

[sections]
strip = "Strip"

[options.length]
type = "length"
min = "10 cm"
max = "90 cm"
default = "auto"
scales = true
help = "Its length."
"#;

#[test]
fn a_manifest_that_cannot_scale_is_told_why() {
    let hold = tempfile::tempdir().expect("a folder");
    let folder = hold.path().join("strip");
    std::fs::create_dir(&folder).expect("made");
    std::fs::write(folder.join("init.luau"), "return function() return { pieces = {} } end")
        .expect("written");
    let show = |manifest: &str| {
        std::fs::write(folder.join("plugin.toml"), manifest).expect("written");
        oddments(&["garment", "show", folder.to_str().expect("a path")])
    };
    let ran = show(MANIFEST);
    assert!(ran.out.contains("as large as the yarn goes"), "{} {}", ran.out, ran.err);
    let with = |from: &str, to: &str| MANIFEST.replacen(from, to, 1);
    let second = format!(
        "{MANIFEST}{}",
        MANIFEST[MANIFEST.find("[options").expect("there")..].replace("length]", "width]")
    );
    for (manifest, words) in [
        (with("default = \"auto\"", "default = \"20 cm\""), "has a default of its own"),
        (with("scales = true", "scales = 3"), "`scales` must be true or false"),
        (second, "is the second that scales"),
        (with("type = \"length\"\nmin = \"10 cm\"\nmax = \"90 cm\"", "type = \"flag\""), "scales"),
    ] {
        let ran = show(&manifest);
        assert_ne!(ran.code, Some(0), "{manifest}");
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
}
