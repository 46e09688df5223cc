//! What comes of laying a view: areas of one colour, and outlines.

use crate::drawing::canvas::Point;
use knit::thread::Paint;

/// An area of one colour.
#[derive(Clone, Debug)]
pub(in crate::drawing) struct Area {
    pub paint: Paint,
    pub outline: Vec<Point>,
    /// Its middle, and how long and how high it is there.
    pub middle: Point,
    pub size: (f64, f64),
}

/// The fabric of one part of a view, and its outline.
#[derive(Clone, Debug)]
pub(in crate::drawing) struct LaidPart {
    pub piece: String,
    pub form: &'static str,
    /// Whether it is fabric of the part before it, set beside it: no edge runs between them.
    pub goes_on: bool,
    pub areas: Vec<Area>,
    pub silhouette: Vec<Vec<Point>>,
}

#[derive(Clone, Debug)]
pub(in crate::drawing) struct LaidView {
    pub title: String,
    pub parts: Vec<LaidPart>,
    /// Left, top, right and bottom.
    pub bounds: (f64, f64, f64, f64),
}
