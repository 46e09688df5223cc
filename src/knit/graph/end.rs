//! A side of a loop held ready to be joined.

use super::link::JoinKind;
use super::slot::Slot;
use crate::needle::Side;

/// A side of a loop that waits to be joined, as one of a row of such sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct End {
    pub at: u32,
    pub slot: Slot,
    /// Whether that row runs anticlockwise round the loop, where it passes its side.
    pub ahead: bool,
    /// By what it comes to be joined, where that is not by knitting.
    pub by: Option<JoinKind>,
}

impl End {
    /// The same with the row of sides read backwards.
    pub fn back(self) -> End {
        End { ahead: !self.ahead, ..self }
    }

    /// A side of a loop in a selvedge, which runs upwards.
    pub fn of_side(at: u32, slot: Slot) -> End {
        End { at, slot, ahead: slot == Slot::Right, by: None }
    }

    /// The head of a loop in a row of heads from left to right, or back where it is mirrored.
    pub fn head(at: u32, mirrored: bool) -> End {
        End { at, slot: Slot::Above, ahead: mirrored, by: None }
    }

    /// The foot of a loop in a row of feet from left to right, or back where it is mirrored.
    pub fn foot(at: u32, mirrored: bool) -> End {
        End { at, slot: Slot::Below, ahead: !mirrored, by: None }
    }
}

/// The slot of a loop that faces that way along the needles.
pub(super) const fn facing(side: Side, mirrored: bool) -> Slot {
    match (side, mirrored) {
        (Side::Right, false) | (Side::Left, true) => Slot::Right,
        _ => Slot::Left,
    }
}
