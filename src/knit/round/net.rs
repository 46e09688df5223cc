use std::collections::BTreeMap;

use super::Point;
use super::neighbours::Neighbours;

/// Cloth as springs between loops.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Net {
    /// By node, the cell that it lies in: of which piece, which row, which needle.
    pub cells: Vec<Cell>,
    /// Between neighbours along a row or a wale, between loops that are joined, and across meshes.
    pub springs: Vec<Spring>,
    /// Three nodes in a line, which cloth keeps nearly straight.
    pub bends: Vec<Bend>,
    /// Triangles of its surface, wound the same way round as far as cloth has two sides.
    pub faces: Vec<[u32; 3]>,
    /// Open edges that are seen, the longest first: nodes once round, as a face there would be wound.
    pub rims: Vec<Vec<u32>>,
    /// How it gives way.
    pub(super) cloth: Cloth,
}

/// Where a loop lies in its piece.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cell {
    /// The piece, from 0.
    pub piece: u32,
    /// Rows of the piece below it.
    pub row: i32,
    /// Its place along the row: a needle.
    pub wale: i32,
    /// Which of two layers that lie on the same needles: the beds of a tube.
    pub layer: u8,
}

/// A spring between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spring {
    /// One end.
    pub a: u32,
    /// The other.
    pub b: u32,
    /// Millimetres at rest.
    pub rest_mm: f64,
    /// How stiff it is when drawn longer; 1 for a spring along the cloth.
    pub tension: f64,
    /// How stiff it is when pushed together.
    pub compression: f64,
    /// Whether it lies along the cloth, as against across a mesh.
    pub along: bool,
}

/// Three nodes that cloth keeps nearly straight: the middle one is the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// In their order along the cloth.
    pub nodes: [u32; 3],
    /// How stiff.
    pub stiffness: f64,
}

/// A smaller net, and which of its nodes each of the larger one's belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Coarser {
    /// The smaller net.
    pub net: Net,
    /// By node of the larger one.
    pub of: Vec<u32>,
}

/// How cloth gives way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cloth {
    /// How stiff it is against being bent, from loop to loop.
    pub bent: f64,
    /// How stiff when its loops are pushed together, of 1 when they are drawn apart.
    pub pushed: f64,
    /// How stiff a spring across a mesh is when drawn apart and when pushed together, of 1 for one along the cloth.
    pub leaning: (f64, f64),
    /// Whether a wrap is a place of its own, beside that of the loop it lies round.
    pub wraps: bool,
    /// Whether a coarse spring is as stiff as a fine one however few it stands for, and splinters stay cells.
    pub even: bool,
}

impl Cloth {
    /// Falls in folds a few centimetres wide, and before it gets shorter, so that a length along it stays. Loops
    /// lean with little force: were it more, cloth would fold along a line of short rows sooner than lean there, and
    /// a cone of wedges would be narrow.
    pub const HANGING: Cloth =
        Cloth { bent: 0.08, pushed: 0.8, leaning: (0.02, 0.02), wraps: false, even: false };
    /// Lies in its plane, where nothing makes it fold: what keeps a corner square is how little it leans.
    pub const LYING: Cloth =
        Cloth { bent: 0.02, pushed: 0.3, leaning: (0.25, 0.1), wraps: true, even: true };
}

impl Default for Cloth {
    fn default() -> Cloth {
        Cloth::HANGING
    }
}

impl Net {
    /// How many nodes it has.
    pub fn len(&self) -> usize {
        self.cells.len()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }

