//! What joins two loops.

use super::slot::Slot;

/// How two edges, or an edge and a row, were joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum JoinKind {
    /// Hung on a needle together with another loop.
    Hung,
    /// Put back on needles and knitted on from.
    Rehung,
    /// Loop to loop, by a row of sewn stitches.
    Grafted,
    /// Edge to edge.
    Seamed,
    /// One laid on along the other.
    SewnOn,
    /// Drawn together: each with the end that draws.
    Gathered,
    /// A loop drawn through an edge.
    PickedUp,
}

/// Why two loops are neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LinkKind {
    /// Beside each other in a row.
    Row,
    /// The yarn goes from the end of one row to the next, past a held needle or round a tube.
    Turn,
    /// The second was drawn through the first.
    Drawn,
    /// Joined by hand.
    Join(JoinKind),
}

/// Two loops that are neighbours in the cloth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// One loop: of two rows the older one.
    pub a: u32,
    /// The other.
    pub b: u32,
    /// On which side of the first.
    pub slot_a: Slot,
    /// On which side of the second.
    pub slot_b: Slot,
    /// Why.
    pub kind: LinkKind,
    /// Whether the cloth of the second shows its purl side where that of the first shows its knit side.
    pub turned: bool,
    /// Places in their slots.
    pub(super) order: (i32, i32),
}

impl Link {
    /// Across from one of its ends: the loop there, and the slot here.
    pub(super) fn across(&self, half: u32) -> (u32, Slot) {
        if half.is_multiple_of(2) { (self.b, self.slot_a) } else { (self.a, self.slot_b) }
    }
}

/// A third sheet of cloth, joined to loops that have cloth on both sides already: three faces meet there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Inside {
    /// The loop in the cloth.
    pub a: u32,
    /// The loop of the sheet that is joined on.
    pub b: u32,
    /// How.
    pub kind: JoinKind,
}
