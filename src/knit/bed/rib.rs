//! Rib in the middle of a piece: over to the ribber and back, or by hand on a bed without one.

use super::hand::nothing_in_work;
use super::*;

/// Rib that is knitted plain and waits to be latched up.
pub(super) struct HandRib {
    /// The needles it lies on.
    span: Span,
    /// Of those, the needles whose stitches turn to purl.
    columns: u32,
    /// Rows of the piece when it began.
    first_row: usize,
}

/// Whether the `nth` stitch of a rib, from the left, lies on the ribber.
fn on_ribber(structure: Structure, nth: usize) -> bool {
    match structure {
        Structure::Rib1x1 => nth % 2 == 1,
        Structure::Rib2x2 => nth % 4 >= 2,
        Structure::Plain | Structure::Circular => false,
    }
}

impl Bed<'_> {
    pub(super) fn turn_to_rib(
        &mut self,
        structure: Structure,
        which: Which,
    ) -> Result<Span, Diagnostic> {
        self.single_bed("turn to rib")?;
        let range = self.chosen(which)?;
        if self.ribber.iter().any(|n| n.in_work()) {
            return Err(Diagnostic::error(Code::RibberLoaded, "the ribber holds loops already")
                .hint("transfer them to the main bed first"));
        }
        if let Some(i) = range.clone().find(|i| !self.main[*i].knits()) {
            return Err(Diagnostic::error(
                Code::NoLoop,
                format!("needle {} is held, so it can't be part of a rib now", self.needle(i)),
            )
            .hint("bring the held needles back first"));
        }
        let columns: Vec<usize> = range
            .clone()
            .enumerate()
            .filter(|(nth, _)| on_ribber(structure, *nth))
            .map(|(_, i)| i)
            .collect();
        if columns.is_empty() {
            return Err(Diagnostic::error(
                Code::NoLoop,
                format!("too few stitches for {structure}: all would stay on the main bed"),
            )
            .hint("take more needles"));
        }
        let count = columns.len() as u32;
        let all = self.by_hand(structure) && self.chosen(Which::All)? == range;
        let span = self.span(range);
        if all || self.machine.ribber {
            if !all {
                self.need_pitch(Pitch::Facing)?;
            }
            for i in columns {
                let from = std::mem::take(&mut self.main[i]);
                self.ribber[i] = NeedleState { position: Position::Working, ..from };
                self.main[i].rows = from.rows;
            }
            self.work.hand_moves += count;
            if all {
                self.take_in_hand(structure, span.len());
            } else {
                self.work.transferred += count;
                self.took(Operation::LoopTransferred, count);
            }
            self.recount(None);
            self.structure = structure;
            self.note(Deed::ToRib, span, (count, 0), None);
        } else {
            self.hand_rib = Some(HandRib { span, columns: count, first_row: self.rows.len() });
            self.structure = structure;
            self.note(Deed::ToRib, span, (0, count), None);
        }
        Ok(span)
    }

    /// The rib that was knitted plain: its purl columns are dropped and latched up.
    pub(super) fn latch_up(&mut self) -> Result<Span, Diagnostic> {
        let rib = self.hand_rib.as_ref().ok_or_else(nothing_in_work)?;
        let (span, columns) = (rib.span, rib.columns);
        let rows = (self.rows.len() - rib.first_row) as u32;
        if rows == 0 {
            return Err(Diagnostic::error(
                Code::RibberEmpty,
                "no row was knitted since the rib began: there is nothing to latch up",
            )
            .hint("leave both steps out, or knit the rib first"));
        }
        self.hand_rib = None;
        self.structure = Structure::Plain;
        self.work.hand_moves = self.work.hand_moves.saturating_add(columns.saturating_mul(rows));
        self.work.latched = self.work.latched.saturating_add(columns.saturating_mul(rows));
        self.took(Operation::StitchLatched, columns.saturating_mul(rows));
        self.note(Deed::LatchUp, span, (columns, rows), None);
        Ok(span)
    }
}
