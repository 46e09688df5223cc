//! How long a large chart takes and how large it gets: `cargo bench --bench pictures`. Prints; asserts
//! nothing.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark tells the time")]

use std::collections::BTreeMap;
use std::time::Instant;

use oddments::knit::needle::{Needle, Side, Span};
use oddments::knit::program::Structure;
use oddments::knit::run::{BedSpan, PieceRun, RowRun};
use oddments::report::drawing::{RowChartOptions, row_chart};

/// Fabric whose needles knit or rest by a rule that never comes back.
fn irregular(rows: u32, needles: u32) -> PieceRun {
    let bed = Span::centred(needles);
    let mut piece = PieceRun {
        name: "made".into(),
        title: "Made up".into(),
        structure: Structure::Plain,
        needles: Some(bed),
        widest: needles,
        rows: Vec::new(),
        spans: Vec::new(),
        stitches: 0,
        rows_at: vec![rows; needles as usize],
        selvedges: (0, 0),
        rows_at_mark: BTreeMap::new(),
        mark_rows: BTreeMap::new(),
        events: Vec::new(),
        traces: Vec::new(),
    };
    let mut state: u32 = 12_345;
    for row in 0..rows {
        let first = piece.spans.len() as u32;
        let (mut stitches, mut open) = (0, None);
        for needle in bed.left.0..=bed.right.0 + 1 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            if needle <= bed.right.0 && state >> 31 == 0 {
                stitches += 1;
                open.get_or_insert(needle);
            } else if let Some(left) = open.take() {
                let span = Span { left: Needle(left), right: Needle(needle - 1) };
                piece.spans.push(BedSpan { ribber: false, span });
            }
        }
        piece.rows.push(RowRun {
            counter: row + 1,
            from: if row % 2 == 0 { Side::Right } else { Side::Left },
            section: 0,
            structure: Structure::Plain,
            stitches,
            spans: (first, piece.spans.len() as u32),
        });
    }
    piece
}

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
