//! How long a large chart takes and how large it gets: `cargo bench --bench pictures`. Prints; asserts
//! nothing.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark tells the time")]

use std::time::Instant;

use report::drawing::{RowChartOptions, row_chart};

#[path = "../tests/it/made_fabric.rs"]
mod made_fabric;

use made_fabric::irregular;

fn main() {
    for (rows, needles) in [(50, 50), (200, 200), (1000, 200)] {
        let piece = irregular(rows, needles);
        let mut times: Vec<f64> = (0..20)
            .map(|_| {
                let start = Instant::now();
                let svg = row_chart(&piece, &RowChartOptions::default()).svg();
                assert!(!svg.is_empty());
                start.elapsed().as_secs_f64() * 1000.0
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let size = row_chart(&piece, &RowChartOptions::default()).svg().len();
        println!(
            "{rows} rows x {needles} needles: median {:.1} ms, slowest {:.1} ms, {:.0} kB",
            times[times.len() / 2],
            times[times.len() - 1],
            size as f64 / 1000.0
        );
    }
}
