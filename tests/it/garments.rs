//! Garments of the second script API against the body and the outside world: what is worn on the trunk,
//! shawl, square and helmet.

use app::GradeRequest;
use diag::Code;
use knit::garment::Decision;
use knit::program::Structure;
use knit::size_run::{Made, SizeRun};

use crate::support::{bench, demo, grade};

const MACHINES: [&str; 4] = ["fine", "standard", "mid", "bulky"];

fn all_sizes(garment: &str, machine: &str) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("shipped");
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine(machine).expect("a profile"),
            swatch: &demo(machine),
            options: Vec::new(),
            sizes: "all".into(),
            person: None,
        })
        .expect("a sound request")
}

fn one(garment: &str, size: &str, set: &[(&str, &str)]) -> SizeRun {
    let set: Vec<String> = set.iter().map(|(name, value)| format!("{name}={value}")).collect();
    let set: Vec<&str> = set.iter().map(String::as_str).collect();
    grade(garment, "standard", &demo("standard"), size, &set).expect("a sound request")
}

fn made(run: &SizeRun) -> &Made {
    run.good().next().expect("knittable").1
}

fn mm(made: &Made, name: &str) -> f64 {
    made.graded.finished.iter().find(|f| f.name == name).unwrap_or_else(|| panic!("{name}")).mm
}

fn count(made: &Made, name: &str) -> u64 {
    made.graded.counts.iter().find(|c| c.name == name).unwrap_or_else(|| panic!("{name}")).value
}

fn grams(made: &Made) -> f64 {
    made.graded.yarn.need.grams()
}

/// Room for the trunk, the arm and the head in every size on every bed. An armhole lies 25 to 40 mm below
/// the armpit (common practice), to the nearest two rows, or as deep as the neck asks for.
#[test]
fn what_is_worn_on_the_trunk_fits_over_the_body() {
    let mut seen = 0;
    for garment in ["pullover", "slipover", "cardigan"] {
        for machine in MACHINES {
            let run = all_sizes(garment, machine);
            let row = run.gauges[0].rows.pitch_mm();
            for (size, made) in run.good() {
                let body = |name: &str| size.body.mm(name).expect("of the size");
                let whose = format!("{garment} {} on {machine}", size.body.label);
                let ease = mm(made, "chest") / body("chest_girth") - 1.0;
                assert!((0.02..0.25).contains(&ease), "{whose}: {ease} of the chest");
                let below = mm(made, "armhole") - body("scye_depth");
                assert!((24.0 - row..41.0 + 4.0 * row).contains(&below), "{whose}: {below}");
                if garment != "slipover" {
                    let arm = mm(made, "upper_arm") / body("upper_arm_girth");
                    assert!(arm > 1.05, "{whose}: {arm} of the arm");
                }
                if garment != "cardigan" {
                    let ribbed = made.graded.run.knits(Structure::Rib1x1);
                    let fabric = if ribbed { Structure::Rib1x1 } else { Structure::Plain };
                    let opened = mm(made, "neckband") * fabric.stretches_to();
                    assert!(opened >= body("head_girth"), "{whose}: a neck of {opened}");
                }
                seen += 1;
            }
        }
    }
    assert!(seen > 240, "{seen} sizes");
}

/// Weights of practice in a yarn of 400 m to 100 g, from memory.
#[test]
fn weights_are_those_of_practice() {
    for (garment, size, low, high) in [
        ("pullover", "women-m", 300.0, 400.0),
        ("pullover", "men-l", 400.0, 500.0),
        ("pullover", "m3-6", 55.0, 95.0),
        ("cardigan", "women-m", 320.0, 450.0),
        ("slipover", "women-m", 170.0, 260.0),
        ("helmet", "m6-12", 20.0, 40.0),
    ] {
        let run = one(garment, size, &[]);
        let grams = grams(made(&run));
        assert!((low..=high).contains(&grams), "{garment} {size}: {grams}");
    }
}

/// What is on the left is on the right too, stitch by stitch.
#[test]
fn left_and_right_are_alike() {
    let pairs = [
        ("pullover", "women-m", "left-sleeve", "right-sleeve"),
        ("pullover", "women-m", "left-shoulder", "right-shoulder"),
        ("slipover", "women-m", "left-armband", "right-armband"),
        ("cardigan", "women-m", "left-front", "right-front"),
        ("cardigan", "women-m", "left-sleeve", "right-sleeve"),
        ("helmet", "m6-12", "flap-1", "flap-2"),
    ];
    for (garment, size, left, right) in pairs {
        let run = one(garment, size, &[]);
        let stitches = |name: &str| {
            let pieces = &made(&run).graded.run.pieces;
            pieces.iter().find(|piece| piece.name == name).expect("a piece").stitches
        };
        assert!(stitches(left) > 0);
        assert_eq!(stitches(left), stitches(right), "{garment}: {left}, {right}");
    }
}

