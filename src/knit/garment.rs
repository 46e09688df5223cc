//! A garment for one body at one gauge, as a script hands it over: the program, and what to
//! read off its run. All of it is questions to the run; no count or size is stated here.

use super::needle::{Side, Span};
use super::program::Program;

#[derive(Clone, Debug, PartialEq, Default)]
pub struct Garment {
    pub program: Program,
    pub finished: Vec<FinishedSpec>,
    pub ratios: Vec<RatioSpec>,
    pub counts: Vec<CountSpec>,
    pub cautions: Vec<String>,
    /// What the script wants the knitter to know about this size.
    pub warnings: Vec<String>,
}

/// A finished measure: a sum of lengths taken from the run, and what it was meant to be.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishedSpec {
    /// Snake case, a key in JSON.
    pub name: String,
    pub title: String,
    pub parts: Vec<MeasuredPart>,
    pub target_mm: f64,
    /// The body measure it answers to, and its ease as a share of it (-0.08: 8 % smaller).
    pub measure: Option<String>,
    pub ease: Option<f64>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPart {
    pub piece: String,
    pub what: Extent,
    pub times: f64,
}

/// Which length of a piece is meant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Extent {
    /// The most stitches ever in work, at the stitch gauge of the piece.
    Width,
    /// So many needles, at the stitch gauge.
    Needles(Span),
    /// The rows knitted on the outermost needle of a side, at the row gauge.
    RowsAt(Side),
}

/// One finished measure over another: `factor * of / over`, with the range it should lie in.
#[derive(Clone, Debug, PartialEq)]
pub struct RatioSpec {
    pub name: String,
    pub title: String,
    pub of: String,
    pub over: String,
    pub factor: f64,
    pub low: f64,
    pub high: f64,
}

/// A named whole number to read off the run.
#[derive(Clone, Debug, PartialEq)]
pub struct CountSpec {
    pub name: String,
    pub title: String,
    pub what: Counted,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Counted {
    /// Most needles of a piece ever in work.
    Needles(String),
    /// Passes of the carriage in a piece.
    Rows(String),
    /// Tally marks of that name, in all pieces.
    Marks(String),
    /// Loops that ever waited on an edge.
    EdgeLoops(String),
    /// Times the program stopped to hang loops of an edge, the empty visits included.
    HangPoints(String),
    /// Pieces whose name is this, or this with `-1`, `-2`... behind it.
    Pieces(String),
}