    /// Closes an open edge along two pieces that lie at it, as by buttons: of those pairs the one that makes up
    /// most of an edge. What was one edge is two then.
    pub(super) fn button(&mut self, pairs: &[[u32; 2]]) {
        let along = |pieces: &[u32; 2]| {
            let of = |rim: &Vec<u32>, piece| {
                rim.iter().filter(|n| self.cells[**n as usize].piece == piece).count()
            };
            let both = |rim| of(rim, pieces[0]).min(of(rim, pieces[1]));
            self.rims.iter().map(both).max().unwrap_or(0)
        };
        let Some(pieces) = pairs.iter().copied().max_by_key(along) else { return };
        let found = self.rims.iter().position(|rim| {
            pieces.iter().all(|piece| rim.iter().any(|n| self.cells[*n as usize].piece == *piece))
        });
        let Some(at) = found else { return };
        let mut rim = self.rims.remove(at);
        let of = |node: u32| self.cells[node as usize].piece;
        // From the first node of the one piece on.
        let start = (0..rim.len()).find(|n| {
            of(rim[*n]) == pieces[0] && of(rim[(n + rim.len() - 1) % rim.len()]) != pieces[0]
        });
        rim.rotate_left(start.unwrap_or(0));
        let one = rim.iter().take_while(|node| of(**node) == pieces[0]).count();
        let Some(from) = rim.iter().position(|node| of(*node) == pieces[1]) else { return };
        let other = rim[from..].iter().take_while(|node| of(**node) == pieces[1]).count();
        for n in 0..one {
            let (a, b) = (rim[n], rim[from + other - 1 - n * other / one]);
            let spring = Spring { a, b, rest_mm: 1.0, tension: 1.0, compression: 0.3, along: true };
            self.springs.push(spring);
        }
        // The buttoned edges themselves keep a node at each end.
        let mut first: Vec<u32> = rim[one - 1..=from].to_vec();
        let mut second: Vec<u32> = rim[from + other - 1..].to_vec();
        second.push(rim[0]);
        first.dedup();
        self.rims.extend([first, second]);
        self.rims.sort_by_key(|rim| std::cmp::Reverse(rim.len()));
    }

    /// The radius of a ball with as much surface as the cloth has.
    pub(super) fn radius_mm(&self) -> f64 {
        let along = || self.springs.iter().filter(|spring| spring.along);
        // Half the springs run along rows and half along wales: what lies between four of them is their square.
        let sum: f64 = along().map(|spring| spring.rest_mm * spring.rest_mm).sum();
        (sum / 2.0 / (4.0 * std::f64::consts::PI)).sqrt().max(1.0)
    }

    /// How long a closed line of nodes is at rest.
    pub(super) fn length_round(&self, rim: &[u32]) -> f64 {
        let mut at_rim = vec![false; self.len()];
        for node in rim {
            at_rim[*node as usize] = true;
        }
        let of: BTreeMap<(u32, u32), f64> = self
            .springs
            .iter()
            .filter(|s| s.along && at_rim[s.a as usize] && at_rim[s.b as usize])
            .map(|spring| ((spring.a.min(spring.b), spring.a.max(spring.b)), spring.rest_mm))
            .collect();
        (0..rim.len())
            .filter_map(|n| {
                let (a, b) = (rim[n], rim[(n + 1) % rim.len()]);
                of.get(&(a.min(b), a.max(b)))
            })
            .sum()
    }

    /// By node, the shortest way along the cloth from the nearest of some; infinite where there is none.
    pub(super) fn distances(&self, from: &[u32]) -> Vec<f64> {
        let neighbours = self.neighbours();
        let mut far = vec![f64::INFINITY; self.len()];
        let mut open = std::collections::BinaryHeap::new();
        for node in from {
            far[*node as usize] = 0.0;
            open.push((std::cmp::Reverse(0u64), *node));
        }
        // Way in micrometres, so that it can be put in order.
        while let Some((std::cmp::Reverse(way), node)) = open.pop() {
            if way > (far[node as usize] * 1000.0) as u64 {
                continue;
            }
            for (other, spring) in &neighbours[node as usize] {
                let next = far[node as usize] + self.springs[*spring as usize].rest_mm;
                if next + 1e-9 < far[*other as usize] {
                    far[*other as usize] = next;
                    open.push((std::cmp::Reverse((next * 1000.0) as u64), *other));
                }
            }
        }
        far
    }

