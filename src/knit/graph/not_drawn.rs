//! Why there is no graph.

/// What stands in the way of a stitch graph.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotDrawn {
    /// The bed refused the program.
    #[error("the program can't be knitted, so there is nothing to draw")]
    Refused,
    /// More loops than any garment has.
    #[error("{stitches} stitches are more than any garment has")]
    TooLarge {
        /// Stitches of all pieces.
        stitches: u64,
    },
    /// A step that is not drawn yet.
    #[error("not drawn yet: {action} (piece `{piece}`, line {line})")]
    NotYet {
        /// What the step does.
        action: &'static str,
        /// In which piece, or `finishing`.
        piece: String,
        /// Line of the script; 0 when unknown.
        line: u32,
    },
    /// The run is of another program, or the two count differently: a fault of this program.
    #[error("loops and counts differ in piece `{piece}`, line {line}: {what}")]
    Differs {
        /// In which piece, or `finishing`.
        piece: String,
        /// Line of the script; 0 when unknown.
        line: u32,
        /// What differs.
        what: String,
    },
}
