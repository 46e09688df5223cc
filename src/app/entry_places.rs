use std::collections::BTreeMap;
use std::ptr::from_ref;

use knit::stash::{FinishedPiece, WholePiece};

/// Where each record of a list stands in it, from 0: found at once, however long it is.
/// By address, since two records may be alike to the gram.
pub(super) struct EntryPlaces(BTreeMap<usize, usize>);

impl EntryPlaces {
    pub fn of(records: &[FinishedPiece]) -> EntryPlaces {
        EntryPlaces(records.iter().enumerate().map(|(i, own)| (from_ref(own).addr(), i)).collect())
    }

    /// The places of a piece's records; it must be one of the list.
    pub fn all(&self, piece: &WholePiece<'_>) -> Vec<usize> {
        piece.records.iter().filter_map(|own| self.0.get(&from_ref(*own).addr()).copied()).collect()
    }

    /// The place of the first record of a piece that has minutes.
    pub fn first_timed(&self, piece: &WholePiece<'_>) -> usize {
        let timed = piece.records.iter().find(|own| own.minutes.is_some());
        timed.and_then(|own| self.0.get(&from_ref(*own).addr()).copied()).unwrap_or_default()
    }
}
