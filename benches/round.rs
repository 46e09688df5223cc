//! How long a garment of each family takes in the round, coarse and full: `cargo bench --bench round`. Prints;
//! asserts nothing.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark tells the time")]

use std::time::Instant;

use app::{GradeRequest, Workbench, WorkbenchSources, in_the_round};
use knit::round::{Detail, Pose};

const SIZE: &str = "women-m";
/// For what comes in no such size.
const SMALL: &str = "y7-8";

fn main() {
    let bench = Workbench::open(&WorkbenchSources::default()).expect("the built-in tables");
    let swatch = store::demo_swatch("standard").expect("sound").expect("a swatch");
    println!("{:16} {:8} {:>7} {:>9} {:>9}", "garment", "size", "points", "coarse s", "full s");
    for garment in bench.garment_ids() {
        let plugin = bench.garment(&garment).expect("a garment");
        for sizes in [SIZE, SMALL] {
            let run = bench.grade(&GradeRequest {
                plugin: &plugin,
                machine: bench.machine("standard").expect("a machine"),
                swatch: &swatch,
                options: Default::default(),
                sizes: sizes.to_owned(),
                person: None,
            });
            let run = run.expect("a sound request");
            let Some((size, made)) = run.good().next() else { continue };
            let look = |detail| {
                let start = Instant::now();
                let round = in_the_round(&run, size, made, None, (Pose::Worn, detail));
                let points = round.map_or(0, |round| {
                    round.shape.parts.iter().map(|part| part.at.len()).sum::<usize>()
                });
                (points, start.elapsed().as_secs_f64())
            };
            let ((_, coarse), (points, full)) = (look(Detail::Coarse), look(Detail::Full));
            println!("{garment:16} {sizes:8} {points:>7} {coarse:>9.2} {full:>9.2}");
            break;
        }
    }
}
