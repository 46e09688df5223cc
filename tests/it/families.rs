//! The shipped garments against the outside world, and against any gauge.

use app::{GradeRequest, Person};
use diag::Code;
use knit::size_run::{Made, SizeRun};
use proptest::prelude::*;
use store::shipped_plugin_ids;
use units::Length;

use crate::properties::any_case;
use crate::support::{bench, demo, grade, swatches};

fn one(run: &SizeRun) -> &Made {
    let mut good = run.good();
    let (_, made) = good.next().expect("knittable");
    made
}

fn finished(made: &Made, name: &str) -> f64 {
    made.graded.finished.iter().find(|f| f.name == name).unwrap_or_else(|| panic!("{name}")).mm
}

/// A garment for a person on the standard bed with its demo swatch.
fn made_for(garment: &str, measures: &[(&str, f64)]) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("shipped");
    let measures = measures
        .iter()
        .map(|(name, mm)| {
            let measure = bench.sizes.known().named(name).expect("a measure");
            (measure, Length::from_mm(*mm).expect("a length"))
        })
        .collect();
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine("standard").expect("a profile"),
            swatch: &demo("standard"),
            options: Vec::new(),
            sizes: String::new(),
            person: Some(Person { name: "Someone".into(), measures }),
        })
        .expect("a sound request")
}

/// EN 420 glove sizes, hand girth and hand length in mm: a mitten has 0 to 10 % ease round the
/// hand and is 5 to 10 mm longer (common practice; a row either way for whole rows).
#[test]
fn mittens_fit_the_published_glove_sizes() {
    const GLOVES: [(u32, f64, f64); 6] = [
        (6, 152.0, 160.0),
        (7, 178.0, 171.0),
        (8, 203.0, 182.0),
        (9, 229.0, 192.0),
        (10, 254.0, 204.0),
        (11, 279.0, 215.0),
    ];
    for (size, girth, length) in GLOVES {
        let run = made_for("mitten", &[("hand_girth", girth), ("hand_length", length)]);
        let made = one(&run);
        let round = finished(made, "hand_girth") / girth;
        assert!((1.0..=1.10).contains(&round), "glove {size}: {round} of the hand");
        let over = finished(made, "hand_length") - length;
        assert!((2.5..=12.5).contains(&over), "glove {size}: {over} mm longer");
    }
}

/// EU shoe sizes are Paris points of 20/3 mm on the last (ISO 9407), the last 15 mm longer than
/// the foot; a sock's foot is knitted about 10 mm short of the foot (craft handbooks).
#[test]
fn socks_fit_the_shoe_sizes() {
    for shoe in [24, 30, 36, 39, 42, 45] {
        let foot = f64::from(shoe) * 20.0 / 3.0 - 15.0;
        for garment in ["sock", "sock-flat"] {
            let run = made_for(garment, &[("foot_length", foot)]);
            let short = foot - finished(one(&run), "foot_length");
            assert!((4.0..=16.0).contains(&short), "{garment}, shoe {shoe}: {short} mm short");
        }
    }
}

/// Whatever is a pair says so, and its yarn is for both: two pieces of each kind in the run.
#[test]
fn pairs_hold_both() {
    let bench = bench();
    for id in shipped_plugin_ids() {
        let plugin = bench.garment(id).expect("shipped");
        let worn_in_pairs = matches!(
            id,
            "bootee" | "cuff" | "leg-warmer" | "mitt" | "mitten" | "sock" | "sock-flat"
        );
        assert_eq!(plugin.manifest.pair, worn_in_pairs, "{id}");
        if !worn_in_pairs {
            continue;
        }
        let size = if id == "bootee" { "m6-12" } else { "women-m" };
        let run = grade(id, "standard", &demo("standard"), size, &[]).expect("a run");
        let pieces = &one(&run).graded.run.pieces;
        assert!(pieces.len().is_multiple_of(2), "{id}: {} pieces", pieces.len());
        let stitches =
            |nth: usize| -> u64 { pieces.iter().skip(nth).step_by(2).map(|p| p.stitches).sum() };
        let halves: u64 = pieces.iter().map(|p| p.stitches).sum();
        assert!(halves.is_multiple_of(2) && stitches(0) > 0, "{id}");
    }
}

/// What two garments share is a part, and no copy of it lies in a garment's folder.
#[test]
fn no_two_garments_hold_the_same_module() {
    let mut seen: std::collections::BTreeMap<Vec<u8>, String> = Default::default();
    let mut takers: std::collections::BTreeMap<String, u32> = Default::default();
    let parts = store::shipped_part_names().iter().map(|name| format!("parts/{name}"));
    let garments = shipped_plugin_ids().into_iter().map(str::to_owned);
    for id in garments.chain(parts) {
        let source = store::shipped_plugin(&id).expect("shipped");
        for (path, bytes) in source.files {
            if path == "plugin.toml" {
                let asked = script::parts_asked(std::str::from_utf8(&bytes).expect("text"));
                asked.into_iter().for_each(|part| *takers.entry(part).or_default() += 1);
            }
            if path.ends_with(".luau") {
                let other = seen.insert(bytes, format!("{id}/{path}"));
                assert_eq!(other, None, "the same as {id}/{path}");
            }
        }
    }
    assert!(takers.values().filter(|n| **n >= 2).count() >= 2, "{takers:?}");
}

proptest! {
    #![proptest_config(crate::support::tries(12))]

    /// Any family at any plausible gauge on any machine: each size is knitted with nothing left
    /// over, or refused in the family's own words with a way out. Never a script's error.
    #[test]
    fn every_family_is_knitted_or_refused_with_reasons((machine, gauge) in any_case()) {
        let bench = bench();
        let swatch = swatches(250.0, gauge.0, gauge.1, gauge.2);
        for id in shipped_plugin_ids() {
            let plugin = bench.garment(id).expect("shipped");
            let run = bench
                .grade(&GradeRequest {
                    plugin: &plugin,
                    machine: bench.machine(machine).expect("a profile"),
                    swatch: &swatch,
                    options: Vec::new(),
                    sizes: "all".into(),
                    person: None,
                })
                .expect("a sound request");
            prop_assert!(run.warnings.iter().all(|w| w.code != Code::Falls), "{id}: {}", run.warnings);
            for size in run.sizes.iter().filter(|s| !s.knittable()) {
                for reason in size.diagnostics().iter() {
                    if reason.severity == diag::Severity::Warning {
                        continue;
                    }
                    let honest = ["script::refused", "cannot-be-put-on", "ratio-out-of-range"];
                    prop_assert!(
                        honest.contains(&reason.code.as_str()) && !reason.hints.is_empty(),
                        "{id} on {machine} at {gauge:?}, {}: {reason}", size.body.label
                    );
                }
            }
        }
    }
}
