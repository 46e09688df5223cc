//! A garment for one body at one gauge, as a script hands it over: the program, and what to
//! read off its run. All of it is questions to the run; no count or size is stated here.

use super::needle::{Needle, Side, Span};
use super::program::{Program, Structure};
use super::view::View;

/// What a script gives for one size: the program, and what to read off its run.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Garment {
    /// What is knitted.
    pub program: Program,
    /// How it looks when it is worn, or laid down.
    pub views: Vec<View>,
    /// For each piece of the program, which of a pair it belongs to, from 1; `None` where the
    /// script does not say.
    pub mates: Vec<Option<u32>>,
    /// Measures of the finished thing.
    pub finished: Vec<FinishedSpec>,
    /// Finished measures to be held against each other.
    pub ratios: Vec<RatioSpec>,
    /// Whole numbers to be told.
    pub counts: Vec<CountSpec>,
    /// Girths that must stretch to be put on.
    pub stretches: Vec<StretchSpec>,
    /// The whole numbers that were chosen, in the order in which they were.
    pub decisions: Vec<Decision>,
    /// Cautions of the script's own, beside the engine's.
    pub cautions: Vec<String>,
    /// What the script wants the knitter to know about this size.
    pub warnings: Vec<String>,
}

/// A whole number that the script chose, or the knitter in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decision {
    /// Snake case, what a knitter fixes it by.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// What it came to.
    pub value: i64,
    /// The least a knitter may fix it to.
    pub from: i64,
    /// The most.
    pub to: i64,
    /// From one that may be to the next; 1 or more.
    pub step: i64,
    /// The knitter chose it.
    pub fixed: bool,
}

/// A finished measure: a sum of lengths taken from the run, and what it was meant to be.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishedSpec {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// The lengths that are added up.
    pub parts: Vec<MeasuredPart>,
    /// What it was meant to be, in mm.
    pub target_mm: f64,
    /// The body measure it answers to, and its ease as a share of it (-0.08: 8 % smaller).
    pub measure: Option<String>,
    /// The ease aimed at, as a share of the body measure.
    pub ease: Option<f64>,
    /// The ease that still fits, as shares, where the script states it.
    pub ease_range: Option<(f64, f64)>,
}

/// One length of a piece, so many times.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPart {
    /// Name of the piece.
    pub piece: String,
    /// Which length of it.
    pub what: Extent,
    /// How often it counts; may be a fraction.
    pub times: f64,
    /// The fabric that gauges it, where it is not what most of the piece is.
    pub structure: Option<Structure>,
}

/// Which length of a piece is meant.
#[derive(Clone, Debug, PartialEq)]
pub enum Extent {
    /// The most stitches ever in work, at the stitch gauge of the piece.
    Width,
    /// So many needles, at the stitch gauge.
    Needles(Span),
    /// The rows along a selvedge, at the row gauge: passes that knit the outermost needle in work.
    RowsAt(Side),
    /// The rows knitted on one needle, at the row gauge, between the first time one tally mark and
    /// the first time another were passed (or from the start, to the end).
    RowsOn {
        /// The needle the rows are counted on.
        needle: Needle,
        /// The tally mark to count from; `None`: the start.
        from: Option<String>,
        /// The tally mark to count to; `None`: the end.
        to: Option<String>,
    },
}

/// One finished measure over another: `factor * of / over`, with the range it should lie in.
#[derive(Clone, Debug, PartialEq)]
pub struct RatioSpec {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// Name of the finished measure above the line.
    pub of: String,
    /// Name of the finished measure below the line.
    pub over: String,
    /// What the quotient is multiplied by.
    pub factor: f64,
    /// The least that is right.
    pub low: f64,
    /// The most that is right.
    pub high: f64,
}

/// What a finished girth must stretch over to be put on.
#[derive(Clone, Debug, PartialEq)]
pub struct StretchSpec {
    /// A name of the `finished` list.
    pub of: String,
    /// What it must pass, in words: "the hand", "the heel".
    pub over: String,
    /// What it must pass, in mm.
    pub over_mm: f64,
    /// The fabric that stretches.
    pub structure: Structure,
}

/// A named whole number to read off the run.
#[derive(Clone, Debug, PartialEq)]
pub struct CountSpec {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// What is counted.
    pub what: Counted,
}

/// What a count is of.
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
