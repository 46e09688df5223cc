//! Solves plan instances named on the command line, to be set beside `reference_plan.py`.
//!
//! ```text
//! cargo bench --bench plan -- INSTANCE.json... [--work 300000] [--threads 0] [--seed 1] [--seconds S]
//! ```
//! Prints, for each: name, objective, bound, gap, whether it is proven, work, seconds.

#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "a timing program")]

use std::process::ExitCode;
use std::time::{Duration, Instant};

use plan::{
    Gift, GiftOption, Instance, Remnant, Section, SolveSettings, StopFlag, check, objective, solve,
};
use serde_json::Value;

fn main() -> ExitCode {
    let mut settings = SolveSettings { work_limit: 100_000_000, ..SolveSettings::default() };
    let mut seconds = 10.0;
    let mut follow = false;
    let mut paths = Vec::new();
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|w| w.parse::<f64>().ok()).unwrap_or_default();
        match word.as_str() {
            "--work" => settings.work_limit = number() as u64,
            "--threads" => settings.threads = number() as usize,
            "--seed" => settings.seed = number() as u64,
            "--seconds" => seconds = number(),
            "--follow" => follow = true,
            // Cargo says so itself.
            "--bench" => {}
            path => paths.push(path.to_owned()),
        }
    }
    let mut sound = true;
    for path in paths {
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) => {
                println!("{path}: {error}");
                return ExitCode::FAILURE;
            }
        };
        let Some((name, instance)) = serde_json::from_str(&text).ok().and_then(|v| read(&v)) else {
            println!("{path}: not a plan instance");
            return ExitCode::FAILURE;
        };
        settings.stop = StopFlag::new();
        let flag = settings.stop.clone();
        // The watch is not waited for: it ends with the program.
        std::thread::spawn(move || {
            std::thread::sleep(Duration::from_secs_f64(seconds));
            flag.set();
        });
        let start = Instant::now();
        let outcome = solve(&instance, &settings, &mut |p| {
            if follow {
                let at = start.elapsed().as_secs_f64();
                println!("  {at:6.2} s  {}  {}  {}", p.objective, p.bound, p.work);
            }
        });
        let seconds = start.elapsed().as_secs_f64();
        let outcome = match outcome {
            Ok(outcome) => outcome,
            Err(faults) => {
                println!("{name}: {faults}");
                sound = false;
                continue;
            }
        };
        let faults = check(&instance, &outcome.plan);
        sound &= faults.is_empty() && objective(&instance, &outcome.plan) == outcome.objective;
        println!(
            "{name}\t{}\t{}\t{:.4} %\t{}\t{}\t{seconds:.2} s{}",
            outcome.objective,
            outcome.bound,
            outcome.gap * 100.0,
            if outcome.proven { "proven" } else { "open" },
            outcome.work_done,
            if sound { "" } else { "\tNOT SOUND" },
        );
    }
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
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