/// A half disc: its rim is pi times its radius, its area half of pi times the square of that. Each stitch
/// covers a stitch's width and a row's height; what is drawn up at the middle comes on top.
#[test]
fn a_half_round_shawl_is_half_a_disc() {
    for radius in [300.0, 450.0, 600.0] {
        let run = one("shawl", "women-m", &[("radius", &format!("{} cm", radius / 10.0))]);
        let made = made(&run);
        let (wide, rim) = (mm(made, "radius"), mm(made, "rim"));
        assert!((wide / radius - 1.0).abs() < 0.02, "{wide} for {radius}");
        assert!((rim / (std::f64::consts::PI * wide) - 1.0).abs() < 0.06, "{rim} round {wide}");
        let gauge = &run.gauges[0];
        let stitches: u64 = made.graded.run.pieces.iter().map(|piece| piece.stitches).sum();
        let area = stitches as f64 * gauge.stitches.pitch_mm() * gauge.rows.pitch_mm();
        let exact = std::f64::consts::PI * wide * wide / 2.0 + mm(made, "middle") * wide / 2.0;
        assert!((area / exact - 1.0).abs() < 0.06, "{area} mm2, {exact} mm2");
    }
}

/// As long one way as the other, and as much fabric as a square has, whichever way the corner is turned. The
/// diagonal goes in blocks of two rows, half a block beyond the line on average, so one block of fabric is over.
#[test]
fn a_mitred_square_is_square() {
    for mitre in ["short rows", "decreases"] {
        for side in [80.0, 150.0, 213.0] {
            let set = [("mitre", mitre), ("side", &format!("{} cm", side / 10.0))];
            let run = one("mitred-square", "all", &set);
            let made = made(&run);
            let (a, b) = (mm(made, "side"), mm(made, "other_side"));
            assert!((a - side).abs() < 4.0 && (b - side).abs() < 4.0, "{mitre} {side}: {a}, {b}");
            let gauge = &run.gauges[0];
            let stitches: u64 = made.graded.run.pieces.iter().map(|piece| piece.stitches).sum();
            let area = stitches as f64 * gauge.stitches.pitch_mm() * gauge.rows.pitch_mm();
            let block = 2.0 * gauge.rows.pitch_mm() / side;
            let over = area / (side * side) - 1.0 - block;
            assert!(over.abs() < 0.04, "{mitre} {side}: {area} mm2, {over} over");
        }
    }
}

/// EN 14682 on cords and 16 CFR 1501 on small parts: what could hurt a small child is not made for it, or it
/// is said.
#[test]
fn small_children_get_nothing_that_strangles_or_chokes() {
    for garment in ["scarf", "shawl"] {
        let run = all_sizes(garment, "standard");
        for size in &run.sizes {
            let small = size.age_years.is_some_and(|age| age < 3.0);
            assert_eq!(size.knittable(), !small, "{garment} {}", size.body.label);
        }
    }
    let run = all_sizes("cardigan", "standard");
    for (size, made) in run.good() {
        let holes = made.graded.counts.iter().find(|c| c.name == "buttonholes");
        let small = size.age_years.is_some_and(|age| age < 3.0);
        assert_eq!(holes.is_none(), small, "{}", size.body.label);
        assert!(made.cautions.iter().any(|c| c.contains("utton")), "{}", size.body.label);
    }
    let set = [("buttons", "4")];
    let run = one("cardigan", "m6-12", &set);
    let told: Vec<String> = made(&run).diagnostics.iter().map(|d| d.message.clone()).collect();
    assert!(told.iter().any(|text| text.contains("small parts")), "{told:?}");
    let run = one("helmet", "m6-12", &[]);
    assert!(made(&run).cautions.iter().any(|c| c.contains("strangle")));
}

/// Each buttonhole goes through both layers of the band: an eyelet each, one over the other.
#[test]
fn buttonholes_go_through_both_layers() {
    let run = one("cardigan", "women-m", &[("buttons", "6")]);
    let made = made(&run);
    assert_eq!(count(made, "buttonholes"), 6);
    let moved = |name: &str| {
        let pieces = &made.garment.program.pieces;
        let band = pieces.iter().find(|piece| piece.name == name).expect("a band");
        let moves = band.steps.iter().filter_map(|step| match &step.action {
            knit::program::Action::Transfer(transfer) => Some(transfer.from.span.to_string()),
            _ => None,
        });
        moves.collect::<Vec<String>>()
    };
    let right = moved("right-band");
    assert_eq!((right.len(), moved("left-band").len()), (12, 0));
    assert_eq!(right[..6], right[6..], "one over the other");
}

