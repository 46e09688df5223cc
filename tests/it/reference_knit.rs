//! The knitting arithmetic against published worked examples and geometry. Each check names its
//! source and what is read, what computed.

use knit::estimate::{Learnt, Moisture, PieceSection, Record, Unevenness, Weighed, WeighedSection};
use knit::needle::Span;
use knit::program::{Action, CastOnMethod, Piece, Program, Step, Structure, Which};
use knit::swatch::FabricState;
use knit::yarn::{Basis, LoopLength, loop_length, need};

use crate::support::{bench, demo, grade, swatches};

fn near(what: &str, ours: f64, theirs: f64, share: f64) {
    assert!((ours / theirs - 1.0).abs() <= share, "{what}: {ours} against {theirs}");
}

/// The loop of plain fabric, of a swatch file that says so of its yarn and its readings.
fn plain_loop(yarn: &str, readings: &str) -> LoopLength {
    let file = format!("yarn = '{yarn}'\n[[swatch]]\nstructure = 'plain'\n{readings}");
    let swatches = store::parse_swatches("read.toml", &file).expect("a swatch").set;
    loop_length(&swatches, Structure::Plain)
}

/// Davis, *Hosiery Manufacture* (public domain), chapter V, examples 11 and 14: courses per inch,
/// width of the fabric, its length, and the yarn a course takes over its width give the weight.
struct Davis {
    yarn: &'static str,
    courses: &'static str,
    width: &'static str,
    length: &'static str,
    take_up: f64,
}

/// Ten yards.
const EXAMPLE_11: Davis = Davis {
    yarn: "2/20 NeW",
    courses: "18 rows per in",
    width: "32 in",
    length: "360 in",
    take_up: 2.0,
};
const METRES_11: f64 = 10_533.9;
const GRAMS_11: f64 = 933.1;
/// Two hundred yards.
const EXAMPLE_14: Davis = Davis {
    yarn: "2/40 NeW",
    courses: "28 rows per in",
    width: "48 in",
    length: "7200 in",
    take_up: 1.75,
};
const KILOGRAMS_14: f64 = 19.051;

/// A strip a quarter as wide and a yard long, on the scale at its share of the published weight: the
/// published take-up lies within what we make of its loop, and near it. The book needs no stitches; we go by
/// them, here 5 to the inch, and its take-up is a stitch's yarn over its width.
#[test]
fn davis_s_take_up_is_read_off_the_weight_of_the_cloth() {
    for (example, inches, share, grams) in [
        (EXAMPLE_11, 8, 0.25 * 0.1, GRAMS_11),
        (EXAMPLE_14, 12, 0.25 * 0.005, 1000.0 * KILOGRAMS_14),
    ] {
        let rows_in: u32 =
            example.courses.split(' ').next().and_then(|n| n.parse().ok()).expect("rows");
        let (stitches, rows) = (5 * inches, rows_in * 36);
        let readings = format!(
            "stitches = {stitches}\nwidths = ['{inches} in']\nrows = {rows}\nheights = ['36 in']\n\
             weight = '{} g'\nweighed_stitches = {stitches}\nweighed_rows = {rows}\nscale_step = '0.01 g'\n",
            grams * share
        );
        let found = plain_loop(example.yarn, &readings);
        assert_eq!(found.basis, Basis::WeighedSwatch);
        let published = example.take_up * 25.4 / 5.0;
        assert!(found.within.contains(published), "{published}: {found:?}");
        near("take-up", found.mm, published, 0.02);
    }
}

