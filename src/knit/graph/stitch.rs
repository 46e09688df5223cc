//! One loop.

use crate::needle::{Needle, Side};
use crate::program::Structure;

/// How a loop came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Made {
    /// Cast on: its foot is an edge.
    CastOn,
    /// In the tubular rows that start a rib.
    Start,
    /// Drawn by a pass of the carriage.
    Knitted,
    /// Laid by a pass on an empty needle.
    Laid,
    /// Wound beside the end, or lifted from a neighbour.
    Increased,
    /// Drawn through an edge by hand.
    PickedUp,
    /// Yarn laid round a held needle.
    Wrap,
    /// No loop, but the end that draws an edge together.
    Drawing,
}

/// Which way the upper of two stitches worked together came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leaning(pub Side);

/// A loop of a garment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stitch {
    /// How it came about.
    pub made: Made,
    /// Number of its piece; the number of pieces for what is done off the bed.
    pub piece: u16,
    /// The row of the piece that made it; of other loops the row that follows.
    pub row: u32,
    /// The needle it was made on.
    pub needle: Needle,
    /// Whether that is on the ribber: in a rib, a stitch seen from behind.
    pub ribber: bool,
    /// What the pass knitted.
    pub structure: Structure,
    /// Index into [`Run::sections`](crate::run::Run::sections).
    pub section: u16,
    /// Place along the yarn: stitches of the section made before it.
    pub nth: u64,
    /// Where stitches were worked together in it: from which side one came.
    pub leaning: Option<Leaning>,
    /// Whether its left is the needles' right: on the ribber of a tube.
    pub(super) mirrored: bool,
}
