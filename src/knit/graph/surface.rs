//! Faces and open edges, traced from the order of neighbours round each loop.

use super::{Graph, Made, Slot};

/// A traced face is cloth while no more rows than this end in it without a neighbour: three turns
/// without a wrap, or the rows between two places of a sparse join. More make a slit.
const MOST_ROW_ENDS: u32 = 6;

/// A mesh of the cloth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Face {
    /// Its loops, once round, clockwise on the purl side of the garment's first loop where it has two sides.
    pub loops: Vec<u32>,
    /// Rows that end in it without a neighbour: slits at turns without a wrap, and wide meshes of joins.
    pub row_ends: u32,
}

/// An open edge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opening {
    /// Its loops, once round; one is met again where the edge passes it again.
    pub loops: Vec<u32>,
    /// Of these: loops that are joined to other cloth on the inside, as those of a doubled band.
    pub inside: u32,
    /// Whether rows end in it and nothing else: no cast-on, no last row.
    pub is_slit: bool,
}

impl Opening {
    /// Whether it is no edge to be seen: nearly all its loops are joined on the inside.
    pub fn is_hidden(&self) -> bool {
        4 * self.inside as usize > 3 * self.loops.len()
    }
}

/// The cloth of a garment as a surface.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Surface {
    /// Loops.
    pub vertices: usize,
    /// Links between them.
    pub edges: usize,
    /// Meshes.
    pub faces: Vec<Face>,
    /// Open edges, the longest first.
    pub openings: Vec<Opening>,
    /// For each loop the number of its component, from 0.
    pub component: Vec<u32>,
    /// Parts of the garment that nothing joins.
    pub components: u32,
    /// Links at which the knit side goes over into the purl side although the cloth was made consistent
    /// everywhere else: a garment with one of them has one side only.
    pub one_sided: u32,
}

/// A half link and whether its loop is seen from the purl side.
type At = (u32, bool);

impl Surface {
    /// Traces the surface of a graph.
    pub fn of(graph: &Graph) -> Surface {
        let (mut component, back, one_sided) = sides(graph);
        join_inside(graph, &mut component);
        let mut walk = Walk::new(graph);
        let mut surface = Surface {
            vertices: graph.loops.len(),
            edges: graph.links.len(),
            faces: Vec::new(),
            openings: Vec::new(),
            components: component.iter().max().map_or(0, |most| most + 1),
            component,
            one_sided,
        };
        // First all faces as they are seen from one side of the garment; of cloth with one side, then those
        // that no loop's own side leads to.
        for other_side in [false, true] {
            for half in 0..2 * graph.links.len() as u32 {
                let seen = back[walk.owner(half) as usize] != other_side;
                if let Some(round) = walk.round((half, seen)) {
                    surface.keep(round, &walk.inside);
                }
            }
        }
        // A loop that nothing is joined to is an edge of its own.
        for at in 0..graph.loops.len() as u32 {
            if graph.halves(at).is_empty() {
                surface.openings.push(Opening { loops: vec![at], inside: 0, is_slit: false });
            }
        }
        surface.openings.sort_by_key(|opening| std::cmp::Reverse(opening.loops.len()));
        surface
    }

    fn keep(&mut self, round: Round, inside: &[bool]) {
        if round.open || round.row_ends > MOST_ROW_ENDS {
            let joined = round.loops.iter().filter(|at| inside[**at as usize]).count() as u32;
            let is_slit = !round.open;
            self.openings.push(Opening { loops: round.loops, inside: joined, is_slit });
        } else {
            self.faces.push(Face { loops: round.loops, row_ends: round.row_ends });
        }
    }

    /// Loops less links plus meshes: 1 for a disc, 0 for a tube, 2 for what is closed all round.
    pub fn euler(&self) -> i64 {
        self.vertices as i64 - self.edges as i64 + self.faces.len() as i64
    }

