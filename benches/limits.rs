//! How near the engine comes to what is necessary, how time grows with size, what the same work
//! takes elsewhere, and how long the program takes to start: `cargo bench --bench limits`. Prints
//! medians of turns taken one after another within one run; asserts nothing about time.
//!
//! `PYTHON=python3` names the interpreter (with numpy) of the comparison; without one it is left out.

#![allow(
    clippy::print_stdout,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    reason = "a benchmark tells the time"
)]

use std::hint::black_box;
use std::process::{Command, Stdio};
use std::time::Instant;

use app::{GradeRequest, Workbench, WorkbenchSources};
use knit::bed;
use knit::machine::Machine;
use knit::program::Program;
use knit::run::Run;
use knit::size_run::SizeRun;
use knit::stash::NamedSwatches;
use script::Plugin;

fn main() {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("load average {}", load.split(' ').take(3).collect::<Vec<_>>().join(" "));
    let bench = Workbench::open(&WorkbenchSources::default()).unwrap();
    floor(&bench);
    growth(&bench);
    elsewhere(&bench);
    start();
}

/// Median time of each of several pieces of work in microseconds, in turns.
fn turns<const N: usize>(rounds: usize, mut work: [&mut dyn FnMut(); N]) -> [f64; N] {
    let mut times = [(); N].map(|()| Vec::with_capacity(rounds));
    for round in 0..=rounds {
        for (work, times) in work.iter_mut().zip(&mut times) {
            let begun = Instant::now();
            work();
            // The first round warms up.
            if round > 0 {
                times.push(begun.elapsed().as_secs_f64() * 1e6);
            }
        }
    }
    times.map(|mut times| {
        times.sort_by(f64::total_cmp);
        times[times.len() / 2]
    })
}

fn grade(
    bench: &Workbench,
    plugin: &Plugin,
    on: (&Machine, &NamedSwatches),
    sizes: &str,
) -> SizeRun {
    let request = GradeRequest {
        plugin,
        machine: on.0,
        swatch: on.1,
        options: Vec::new(),
        sizes: sizes.to_owned(),
        person: None,
    };
    bench.grade(&request).unwrap()
}

/// The rows of a run as bare spans: (ribber, first, end) by row.
fn bare(run: &Run, machine: &Machine) -> Vec<Vec<(usize, usize, usize)>> {
    let left = machine.rail.left.0;
    let mut rows = Vec::new();
    for piece in &run.pieces {
        for row in &piece.rows {
            let spans = piece.spans_of(row).iter();
            rows.push(
                spans
                    .map(|s| {
                        let (a, b) = (s.span.left.0 - left, s.span.right.0 - left + 1);
                        (usize::from(s.ribber), a as usize, b as usize)
                    })
                    .collect(),
            );
        }
    }
    rows
}

/// What no bed can do without: for each needle that knits, its rows; for each row, its stitches.
fn necessary(rows: &[Vec<(usize, usize, usize)>], needles: usize) -> u64 {
    let mut beds = [vec![0_u32; needles], vec![0_u32; needles]];
    let mut stitches = 0;
    for row in rows {
        for (bed, first, end) in black_box(row) {
            for needle in &mut beds[*bed][*first..*end] {
                *needle += 1;
            }
            stitches += (end - first) as u64;
        }
    }
    black_box(&beds);
    stitches
}

fn floor(bench: &Workbench) {
    println!("\nfloor: rows added up on bare needles; us, and times the floor");
    println!("garment      stitches    rows   floor     bed         grade");
    let (swatch, machine) = bench.swatch_and_machine(None, Some("standard")).unwrap();
    for id in bench.garment_ids() {
        let plugin = bench.garment(&id).unwrap();
        let run = grade(bench, &plugin, (machine, &swatch), "women-m");
        let Some((_, made)) = run.good().next() else { continue };
        let rows = bare(&made.graded.run, machine);
        let stitches: u64 = made.graded.run.pieces.iter().map(|p| p.stitches).sum();
        let program: &Program = &made.garment.program;
        let needles = machine.needles() as usize;
        let [least, bed, all] = turns(
            60,
            [
                &mut || {
                    black_box(necessary(&rows, needles));
                },
                &mut || {
                    black_box(bed::run(program, machine));
                },
                &mut || {
                    black_box(grade(bench, &plugin, (machine, &swatch), "women-m"));
                },
            ],
        );
        println!(
            "{id:<12} {stitches:>8} {:>7} {least:>7.1} {bed:>7.1} x{:<5.1} {all:>7.0} x{:<5.0}",
            rows.len(),
            bed / least,
            all / least
        );
    }
}

