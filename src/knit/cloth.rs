//! The fabric of a piece, stitch by stitch: which row made each stitch of each needle, how high it
//! stands in its column, and in which colour. Pictures are drawn from this; no gauge is applied.

use super::needle::{Needle, Side};
use super::run::{PieceRun, RowRun, Run};
use super::thread::{ColourLine, Paint, YarnPath};

/// The stitches one needle made, oldest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// On the ribber, not on the main bed.
    pub ribber: bool,
    /// The needle.
    pub needle: Needle,
    /// Rows of neighbouring fabric below its first stitch: where a needle came into work later.
    pub base: u32,
    /// The row of the piece that made each stitch, ascending.
    pub rows: Vec<u32>,
    /// The colour of each stitch; as long as `rows`.
    pub paints: Vec<Paint>,
}

/// All stitches of a piece, by needle.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloth {
    /// Main bed first, each bed from left to right.
    pub columns: Vec<Column>,
}

impl Cloth {
    /// Without colours: every stitch unpainted.
    pub fn of(piece: &PieceRun) -> Cloth {
        let mut weave = Weave::default();
        for (index, row) in piece.rows.iter().enumerate() {
            weave.row(piece, row, index as u32, |_| None);
        }
        weave.into_cloth()
    }

    /// With the colours of the yarn, a line for each section of the run.
    pub fn painted(run: &Run, piece: usize, path: &YarnPath, lines: &[ColourLine]) -> Cloth {
        let mut weave = Weave::default();
        let starts = path.row_starts(run, piece);
        if let Some(piece) = run.pieces.get(piece) {
            for (index, row) in piece.rows.iter().enumerate() {
                let loop_mm = path.loop_mm(row.structure);
                let line = lines.get(usize::from(row.section));
                weave.row(piece, row, index as u32, |nth| {
                    line.and_then(|line| line.at(starts[index] + (f64::from(nth) + 0.5) * loop_mm))
                });
            }
        }
        weave.into_cloth()
    }

    /// The stitches of one needle; `None` where it made none.
    pub fn column(&self, ribber: bool, needle: Needle) -> Option<&Column> {
        self.columns.iter().find(|c| c.ribber == ribber && c.needle == needle)
    }
}

#[derive(Default)]
struct Weave {
    main: Vec<Column>,
    ribber: Vec<Column>,
    /// The needle of the first column, where there is one.
    first: Option<i32>,
}

impl Weave {
    /// Adds one row. `paint` is asked for the nth stitch in the order of the carriage.
    fn row(
        &mut self,
        piece: &PieceRun,
        row: &RowRun,
        index: u32,
        mut paint: impl FnMut(u32) -> Paint,
    ) {
        self.make_room(piece);
        let mut needles: Vec<(i32, bool)> = Vec::with_capacity(row.stitches as usize);
        for bed_span in piece.spans_of(row) {
            let span = bed_span.span;
            needles.extend((span.left.0..=span.right.0).map(|n| (n, bed_span.ribber)));
        }
        needles.sort_unstable();
        if row.from == Side::Right {
            needles.reverse();
        }
        for (nth, (needle, ribber)) in needles.iter().enumerate() {
            let at = (needle - self.first.unwrap_or_default()) as usize;
            let bed = if *ribber { &mut self.ribber } else { &mut self.main };
            if bed[at].rows.is_empty() {
                bed[at].base = height_beside(bed, at, row.from, index);
            }
            bed[at].rows.push(index);
            bed[at].paints.push(paint(nth as u32));
        }
    }

    fn make_room(&mut self, piece: &PieceRun) {
        let (Some(span), None) = (piece.needles, self.first) else { return };
        self.first = Some(span.left.0);
        let fresh = |ribber: bool| {
            (span.left.0..=span.right.0)
                .map(|n| Column {
                    ribber,
                    needle: Needle(n),
                    base: 0,
                    rows: Vec::new(),
                    paints: Vec::new(),
                })
                .collect()
        };
        self.main = fresh(false);
        self.ribber = fresh(true);
    }

    fn into_cloth(self) -> Cloth {
        let columns =
            self.main.into_iter().chain(self.ribber).filter(|c| !c.rows.is_empty()).collect();
        Cloth { columns }
    }
}

/// How high the fabric stands beside a needle that begins in this row.
fn height_beside(bed: &[Column], at: usize, from: Side, row: u32) -> u32 {
    let left = at.checked_sub(1).and_then(|i| bed.get(i)).filter(|c| !c.rows.is_empty());
    let right = bed.get(at + 1).filter(|c| !c.rows.is_empty());
    // The neighbour the yarn comes from first: it has this row already.
    let beside = match from {
        Side::Left => left.or(right),
        Side::Right => right.or(left),
    };
    beside.map_or(0, |c| {
        let this_row = u32::from(c.rows.last() == Some(&row));
        c.base + c.rows.len() as u32 - this_row
    })
}