/// Example 11 from its end: the cloth is the swatch, on the scale at the published weight. Its loop
/// is the published take-up, and the same cloth knitted on the bed, itself put on the scale, takes the
/// published metres and grams; casting on and off and two ends are less than one in a thousand of it.
#[test]
fn davis_s_cloth_is_knitted_on_the_bed() {
    const STITCHES: u32 = 5 * 32;
    const ROWS: u32 = 18 * 360;
    let file = format!(
        "yarn = '{}'\n[[swatch]]\nstructure = 'plain'\nstitches = {STITCHES}\nwidths = ['{}']\n\
         rows = {ROWS}\nheights = ['{}']\nweight = '{GRAMS_11} g'\n\
         weighed_stitches = {STITCHES}\nweighed_rows = {ROWS}\n",
        EXAMPLE_11.yarn, EXAMPLE_11.width, EXAMPLE_11.length
    );
    let swatches = store::parse_swatches("davis.toml", &file).expect("a swatch").set;
    let loop_mm = loop_length(&swatches, Structure::Plain).mm;
    let take_up = loop_mm / swatches.plain().stitches.pitch_mm();
    near("take-up", take_up, EXAMPLE_11.take_up, 0.002);

    let span = Span::centred(STITCHES);
    let method = CastOnMethod::Wound;
    let actions = [
        Action::CastOn { span, structure: Structure::Plain, method, edge: None },
        Action::Knit { rows: ROWS },
        Action::CastOff { which: Which::All },
    ];
    let piece = Piece {
        name: "cloth".into(),
        title: "Cloth".into(),
        section: "cloth".into(),
        steps: actions.into_iter().map(|action| Step { line: 0, action }).collect(),
    };
    let program = Program { pieces: vec![piece], ..Program::default() };
    let bench = bench();
    let run = knit::bed::run(&program, bench.machine("standard").expect("a profile"));
    assert!(run.faults.is_empty(), "{:?}", run.faults);
    // A swatch alone is held to be within 3 % of the piece: so the piece is weighed as well.
    let section = |section: &PieceSection| WeighedSection {
        name: section.name.to_string(),
        stitches: section.stitches.clone(),
        other_g: section.other_g,
        used_g: GRAMS_11,
        scale_sd_g: 0.0,
        moisture: Moisture::SameRoom,
    };
    let sections = need(&run, &swatches).piece.sections.iter().map(section).collect();
    let piece = Record { id: "cloth".into(), what: Weighed::Piece, sections, stood_by: false };
    let weighed: Vec<Record> = swatches.weighings().into_iter().chain([piece]).collect();
    let learnt = Learnt::from(&weighed, &Unevenness::learnt());
    let yarn = swatches.yarn_id().clone();
    let need = need(&run, &swatches.with_learnt(learnt.into(), yarn));
    near("metres", need.metres, METRES_11, 0.002);
    near("grams", need.need.grams(), GRAMS_11, 0.002);
}

/// g/m2 = stitches per cm2 x loop length in mm x tex / 100 (textile handbooks): at 30 x 42 per
/// 10 cm and 250 tex, 413.6 g/m2 are l = 13.13 mm.
#[test]
fn loop_length_from_fabric_weight_and_count() {
    let found = plain_loop(
        "250 tex",
        "stitches = 30\nwidths = ['10 cm']\nrows = 42\nheights = ['10 cm']\n\
         weight = '413.6 g'\nweighed_stitches = 300\nweighed_rows = 420\nscale_step = '0.1 g'\n",
    );
    assert_eq!(found.basis, Basis::WeighedSwatch);
    // A swatch alone is held to be within 3 % of a piece, so what gauges say still counts for something.
    assert!(found.within.contains(13.13), "{found:?}");
    near("loop of 413.6 g/m2", found.mm, 13.13, 0.015);
}