/// A back that is wider than the bed is refused with an ease that fits, and that ease does fit.
#[test]
fn a_bed_too_narrow_says_what_fits() {
    let run = one("pullover", "men-xl", &[("ease", "25 %")]);
    let size = &run.sizes[0];
    assert!(!size.knittable());
    let hints: Vec<String> = size.diagnostics().iter().flat_map(|d| d.hints.clone()).collect();
    let ease = hints.iter().find_map(|hint| hint.strip_prefix("set ease=")?.split(':').next());
    let ease = ease.unwrap_or_else(|| panic!("{hints:?}"));
    assert!(one("pullover", "men-xl", &[("ease", ease)]).sizes[0].knittable(), "{ease}");
}

/// A size that each shipped garment is for.
fn size_for(garment: &str) -> &'static str {
    match garment {
        "bootee" | "helmet" => "m6-12",
        "mitred-square" => "all",
        _ => "women-m",
    }
}

fn decided<'m>(made: &'m Made, name: &str) -> &'m Decision {
    let all = &made.garment.decisions;
    all.iter().find(|d| d.name == name).unwrap_or_else(|| panic!("{name} in {all:?}"))
}

fn fixed(garment: &str, set: &[(&str, &str)], name: &str, value: i64) -> SizeRun {
    let (key, value) = (format!("fix.{name}"), value.to_string());
    let set: Vec<(&str, &str)> = set.iter().copied().chain([(&*key, &*value)]).collect();
    one(garment, size_for(garment), &set)
}

/// What is said of a size that is refused: codes, messages and hints.
fn told(run: &SizeRun) -> (Vec<Code>, String) {
    let found = run.sizes[0].diagnostics();
    let text = found.iter().map(|d| format!("{} ({})", d.message, d.hints.join("; ")));
    (found.iter().map(|d| d.code).collect(), text.collect::<Vec<_>>().join("\n"))
}

/// Each number is taken as it is fixed, and something else is knitted; what it may not be is refused with the
/// nearest that it may. Options that lead to other numbers are tried too.
#[test]
fn every_number_of_every_shipped_garment_can_be_fixed() {
    let bench = bench();
    let more: &[(&str, &[(&str, &str)])] = &[
        ("hat", &[("brim", "rib 1x1")]),
        ("cuff", &[("structure", "plain"), ("thumb", "slit"), ("edge", "hem"), ("stripe", "4")]),
        ("cuff", &[("thumb", "seam")]),
        ("scarf", &[("fabric", "plain"), ("ends", "hem")]),
        ("shawl", &[("rim", "band")]),
        ("sock", &[("leg", "knee")]),
        ("sock-flat", &[("leg", "knee"), ("top", "hem")]),
        ("mitten", &[("cuff_structure", "plain")]),
        ("mitt", &[("thumb", "short"), ("edge", "hem")]),
        ("leg-warmer", &[("ends", "hem")]),
    ];
    let ids = bench.garment_ids();
    let plain = ids.iter().map(|id| (id.as_str(), &[][..]));
    let (mut tried, mut good) = (0, 0);
    for (garment, set) in plain.chain(more.iter().copied()) {
        assert_eq!(bench.garment(garment).expect("shipped").manifest.api, 2, "{garment}");
        let run = one(garment, size_for(garment), set);
        let free = made(&run);
        assert!(free.garment.decisions.len() >= 2, "{garment}: {:?}", free.garment.decisions);
        for d in &free.garment.decisions {
            let whose = format!("{garment} {set:?} {}", d.name);
            assert!(!d.fixed && (d.from..=d.to).contains(&d.value), "{whose}: {d:?}");
            let over = fixed(garment, set, &d.name, d.to + 1);
            let (codes, text) = told(&over);
            assert_eq!(codes, [Code::Decision], "{whose}: {text}");
            assert!(text.contains(&format!("{} can", d.to)), "{whose}: {text}");
            if d.from == d.to {
                continue;
            }
            tried += 1;
            let next = if d.value + d.step <= d.to { d.value + d.step } else { d.value - d.step };
            let run = fixed(garment, set, &d.name, next);
            let Some((_, with)) = run.good().next() else {
                let (codes, text) = told(&run);
                let said = codes == [Code::Decision] && text.contains(" can")
                    || text.contains("leave to the garment what is fixed");
                assert!(said, "{whose} {next}: {text}");
                continue;
            };
            good += 1;
            let kept = decided(with, &d.name);
            assert_eq!((kept.value, kept.fixed), (next, true), "{whose}");
            assert_ne!(with.garment.program, free.garment.program, "{whose}: nothing follows");
        }
    }
    assert!(tried > 150 && good > tried * 9 / 10, "{good} of {tried} can be");
}

