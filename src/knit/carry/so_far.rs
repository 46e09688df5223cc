use std::collections::BTreeMap;

use super::{WorkPlace, cut};
use crate::bed;
use crate::machine::Machine;
use crate::needle::{Side, Span};
use crate::program::{Program, Structure};
use crate::run::{BedSpan, Deed, NeedleEvent, PieceRun, RowRun, Run, SectionRun};

/// Where two garments part before the work has come to its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Differs {
    /// Index of the piece.
    pub piece: usize,
    /// Rows of it that are still alike.
    pub rows: u32,
}

/// Whether what is knitted of one garment by that place is no beginning of the other, and where they
/// part. The row counter may differ: it is set, not knitted.
pub fn differs_so_far(knitted: &Run, other: &Run, at: WorkPlace) -> Option<Differs> {
    for index in 0..=at.piece {
        let (Some(a), Some(b)) = (knitted.pieces.get(index), other.pieces.get(index)) else {
            return Some(Differs { piece: index, rows: 0 });
        };
        let whole = index < at.piece;
        let rows = if whole { a.rows.len() } else { at.rows as usize };
        if a.name != b.name || (whole && b.rows.len() != rows) || b.rows.len() < rows {
            return Some(Differs { piece: index, rows: b.rows.len().min(rows) as u32 });
        }
        let alike = |nth: usize| {
            let row = |piece: &PieceRun| piece.rows.get(nth).copied().filter(|_| nth < rows);
            let same_pass = match (row(a), row(b)) {
                (Some(x), Some(y)) => pass(a, &x) == pass(b, &y),
                (x, y) => x.is_none() && y.is_none(),
            };
            same_pass && deeds(a, nth as u32).eq(deeds(b, nth as u32))
        };
        // What comes by hand behind the last row belongs to a piece only when that is done.
        let count = if whole { rows + 1 } else { rows };
        if let Some(nth) = (0..count).find(|nth| !alike(*nth)) {
            return Some(Differs { piece: index, rows: nth as u32 });
        }
    }
    None
}

/// Whether the rows that follow the place are, so many of them, the last rows done once more and
/// nothing is done by hand between them. A tube's rows take turns between its beds.
pub fn same_row_again(run: &Run, at: WorkPlace, rows: u32) -> bool {
    let Some(piece) = run.pieces.get(at.piece) else { return false };
    let row = |nth: u32| piece.rows.get(nth as usize);
    let alike = |nth: u32| {
        let before = nth.checked_sub(2).or(nth.checked_sub(1)).and_then(row);
        let same = row(nth).zip(before).is_some_and(|(row, before)| {
            row.structure == before.structure && piece.spans_of(row) == piece.spans_of(before)
        });
        same && deeds(piece, nth).next().is_none()
    };
    (at.rows..at.rows + rows).all(alike)
}

/// What was done by hand, without what the counter or the step says of it.
type Done = (Deed, Span, u32, u32);

fn deeds(piece: &PieceRun, after_rows: u32) -> impl Iterator<Item = Done> {
    let of = |event: &NeedleEvent| (event.deed, event.needles, event.loops, event.over);
    piece.events.iter().filter(move |event| event.after_rows == after_rows).map(of)
}

fn pass<'p>(piece: &'p PieceRun, row: &RowRun) -> (Side, Structure, &'p [BedSpan]) {
    (row.from, row.structure, piece.spans_of(row))
}

/// What is on the bed and off it when the work has come to the place: the run of what is done alone.
/// Its faults are of work that breaks off, and say nothing.
pub fn knitted(program: &Program, machine: &Machine, at: WorkPlace) -> Run {
    let cut = cut(program, at);
    let (mut pieces, turns) = (cut.program.pieces, cut.program.turns);
    pieces.truncate(at.piece + 1);
    if let Some(piece) = pieces.get_mut(at.piece) {
        piece.steps.truncate(cut.done);
    }
    bed::run(&Program { pieces, turns, finishing: Vec::new() }, machine)
}

/// What a whole run takes beyond what is knitted of it: its sections and its waste yarn alone.
pub fn rest(whole: &Run, knitted: &Run) -> Run {
    let beyond = |section: &SectionRun| {
        let done = knitted.sections.iter().find(|done| done.name == section.name);
        let less = |of: fn(&SectionRun) -> u64| of(section).saturating_sub(done.map_or(0, of));
        let had = |structure: &Structure| {
            done.and_then(|done| done.stitches.get(structure)).copied().unwrap_or(0)
        };
        let stitches: BTreeMap<Structure, u64> = section
            .stitches
            .iter()
            .map(|(structure, count)| (*structure, count.saturating_sub(had(structure))))
            .collect();
        SectionRun {
            name: section.name.clone(),
            stitches,
            sewn_loops: less(|s| s.sewn_loops),
            seam_rows: less(|s| s.seam_rows),
            seam_stitches: less(|s| s.seam_stitches),
            float_needles: less(|s| s.float_needles),
            tails: less(|s| s.tails.into()) as u32,
        }
    };
    let mut rest = Run { sections: whole.sections.iter().map(beyond).collect(), ..Run::default() };
    rest.waste.stitches = whole.waste.stitches.saturating_sub(knitted.waste.stitches);
    rest
}
