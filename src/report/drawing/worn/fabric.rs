//! The fabric of a run, and how large its stitches are.

use std::ops::Range;

use knit::cloth::Cloth;
use knit::program::Structure;
use knit::run::PieceRun;
use knit::swatch::SwatchSet;
use knit::view::Patch;

/// The pieces of a run, painted.
pub(in crate::drawing) struct Fabric<'a> {
    pub pieces: &'a [PieceRun],
    pub cloths: &'a [Cloth],
    pub swatches: &'a SwatchSet,
}

impl Fabric<'_> {
    pub fn find(&self, name: &str) -> Option<(&PieceRun, &Cloth)> {
        self.pieces.iter().zip(self.cloths).find(|(piece, _)| piece.name == name)
    }

    pub fn row_mm(&self, piece: &PieceRun, row: u32) -> f64 {
        let structure = piece.rows[row as usize].structure;
        self.swatches.gauge(structure.gauged_as()).rows.pitch_mm()
    }

    /// The width of a stitch in what most of these rows are.
    pub(super) fn stitch_mm(&self, piece: &PieceRun, rows: Range<u32>) -> f64 {
        let count = |s: Structure| {
            let rows = &piece.rows[rows.start as usize..rows.end as usize];
            rows.iter().filter(|r| r.structure.gauged_as() == s).count()
        };
        let most = Structure::ALL.into_iter().max_by_key(|s| (count(*s), *s == Structure::Plain));
        self.swatches.gauge(most.unwrap_or(Structure::Plain)).stitches.pitch_mm()
    }

    /// The rows of a patch, its share taken.
    pub(super) fn rows(piece: &PieceRun, patch: &Patch) -> Range<u32> {
        let rows = patch.rows(piece);
        let length = f64::from(rows.end - rows.start);
        let at = |share: f64| rows.start + (share * length).round() as u32;
        at(patch.share.0)..at(patch.share.1)
    }
}
