/// Where round a loop a neighbour lies, anticlockwise as the loop hangs on the main bed, its purl side towards
/// the knitter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slot {
    /// The neighbour in its row on the left.
    Left,
    /// What it was drawn through.
    Below,
    /// The neighbour in its row on the right.
    Right,
    /// What was drawn through it.
    Above,
}

impl Slot {
    pub(super) const ALL: [Slot; 4] = [Slot::Left, Slot::Below, Slot::Right, Slot::Above];
}
