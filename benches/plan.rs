//! Solves plan instances, named on the command line or fresh by seed, to be set beside
//! `reference_plan.py`.
//!
//! ```text
//! cargo bench -p plan --bench plan -- INSTANCE.json... [--work N] [--threads 0] [--seed 1] [--seconds 10]
//! cargo bench -p plan --bench plan -- fresh --sizes 10x20,30x60 --count 30 [--first 1] [--yarn st]
//!     [--each] [--write FOLDER] [--work N] [--threads 0] [--seconds 20]
//! ```
//! Prints, for each named one: name, objective, bound, gap, whether it is proven, work, seconds. For
//! fresh ones, a row for each size and kind of yarn: how many were proven, the gap (half of them, the
//! worst), seconds to the first plan within 1 % of the last bound and to the proof, the longest silence
//! between two reports, and the most memory so far. `--write` puts each instance and its plan into a
//! folder as JSON, for the reference and for `tests/check_plan.py`.

#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "a timing program")]

mod fresh;

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use fresh::Yarn;
use plan::{
    Gift, GiftOption, Instance, Outcome, Points, Remnant, Section, SolveSettings, StopFlag, check,
    objective, solve,
};
use serde_json::{Map, Value, json};

/// What the command line asks for.
struct Wishes {
    settings: SolveSettings,
    seconds: f64,
    follow: bool,
    each: bool,
    sizes: Vec<(usize, usize)>,
    yarn: Vec<Yarn>,
    count: u64,
    first: u64,
    write: Option<PathBuf>,
    words: Vec<String>,
}

impl Wishes {
    fn read() -> Option<Wishes> {
        let mut wishes = Wishes {
            settings: SolveSettings { work_limit: 100_000_000, ..SolveSettings::default() },
            seconds: 10.0,
            follow: false,
            each: false,
            sizes: vec![(10, 20)],
            yarn: vec![Yarn::Plenty, Yarn::Tight],
            count: 30,
            first: 1,
            write: None,
            words: Vec::new(),
        };
        let mut words = std::env::args().skip(1);
        while let Some(word) = words.next() {
            match word.as_str() {
                "--work" => wishes.settings.work_limit = words.next()?.parse().ok()?,
                "--threads" => wishes.settings.threads = words.next()?.parse().ok()?,
                "--seed" => wishes.settings.seed = words.next()?.parse().ok()?,
                "--seconds" => wishes.seconds = words.next()?.parse().ok()?,
                "--count" => wishes.count = words.next()?.parse().ok()?,
                "--first" => wishes.first = words.next()?.parse().ok()?,
                "--write" => wishes.write = Some(words.next()?.into()),
                "--sizes" => {
                    let pairs = words.next()?;
                    let pairs = pairs.split(',').map(|pair| pair.split_once('x'));
                    wishes.sizes = pairs
                        .map(|pair| {
                            pair.and_then(|(a, b)| Some((a.parse().ok()?, b.parse().ok()?)))
                        })
                        .collect::<Option<_>>()?;
                }
                "--yarn" => {
                    let letters = words.next()?;
                    wishes.yarn.retain(|yarn| letters.contains(yarn.letter()));
                }
                "--follow" => wishes.follow = true,
                "--each" => wishes.each = true,
                // Cargo says so itself.
                "--bench" => {}
                word => wishes.words.push(word.to_owned()),
            }
        }
        Some(wishes)
    }
}

/// What came of an instance.
struct Run {
    outcome: Outcome,
    seconds: f64,
    /// When what was told: seconds, and the worth of the plan.
    told: Vec<(f64, Points)>,
    sound: bool,
}

impl Run {
    /// Seconds to the first plan within a hundredth of the last bound.
    fn near(&self) -> Option<f64> {
        let enough = 0.99 * self.outcome.bound.as_f64();
        self.told.iter().find(|(_, worth)| worth.as_f64() >= enough).map(|(at, _)| *at)
    }

    /// The longest time without a word.
    fn silence(&self) -> f64 {
        let ends = self.told.iter().map(|(at, _)| *at).chain([self.seconds]);
        let starts = [0.0].into_iter().chain(self.told.iter().map(|(at, _)| *at));
        starts.zip(ends).map(|(a, b)| b - a).fold(0.0, f64::max)
    }

