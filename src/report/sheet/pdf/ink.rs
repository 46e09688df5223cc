//! What stands on pages: ink at its place, and what it says of the document's structure. Points, `y`
//! downwards. Knows nothing of the file format.

use crate::drawing::{Drawing, Weight};

/// Points to a millimetre.
pub(super) const MM: f64 = 72.0 / 25.4;

pub(super) const SIDE: f64 = 16.0 * MM;
pub(super) const TOP: f64 = 19.0 * MM;
pub(super) const BOTTOM: f64 = 18.0 * MM;

pub(super) const BODY: f64 = 10.5;
pub(super) const TABLE: f64 = 9.5;
/// The least there is on paper: smaller type is not read at arm's length.
pub(super) const SMALL: f64 = 9.0;
/// Line to line, as a share of the size.
pub(super) const LEADING: f64 = 1.35;
/// From a line's top to its baseline, as a share of the size.
pub(super) const RISE: f64 = 1.02;
pub(super) const CELL_GAP: f64 = 9.0;

/// What a piece of ink says of the document's structure.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Role {
    Heading(u8, String),
    Paragraph,
    /// Whether its items bear numbers.
    List(bool),
    Item,
    Label,
    Body,
    Table,
    Caption,
    Row,
    ColumnHead,
    RowHead,
    Cell,
    Figure(String),
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Element {
    pub role: Role,
    pub parent: Option<usize>,
}

#[derive(Clone, Debug)]
pub(super) enum InkShape<'a> {
    Text {
        size: f64,
        weight: Weight,
        text: String,
    },
    /// An open square.
    Tick {
        side: f64,
    },
    Rule {
        length: f64,
    },
    /// A tinted ground with a bar at its left.
    Panel {
        width: f64,
        height: f64,
    },
    Picture {
        drawing: &'a Drawing,
        scale: f64,
    },
}

/// A shape at its place: baseline for text, top left corner for the rest. Without an element it is
/// decoration.
#[derive(Clone, Debug)]
pub(super) struct Ink<'a> {
    pub x: f64,
    pub y: f64,
    pub shape: InkShape<'a>,
    pub element: Option<usize>,
}

/// A heading to jump to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Bookmark {
    pub level: u8,
    pub text: String,
    pub page: usize,
    pub y: f64,
}

pub(super) struct Pages<'a> {
    pub pages: Vec<Vec<Ink<'a>>>,
    pub elements: Vec<Element>,
    pub bookmarks: Vec<Bookmark>,
}
