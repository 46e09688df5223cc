//! What the words of a piece are written from, and what they ask of it.

use super::edges::{Origin, edge_phrase, makes};
use super::sewing_ends::SewingEnd;
use knit::program::{Piece, Program, Structure};
use knit::run::{PieceRun, Run};
use knit::swatch::Gauge;
use units::LengthUnit;

/// Words for the steps of one piece.
pub(crate) struct PieceWords<'a> {
    pub program: &'a Program,
    pub run: &'a Run,
    pub knitted: &'a PieceRun,
    pub gauges: &'a [Gauge],
    pub unit: LengthUnit,
    /// Of the whole garment, a step of the finishing each.
    pub ends: &'a [Option<SewingEnd>],
}

impl PieceWords<'_> {
    /// " Dial 7.", as on the swatch of the structure; for a rib without one, the usual advice.
    pub(crate) fn dial(&self, structure: Structure) -> String {
        let gauge = self.gauges.iter().find(|g| g.structure == structure.gauged_as());
        match gauge.and_then(|g| g.dial) {
            Some(dial) => format!(" Dial {dial}."),
            // Published: ribs are knitted 2 to 5 numbers tighter than the body.
            None if matches!(structure, Structure::Rib1x1 | Structure::Rib2x2) => {
                " Dial 2 to 5 numbers tighter than for plain.".to_owned()
            }
            None => String::new(),
        }
    }

    /// Whether this piece itself casts the edge on: its loops then close a hem.
    pub(super) fn casts_on(&self, edge: &str) -> bool {
        self.own().is_some_and(|piece| makes(&piece.steps, edge, |by| by == Origin::WasteCastOn))
    }

    /// This piece's program.
    pub(super) fn own(&self) -> Option<&Piece> {
        self.program.pieces.iter().find(|piece| piece.name == self.knitted.name)
    }

    /// "the band": the open loops of an edge by the piece they belong to.
    pub(super) fn loops_of(&self, edge: &str) -> String {
        edge_phrase(self.program, edge)
    }

    pub(super) fn hang_exception(&self, edge: &str) -> String {
        match self.run.edge(edge) {
            Some(edge) if !edge.skipped.is_empty() || !edge.doubled.is_empty() => {
                " (not at the counts listed above).".to_owned()
            }
            _ => ".".to_owned(),
        }
    }
}