    fn line(&self, name: &str) -> String {
        format!(
            "{name}\t{}\t{}\t{:.4} %\t{}\t{}\t{:.2} s{}",
            self.outcome.objective,
            self.outcome.bound,
            self.outcome.gap * 100.0,
            if self.outcome.proven { "proven" } else { "open" },
            self.outcome.work_done,
            self.seconds,
            if self.sound { "" } else { "\tNOT SOUND" },
        )
    }
}

fn run(name: &str, instance: &Instance, wishes: &Wishes) -> Option<Run> {
    let settings = SolveSettings { stop: StopFlag::new(), ..wishes.settings.clone() };
    let flag = settings.stop.clone();
    let limit = Duration::from_secs_f64(wishes.seconds);
    // The watch is not waited for: it ends with the program.
    std::thread::spawn(move || {
        std::thread::sleep(limit);
        flag.set();
    });
    let start = Instant::now();
    let mut told = Vec::new();
    let outcome = solve(instance, &settings, &mut |p| {
        let at = start.elapsed().as_secs_f64();
        told.push((at, p.objective));
        if wishes.follow {
            println!("  {at:6.2} s  {}  {}  {}", p.objective, p.bound, p.work);
        }
    });
    let seconds = start.elapsed().as_secs_f64();
    match outcome {
        Ok(outcome) => {
            let faults = check(instance, &outcome.plan);
            let sound =
                faults.is_empty() && objective(instance, &outcome.plan) == outcome.objective;
            Some(Run { outcome, seconds, told, sound })
        }
        Err(faults) => {
            println!("{name}: {faults}");
            None
        }
    }
}

fn main() -> ExitCode {
    let Some(wishes) = Wishes::read() else {
        println!("a word of the command line is not understood: see the head of benches/plan.rs");
        return ExitCode::FAILURE;
    };
    let sound = if wishes.words.first().is_some_and(|word| word == "fresh") {
        wishes.sizes.iter().all(|size| wishes.yarn.iter().all(|yarn| row(*size, *yarn, &wishes)))
    } else {
        wishes.words.iter().all(|path| named(path, &wishes))
    };
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Solves the instance of a file; says whether all is well.
fn named(path: &str, wishes: &Wishes) -> bool {
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) => {
            println!("{path}: {error}");
            return false;
        }
    };
    let Some((name, instance)) = serde_json::from_str(&text).ok().and_then(|v| read(&v)) else {
        println!("{path}: not a plan instance");
        return false;
    };
    let Some(run) = run(&name, &instance, wishes) else { return false };
    println!("{}", run.line(&name));
    run.sound
}

/// Solves fresh instances of a size and prints their row; says whether all is well.
fn row((gifts, remnants): (usize, usize), yarn: Yarn, wishes: &Wishes) -> bool {
    let mut runs = Vec::new();
    for seed in wishes.first..wishes.first + wishes.count {
        let name = format!("g{gifts}_r{remnants}_{}{seed}", yarn.letter());
        let instance = fresh::instance(gifts, remnants, yarn, seed);
        let Some(run) = run(&name, &instance, wishes) else { return false };
        if let Some(folder) = &wishes.write
            && let Err(error) = write(folder, &name, &instance, &run.outcome)
        {
            println!("{}: {error}", folder.display());
            return false;
        }
        if wishes.each || !run.sound {
            println!("{}", run.line(&name));
        }
        runs.push(run);
    }
    let of = |each: &dyn Fn(&Run) -> Option<f64>| spread(runs.iter().filter_map(each).collect());
    let (gap, worst) = of(&|run| Some(run.outcome.gap * 100.0));
    let (near, nearest) = of(&Run::near);
    let (proof, last) = of(&|run| run.outcome.proven.then_some(run.seconds));
    let (_, silence) = of(&|run| Some(run.silence()));
    println!(
        "| {gifts} x {remnants} {} | {} of {} | {gap:.3} % | {worst:.3} % | {near:.2} | {nearest:.2} ({}) \
         | {proof:.2} | {last:.2} | {silence:.1} | {} |",
        yarn.letter(),
        runs.iter().filter(|run| run.outcome.proven).count(),
        runs.len(),
        runs.iter().filter(|run| run.near().is_some()).count(),
        most_memory(),
    );
    runs.iter().all(|run| run.sound)
}