/// Munden's constants of others, wet relaxed 4.1 and 5.3 (J. Text. Inst. 50 (1959) T448, from memory): the
/// loop of 30 x 42 per 10 cm from the wales, 13.67 mm, from the courses, 12.62 mm, and from both, 13.13 mm. And GATE
/// 2015 (TF) question 54: kw 4.2, kc 5.5, l 0.5 cm give 92.4 loops per cm2. What we reckon from both
/// gauges is held to lie within its own 95 % of each that goes by both.
#[test]
fn loop_length_from_gauge() {
    let gauge = |stitches: f64, rows: f64| {
        // So many to a stretch that is read to the micrometre: readings say nothing of the constants.
        let over = |count: f64| format!("{:.3} mm", 100.0 * 100.0 / count);
        let readings = format!(
            "stitches = 100\nwidths = ['{}']\nrows = 100\nheights = ['{}']\n",
            over(stitches),
            over(rows)
        );
        plain_loop("250 tex", &readings)
    };
    let ours = gauge(30.0, 42.0);
    assert_eq!(ours.basis, Basis::LoopLength);
    assert!(ours.within.contains(12.62) && ours.within.contains(13.13), "{ours:?}");
    let dense = |share: f64| (92.4 * share).sqrt() * 10.0;
    let ours = gauge(dense(4.2 / 5.5), dense(5.5 / 4.2));
    assert!(ours.within.contains(5.0), "{ours:?}");
}

/// A published hand-knit swatch: 9 stitches to the inch, 18 of them take 8 inches of yarn; a round of 72 is
/// 0.813 m. 10 rows to the inch are read off its picture.
#[test]
fn a_measured_stitch_agrees_with_ours() {
    let found =
        plain_loop("100 tex", "stitches = 36\nwidths = ['4 in']\nrows = 40\nheights = ['4 in']\n");
    assert_eq!(found.basis, Basis::LoopLength);
    near("yarn a stitch, mm", found.mm, 8.0 * 25.4 / 18.0, 0.04);
    near("a round of 72, m", 72.0 * found.mm / 1000.0, 0.813, 0.04);
}

/// N = pi x k x row gauge / stitch gauge wedges lie flat, with k needles brought back every two
/// rows (geometry: the rim of N wedges is N x 2S rows, the radius k x S stitches).
#[test]
fn a_flat_disc_takes_the_wedges_geometry_says() {
    for (stitches, rows, step) in
        [(20.0, 40.0, 1u32), (30.0, 42.0, 3), (28.0, 40.0, 2), (14.0, 20.0, 1), (25.0, 38.0, 2)]
    {
        let file = swatches(250.0, stitches, rows, None);
        let step_option = format!("step={step}");
        let options =
            [&*step_option, "fullness=1", "fullness_low=0.7", "fullness_high=1.4", "join=seamed"];
        let run = grade("tam", "standard", &file, "women-m", &options).expect("a run");
        let (_, made) = run.good().next().expect("knittable");
        let wedges = made.graded.counts.iter().find(|c| c.name == "wedges").expect("wedges").value;
        let exact = std::f64::consts::PI * f64::from(step) * rows / stitches;
        assert_eq!(wedges, exact.round() as u64, "{stitches} x {rows}, {step} a step: {exact}");
    }
}

/// A published wedge recipe: row gauge twice the stitch gauge and one needle every two rows make
/// six wedges lie flat. And worked out from the geometry: 30 x 42 per 10 cm, three needles every
/// two rows, 26 cm across are 39 stitches, 26 rim rows a wedge and 13 wedges.
#[test]
fn the_published_wedge_plans_come_out() {
    let count = |run: &knit::size_run::SizeRun, name: &str| {
        let (_, made) = run.good().next().expect("knittable");
        made.graded.counts.iter().find(|c| c.name == name).expect("a count").value
    };
    let flat = ["step=1", "fullness=1", "join=seamed"];
    let file = swatches(250.0, 20.0, 40.0, None);
    let run = grade("tam", "standard", &file, "women-m", &flat).expect("a run");
    assert_eq!(count(&run, "wedges"), 6);

    let file = swatches(250.0, 30.0, 42.0, None);
    let options = ["step=3", "fullness=1", "join=seamed", "disc=26 cm", "plain_rows=0"];
    let run = grade("tam", "standard", &file, "women-m", &options).expect("a run");
    assert_eq!(count(&run, "wedges"), 13);
    let (_, made) = run.good().next().expect("knittable");
    let disc = made.graded.finished.iter().find(|f| f.name == "disc").expect("disc");
    let stitches = disc.mm / 2.0 / (100.0 / 30.0);
    assert!((stitches - 39.0).abs() < 1e-9, "{stitches} stitches from rim to centre");
    let hat = made.graded.run.piece("hat").expect("hat");
    assert_eq!(hat.rows_at_side(knit::needle::Side::Right), 13 * 26);
    let fullness = made.graded.ratios[0].value;
    near("fullness", fullness, 1.0, 0.05);
}

