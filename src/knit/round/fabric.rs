//! Cloth from a stitch graph: how long each spring is at rest.

use super::neighbours::Neighbours;
use super::net::{Cloth, cloth_alone};
use super::stance::is_flat;
use super::{Bend, Cell, Net, Spring};
use crate::graph::{Graph, JoinKind, Link, LinkKind, Made, Opening, Slot, Stitch, Surface};
use crate::program::Structure;

/// A stitch of some fabric, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StitchSize {
    /// Along the row.
    pub wide: f64,
    /// Along the wale.
    pub high: f64,
}

/// Thread that draws an edge together: next to no room between loops.
pub(super) const DRAWN_MM: f64 = 1.0;
/// Height of a loop that is drawn through together with another: the two lie over each other.
const HUNG: f64 = 0.4;

impl Net {
    /// The cloth of a garment that lies in one part, as large as its gauges say: a node for each loop of
    /// `part`, in the order of the graph, and for each node its loop. Of cloth that hangs, a
    /// wrap shares the node of the loop that it lies round.
    pub fn of(
        graph: &Graph,
        surface: &Surface,
        part: u32,
        size: impl Fn(Structure) -> StitchSize,
    ) -> (Net, Vec<u32>) {
        let hanging = Net::made(graph, surface, part, &size, Cloth::HANGING);
        match is_flat(&hanging.0) {
            true => Net::made(graph, surface, part, &size, Cloth::LYING),
            false => hanging,
        }
    }

    /// As [`of`](Net::of), of cloth that gives way so.
    pub(super) fn made(
        graph: &Graph,
        surface: &Surface,
        part: u32,
        size: &impl Fn(Structure) -> StitchSize,
        cloth: Cloth,
    ) -> (Net, Vec<u32>) {
        let wrapped = |at: u32| if cloth.wraps { None } else { wrapped(graph, at) };
        let own = |at: &u32| surface.component[*at as usize] == part;
        let all = || (0..graph.loops.len() as u32).filter(own);
        let loops: Vec<u32> = all().filter(|at| wrapped(*at).is_none()).collect();
        let mut node = vec![u32::MAX; graph.loops.len()];
        for (n, at) in loops.iter().enumerate() {
            node[*at as usize] = n as u32;
        }
        for at in all() {
            if let Some(under) = wrapped(at) {
                node[at as usize] = node[under as usize];
            }
        }
        let courses = courses(graph);
        let mut net = Net {
            cells: loops.iter().map(|at| cell(&graph.loops[*at as usize], &courses)).collect(),
            cloth,
            ..Net::default()
        };
        for link in graph.links.iter().filter(|link| node[link.a as usize] != u32::MAX) {
            let (a, b) = (node[link.a as usize], node[link.b as usize]);
            // A wrap and the loop that it lies round are drawn through by the same loop.
            let (made, kind) = (graph.loops[link.a as usize].made, link.kind);
            if a == b
                || (made == Made::Wrap && kind == LinkKind::Drawn && wrapped(link.a).is_some())
            {
                continue;
            }
            let rest_mm = rest(graph, link, size);
            net.springs.push(Spring {
                a,
                b,
                rest_mm,
                tension: 1.0,
                compression: cloth.pushed,
                along: true,
            });
        }
        for join in graph.inside.iter().filter(|join| node[join.a as usize] != u32::MAX) {
            let (a, b) = (node[join.a as usize], node[join.b as usize]);
            let high = size(graph.loops[join.a as usize].structure).high;
            let rest_mm = HUNG * high;
            net.springs.push(Spring {
                a,
                b,
                rest_mm,
                tension: 1.0,
                compression: cloth.pushed,
                along: true,
            });
        }
        let is_drawn = |link: &&Link| {
            link.kind == LinkKind::Join(JoinKind::Gathered)
                || [link.a, link.b].iter().any(|at| graph.loops[*at as usize].made == Made::Drawing)
        };
        let ends = |link: &Link| (node[link.a as usize], node[link.b as usize]);
        let drawn: Vec<(u32, u32)> = graph.links.iter().filter(is_drawn).map(ends).collect();
        net.gather(&drawn.into_iter().filter(|(a, _)| *a != u32::MAX).collect::<Vec<_>>());
        for at in &loops {
            net.bends.extend(bends(graph, *at, &node, cloth.bent));
        }
        let own = |opening: &&Opening| node[opening.loops[0] as usize] != u32::MAX;
        let seen = surface.openings.iter().filter(own).filter(|opening| !opening.is_hidden());
        // Where all edges end inside, as in a hem, the longest stands for the opening that the hem makes.
        let hidden = surface.openings.iter().find(own);
        let mut rims: Vec<&Opening> = seen.collect();
        rims.extend(hidden.filter(|_| rims.is_empty()));
        for opening in rims {
            net.rims.push(opening.loops.iter().map(|at| node[*at as usize]).collect());
        }
        let neighbours = net.neighbours();
        for face in &surface.faces {
            let mut corners: Vec<u32> = face.loops.iter().map(|at| node[*at as usize]).collect();
            if corners.contains(&u32::MAX) {
                continue;
            }
            corners.dedup();
            while corners.len() > 1 && corners.first() == corners.last() {
                corners.pop();
            }
            let across = across(&corners, &net.springs, &neighbours, cloth.leaning);
            net.springs.extend(across);
            let rest = corners.windows(2).skip(1);
            net.faces.extend(rest.map(|pair| [corners[0], pair[0], pair[1]]));
        }
        // Where nodes stand for two loops, a face may be folded on itself.
        net.faces = cloth_alone(std::mem::take(&mut net.faces).into_iter());
        (net, loops)
    }
}

