//! How high each row of a flat piece lies: on the highest fabric below it. Short rows leave the notch
//! that closes as they are knitted, and what is knitted over all needles again lies straight.

use knit::run::PieceRun;

/// A run of neighbouring needles that one pass knits, and its height.
struct Lying {
    left: i32,
    right: i32,
    /// Main bed, ribber.
    beds: [bool; 2],
    from: f64,
}

/// The rows of a piece, each where it lies.
pub(in crate::drawing) struct Heights {
    rows: Vec<Vec<Lying>>,
}

impl Heights {
    /// `row_mm`: how high a row is, by its index.
    pub fn of(piece: &PieceRun, row_mm: impl Fn(u32) -> f64) -> Heights {
        let Some(needles) = piece.needles else { return Heights { rows: Vec::new() } };
        let first = needles.left.0;
        let mut tops = [vec![0.0f64; needles.len() as usize], vec![0.0; needles.len() as usize]];
        let mut rows = Vec::with_capacity(piece.rows.len());
        for index in 0..piece.rows.len() {
            let mut lying = neighbours(piece, index);
            for run in &mut lying {
                let range = (run.left - first) as usize..=(run.right - first) as usize;
                let of = |bed: usize| tops[bed][range.clone()].iter().copied().fold(0.0, f64::max);
                run.from = (0..2).filter(|bed| run.beds[*bed]).map(of).fold(0.0, f64::max);
                let to = run.from + row_mm(index as u32);
                for bed in (0..2).filter(|bed| run.beds[*bed]) {
                    tops[bed][range.clone()].fill(to);
                }
            }
            rows.push(lying);
        }
        Heights { rows }
    }

    /// The lower edge of a stitch.
    pub fn at(&self, row: u32, ribber: bool, needle: i32) -> Option<f64> {
        let lying = self.rows.get(row as usize)?.iter();
        let mut here = lying.filter(|run| (run.left..=run.right).contains(&needle));
        here.find(|run| run.beds[usize::from(ribber)]).map(|run| run.from)
    }
}

/// The needles of a row, of both beds together where both knit, as runs that don't touch.
fn neighbours(piece: &PieceRun, index: usize) -> Vec<Lying> {
    let mut spans: Vec<(i32, i32, bool)> = piece
        .spans_of(&piece.rows[index])
        .iter()
        .map(|on| (on.span.left.0, on.span.right.0, on.ribber))
        .collect();
    spans.sort_unstable();
    let mut runs: Vec<Lying> = Vec::with_capacity(spans.len().min(8));
    for (left, right, ribber) in spans {
        match runs.last_mut() {
            Some(run) if left <= run.right + 1 => {
                run.right = run.right.max(right);
                run.beds[usize::from(ribber)] = true;
            }
            _ => runs.push(Lying { left, right, beds: [!ribber, ribber], from: 0.0 }),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use knit::needle::{Needle, Side, Span};
    use knit::program::Structure;
    use knit::run::{BedSpan, RowRun, StitchTally};
    use std::collections::BTreeMap;

    /// Rows by the needles they knit.
    fn piece(rows: &[(i32, i32)]) -> PieceRun {
        let span = |(left, right): (i32, i32)| Span { left: Needle(left), right: Needle(right) };
        let runs = rows.iter().enumerate().map(|(i, (left, right))| RowRun {
            counter: i as u32 + 1,
            from: if i % 2 == 0 { Side::Right } else { Side::Left },
            section: 0,
            structure: Structure::Plain,
            stitches: (right - left + 1) as u32,
            spans: (i as u32, i as u32 + 1),
        });
        PieceRun {
            name: "p".into(),
            title: "P".into(),
            structure: Structure::Plain,
            needles: Some(span((0, 9))),
            widest: 10,
            rows: runs.collect(),
            spans: rows.iter().map(|r| BedSpan { ribber: false, span: span(*r) }).collect(),
            stitches: 0,
            rows_at: Vec::new(),
            selvedges: (0, 0),
            sides: knit::run::SideRuns::default(),
            rows_at_mark: BTreeMap::new(),
            mark_rows: BTreeMap::new(),
            cast_on: Vec::new(),
            cast_off: Vec::new(),
            tally: StitchTally::default(),
            events: Vec::new(),
            traces: Vec::new(),
        }
    }

    #[test]
    fn a_row_over_short_rows_lies_straight() {
        let heights = Heights::of(&piece(&[(0, 9), (0, 9), (5, 9), (5, 9), (0, 9)]), |_| 2.0);
        assert_eq!(heights.at(3, false, 5), Some(6.0));
        assert_eq!(heights.at(3, false, 4), None, "it isn't knitted there");
        for needle in 0..=9 {
            assert_eq!(heights.at(4, false, needle), Some(8.0), "needle {needle}");
        }
    }

    #[test]
    fn halves_knitted_in_turn_lie_side_by_side() {
        let heights = Heights::of(&piece(&[(0, 9), (0, 4), (0, 4), (5, 9), (5, 9)]), |_| 2.0);
        assert_eq!(heights.at(1, false, 0), Some(2.0));
        assert_eq!(heights.at(3, false, 9), Some(2.0));
    }
}
