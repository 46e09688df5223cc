//! Needle names: L1, L2... to the left of the bed's centre, R1, R2... to the right.

use std::fmt;
use std::str::FromStr;

/// One needle. Inside, a whole number that grows to the right: L1 is -1 and R1 is 0, so that
/// neighbours always differ by one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Needle(pub i32);

/// One of the two sides of the bed, as the knitter sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Towards L needles.
    Left,
    /// Towards R needles.
    Right,
}

/// A run of needles, both ends included; `left <= right`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The leftmost needle.
    pub left: Needle,
    /// The rightmost needle.
    pub right: Needle,
}

/// Needles side by side on one of the two beds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BedSpan {
    /// On the ribber, not on the main bed.
    pub ribber: bool,
    /// The needles.
    pub span: Span,
}

impl Side {
    /// The word in files, scripts and JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }

    /// The one across.
    pub const fn other(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }
}

impl Span {
    /// How many needles, at least 1.
    pub const fn len(self) -> u32 {
        (self.right.0 - self.left.0 + 1) as u32
    }

    /// Never: a span has at least one needle.
    pub const fn is_empty(self) -> bool {
        false
    }

    /// Whether the needle lies in it.
    pub const fn contains(self, needle: Needle) -> bool {
        self.left.0 <= needle.0 && needle.0 <= self.right.0
    }

    /// `stitches` needles about the centre of the bed; the odd one goes to the right.
    pub const fn centred(stitches: u32) -> Span {
        let left = (stitches / 2) as i32;
        Span { left: Needle(-left), right: Needle(stitches as i32 - left - 1) }
    }

    /// The needles of this span to each side of the bed's centre.
    pub fn split(self) -> (u32, u32) {
        let left = (-self.left.0).clamp(0, self.len() as i32) as u32;
        (left, self.len() - left)
    }

    /// The same so many needles to the right.
    #[must_use]
    pub const fn moved(self, by: i32) -> Span {
        Span { left: Needle(self.left.0 + by), right: Needle(self.right.0 + by) }
    }

    /// Its outermost needle on a side.
    pub const fn end(self, side: Side) -> Needle {
        match side {
            Side::Left => self.left,
            Side::Right => self.right,
        }
    }
}

impl fmt::Display for Needle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 0 { write!(f, "L{}", -self.0) } else { write!(f, "R{}", self.0 + 1) }
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.left == self.right {
            write!(f, "{}", self.left)
        } else {
            write!(f, "{}-{}", self.left, self.right)
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Needle {
    type Err = String;

    fn from_str(text: &str) -> Result<Needle, String> {
        let bad = || format!("`{text}` is not a needle: write L1 or R1, counting from the centre");
        let text = text.trim();
        let number = |rest: &str| rest.parse::<u16>().ok().filter(|n| *n > 0).map(i32::from);
        match text.split_at_checked(1) {
            Some(("L" | "l", rest)) => number(rest).map(|n| Needle(-n)).ok_or_else(bad),
            Some(("R" | "r", rest)) => number(rest).map(|n| Needle(n - 1)).ok_or_else(bad),
            _ => Err(bad()),
        }
    }
}

impl FromStr for Span {
    type Err = String;

    /// Reads `L24-R23` or a single needle.
    fn from_str(text: &str) -> Result<Span, String> {
        let (left, right) = text.split_once('-').unwrap_or((text, text));
        let (left, right) = (left.parse::<Needle>()?, right.parse::<Needle>()?);
        if left > right {
            return Err(format!("`{text}` runs from right to left: write {right}-{left}"));
        }
        Ok(Span { left, right })
    }
}

impl FromStr for Side {
    type Err = String;

    fn from_str(text: &str) -> Result<Side, String> {
        match text {
            "left" => Ok(Side::Left),
            "right" => Ok(Side::Right),
            _ => Err(format!("`{text}` is not a side: write left or right")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_centred_span_puts_the_odd_needle_on_the_right() {
        assert_eq!(Span::centred(45).to_string(), "L22-R23");
        assert_eq!(Span::centred(45).split(), (22, 23));
        assert_eq!(Span::centred(200).to_string(), "L100-R100");
        assert_eq!(Span::centred(1).to_string(), "R1");
    }

    #[test]
    fn names_read_back() {
        for text in ["L1", "R1", "L110-R3", "R2-R9"] {
            assert_eq!(text.parse::<Span>().expect("a span").to_string(), text);
        }
        for bad in ["", "L0", "R", "5", "R3-L3", "Ö1", "L99999"] {
            assert!(bad.parse::<Span>().is_err(), "{bad}");
        }
    }
}