fn growth(bench: &Workbench) {
    let (swatch, machine) = bench.swatch_and_machine(None, Some("standard")).unwrap();
    let tam = bench.garment("tam").unwrap();
    println!("\ngrowth: sizes of one run (tam); us, us a size");
    let ids: Vec<String> = bench.sizes.sizes().iter().map(|s| s.id.to_string()).collect();
    for n in [1, 2, 5, 10, 20] {
        let sizes = ids[..n].join(",");
        let [time] = turns(
            40,
            [&mut || {
                black_box(grade(bench, &tam, (machine, &swatch), &sizes));
            }],
        );
        println!("{n:>6} sizes {time:>9.0} {:>9.1}", time / n as f64);
    }
    println!("\ngrowth: rows of a piece of 100 needles, bed alone; us, ns a row");
    for rows in [100, 1_000, 10_000] {
        let program = strip(100, rows);
        let [time] = turns(
            40,
            [&mut || {
                black_box(bed::run(&program, machine));
            }],
        );
        println!("{rows:>6} rows {time:>10.1} {:>9.1}", time * 1e3 / f64::from(rows));
    }
    println!("\ngrowth: stitches of a piece of 1,000 rows, held and brought back; us, ns a stitch");
    for needles in [25, 50, 100, 200] {
        let program = steps(needles, 500);
        let run = bed::run(&program, machine);
        let stitches: u64 = run.pieces.iter().map(|p| p.stitches).sum();
        let [time] = turns(
            40,
            [&mut || {
                black_box(bed::run(&program, machine));
            }],
        );
        println!("{stitches:>8} stitches {time:>8.1} {:>8.2}", time * 1e3 / stitches as f64);
    }
}

fn piece(steps: Vec<knit::program::Action>) -> Program {
    use knit::program::{Piece, Step};
    let steps = steps.into_iter().map(|action| Step { line: 0, action }).collect();
    let name = || "piece".to_owned();
    Program {
        pieces: vec![Piece { name: name(), title: name(), section: name(), steps }],
        ..Program::default()
    }
}

/// Plain rows.
fn strip(needles: u32, rows: u32) -> Program {
    use knit::needle::Span;
    use knit::program::{Action, CastOnMethod, Structure, Which};
    piece(vec![
        Action::CastOn {
            span: Span::centred(needles),
            structure: Structure::Plain,
            method: CastOnMethod::Wound,
            edge: None,
        },
        Action::Knit { rows },
        Action::CastOff { which: Which::All },
    ])
}

/// Every second row a needle is held or brought back: no two passes in a row are alike.
fn steps(needles: u32, turns: u32) -> Program {
    use knit::needle::{Side, Span};
    use knit::program::{Action, CastOnMethod, Step, Structure, Which};
    let step = |action| Step { line: 0, action };
    let one = Which::AtSide(Side::Left, 1);
    let turn = vec![
        step(Action::Hold(one)),
        step(Action::Knit { rows: 1 }),
        step(Action::Return(one)),
        step(Action::Knit { rows: 1 }),
    ];
    piece(vec![
        Action::CastOn {
            span: Span::centred(needles),
            structure: Structure::Plain,
            method: CastOnMethod::Wound,
            edge: None,
        },
        Action::Repeat { times: turns, steps: turn },
        Action::CastOff { which: Which::All },
    ])
}