/// The one in the middle, and the largest; nothing known where there is none.
fn spread(mut all: Vec<f64>) -> (f64, f64) {
    all.sort_by(f64::total_cmp);
    let none = f64::NAN;
    (all.get(all.len() / 2).copied().unwrap_or(none), all.last().copied().unwrap_or(none))
}

/// The most memory that this program has held so far, where the system tells.
fn most_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok());
    kilobytes.map_or_else(|| "?".to_owned(), |kb| format!("{} MB", kb / 1024))
}

/// Writes an instance and its plan.
fn write(folder: &Path, name: &str, of: &Instance, outcome: &Outcome) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let section = |s: &Section| {
        let need: Map<String, Value> =
            s.need_dg.iter().map(|(g, dg)| (g.to_string(), json!(dg))).collect();
        json!({"joinable": s.joinable, "need": need})
    };
    let option = |o: &GiftOption| json!({"pref": o.pref, "sections": o.sections.iter().map(section).collect::<Vec<_>>()});
    let gift = |g: &Gift| json!({"priority": g.priority, "options": g.options.iter().map(option).collect::<Vec<_>>()});
    let remnant =
        |r: &Remnant| json!({"group": r.group, "mass_dg": r.mass_dg, "usable_dg": r.usable_dg});
    let instance = json!({
        "name": name, "min_chunk_dg": of.min_chunk_dg, "max_join": of.max_join, "drib_dg": of.drib_dg,
        "gifts": of.gifts.iter().map(gift).collect::<Vec<_>>(),
        "remnants": of.remnants.iter().map(remnant).collect::<Vec<_>>(),
    });
    let made = |made: &plan::Made| {
        let chunks = |section: &Vec<plan::Chunk>| {
            section.iter().map(|c| json!({"remnant": c.remnant, "dg": c.dg})).collect::<Vec<_>>()
        };
        json!({"option": made.option, "sections": made.sections.iter().map(chunks).collect::<Vec<_>>()})
    };
    let gifts: Vec<Value> =
        outcome.plan.gifts.iter().map(|g| g.as_ref().map_or(Value::Null, made)).collect();
    let plan = json!({
        "gifts": gifts, "objective": outcome.objective.0, "bound": outcome.bound.0, "unmet": [],
    });
    std::fs::write(folder.join(format!("{name}.json")), instance.to_string())?;
    std::fs::write(folder.join(format!("{name}.plan.json")), plan.to_string())
}

fn read(value: &Value) -> Option<(String, Instance)> {
    let small = |v: &Value| v.as_u64().and_then(|n| u32::try_from(n).ok());
    let index = |v: &Value| v.as_u64().and_then(|n| usize::try_from(n).ok());
    let remnant = |r: &Value| {
        Some(Remnant {
            group: index(&r["group"])?,
            usable_dg: small(&r["usable_dg"])?,
            mass_dg: small(&r["mass_dg"])?,
            ..Remnant::default()
        })
    };
    let section = |s: &Value| {
        let need = s["need"].as_object()?.iter();
        Some(Section {
            joinable: s["joinable"].as_bool()?,
            need_dg: need
                .map(|(g, n)| Some((g.parse().ok()?, small(n)?)))
                .collect::<Option<_>>()?,
            ..Section::default()
        })
    };
    let option = |o: &Value| {
        Some(GiftOption {
            pref: o["pref"].as_i64()?,
            sections: o["sections"].as_array()?.iter().map(section).collect::<Option<_>>()?,
            ..GiftOption::default()
        })
    };
    let gift = |g: &Value| {
        Some(Gift {
            priority: g["priority"].as_i64()?,
            options: g["options"].as_array()?.iter().map(option).collect::<Option<_>>()?,
            ..Gift::default()
        })
    };
    let instance = Instance {
        min_chunk_dg: small(&value["min_chunk_dg"])?,
        max_join: index(&value["max_join"])?,
        drib_dg: small(&value["drib_dg"])?,
        remnants: value["remnants"].as_array()?.iter().map(remnant).collect::<Option<_>>()?,
        gifts: value["gifts"].as_array()?.iter().map(gift).collect::<Option<_>>()?,
        ..Instance::default()
    };
    Some((value["name"].as_str()?.to_owned(), instance))
}
