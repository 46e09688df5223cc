//! What the engine takes, by part: `cargo bench --bench engine`. Asserts nothing about time.

use app::{Colouring, GradeRequest, Places, PlanRequest, ReachRequest, Workbench};
use app::{WorkbenchSources, Workspace, YarnRequest, plan_gifts, sheet_pictures};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use knit::bed;
use knit::machine::Machine;
use knit::program::Program;
use knit::size_run::SizeRun;
use knit::stash::Date;
use knit::stash::NamedSwatches;
use plan::SolveSettings;
use rayon::prelude::*;
use report::PrintLook;
use report::sheet::{Paper, pattern_sheet, sheet_pdf};
use script::Plugin;
use units::LengthUnit;

fn main() {
    divan::main();
}

struct Setup {
    bench: Workbench,
    garments: Vec<Plugin>,
    beds: Vec<(Machine, NamedSwatches)>,
    sizes: Vec<String>,
}

fn setup() -> Setup {
    let bench = Workbench::open(&WorkbenchSources::default()).expect("sound tables");
    let garments = bench.garment_ids().iter().map(|id| bench.garment(id).expect("loads")).collect();
    let beds = bench
        .machines
        .iter()
        .filter_map(|machine| bench.swatch_and_machine(None, Some(&machine.id)).ok())
        .map(|(swatch, machine)| (machine.clone(), swatch))
        .collect();
    let sizes = bench.sizes.sizes().iter().map(|size| size.id.to_string()).collect();
    Setup { bench, garments, beds, sizes }
}

impl Setup {
    fn grade(&self, garment: &Plugin, bed: &(Machine, NamedSwatches), sizes: &str) -> SizeRun {
        let request = GradeRequest {
            plugin: garment,
            machine: &bed.0,
            swatch: &bed.1,
            options: Vec::new(),
            sizes: sizes.to_owned(),
            person: None,
        };
        self.bench.grade(&request).expect("a run")
    }

    fn tam(&self) -> &Plugin {
        self.garments.iter().find(|g| g.manifest.id == "tam").expect("shipped")
    }

    fn standard(&self) -> &(Machine, NamedSwatches) {
        self.beds.iter().find(|(machine, _)| machine.id == "standard").expect("built in")
    }

    /// Ready-made programs, with the stitches they make.
    fn programs(&self) -> (Vec<(Program, &Machine)>, u64) {
        let mut all = Vec::new();
        let mut stitches = 0;
        for bed in &self.beds {
            for garment in &self.garments {
                let run = self.grade(garment, bed, "all");
                for (_, made) in run.good() {
                    stitches += made.graded.run.pieces.iter().map(|p| p.stitches).sum::<u64>();
                    all.push((made.garment.program.clone(), &bed.0));
                }
            }
        }
        (all, stitches)
    }
}

#[divan::bench]
fn one_size(bencher: Bencher) {
    let setup = setup();
    bencher.bench(|| setup.grade(setup.tam(), setup.standard(), black_box("women-m")));
}

#[divan::bench(threads = false)]
fn twenty_sizes(bencher: Bencher) {
    let setup = setup();
    let sizes = setup.sizes[..20].join(",");
    bencher.bench(|| setup.grade(setup.tam(), setup.standard(), black_box(&sizes)));
}

/// Every garment in every size on every bed, over and over, up to ten thousand.
#[divan::bench(args = [1, 2], sample_count = 3, sample_size = 1)]
fn ten_thousand_garments(bencher: Bencher, threads: usize) {
    let setup = setup();
    let mut all = Vec::new();
    for bed in &setup.beds {
        for garment in &setup.garments {
            all.extend(setup.sizes.iter().map(|size| (garment, bed, size.as_str())));
        }
    }
    let workers = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
    bencher.counter(ItemsCount::new(10_000_usize)).bench(|| {
        workers.install(|| {
            (0..10_000_usize)
                .into_par_iter()
                .map(|n| {
                    let (garment, bed, size) = all[n % all.len()];
                    setup.grade(garment, bed, size).sizes.len()
                })
                .sum::<usize>()
        })
    });
}

/// Stitches a second, without a script.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn bed_alone(bencher: Bencher) {
    let setup = setup();
    let (programs, stitches) = setup.programs();
    bencher.counter(ItemsCount::new(stitches)).bench(|| {
        programs
            .iter()
            .map(|(program, machine)| bed::run(black_box(program), machine).pieces.len())
            .sum::<usize>()
    });
}

#[divan::bench]
fn run_as_json(bencher: Bencher) {
    let setup = setup();
    let run = setup.grade(setup.tam(), setup.standard(), "women-m");
    bencher.bench(|| report::grade_value(black_box(&run)).to_string());
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn reach(bencher: Bencher) {
    let setup = setup();
    let (machine, swatch) = setup.standard();
    let request = ReachRequest {
        machine,
        swatch,
        have: None,
        garments: Vec::new(),
        options: Vec::new(),
        sizes: "all".to_owned(),
        reserve: knit::stash::Reserve::Risk(0.05),
    };
    bencher.bench(|| setup.bench.reach(&request).expect("reached").rows.len());
}

/// The demo workspace, with a small limit of work.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn plan_of_the_demo(bencher: Bencher) {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    let workspace = Workspace::find(Some(&folder)).expect("sound").expect("a workspace");
    let bench = workspace.bench(&WorkbenchSources::default()).expect("sound tables");
    let settings = SolveSettings { work_limit: 200_000, ..SolveSettings::default() };
    let places = Places::open(None).expect("none kept");
    let request = PlanRequest {
        bench: &bench,
        contents: &workspace.contents,
        learning: workspace.learning(&bench),
        places: &places,
        number: workspace.state.number,
        today: Date::new(2026, 11, 1).expect("a date"),
        again: false,
        aim: None,
        explain: false,
    };
    bencher.bench(|| plan_gifts(&request, &settings, &mut |_| ()).expect("a plan"));
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn pdf_of_one_size(bencher: Bencher) {
    let setup = setup();
    let run = setup.grade(setup.tam(), setup.standard(), "women-m");
    let colouring = Colouring::read(&YarnRequest::default(), &run).expect("colours");
    bencher.bench(|| {
        let pictures =
            sheet_pictures(&run, &PrintLook::new(LengthUnit::Cm), &colouring).expect("pictures");
        sheet_pdf(&pattern_sheet(&run, &PrintLook::new(LengthUnit::Cm), Paper::A4, pictures))
            .map(|pdf| pdf.len())
            .unwrap_or_default()
    });
}
