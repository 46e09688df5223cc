//! Fabric that no garment makes, for charts: used by the tests and by the benchmark.

use std::collections::BTreeMap;

use knit::needle::{Needle, Side, Span};
use knit::program::Structure;
use knit::run::{BedSpan, Deed, NeedleEvent, PieceRun, RowRun, SideRuns, StitchTally};

/// Fabric as irregular as it gets: every needle of every row by a rule that never comes back.
pub fn irregular(rows: u32, needles: u32) -> PieceRun {
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
        sides: SideRuns::default(),
        selvedges: (0, 0),
        rows_at_mark: BTreeMap::new(),
        mark_rows: BTreeMap::new(),
        cast_on: Vec::new(),
        cast_off: Vec::new(),
        tally: StitchTally::default(),
        events: Vec::new(),
        traces: Vec::new(),
    };
    let mut state: u32 = 12_345;
    for row in 0..rows {
        let first = piece.spans.len() as u32;
        let mut stitches = 0;
        let mut open = None;
        for needle in bed.left.0..=bed.right.0 + 1 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let knits = needle <= bed.right.0 && state >> 31 == 0;
            if knits {
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
        piece.events.push(NeedleEvent {
            after_rows: row,
            deed: if row % 2 == 0 { Deed::Hold } else { Deed::Return },
            needles: Span { left: bed.left, right: Needle(bed.left.0 + (row % 50) as i32) },
            loops: 1,
            over: 0,
            side: None,
            in_work: needles,
        });
    }
    piece
}
