//! Bounds that several functions and tables share.

use super::spec::ValueKind;

/// Most rows in one `knit` and most times in one `again`.
pub(super) const MOST_ROWS: u32 = 100_000;
/// Needles of a bed.
pub(super) const MOST_NEEDLES: u32 = 1_000;
/// Increases or decreases in one call.
pub(super) const MOST_SHAPINGS: u32 = 10_000;
/// A length in mm, from nothing to more than anything knitted.
pub(super) const MM: ValueKind = ValueKind::Between(0.0, 100_000.0);
/// A stitch or a row in mm.
pub(super) const LOOP_MM: ValueKind = ValueKind::Between(0.1, 1_000.0);