/// The tam for one size: the search for whole numbers and the rows of band and hat on needles that
/// have a position, a count of loops and a count of rows. In Luau and in NumPy that and nothing
/// else; in the engine also its checks, the record of each row, yarn, measures and warnings.
fn elsewhere(bench: &Workbench) {
    let (swatch, machine) = bench.swatch_and_machine(None, Some("standard")).unwrap();
    let tam = bench.garment("tam").unwrap();
    let run = grade(bench, &tam, (machine, &swatch), "women-m");
    let (size, made) = run.good().next().unwrap();
    let count = |name: &str| made.graded.counts.iter().find(|c| c.name == name).unwrap().value;
    let pitch = |name: &str| {
        let gauge = run.gauges.iter().find(|g| g.structure.name() == name).unwrap();
        (gauge.stitches.pitch_mm(), gauge.rows.pitch_mm())
    };
    let ((stitch, row), (rib_stitch, rib_row)) = (pitch("plain"), pitch("rib 1x1"));
    let head = size.body.mm("head_girth").unwrap();
    let given = [head, stitch, row, rib_stitch, rib_row, f64::from(machine.needles())];
    let expected = [
        count("wedges"),
        count("needles"),
        count("rows"),
        count("band_stitches"),
        made.graded.run.pieces.iter().map(|p| p.stitches).sum(),
    ];

    let lua = mlua::Lua::new();
    let plain: mlua::Function =
        lua.load(include_str!("compare_tam.luau")).eval().expect("the script compiles");
    let in_luau = |given: &[f64; 6]| -> Vec<u64> {
        plain.call::<Vec<u64>>(mlua::Variadic::from_iter(given.iter().copied())).expect("runs")
    };
    assert_eq!(in_luau(&given), expected, "the script makes another tam");

    let [engine, luau] = turns(
        100,
        [
            &mut || {
                black_box(grade(bench, &tam, (machine, &swatch), "women-m"));
            },
            &mut || {
                black_box(in_luau(&given));
            },
        ],
    );
    println!("\nelsewhere: one tam, women-m; us, times the engine");
    println!("engine   {engine:>9.0}    1.00");
    println!("Luau     {luau:>9.0} {:>7.2}", luau / engine);
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/compare_numpy.py");
    let output = Command::new(python)
        .arg(script)
        .args(given.iter().map(f64::to_string))
        .stderr(Stdio::null())
        .output();
    match output.map(|o| String::from_utf8_lossy(&o.stdout).trim().to_owned()) {
        Ok(text) if !text.is_empty() => {
            let mut words = text.split(' ');
            let time: f64 = words.next().unwrap().parse().unwrap();
            let made: Vec<u64> = words.map(|word| word.parse().unwrap()).collect();
            assert_eq!(made, expected, "NumPy makes another tam");
            println!("NumPy    {time:>9.0} {:>7.2}", time / engine);
        }
        _ => println!("NumPy    not here"),
    }
}

/// From nothing to done, over many runs of the program.
fn start() {
    println!("\nstart: ms a process, median and least of 100");
    let mut all: Vec<(String, Command)> = Vec::new();
    let mut put = |program: &str, words: &[&str]| {
        let mut command = Command::new(program);
        command.args(words).stdout(Stdio::null()).stderr(Stdio::null()).current_dir("/");
        let name = std::path::Path::new(program).file_name().unwrap().to_string_lossy();
        all.push((format!("{name} {}", words.join(" ")), command));
    };
    let program = env!("CARGO_BIN_EXE_oddments");
    put("/bin/true", &[]);
    put(program, &["--help"]);
    put(program, &["grade", "tam", "--sizes", "women-m"]);
    put(program, &["grade", "tam", "--sizes", "all", "--format", "json"]);
    let mut times = vec![Vec::new(); all.len()];
    for _ in 0..100 {
        for ((_, command), times) in all.iter_mut().zip(&mut times) {
            let begun = Instant::now();
            let _ = command.status();
            times.push(begun.elapsed().as_secs_f64() * 1e3);
        }
    }
    for ((name, _), mut times) in all.into_iter().zip(times) {
        times.sort_by(f64::total_cmp);
        println!("{name:<48} {:>7.2} {:>7.2}", times[times.len() / 2], times[0]);
    }
}