    /// Meshes in which rows end side by side: turns that nothing was wrapped at, and sparse joins.
    pub fn slits(&self) -> impl Iterator<Item = &Face> {
        self.faces.iter().filter(|face| face.row_ends > 1)
    }

    /// Of each component how many handles it has, as a ring has one: more than were meant tell that an edge
    /// is joined in an order that crosses.
    pub fn handles(&self, graph: &Graph) -> Vec<i64> {
        let mut missing: Vec<i64> = self.eulers(graph).iter().map(|euler| 2 - euler).collect();
        for opening in &self.openings {
            missing[self.component[opening.loops[0] as usize] as usize] -= 1;
        }
        missing.iter().map(|missing| missing / 2).collect()
    }

    /// Openings that no edge of the knitting makes: rows that end side by side amid the needles of a piece, closed
    /// by nothing.
    pub fn holes(&self, graph: &Graph) -> impl Iterator<Item = &Opening> {
        let mut ends: Vec<(i32, i32)> = Vec::new();
        for stitch in &graph.loops {
            let piece = usize::from(stitch.piece);
            ends.resize(ends.len().max(piece + 1), (i32::MAX, i32::MIN));
            let (low, high) = ends[piece];
            ends[piece] = (low.min(stitch.needle.0), high.max(stitch.needle.0));
        }
        let amid = move |at: &u32| {
            let stitch = &graph.loops[*at as usize];
            let (low, high) = ends[usize::from(stitch.piece)];
            low < stitch.needle.0 && stitch.needle.0 < high
        };
        let open = self.openings.iter().filter(|opening| opening.is_slit && !opening.is_hidden());
        open.filter(move |opening| opening.loops.iter().all(&amid))
    }

    /// The Euler characteristic of each component.
    pub fn eulers(&self, graph: &Graph) -> Vec<i64> {
        let mut sums = vec![0i64; self.components as usize];
        for component in &self.component {
            sums[*component as usize] += 1;
        }
        let of = |at: u32| self.component[at as usize] as usize;
        for link in &graph.links {
            sums[of(link.a)] -= 1;
        }
        for face in &self.faces {
            sums[of(face.loops[0])] += 1;
        }
        sums
    }
}

/// What one walk round a face meets.
struct Round {
    loops: Vec<u32>,
    row_ends: u32,
    /// A head or a foot that nothing is joined to lies in it.
    open: bool,
}

struct Walk<'a> {
    graph: &'a Graph,
    /// Place of each half link in `around`.
    place: Vec<u32>,
    /// Half links that a walk has left, as seen from the knit side and from the purl side.
    left: [Vec<bool>; 2],
    /// Loops that are joined to a third sheet.
    inside: Vec<bool>,
}

impl<'a> Walk<'a> {
    fn new(graph: &'a Graph) -> Self {
        let halves = 2 * graph.links.len();
        let mut place = vec![0; halves];
        for (at, half) in graph.around.iter().enumerate() {
            place[*half as usize] = at as u32;
        }
        let mut inside = vec![false; graph.loops.len()];
        for join in &graph.inside {
            inside[join.b as usize] = true;
        }
        Walk { graph, place, left: [vec![false; halves], vec![false; halves]], inside }
    }

    /// The loop that a half link belongs to.
    fn owner(&self, half: u32) -> u32 {
        let link = &self.graph.links[(half / 2) as usize];
        if half.is_multiple_of(2) { link.a } else { link.b }
    }

    /// Once round the face on the right of a half link, if nothing has been there.
    fn round(&mut self, start: At) -> Option<Round> {
        let mut round = Round { loops: Vec::new(), row_ends: 0, open: false };
        let mut at = start;
        loop {
            let (half, back) = at;
            if std::mem::replace(&mut self.left[usize::from(back)][half as usize], true) {
                return (at == start && !round.loops.is_empty()).then_some(round);
            }
            let twin = half ^ 1;
            let turned = self.graph.links[(half / 2) as usize].turned;
            let back = back != turned;
            // The same face walked the other way round.
            self.left[usize::from(!back)][twin as usize] = true;
            let here = self.owner(twin);
            let next = self.corner(here, twin, back, &mut round);
            round.loops.push(here);
            at = (next, back);
            if at == start {
                return Some(round);
            }
        }
    }

