use mlua::{Function, Table};

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
    /// Height and width in mm.
    Points(Vec<(f64, f64)>),
    Table(Table),
}

/// Which whole number is taken for one that lies between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rounding {
    Nearest,
    Up,
    Down,
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
}
