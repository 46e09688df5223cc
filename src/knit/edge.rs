//! Edges of pieces, whole or in part, and how one is eased into another. What an edge measures is
//! the bed's to say.

use super::needle::Side;

/// An edge of a piece, or a stretch of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EdgeRange {
    /// Which edge.
    pub place: EdgePlace,
    /// Loops, stitches or rows left out before the stretch begins: open, cast-on and cast-off
    /// edges are counted from the left, selvedges from the cast-on.
    pub from: u32,
    /// Where it ends, counted from the same end; `None`: at the end of the edge.
    pub to: Option<u32>,
}

impl EdgeRange {
    /// Whether it goes on where the other one ends.
    pub fn goes_on_from(&self, before: &EdgeRange) -> bool {
        self.place == before.place && self.from > 0 && before.to == Some(self.from)
    }
}

/// Which edge is meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EdgePlace {
    /// Loops that wait under this name.
    Open(String),
    /// A selvedge of a piece.
    Selvedge(String, Side),
    /// The edge inside a piece, beside stitches that are held or were taken off on their own, as at a
    /// divided neck: the rows of a part of the piece that end there, on this side of that part.
    Inner(String, Side),
    /// A stretch between tally marks of a piece. What lies beside [`EdgeRange`]'s own numbers is nothing.
    Marked(Box<MarkedEdge>),
    /// The closed stitches a piece was cast on with, of all its cast-ons, by needle.
    CastOn(String),
    /// The stitches a piece was cast off with, of all its cast-offs, by needle.
    CastOff(String),
}

/// A stretch of a selvedge, or of an inner edge, that begins or ends where a tally mark was first passed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkedEdge {
    /// The piece.
    pub piece: String,
    /// Which side of it.
    pub side: Side,
    /// Whether it is the edge inside the piece.
    pub inner: bool,
    /// Where it begins.
    pub from: RowAt,
    /// Where it ends; `None`: at the end of the edge.
    pub to: Option<RowAt>,
}

/// A place along a selvedge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RowAt {
    /// So many rows from where the selvedge begins.
    Row(u32),
    /// So many rows behind where a tally mark was first passed; below 0 before it.
    Mark(String, i32),
}

/// What an edge is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeUnit {
    /// Open loops.
    Loops,
    /// Closed stitches of a cast-on or a cast-off.
    Stitches,
    /// Rows of a selvedge.
    Rows,
}

/// How long a stretch of an edge came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EdgeLength {
    /// So many.
    pub count: u32,
    /// Of these.
    pub unit: EdgeUnit,
}

/// How two edges of different lengths meet: of the longer one `each` to every one of the shorter,
/// and one more at `spare` of them, spread evenly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ease {
    /// Places of the shorter edge.
    pub fewer: u32,
    /// Places of the longer edge.
    pub more: u32,
    /// Of the longer to one of the shorter, at least.
    pub each: u32,
    /// At so many of the shorter one more.
    pub spare: u32,
}

impl EdgeUnit {
    /// The word for one or for many of them.
    pub const fn word(self, count: u32) -> &'static str {
        match (self, count) {
            (EdgeUnit::Loops, 1) => "loop",
            (EdgeUnit::Loops, _) => "loops",
            (EdgeUnit::Stitches, 1) => "stitch",
            (EdgeUnit::Stitches, _) => "stitches",
            (EdgeUnit::Rows, 1) => "row",
            (EdgeUnit::Rows, _) => "rows",
        }
    }
}

impl Ease {
    /// How lengths `a` and `b` meet; `None` where they are equal or one is nothing.
    pub const fn of(a: u32, b: u32) -> Option<Ease> {
        let (fewer, more) = if a < b { (a, b) } else { (b, a) };
        if fewer == 0 || fewer == more {
            return None;
        }
        Some(Ease { fewer, more, each: more / fewer, spare: more % fewer })
    }

    /// So many of the longer edge that belong to the `nth` of the shorter, from 0.
    pub fn share(self, nth: u32) -> u32 {
        spread(self.more, self.fewer, nth)
    }
}

/// Of `total` over `parts`, spread evenly, what falls to the `nth`, from 0. Half a step ahead, so
/// that the odd ones lie amid the others and not at an end.
pub(super) fn spread(total: u32, parts: u32, nth: u32) -> u32 {
    let parts = u64::from(parts.max(1));
    let upto = |n: u64| (2 * u64::from(total) * n + parts) / (2 * parts);
    (upto(u64::from(nth) + 1) - upto(u64::from(nth))) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_loops_into_sixty_rows_are_five_rows_to_a_loop() {
        assert_eq!(Ease::of(12, 60), Some(Ease { fewer: 12, more: 60, each: 5, spare: 0 }));
        assert_eq!(Ease::of(60, 45), Some(Ease { fewer: 45, more: 60, each: 1, spare: 15 }));
        assert_eq!(Ease::of(40, 40), None);
        assert_eq!(Ease::of(0, 40), None);
    }

    #[test]
    fn shares_add_up_and_differ_by_one_at_most() {
        for (a, b) in [(1, 9), (7, 23), (45, 60), (59, 60), (13, 200)] {
            let ease = Ease::of(a, b).expect("different");
            let shares: Vec<u32> = (0..ease.fewer).map(|n| ease.share(n)).collect();
            assert_eq!(shares.iter().sum::<u32>(), ease.more);
            assert!(shares.iter().all(|s| *s == ease.each || *s == ease.each + 1));
            let more = shares.iter().filter(|s| **s > ease.each).count() as u32;
            assert_eq!(more, ease.spare);
        }
    }
}
