//! Finished measures of cloth at rest, beside those that were counted.

use super::{Shape, StitchSize};
use crate::garment::{Extent, FinishedSpec};
use crate::graph::{Graph, Link, LinkKind};
use crate::needle::Side;
use crate::program::Structure;

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

/// How far apart the loops that each measure was counted by lie in a shape with a point a loop. What names a
/// length that no loops of the shape make is left out. `pieces` are the names of the pieces, in their order.
pub fn measured(
    graph: &Graph,
    shape: &Shape,
    size: impl Fn(Structure) -> StitchSize,
    finished: &[FinishedSpec],
    pieces: &[String],
) -> Vec<Measured> {
    let lengths = Lengths::of(graph, shape, size);
    let share = |spec: &FinishedSpec| {
        let (mut is, mut rest) = (0.0, 0.0);
        for part in &spec.parts {
            let piece = pieces.iter().position(|name| *name == part.piece)? as u16;
            let own = lengths.along(piece, &part.what)?;
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

    /// All links of a piece that a length is counted by, together: is, and at rest.
    fn along(&self, piece: u16, what: &Extent) -> Option<(f64, f64)> {
        let widest = self.widest(piece);
        let end = match what {
            Extent::RowsAt(side) => self.end_of(piece, *side),
            _ => None,
        };
        let loops = &self.graph.loops;
        let counts = |link: &Link| {
            let (a, b) = (&loops[link.a as usize], &loops[link.b as usize]);
            if a.piece != piece || b.piece != piece {
                return false;
            }
            match what {
                Extent::Width => link.kind == LinkKind::Row && widest.binary_search(&a.row).is_ok(),
                Extent::Needles(span) => {
                    let within = |at| span.left <= at && at <= span.right;
                    link.kind == LinkKind::Row && within(a.needle) && within(b.needle)
                }
                Extent::RowsAt(_) => {
                    let near = |at: i32| end.is_some_and(|end| (at - end).abs() <= 1);
                    link.kind == LinkKind::Drawn && near(a.needle.0) && near(b.needle.0)
                }
                Extent::RowsOn { needle, .. } => {
                    link.kind == LinkKind::Drawn && a.needle == *needle && b.needle == *needle
                }
            }
        };
        let mut sums = (0.0, 0.0);
        for (link, own) in self.graph.links.iter().zip(&self.of) {
            if let Some((is, rest)) = own.filter(|_| counts(link)) {
                sums = (sums.0 + is, sums.1 + rest);
            }
        }
        (sums.1 > 0.0).then_some(sums)
    }

    /// The outermost needle of a piece.
    fn end_of(&self, piece: u16, side: Side) -> Option<i32> {
        let own = self.graph.loops.iter().filter(|stitch| stitch.piece == piece);
        let needles = own.map(|stitch| stitch.needle.0);
        match side {
            Side::Left => needles.min(),
            Side::Right => needles.max(),
        }
    }

    /// The rows of a piece that have the most loops, in order.
    fn widest(&self, piece: u16) -> Vec<u32> {
        let mut rows: Vec<u32> = Vec::new();
        for stitch in self.graph.loops.iter().filter(|stitch| stitch.piece == piece) {
            let row = stitch.row as usize;
            rows.resize(rows.len().max(row + 1), 0);
            rows[row] += 1;
        }
        let most = rows.iter().max().copied().unwrap_or(0);
        (0..rows.len() as u32).filter(|row| rows[*row as usize] == most).collect()
    }
}
