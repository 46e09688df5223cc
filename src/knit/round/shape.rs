//! A garment in the round: each part that hangs together, at rest.

use super::{Form, Net, Point, Setting, StitchSize, settle};
use crate::graph::{Graph, Surface};
use crate::program::Structure;

/// How many points stand for the loops.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// Few, for a first picture: a point for a cell of some rows and needles.
    Coarse,
    /// A point a loop.
    Full,
}

/// How a garment lies while it is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pose {
    /// On the part of the body that it is for; on nothing where there is none.
    Worn,
    /// On a plate, where it is blocked on one.
    Blocked,
    /// On nothing.
    Off,
}

/// A garment at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// What hangs together; the two of a pair are two.
    pub parts: Vec<ShapePart>,
}

/// Cloth that hangs together, at rest. Lengths in millimetres, y upwards, whoever looks stands on the
/// side of larger z.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapePart {
    /// By point, where it is.
    pub at: Vec<Point>,
    /// By point, the loop that it stands for: an index into [`Graph::loops`].
    pub loops: Vec<u32>,
    /// Triangles of points, wound anticlockwise as seen from the outside.
    pub faces: Vec<[u32; 3]>,
    /// By point, how much longer the cloth round it is than at rest, as a share: below 0 it is pushed
    /// together.
    pub stretch: Vec<f32>,
    /// What it lies on.
    pub form: Option<Form>,
}

impl Shape {
    /// The garment of a graph, its stitches as large as `size` says, on `form`.
    pub fn of(
        graph: &Graph,
        size: impl Fn(Structure) -> StitchSize,
        form: Option<&Form>,
        detail: Detail,
    ) -> Shape {
        let surface = Surface::of(graph);
        let parts = (0..surface.components)
            .map(|part| {
                let (net, loops) = Net::of(graph, &surface, part, &size);
                ShapePart::of(&net, &loops, form, detail)
            })
            .collect();
        Shape { parts }
    }
}

/// Rows and needles to a cell of a coarse shape.
const CELL: i32 = 3;

impl ShapePart {
    fn of(net: &Net, loops: &[u32], form: Option<&Form>, detail: Detail) -> ShapePart {
        if detail == Detail::Coarse {
            let coarse = net.coarser(CELL);
            let mut of_cell = vec![u32::MAX; coarse.net.len()];
            for (node, cell) in coarse.of.iter().enumerate() {
                let own = &mut of_cell[*cell as usize];
                *own = (*own).min(loops[node]);
            }
            return ShapePart::of(&coarse.net, &of_cell, form, Detail::Full);
        }
        let setting = Setting { form, pressure: 0.03 / net.radius_mm(), ..Setting::default() };
        let at = settle(net, &setting).at;
        let stretch = stretch(net, &at);
        let faces = net.faces.clone();
        ShapePart { at, loops: loops.to_vec(), faces, stretch, form: form.cloned() }
    }
}

/// By point, the mean of its springs along the cloth.
fn stretch(net: &Net, at: &[Point]) -> Vec<f32> {
    let mut sums = vec![(0.0, 0.0); net.len()];
    for spring in net.springs.iter().filter(|spring| spring.along) {
        let now = (at[spring.a as usize] - at[spring.b as usize]).length();
        for node in [spring.a, spring.b] {
            let (is, rest) = &mut sums[node as usize];
            *is += now;
            *rest += spring.rest_mm;
        }
    }
    sums.iter().map(|(is, rest): &(f64, f64)| (is / rest.max(1e-9) - 1.0) as f32).collect()
}
