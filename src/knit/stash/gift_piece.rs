use crate::body::SizeId;

/// Which piece of many a gift is: an entry of the file may wish for forty hats, and each is a gift of its
/// own, `hats-1` to `hats-40`.
#[derive(Clone, Debug, PartialEq)]
pub struct GiftPiece {
    /// The id of the entry.
    pub entry: String,
    /// Which of them, from 1.
    pub nth: u32,
    /// How many there are to be.
    pub of: u32,
    /// The sizes it may be made in, best known first; one alone where so many of each are wanted.
    pub sizes: Vec<SizeId>,
}

impl GiftPiece {
    /// The most of one entry.
    pub const MOST: u32 = 1000;

    /// The id of a piece.
    pub fn id(entry: &str, nth: u32) -> String {
        format!("{entry}-{nth}")
    }
}