/// Common practice, no source: an adult tam in sock yarn takes a little over 50 g (15 %); about
/// the full standard bed of 1x1 rib, 16 rows, makes its band; six wedges, one needle every two
/// rows; a full-size dinner plate (25 to 28 cm) to block it on.
#[test]
fn an_adult_tam_is_what_practice_says() {
    let run = grade("tam", "standard", &demo("standard"), "women-m", &["wedges=6", "step=1"])
        .expect("a run");
    let (_, made) = run.good().expect_one();
    let count = |name: &str| made.graded.counts.iter().find(|c| c.name == name).expect(name).value;
    assert_eq!(count("wedges"), 6);
    assert!((190..=200).contains(&count("band_stitches")), "{}", count("band_stitches"));
    assert_eq!(made.graded.run.piece("band").expect("band").rows.len(), 16);
    near("grams", made.graded.yarn.need.grams(), 53.0, 0.15);
    let disc = made.graded.finished.iter().find(|f| f.name == "disc").expect("disc").mm;
    assert!((245.0..=285.0).contains(&disc), "{disc}");
}

/// The adult run against the heads of ANSUR II 2012 (NATICK/TR-15/007): a band of girth B sits
/// well on heads it is 4 to 15 % smaller than (craft handbooks: 5 to 10 %, to 15 % at the most).
#[test]
fn the_adult_run_fits_nearly_every_adult_head() {
    let run = grade("tam", "standard", &demo("standard"), "women-s..men-xl", &[]).expect("a run");
    let fits: Vec<(f64, f64)> = run
        .good()
        .map(|(_, made)| made.graded.finished[0].mm)
        .map(|band| (band / 0.96, band / 0.85))
        .collect();
    assert_eq!(fits.len(), 8);
    let (men, women) = crate::reference_body::share_covered(&fits);
    assert!(men > 0.99 && women > 0.97, "men {men:.4}, women {women:.4}");
    println!("heads covered: men {:.1} %, women {:.1} %", men * 100.0, women * 100.0);
}

/// Published row-to-stitch ratios of machine fabric run from 1.30 to 1.54; the four demo swatches
/// must look like knitting.
#[test]
fn the_demo_swatches_are_plausible() {
    // Stitches per 10 cm by pitch, published: 28-30 at 4.5 mm in sock yarn, 17.5 at 6.5 mm, 14 at
    // 9 mm. The fine bed's is from memory.
    let published = [
        ("fine", 33.0, 37.0),
        ("standard", 28.0, 30.0),
        ("mid", 17.0, 18.0),
        ("bulky", 13.5, 14.5),
    ];
    for (machine, least, most) in published {
        let file = demo(machine);
        let plain = file.set.plain();
        let stitches = plain.stitches.per_ten.per_10_cm();
        assert!((least..=most).contains(&(stitches + 0.05)), "{machine}: {stitches}");
        let ratio = plain.rows.per_ten.per_10_cm() / stitches;
        assert!((1.30..=1.60).contains(&ratio), "{machine}: {ratio}");
        assert_eq!(plain.measured, Some(FabricState::Washed));
    }
}

trait ExpectOne: Iterator + Sized {
    fn expect_one(mut self) -> Self::Item {
        let first = self.next().expect("one");
        assert!(self.next().is_none(), "only one");
        first
    }
}

impl<I: Iterator> ExpectOne for I {}