    /// By node, the way that the outside of the cloth looks there.
    pub(super) fn ways(&self, at: &[Point]) -> Vec<Point> {
        let mut ways = vec![Point::default(); at.len()];
        for face in &self.faces {
            let [a, b, c] = face.map(|node| at[node as usize]);
            let normal = (b - a).cross(c - a);
            for node in face {
                ways[*node as usize] += normal;
            }
        }
        ways.into_iter().map(Point::unit).collect()
    }

    /// By node, its neighbours along the cloth.
    pub(super) fn neighbours(&self) -> Neighbours {
        Neighbours::of(self)
    }

    /// The same cloth by cells of `by` rows and `by` needles, as far as a cell hangs together in
    /// itself. Springs between cells are as long as the way between their middles.
    pub fn coarser(&self, by: i32) -> Coarser {
        let neighbours = self.neighbours();
        let of = self.clusters(by, &neighbours);
        let count = of.iter().max().map_or(0, |last| *last as usize + 1);
        // By cluster, the cell that most of it lies in: each node votes for its own, and against another.
        let mut votes: Vec<(Cell, u32)> = vec![(Cell::default(), 0); count];
        for (cell, cluster) in self.cells.iter().zip(&of) {
            let own =
                Cell { row: cell.row.div_euclid(by), wale: cell.wale.div_euclid(by), ..*cell };
            let (most, for_it) = &mut votes[*cluster as usize];
            match *for_it {
                0 => (*most, *for_it) = (own, 1),
                _ if *most == own => *for_it += 1,
                _ => *for_it -= 1,
            }
        }
        let cells: Vec<Cell> = votes.into_iter().map(|(cell, _)| cell).collect();
        let springs = self.springs_between(&of, by, &neighbours);
        // As stiff as the cloth is: a line of larger steps is bent by ever more over each.
        let bends = bends(&cells, &springs, self.cloth.bent / f64::from(by * by));
        let faces = self.faces_between(&of);
        let rims = self.rims.iter().map(|rim| round_of(rim, &of)).collect();
        let cloth = self.cloth;
        Coarser { net: Net { cells, springs, bends, faces, rims, cloth }, of }
    }

    /// By node, the number of its cluster: nodes of one cell that hang together without leaving it. What is left
    /// of a cell at a slanting edge goes to its largest neighbour: as a cell of its own it would be a splinter.
    fn clusters(&self, by: i32, neighbours: &Neighbours) -> Vec<u32> {
        let key = |node: usize| {
            let cell = self.cells[node];
            (cell.piece, cell.row.div_euclid(by), cell.wale.div_euclid(by), cell.layer)
        };
        let mut of = vec![u32::MAX; self.len()];
        let mut clusters: Vec<Vec<u32>> = Vec::new();
        for first in 0..self.len() {
            if of[first] != u32::MAX {
                continue;
            }
            let number = clusters.len() as u32;
            of[first] = number;
            let mut own = vec![first as u32];
            let mut done = 0;
            while done < own.len() {
                let node = own[done] as usize;
                done += 1;
                for (other, _) in &neighbours[node] {
                    let at = *other as usize;
                    if of[at] == u32::MAX && key(at) == key(node) {
                        of[at] = number;
                        own.push(*other);
                    }
                }
            }
            clusters.push(own);
        }
        if !self.cloth.even {
            self.splinters_joined(by, neighbours, &mut of, clusters);
        }
        numbered_anew(&mut of);
        of
    }

