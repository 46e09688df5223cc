//! The pattern as data against a simulation that knows nothing of the bed: it reads the JSON, knits
//! it on needles of its own, and says where the two disagree.

mod loom;
mod schema;

use app::GradeRequest;
use knit::size_run::SizeRun;
use report::pattern_json;
use serde_json::Value;
use units::LengthUnit;

use crate::support::{bench, demo};

const MACHINES: [&str; 4] = ["fine", "standard", "mid", "bulky"];

/// What a garment can be made like besides as it comes.
const VARIANTS: [(&str, &str, &[(&str, &str)]); 0] = [];

fn graded(garment: &str, machine: &str, sizes: &str, set: &[(&str, &str)]) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(garment).expect("a garment");
    bench
        .grade(&GradeRequest {
            plugin: &plugin,
            machine: bench.machine(machine).expect("a profile"),
            swatch: &demo(machine),
            options: set.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect(),
            sizes: sizes.to_owned(),
            person: None,
        })
        .unwrap_or_else(|faults| panic!("{garment} on {machine}, {set:?}: {faults:?}"))
}

/// What is read: the text, and nothing else.
fn read(run: &SizeRun) -> Value {
    serde_json::from_str(&pattern_json(run, LengthUnit::Cm)).expect("JSON")
}

fn all<'v>(value: &'v Value, key: &str) -> &'v [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("no {key}"))
}

/// Knits whatever is in the document: how many sizes, and how many passes.
fn knit(document: &Value) -> Result<(usize, u64), String> {
    let (mut sizes, mut passes) = (0, 0);
    for group in document.as_array().ok_or("no groups")? {
        for size in all(group, "knitting") {
            let knitted = loom::knit(&group["machine"], size);
            passes += knitted.map_err(|fault| format!("{}: {fault}", size["size"]))?;
            sizes += 1;
        }
    }
    Ok((sizes, passes))
}

fn shipped() -> Vec<String> {
    bench().garment_ids()
}

#[test]
fn try_all() {
    let mut bad = 0;
    let (mut n, mut p) = (0, 0);
    for garment in shipped() {
        for machine in MACHINES {
            let run = graded(&garment, machine, "all", &[]);
            match knit(&read(&run)) {
                Ok((sizes, passes)) => {
                    assert_eq!(sizes, run.good().count());
                    n += sizes;
                    p += passes;
                }
                Err(fault) => {
                    eprintln!("{garment} {machine}: {fault}");
                    bad += 1;
                }
            }
        }
    }
    eprintln!("{n} sizes, {p} passes");
    assert_eq!(bad, 0);
}

#[test]
fn schema_holds() {
    let schema: Value = serde_json::from_str(report::PATTERN_SCHEMA).expect("JSON");
    for garment in shipped() {
        let document = read(&graded(&garment, "standard", "all", &[]));
        if let Err(fault) = schema::check(&schema, &document) {
            eprintln!("{garment}: {fault}");
        }
    }
}
