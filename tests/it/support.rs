//! What several tests need: gauges from plain numbers, runs of a shipped garment.

use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use app::{GradeRequest, Workbench, WorkbenchSources};
use diag::Diagnostics;
use knit::program::Structure;
use knit::size_run::SizeRun;
use knit::stash::NamedSwatches;
use knit::swatch::{FabricState, Readings, Swatch, SwatchSet};
use proptest::test_runner::Config as ProptestConfig;
use units::YarnCount;

/// So many draws of a property, or `ODDMENTS_TRIES` times as many.
pub fn tries(cases: u32) -> ProptestConfig {
    let times = std::env::var("ODDMENTS_TRIES").ok().and_then(|times| times.parse().ok());
    let times = times.unwrap_or(1);
    let usual = ProptestConfig::default();
    ProptestConfig {
        cases: cases.saturating_mul(times),
        max_global_rejects: usual.max_global_rejects.saturating_mul(times),
        ..usual
    }
}

/// What is built in, read once for all tests.
pub fn bench() -> Workbench {
    static BENCH: OnceLock<Workbench> = OnceLock::new();
    let open =
        || Workbench::open(&WorkbenchSources::default()).expect("the built-in tables are sound");
    BENCH.get_or_init(open).clone()
}

fn swatch(structure: Structure, stitches: f64, rows: f64) -> Swatch {
    // 100 stitches and rows, so that the readings carry the wished gauge exactly.
    Swatch {
        structure,
        state: FabricState::Washed,
        dial: None,
        stitches: Readings { count: 100, over_mm: vec![10_000.0 / stitches] },
        rows: Readings { count: 100, over_mm: vec![10_000.0 / rows] },
        weighed: None,
    }
}

/// Swatches of a gauge per 10 cm: plain stitches and rows, and 1x1 rib stitches if measured.
pub fn swatches(tex: f64, stitches: f64, rows: f64, rib: Option<f64>) -> NamedSwatches {
    let mut all = vec![swatch(Structure::Plain, stitches, rows)];
    all.extend(rib.map(|rib| swatch(Structure::Rib1x1, rib, rows)));
    let yarn = YarnCount::from_tex(tex).expect("a yarn");
    let (set, warnings) = SwatchSet::new(yarn, "test yarn".into(), &all).expect("sound swatches");
    NamedSwatches { name: "test".into(), machine: None, set, warnings }
}

/// Grades a garment on a machine profile. `options` as `name=value`.
pub fn grade(
    garment: &str,
    machine: &str,
    swatch: &NamedSwatches,
    sizes: &str,
    options: &[&str],
) -> Result<SizeRun, Diagnostics> {
    let bench = bench();
    let plugin = bench.garment(garment)?;
    let options = options
        .iter()
        .map(|o| o.split_once('=').expect("name=value"))
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .collect();
    bench.grade(&GradeRequest {
        plugin: &plugin,
        machine: bench.machine(machine)?,
        swatch,
        options,
        sizes: sizes.to_owned(),
        person: None,
    })
}

/// The demo swatch of a machine.
pub fn demo(machine: &str) -> NamedSwatches {
    store::demo_swatch(machine).expect("sound").expect("there is one")
}

/// What a command left behind.
#[derive(Debug, PartialEq, Eq)]
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

/// Runs the program in a folder.
pub fn oddments_in(folder: &Path, arguments: &[&str]) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .args(arguments)
        .output()
        .expect("the program starts");
    Ran {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).expect("text"),
        err: String::from_utf8(output.stderr).expect("text"),
    }
}

/// Runs the program where the project lies.
pub fn oddments(arguments: &[&str]) -> Ran {
    oddments_in(Path::new(env!("CARGO_MANIFEST_DIR")), arguments)
}