    /// Each cluster of fewer nodes than a cell has along one side to the largest beside it in its piece.
    fn splinters_joined(
        &self,
        by: i32,
        neighbours: &Neighbours,
        of: &mut [u32],
        mut clusters: Vec<Vec<u32>>,
    ) {
        for number in 0..clusters.len() {
            if clusters[number].is_empty() || clusters[number].len() >= by as usize {
                continue;
            }
            let mut largest: Option<(usize, u32)> = None;
            for node in &clusters[number] {
                let cell = self.cells[*node as usize];
                for (other, _) in &neighbours[*node as usize] {
                    let (there, to) = (self.cells[*other as usize], of[*other as usize]);
                    let beside = to != number as u32
                        && there.piece == cell.piece
                        && there.layer == cell.layer;
                    let size = clusters[to as usize].len();
                    if beside
                        && largest
                            .is_none_or(|(most, least)| size > most || (size == most && to < least))
                    {
                        largest = Some((size, to));
                    }
                }
            }
            let Some((_, to)) = largest else { continue };
            let own = std::mem::take(&mut clusters[number]);
            for node in &own {
                of[*node as usize] = to;
            }
            clusters[to as usize].extend(own);
        }
    }

    /// Springs between clusters: one for each pair that a spring along the cloth joins. It is as long
    /// as half of each of the two, measured in the direction of the springs between them.
    fn springs_between(&self, of: &[u32], by: i32, neighbours: &Neighbours) -> Vec<Spring> {
        // Between two clusters: how many springs, how long together, and how far they run in each of
        // the two, in springs that go the same way.
        let mut between: BTreeMap<(u32, u32), (f64, f64)> = BTreeMap::new();
        for spring in self.springs.iter().filter(|spring| spring.along) {
            let (a, b) = (of[spring.a as usize], of[spring.b as usize]);
            if a == b {
                continue;
            }
            let depth = self.depth(spring.a, spring.b, of, by, neighbours)
                + self.depth(spring.b, spring.a, of, by, neighbours);
            let entry = between.entry((a.min(b), a.max(b))).or_default();
            entry.0 += 1.0;
            entry.1 += spring.rest_mm + depth;
        }
        let along = between.into_iter().map(|((a, b), (count, length))| {
            // As many side by side as one cell has along its side are as stiff as one; a corner holds less.
            let tension = if self.cloth.even { 1.0 } else { count / f64::from(by) };
            let compression = self.cloth.pushed * tension;
            Spring { a, b, rest_mm: length / count, tension, compression, along: true }
        });
        let mut springs: Vec<Spring> = along.collect();
        let count = of.iter().max().map_or(0, |last| *last as usize + 1);
        across(&mut springs, count, self.cloth.leaning);
        springs
    }

    /// Half of how far a cluster goes on behind `node`, seen from `from`, a neighbour in another.
    fn depth(&self, node: u32, from: u32, of: &[u32], by: i32, neighbours: &Neighbours) -> f64 {
        let (mut here, mut before, mut far) = (node, from, 0.0);
        for _ in 1..by {
            // Up, down or along: a stitch moved to the next needle still goes up.
            let step = |(a, b): (u32, u32)| {
                (self.cells[b as usize].row - self.cells[a as usize].row).signum()
            };
            let way = step((before, here));
            let next = neighbours[here as usize].iter().find(|(other, _)| {
                *other != before
                    && of[*other as usize] == of[node as usize]
                    && step((here, *other)) == way
            });
            let Some((other, spring)) = next else { break };
            far += self.springs[*spring as usize].rest_mm;
            (before, here) = (here, *other);
        }
        far / 2.0
    }

    /// Triangles whose corners lie in three clusters.
    fn faces_between(&self, of: &[u32]) -> Vec<[u32; 3]> {
        cloth_alone(self.faces.iter().map(|face| face.map(|node| of[node as usize])))
    }
}

