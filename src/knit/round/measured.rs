//! Finished measures of cloth at rest, beside those that were counted.

use std::collections::BTreeMap;

use super::{Shape, StitchSize};
use crate::garment::{Extent, FinishedSpec};
use crate::graph::{Graph, JoinKind, Link, LinkKind, Slot};
use crate::needle::Side;
use crate::program::Structure;
use crate::run::{PieceRun, Run};

/// A finished measure, counted and as the cloth lies.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Snake case, as the garment names it.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// Along the cloth at rest over what its stitches come to by the gauge: 1 where it lies as it was counted.
    pub share: f64,
}

/// How far apart the loops that each measure was counted by lie in a shape with a point a loop. A tape is laid
/// along one line: of all rows or wales that hold what was counted, the one in the middle by length, so not along
/// the very seam that draws cloth in. What names a length that no loops of the shape make is left out, and so is
/// an edge that a thread draws together: nothing of it is left to measure.
pub fn measured(
    graph: &Graph,
    shape: &Shape,
    size: impl Fn(Structure) -> StitchSize,
    finished: &[FinishedSpec],
    run: &Run,
) -> Vec<Measured> {
    let lengths = Lengths::of(graph, shape, size);
    let share = |spec: &FinishedSpec| {
        let (mut is, mut rest) = (0.0, 0.0);
        for part in &spec.parts {
            let number = run.pieces.iter().position(|piece| piece.name == part.piece)?;
            let own = lengths.along(number as u16, &run.pieces[number], &part.what)?;
            is += own.0 * part.times;
            rest += own.1 * part.times;
        }
        (rest > 0.0).then(|| is / rest)
    };
    finished
        .iter()
        .filter_map(|spec| {
            let (name, title) = (spec.name.clone(), spec.title.clone());
            Some(Measured { name, title, share: share(spec)? })
        })
        .collect()
}

/// Links one after the other: how long they are, how long at rest, and how many.
#[derive(Clone, Copy, Default)]
struct Line {
    is: f64,
    rest: f64,
    links: u32,
}

/// A line of a piece: a row, or a wale by its needle and bed.
type Key = (i64, bool);

/// By link, how long it is and how long it would be at rest; `None` where a loop has no point.
struct Lengths<'a> {
    graph: &'a Graph,
    of: Vec<Option<(f64, f64)>>,
}

impl<'a> Lengths<'a> {
    fn of(graph: &'a Graph, shape: &Shape, size: impl Fn(Structure) -> StitchSize) -> Self {
        let mut at = vec![None; graph.loops.len()];
        for part in &shape.parts {
            for (point, own) in part.at.iter().zip(&part.loops) {
                at[*own as usize] = Some(*point);
            }
        }
        let length = |link: &Link| {
            let (a, b) = (at[link.a as usize]?, at[link.b as usize]?);
            let (one, other) =
                (graph.loops[link.a as usize].structure, graph.loops[link.b as usize].structure);
            let (one, other) = (size(one), size(other));
            let rest = match link.kind {
                LinkKind::Row => f64::midpoint(one.wide, other.wide),
                _ => f64::midpoint(one.high, other.high),
            };
            Some(((b - a).length(), rest))
        };
        Lengths { graph, of: graph.links.iter().map(length).collect() }
    }

    /// The line of a piece that a length is counted by: is, and at rest.
    fn along(&self, number: u16, piece: &PieceRun, what: &Extent) -> Option<(f64, f64)> {
        let mut lines: Vec<Line> = match what {
            Extent::Width => self.rows(number, &|_| true),
            Extent::Needles(span) => {
                self.rows(number, &|needle| span.left.0 <= needle && needle <= span.right.0)
            }
            Extent::RowsAt(side) if self.is_drawn_together(number, *side) => return None,
            Extent::RowsAt(side) => {
                let rows = piece.rows_at_side(*side);
                let wales = self.wales(number, (0, u32::MAX), &|_| true);
                wales.into_iter().filter(|wale| wale.links.abs_diff(rows) <= 2).collect()
            }
            Extent::RowsOn { needle, from, to } => {
                let row = |mark: &String| piece.mark_rows.get(mark).copied();
                let from = from.as_ref().map_or(Some(0), row)?;
                let to = to.as_ref().map_or(Some(u32::MAX), row)?;
                self.wales(number, (from, to), &|own| own == needle.0)
            }
        };
        let most = lines.iter().map(|line| line.links).max()?;
        // A wale may lack a row where it was held.
        lines.retain(|line| line.links + 2 >= most && line.rest > 0.0);
        lines.sort_by(|a, b| (a.is / a.rest).total_cmp(&(b.is / b.rest)));
        lines.get(lines.len() / 2).map(|line| (line.is, line.rest))
    }

    /// Rows on some needles.
    fn rows(&self, piece: u16, counts: &dyn Fn(i32) -> bool) -> Vec<Line> {
        self.lines(piece, &|link| {
            let loops = &self.graph.loops;
            let (a, b) = (&loops[link.a as usize], &loops[link.b as usize]);
            let counts = link.kind == LinkKind::Row && counts(a.needle.0) && counts(b.needle.0);
            counts.then_some((i64::from(b.row), false))
        })
    }

    /// Whether a thread draws a selvedge together.
    fn is_drawn_together(&self, piece: u16, side: Side) -> bool {
        let slot = if side == Side::Left { Slot::Left } else { Slot::Right };
        self.graph.links.iter().any(|link| {
            link.kind == LinkKind::Join(JoinKind::Gathered)
                && link.slot_a == slot
                && self.graph.loops[link.a as usize].piece == piece
        })
    }

    /// Wales on some needles from one row up to another.
    fn wales(&self, piece: u16, rows: (u32, u32), counts: &dyn Fn(i32) -> bool) -> Vec<Line> {
        self.lines(piece, &|link| {
            let loops = &self.graph.loops;
            let (a, b) = (&loops[link.a as usize], &loops[link.b as usize]);
            let key = (i64::from(b.needle.0), b.ribber);
            let within = rows.0 <= b.row && b.row < rows.1 && counts(b.needle.0);
            let counts = link.kind == LinkKind::Drawn && a.needle == b.needle && within;
            counts.then_some(key)
        })
    }

    fn lines(&self, piece: u16, key: &dyn Fn(&Link) -> Option<Key>) -> Vec<Line> {
        let mut lines: BTreeMap<Key, Line> = BTreeMap::new();
        let loops = &self.graph.loops;
        for (link, own) in self.graph.links.iter().zip(&self.of) {
            let own_piece =
                loops[link.a as usize].piece == piece && loops[link.b as usize].piece == piece;
            let Some((is, rest)) = own.filter(|_| own_piece) else { continue };
            if let Some(key) = key(link) {
                let line = lines.entry(key).or_default();
                *line = Line { is: line.is + is, rest: line.rest + rest, links: line.links + 1 };
            }
        }
        lines.into_values().collect()
    }
}