/// By piece and row, the courses of cloth below it, in halves: a pass over one bed of a tube is half a course.
fn courses(graph: &Graph) -> Vec<Vec<i32>> {
    let mut halves: Vec<Vec<i32>> = Vec::new();
    for stitch in &graph.loops {
        let (piece, row) = (usize::from(stitch.piece), stitch.row as usize);
        halves.resize(halves.len().max(piece + 1), Vec::new());
        let own = &mut halves[piece];
        own.resize(own.len().max(row + 1), 2);
        if stitch.structure == Structure::Circular {
            own[row] = 1;
        }
    }
    for own in &mut halves {
        let mut sum = 0;
        for row in own {
            sum += std::mem::replace(row, sum);
        }
    }
    halves
}

fn cell(stitch: &Stitch, courses: &[Vec<i32>]) -> Cell {
    let halves = courses[usize::from(stitch.piece)][stitch.row as usize];
    Cell {
        piece: stitch.piece.into(),
        row: halves / 2,
        wale: stitch.needle.0,
        // Of a tube the beds lie over each other; of a rib its needles stand beside each other.
        layer: u8::from(stitch.structure == Structure::Circular && stitch.ribber),
    }
}

fn rest(graph: &Graph, link: &Link, size: &impl Fn(Structure) -> StitchSize) -> f64 {
    let (a, b) = (&graph.loops[link.a as usize], &graph.loops[link.b as usize]);
    let (first, second) = (size(a.structure), size(b.structure));
    let wide = f64::midpoint(first.wide, second.wide);
    let high = f64::midpoint(first.high, second.high);
    match link.kind {
        _ if a.made == Made::Drawing || b.made == Made::Drawing => DRAWN_MM,
        LinkKind::Row => wide,
        LinkKind::Turn if a.needle == b.needle && a.ribber == b.ribber => high,
        LinkKind::Turn => wide,
        LinkKind::Drawn | LinkKind::Join(JoinKind::Grafted | JoinKind::PickedUp) => high,
        LinkKind::Join(JoinKind::Rehung) => high,
        LinkKind::Join(JoinKind::Hung) => HUNG * high,
        // Half an edge stitch of either side goes into the seam.
        LinkKind::Join(JoinKind::Seamed | JoinKind::SewnOn) => 0.5 * wide,
        LinkKind::Join(JoinKind::Gathered) => DRAWN_MM,
    }
}

/// The loop that waits on the needle that a wrap lies round: both are drawn through by the same loop, so no row of
/// cloth lies between the two, and one node stands for both.
fn wrapped(graph: &Graph, wrap: u32) -> Option<u32> {
    if graph.loops[wrap as usize].made != Made::Wrap {
        return None;
    }
    let above = graph.children(wrap).next()?;
    graph.parents(above).find(|at| graph.loops[*at as usize].made != Made::Wrap)
}

/// Straight on along the row, and along the wale.
fn bends(graph: &Graph, at: u32, node: &[u32], stiffness: f64) -> Vec<Bend> {
    let of = |wanted: Slot| {
        let mut own = graph.around(at).filter(move |(_, _, slot)| *slot == wanted);
        own.next().map(|(_, across, _)| node[across as usize])
    };
    let middle = node[at as usize];
    [(Slot::Left, Slot::Right), (Slot::Below, Slot::Above)]
        .into_iter()
        .filter_map(|(from, to)| Some([of(from)?, middle, of(to)?]))
        .filter(|[a, b, c]| a != c && a != b && b != c && *a != u32::MAX && *c != u32::MAX)
        .map(|nodes| Bend { nodes, stiffness })
        .collect()
}

/// The two ways across a mesh of four.
fn across(
    corners: &[u32],
    springs: &[Spring],
    neighbours: &Neighbours,
    leaning: (f64, f64),
) -> Vec<Spring> {
    let [a, b, c, d] = *corners else { return Vec::new() };
    let side = |x: u32, y: u32| {
        let mut own = neighbours[x as usize].iter();
        own.find(|(other, _)| *other == y).map(|(_, spring)| springs[*spring as usize].rest_mm)
    };
    let (Some(ab), Some(bc), Some(cd), Some(da)) = (side(a, b), side(b, c), side(c, d), side(d, a))
    else {
        return Vec::new();
    };
    let (one, two) = (f64::midpoint(ab, cd), f64::midpoint(bc, da));
    let rest_mm = (one * one + two * two).sqrt();
    let (tension, compression) = leaning;
    let spring = |a, b| Spring { a, b, rest_mm, tension, compression, along: false };
    [(a, c), (b, d)].into_iter().filter(|(a, b)| a != b).map(|(a, b)| spring(a, b)).collect()
}