    /// From one half link of a loop to the next, and what is missing between them.
    fn corner(&self, here: u32, half: u32, back: bool, round: &mut Round) -> u32 {
        let halves = self.graph.halves(here);
        let first = self.graph.starts[here as usize];
        let (own, all) = (self.place[half as usize] - first, halves.len() as u32);
        let next = halves[((own + if back { all - 1 } else { 1 }) % all) as usize];
        let (from, to, wraps) = if back {
            (next, half, self.place[next as usize] >= self.place[half as usize])
        } else {
            (half, next, self.place[next as usize] <= self.place[half as usize])
        };
        let made = self.graph.loops[here as usize].made;
        for slot in missing(self.slot(from), self.slot(to), wraps) {
            match (slot, made) {
                (_, Made::Wrap | Made::Drawing) => {}
                (Slot::Above, _) => round.open = true,
                (Slot::Below, Made::CastOn) => round.open = true,
                (Slot::Below, _) | (_, Made::PickedUp) => {}
                (Slot::Left | Slot::Right, _) => round.row_ends += 1,
            }
        }
        next
    }

    fn slot(&self, half: u32) -> Slot {
        self.graph.links[(half / 2) as usize].across(half).1
    }
}

/// The slots passed over from one to the next, anticlockwise.
fn missing(from: Slot, to: Slot, wraps: bool) -> impl Iterator<Item = Slot> {
    let (from, mut to) = (from as usize, to as usize);
    if wraps {
        to += 4;
    }
    (from + 1..to.max(from + 1)).map(|slot| Slot::ALL[slot % 4])
}

/// The component of each loop, whether its purl side is where the component's first loop has its knit side,
/// and links that contradict that.
fn sides(graph: &Graph) -> (Vec<u32>, Vec<bool>, u32) {
    let loops = graph.loops.len();
    let mut component = vec![u32::MAX; loops];
    let mut back = vec![false; loops];
    let (mut number, mut one_sided) = (0, 0);
    let mut due = Vec::new();
    for start in 0..loops {
        if component[start] != u32::MAX {
            continue;
        }
        component[start] = number;
        due.push(start as u32);
        while let Some(at) = due.pop() {
            for (link, across, _) in graph.around(at) {
                let turned = back[at as usize] != graph.links[link as usize].turned;
                if component[across as usize] == u32::MAX {
                    component[across as usize] = number;
                    back[across as usize] = turned;
                    due.push(across);
                } else if back[across as usize] != turned {
                    one_sided += 1;
                }
            }
        }
        number += 1;
    }
    // Each was met from both its ends.
    (component, back, one_sided / 2)
}

/// What is joined on the inside alone hangs together too.
fn join_inside(graph: &Graph, component: &mut [u32]) {
    let mut first: Vec<u32> = (0..component.iter().max().map_or(0, |most| most + 1)).collect();
    let root = |first: &[u32], mut at: u32| {
        while first[at as usize] != at {
            at = first[at as usize];
        }
        at
    };
    for join in &graph.inside {
        let (a, b) = (component[join.a as usize], component[join.b as usize]);
        let (a, b) = (root(&first, a), root(&first, b));
        first[a.max(b) as usize] = a.min(b);
    }
    let roots: Vec<u32> = (0..first.len() as u32).map(|at| root(&first, at)).collect();
    let mut number = vec![0; first.len()];
    let mut next = 0;
    for (at, own) in roots.iter().enumerate() {
        if *own == at as u32 {
            number[at] = next;
            next += 1;
        }
    }
    for at in component {
        *at = number[roots[*at as usize] as usize];
    }
}
