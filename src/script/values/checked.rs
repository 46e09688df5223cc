use mlua::{Function, Table};

use knit::edge::RowAt;
use knit::needle::{Needle, Side, Span};
use knit::program::{CastOnMethod, Structure, WorkingEnds};
use knit::shaping::Ends;

/// A checked value.
#[derive(Clone, Debug)]
pub(crate) enum Checked {
    Text(String),
    Texts(Vec<String>),
    Needle(Needle),
    Needles(Span),
    Side(Side),
    Sides(WorkingEnds),
    Structure(Structure),
    Method(CastOnMethod),
    Whole(u32),
    Number(f64),
    Flag(bool),
    Rounding(Rounding),
    Ends(Ends),
    Function(Function),
    Ranges(Vec<SearchRange>),
    Decisions(Vec<AskedDecision>),
    /// Height and width in mm.
    Points(Vec<(f64, f64)>),
    Table(Table),
    Place(RowAt),
}

/// Which whole number is taken for one that lies between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rounding {
    Nearest,
    Up,
    Down,
}

/// A whole number to be decided, as a script asks for it.
#[derive(Clone, Debug)]
pub(crate) struct AskedDecision {
    pub name: String,
    pub title: Option<String>,
    /// What is tried; `None` for one that follows from the others.
    pub range: Option<SearchRange>,
    /// What a knitter may fix it to.
    pub may: SearchRange,
    pub follows: Option<Function>,
}

/// Whole numbers from `from` to `to`, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SearchRange {
    pub from: i64,
    pub to: i64,
    pub step: i64,
}

impl SearchRange {
    pub fn count(self) -> u64 {
        if self.to < self.from { 0 } else { ((self.to - self.from) / self.step) as u64 + 1 }
    }

    /// The last that is reached.
    pub fn last(self) -> i64 {
        self.to - (self.to - self.from).rem_euclid(self.step)
    }

    pub fn has(self, n: i64) -> bool {
        (self.from..=self.to).contains(&n) && (n - self.from) % self.step == 0
    }

    /// Those next to a number that is not one of them: below it and above it.
    pub fn beside(self, n: i64) -> Vec<i64> {
        if self.count() == 0 {
            return Vec::new();
        }
        if n < self.from {
            return vec![self.from];
        }
        if n > self.last() {
            return vec![self.last()];
        }
        let below = n - (n - self.from) % self.step;
        vec![below, below + self.step]
    }
}

impl std::fmt::Display for SearchRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.count() {
            0 => f.write_str("no number"),
            1 => write!(f, "{} alone", self.from),
            _ if self.step == 1 => write!(f, "{} to {}", self.from, self.to),
            _ => write!(f, "{} to {} in steps of {}", self.from, self.last(), self.step),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_beside_a_number_is_in_the_range() {
        let range = SearchRange { from: 180, to: 201, step: 2 };
        assert_eq!(range.beside(191), [190, 192]);
        assert_eq!(range.beside(3), [180]);
        assert_eq!(range.beside(201), [200]);
        assert_eq!(range.to_string(), "180 to 200 in steps of 2");
        assert!(range.has(200) && !range.has(201) && !range.has(178) && !range.has(202));
        assert!(SearchRange { from: 5, to: 4, step: 1 }.beside(5).is_empty());
    }
}
