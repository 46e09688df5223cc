//! What must hold for any gauge, size and machine.

use app::GradeRequest;
use diag::Code;
use knit::size_run::{Made, SizeRun};
use proptest::prelude::*;

use crate::support::{bench, swatches};

/// A plausible gauge for a pitch: stitches per 10 cm fall with the pitch; 1.2 to 1.6 rows to a
/// stitch; rib drawn in by 15 to 40 %, or not swatched.
fn gauge(pitch_mm: f64) -> impl Strategy<Value = (f64, f64, Option<f64>)> {
    let usual = 126.0 / pitch_mm;
    (0.75..1.3f64, 1.2..1.6f64, proptest::option::of(0.60..0.85f64)).prop_map(
        move |(tightness, ratio, rib)| {
            let stitches = usual * tightness;
            (stitches, stitches * ratio, rib.map(|width| stitches / width))
        },
    )
}

pub(crate) fn any_case() -> impl Strategy<Value = (&'static str, (f64, f64, Option<f64>))> {
    prop_oneof![
        gauge(3.6).prop_map(|g| ("fine", g)),
        gauge(4.5).prop_map(|g| ("standard", g)),
        gauge(6.5).prop_map(|g| ("mid", g)),
        gauge(9.0).prop_map(|g| ("bulky", g)),
    ]
}

fn run(
    garment: &str,
    machine: &str,
    gauge: (f64, f64, Option<f64>),
    options: &[(&str, &str)],
) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("shipped");
    let swatch = swatches(250.0, gauge.0, gauge.1, gauge.2);
    let options = options.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine(machine).expect("a profile"),
            swatch: &swatch,
            options,
            sizes: "all".into(),
            person: None,
        })
        .expect("a sound request")
}

/// Counts and grams of the sizes that can be knitted, in order of the head.
fn by_head(run: &SizeRun) -> Vec<(f64, &Made)> {
    let measure = run.garment.measure.as_ref().expect("tam goes by the head");
    let mut sizes: Vec<(f64, &Made)> = run
        .good()
        .map(|(size, made)| (size.body.mm(measure.name()).expect("head"), made))
        .collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    sizes
}

proptest! {
    #![proptest_config(crate::support::tries(48))]

    /// Either the bed knits it with nothing left over and every band loop hung once, or it is
    /// refused with a reason and a way out.
    #[test]
    fn a_tam_is_knitted_whole_or_refused_with_reasons(
        (machine, gauge) in any_case(),
        seamed in any::<bool>(),
        wedges in proptest::option::of(3..14u32),
    ) {
        let wedges = wedges.map(|n| n.to_string());
        let mut options = vec![("join", if seamed { "seamed" } else { "as-you-go" })];
        options.extend(wedges.as_deref().map(|n| ("wedges", n)));
        let run = run("tam", machine, gauge, &options);
        prop_assert_eq!(run.sizes.len(), 21);
        for size in &run.sizes {
            match size.good() {
                None => {
                    let reasons = size.diagnostics();
                    prop_assert!(reasons.has_errors());
                    prop_assert!(
                        reasons.iter().all(|r| !r.message.is_empty() && !r.hints.is_empty()),
                        "{}: {}", size.body.label, reasons
                    );
                    // A fault of the script or the bed is a bug in the family, not a refusal.
                    prop_assert!(
                        reasons.iter().all(|r| r.code == Code::ScriptRefused || r.code == Code::RatioOutOfRange),
                        "{}: {}", size.body.label, reasons
                    );
                }
                Some(made) => {
                    let band = made.graded.run.edge("band").expect("band edge");
                    prop_assert_eq!(band.left, 0);
                    let girth = &made.graded.finished[0];
                    let off = girth.achieved_ease.expect("eased") - girth.ease.expect("eased");
                    prop_assert!(off.abs() < 0.08, "{}: ease off by {}", size.body.label, off);
                    let fullness = made.graded.ratios[0].value;
                    prop_assert!((0.95..=1.45).contains(&fullness));
                    if !seamed {
                        let doubled = u32::try_from(band.doubled.len()).expect("few");
                        let hung = band.points - u32::try_from(band.skipped.len()).expect("few") + doubled;
                        prop_assert_eq!(hung, band.loops, "every loop once");
                        prop_assert!(band.doubled.is_empty());
                    }
                    for piece in &made.graded.run.pieces {
                        let span = piece.needles.expect("needles");
                        prop_assert!(span.len() <= run.machine.needles());
                    }
                }
            }
        }
    }

    /// Needle counts never fall and yarn never shrinks as the head grows.
    #[test]
    fn a_run_grows_with_the_head((machine, gauge) in any_case()) {
        let run = run("tam", machine, gauge, &[]);
        for pair in by_head(&run).windows(2) {
            let [(small, a), (large, b)] = pair else { continue };
            for name in ["needles", "band_stitches"] {
                let of = |made: &Made| {
                    made.graded.counts.iter().find(|c| c.name == name).expect("count").value
                };
                prop_assert!(of(a) <= of(b), "{name} from {small} to {large}: {} to {}", of(a), of(b));
            }
            prop_assert!(
                a.graded.yarn.need.grams() <= b.graded.yarn.need.grams() + 1e-9,
                "yarn from {small} to {large}: {} to {}", a.graded.yarn.need.grams(),
                    b.graded.yarn.need.grams()
            );
        }
        prop_assert!(run.warnings.iter().all(|w| w.code != Code::Falls), "{}", run.warnings);
    }

    /// The same input gives the same result, whatever ran before on the same threads.
    #[test]
    fn the_same_input_gives_the_same_bytes((machine, gauge) in any_case()) {
        let first = report::grade_json(&run("tam", machine, gauge, &[]));
        let second = report::grade_json(&run("tam", machine, gauge, &[]));
        prop_assert_eq!(first, second);
    }
}
