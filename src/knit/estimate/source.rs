use super::{Effect, Id, PaceEffect};

/// Where an error comes from. Two figures that name the same source miss by it together.
///
/// Each stands for one independent standard normal; a [`Figure`](super::Figure) says by how much it
/// moves with it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Readings of the stitches of the gauge named.
    StitchReadings(Id),
    /// Readings of the rows of the gauge named.
    RowReadings(Id),
    /// How long ends are left and seams drawn up, in all pieces alike.
    Ends,
    /// One of the independent parts of what is believed once records are in.
    Learnt(u32),
    /// An effect of which nothing was learnt yet.
    Unseen(Effect),
    /// One of the independent parts of what is believed of somebody's pace.
    LearntPace(u32),
    /// An effect on minutes of which nothing was learnt yet.
    UnseenPace(PaceEffect),
    /// What the piece named takes more or less than its twin, in all its sections.
    Piece(Id),
    /// What a section of a piece takes more or less beyond that: piece, then section.
    Section(Id, Id),
    /// The width in which the piece named came out beside its swatch.
    PieceWidth(Id),
    /// The height, as far as it does not go with the width.
    PieceHeight(Id),
    /// How the work on the piece named went.
    PieceTime(Id),
}

impl Source {
    /// Whether it is drawn anew for every piece, so that many pieces average it out.
    pub const fn of_one_piece(&self) -> bool {
        matches!(
            self,
            Source::Piece(_)
                | Source::Section(..)
                | Source::PieceWidth(_)
                | Source::PieceHeight(_)
                | Source::PieceTime(_)
        )
    }
}