/// In each garment a number is counted on the bed as it was fixed, and the rest follows: the others are chosen
/// anew, or the size that comes out is another.
#[test]
fn what_is_fixed_is_what_is_knitted_and_the_rest_follows() {
    let cases = [
        ("bootee", "top_stitches", 40, "needles"),
        ("cardigan", "stitches", 150, "stitches"),
        ("cuff", "stitches", 64, "needles"),
        ("hat", "wedges", 8, "wedges"),
        ("headband", "stitches", 60, "needles"),
        ("helmet", "stitches", 124, "stitches"),
        ("leg-warmer", "top_stitches", 116, "needles"),
        ("mitred-square", "stitches", 50, "needles"),
        ("mitt", "stitches", 66, "needles"),
        ("mitten", "stitches", 66, "needles"),
        ("neck-ring", "stitches", 150, "needles"),
        ("pullover", "stitches", 150, "stitches"),
        ("scarf", "stitches", 60, "needles"),
        ("shawl", "wedges", 7, "wedges"),
        ("slipover", "stitches", 150, "stitches"),
        ("sock", "top_stitches", 72, "top_stitches"),
        ("sock-flat", "top_stitches", 72, "top_stitches"),
        ("tam", "band_stitches", 190, "band_stitches"),
    ];
    let named: Vec<&str> = cases.iter().map(|(garment, ..)| *garment).collect();
    assert_eq!(named, bench().garment_ids());
    for (garment, name, value, counted) in cases {
        let run = fixed(garment, &[], name, value);
        assert_eq!(run.good().count(), 1, "{garment}: {}", told(&run).1);
        let with = made(&run);
        assert_eq!(decided(with, name).value, value);
        assert_eq!(count(with, counted), value.unsigned_abs(), "{garment}: {counted}");
        let free = one(garment, size_for(garment), &[]);
        let free = made(&free);
        assert_ne!(decided(free, name).value, value, "{garment}: chosen by itself");
        let sizes = |made: &Made| made.graded.finished.iter().map(|f| f.mm).collect::<Vec<_>>();
        let others = |made: &Made| {
            let others = made.garment.decisions.iter().filter(|d| d.name != name);
            others.map(|d| (d.name.clone(), d.value)).collect::<Vec<_>>()
        };
        assert!(sizes(with) != sizes(free) || others(with) != others(free), "{garment}");
    }
}

/// What follows in others of them, by figures reckoned by hand.
#[test]
fn numbers_that_belong_together_follow_one_another() {
    // A heel over 32 stitches goes two thirds down, an even number of rows; the foot has the fewer between.
    let (free, with) = (one("sock", "women-m", &[]), fixed("sock", &[], "stitches", 64));
    let value = |run: &SizeRun, name: &str| decided(made(run), name).value;
    assert_eq!(value(&with, "heel_rows"), 22);
    let sole = |run: &SizeRun| value(run, "foot_rows") + 2 * value(run, "heel_rows");
    assert_eq!(sole(&with), sole(&free));
    // Wedges that are fixed may take other needles a step, and keep the rows between 5 and 35 % at the centre.
    let with = fixed("hat", &[], "wedges", 12);
    assert_eq!(value(&with, "rows"), value(&one("hat", "women-m", &[]), "rows"));
    let drawn = value(&with, "rows") - 2 * 12 * value(&with, "steps") + 12;
    let share = drawn as f64 / value(&with, "rows") as f64;
    assert!((0.05..=0.35).contains(&share), "{share}");
    // A sleeve is as wide as its armhole is round, and a stitch for the seam.
    let with = fixed("pullover", &[], "armhole_rows", 90);
    let gauge = &with.gauges[0];
    let exact = 2.0 * 90.0 * gauge.rows.pitch_mm() / gauge.stitches.pitch_mm() + 1.0;
    let top = value(&with, "sleeve_stitches");
    assert!((top as f64 - exact).abs() <= 1.0 && top % 2 == 0, "{top} for {exact}");
}
