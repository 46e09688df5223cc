use std::cmp::Ordering;

use super::WorkPlace;
use crate::estimate::{FinishedPart, Side};
use crate::garment::{Extent, MeasuredPart};
use crate::machine::Machine;
use crate::run::{PieceRun, Run};
use crate::swatch::{Gauge, SwatchSet};

/// A gauge that changed while a garment was on the needles.
#[derive(Clone, Copy, Debug)]
pub struct Drift<'s> {
    /// Where it was found to have changed.
    pub at: WorkPlace,
    /// The gauge up to there.
    pub before: &'s SwatchSet,
    /// What is knitted by then, run by itself.
    pub knitted: &'s Run,
}

/// The gauge that finished sizes are measured at.
#[derive(Clone, Copy, Debug)]
pub enum Gauged<'s> {
    /// One from beginning to end.
    Throughout(&'s SwatchSet),
    /// One up to a place, then another.
    Changed(Drift<'s>, &'s SwatchSet),
}

/// A width of the piece that the gauge changed in: narrower or wider from there on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixedWidth {
    /// In mm, up to the place.
    pub before_mm: f64,
    /// In mm, from there on.
    pub after_mm: f64,
}

impl<'s> Gauged<'s> {
    /// Adds the lengths that a part of a measure is made of, each with its gauge and its share. `None`:
    /// the run has no such piece, needle or mark.
    ///
    /// A width through which the gauge changed is the mean of both, by rows.
    pub(crate) fn add_parts(
        &self,
        part: &MeasuredPart,
        (run, machine): (&Run, &Machine),
        parts: &mut Vec<FinishedPart<'s>>,
    ) -> Option<()> {
        let index = run.pieces.iter().position(|piece| piece.name == part.piece)?;
        let piece = &run.pieces[index];
        let (count, side) = counted(part, piece, machine)?;
        let of = |gauge: &'s Gauge, count: u32, times: f64| FinishedPart {
            piece: piece.name.as_str().into(),
            gauge: &gauge.reckoned,
            side,
            count,
            times,
        };
        let structure = part.structure.unwrap_or(piece.structure);
        let (drift, after) = match self {
            Gauged::Throughout(set) => {
                parts.push(of(set.gauge(structure), count, part.times));
                return Some(());
            }
            Gauged::Changed(drift, after) => (drift, after),
        };
        let (old, new) = (drift.before.gauge(structure), after.gauge(structure));
        match (index.cmp(&drift.at.piece), side) {
            (Ordering::Less, _) => parts.push(of(old, count, part.times)),
            (Ordering::Greater, _) => parts.push(of(new, count, part.times)),
            (Ordering::Equal, Side::Up) => {
                let done = rows_done(part, piece, drift, machine).min(count);
                parts.push(of(old, done, part.times));
                parts.push(of(new, count - done, part.times));
            }
            (Ordering::Equal, Side::Across) => {
                let share = f64::from(drift.at.rows) / piece.rows.len().max(1) as f64;
                parts.push(of(old, count, part.times * share));
                parts.push(of(new, count, part.times * (1.0 - share)));
            }
        }
        Some(())
    }

    /// Both widths of a part, where the gauge changed within its piece.
    pub fn mixed_width(
        &self,
        part: &MeasuredPart,
        run: &Run,
        machine: &Machine,
    ) -> Option<MixedWidth> {
        let Gauged::Changed(drift, after) = self else { return None };
        let piece = run.pieces.get(drift.at.piece).filter(|piece| piece.name == part.piece)?;
        let (count, side) = counted(part, piece, machine)?;
        let within = side == Side::Across && (1..piece.rows.len() as u32).contains(&drift.at.rows);
        let structure = part.structure.unwrap_or(piece.structure);
        let mm = |set: &SwatchSet| {
            part.times * f64::from(count) * set.gauge(structure).stitches.pitch_mm()
        };
        let mixed = MixedWidth { before_mm: mm(drift.before), after_mm: mm(after) };
        (within && mixed.before_mm != mixed.after_mm).then_some(mixed)
    }
}

/// Stitches or rows that a part counts, and which of them.
fn counted(part: &MeasuredPart, piece: &PieceRun, machine: &Machine) -> Option<(u32, Side)> {
    Some(match &part.what {
        Extent::Width => (piece.widest, Side::Across),
        Extent::Needles(span) => {
            let held = piece.needles?;
            if !held.contains(span.left) || !held.contains(span.right) {
                return None;
            }
            (span.len(), Side::Across)
        }
        Extent::RowsAt(side) => (piece.rows_at_side(*side), Side::Up),
        Extent::RowsOn { needle, from, to } => {
            let rows = piece.rows_on(machine.rail, *needle, from.as_deref(), to.as_deref())?;
            (rows, Side::Up)
        }
    })
}

/// Of the rows that a part counts, those that are knitted at the place.
fn rows_done(part: &MeasuredPart, piece: &PieceRun, drift: &Drift<'_>, machine: &Machine) -> u32 {
    let Some(done) = drift.knitted.pieces.get(drift.at.piece) else { return 0 };
    match &part.what {
        Extent::RowsAt(side) => done.rows_at_side(*side),
        Extent::RowsOn { needle, from, to } => {
            let bed = machine.rail;
            let all = |from: Option<&str>, to: Option<&str>| piece.rows_on(bed, *needle, from, to);
            let by_now = done.rows_on(bed, *needle, None, None).unwrap_or(0);
            let before = from.as_deref().and_then(|from| all(None, Some(from))).unwrap_or(0);
            let until = all(None, to.as_deref()).unwrap_or(u32::MAX);
            by_now.min(until).saturating_sub(before)
        }
        Extent::Width | Extent::Needles(_) => 0,
    }
}