/// Triangles of three nodes, none of them twice. Three nodes that meet at two places do so once this way round and
/// once the other: between them lies no cloth.
pub(super) fn cloth_alone(faces: impl Iterator<Item = [u32; 3]>) -> Vec<[u32; 3]> {
    let mut place: BTreeMap<[u32; 3], usize> = BTreeMap::new();
    let mut met: Vec<([u32; 3], i32)> = Vec::new();
    for [a, b, c] in faces.filter(|[a, b, c]| a != b && b != c && c != a) {
        let least = a.min(b).min(c);
        let [a, b, c] = match least {
            _ if least == a => [a, b, c],
            _ if least == b => [b, c, a],
            _ => [c, a, b],
        };
        let (sorted, way) = if b < c { ([a, b, c], 1) } else { ([a, c, b], -1) };
        let at = *place.entry(sorted).or_insert(met.len());
        match met.get_mut(at) {
            Some((_, sum)) => *sum += way,
            None => met.push((sorted, way)),
        }
    }
    met.into_iter()
        .filter(|(_, sum)| *sum != 0)
        .map(|([a, b, c], sum)| if sum > 0 { [a, b, c] } else { [a, c, b] })
        .collect()
}

/// Numbers without a gap, in the order of the nodes.
fn numbered_anew(of: &mut [u32]) {
    let mut number = vec![u32::MAX; of.iter().max().map_or(0, |most| *most as usize + 1)];
    let mut next = 0;
    for own in of {
        let number = &mut number[*own as usize];
        if *number == u32::MAX {
            *number = next;
            next += 1;
        }
        *own = *number;
    }
}

/// An open edge by clusters, none twice in a row.
fn round_of(rim: &[u32], of: &[u32]) -> Vec<u32> {
    let mut own: Vec<u32> = rim.iter().map(|node| of[*node as usize]).collect();
    own.dedup();
    while own.len() > 1 && own.first() == own.last() {
        own.pop();
    }
    own
}

/// Adds springs across: between nodes that are not neighbours and have two neighbours in common, as
/// long as the diagonal between them.
fn across(springs: &mut Vec<Spring>, nodes: usize, leaning: (f64, f64)) {
    let mut neighbours: Vec<Vec<(u32, f64)>> = vec![Vec::new(); nodes];
    for spring in springs.iter() {
        neighbours[spring.a as usize].push((spring.b, spring.rest_mm));
        neighbours[spring.b as usize].push((spring.a, spring.rest_mm));
    }
    let mut diagonals: BTreeMap<(u32, u32), Vec<f64>> = BTreeMap::new();
    for own in &neighbours {
        for (n, (a, to_a)) in own.iter().enumerate() {
            for (b, to_b) in &own[n + 1..] {
                let close = neighbours[*a as usize].iter().any(|(other, _)| other == b);
                if !close && a != b {
                    let length = (to_a * to_a + to_b * to_b).sqrt();
                    diagonals.entry(((*a).min(*b), (*a).max(*b))).or_default().push(length);
                }
            }
        }
    }
    for ((a, b), lengths) in diagonals {
        // Two ways round a mesh; nodes two apart in one line have but one between them.
        if lengths.len() == 2 {
            let rest_mm = lengths.iter().sum::<f64>() / 2.0;
            springs.push(Spring {
                a,
                b,
                rest_mm,
                tension: leaning.0,
                compression: leaning.1,
                along: false,
            });
        }
    }
}

/// Lines of three along rows and wales.
fn bends(cells: &[Cell], springs: &[Spring], stiffness: f64) -> Vec<Bend> {
    let mut neighbours: Vec<Vec<u32>> = vec![Vec::new(); cells.len()];
    for spring in springs.iter().filter(|spring| spring.along) {
        neighbours[spring.a as usize].push(spring.b);
        neighbours[spring.b as usize].push(spring.a);
    }
    let mut bends = Vec::new();
    for (middle, own) in neighbours.iter().enumerate() {
        let here = cells[middle];
        let way = |node: u32| {
            let there = cells[node as usize];
            (there.piece == here.piece && there.layer == here.layer)
                .then_some((there.row - here.row, there.wale - here.wale))
        };
        for (n, a) in own.iter().enumerate() {
            for b in &own[n + 1..] {
                let (Some(to_a), Some(to_b)) = (way(*a), way(*b)) else { continue };
                if to_a.0 == -to_b.0 && to_a.1 == -to_b.1 {
                    bends.push(Bend { nodes: [*a, middle as u32, *b], stiffness });
                }
            }
        }
    }
    bends
}
