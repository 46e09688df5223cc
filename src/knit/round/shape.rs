//! A garment in the round: each part that hangs together, at rest.

use super::dress::dressed;
use super::settle::{CELL, LARGE};
use super::stance::is_flat;
use super::{Form, Net, Point, Spring, Stance, StitchSize};
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
    /// By point, the same along its row alone.
    pub along_row: Vec<f32>,
    /// By point, the same along its wale alone.
    pub along_wale: Vec<f32>,
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
        let stance = Stance { form: form.cloned(), ..Stance::default() };
        Shape::put_on(graph, size, &stance, detail)
    }

    /// The garment of a graph, put on as a stance says.
    pub fn put_on(
        graph: &Graph,
        size: impl Fn(Structure) -> StitchSize,
        stance: &Stance,
        detail: Detail,
    ) -> Shape {
        let surface = Surface::of(graph);
        let parts = (0..surface.components)
            .map(|part| ShapePart::put_on(graph, &surface, part, &size, stance, detail))
            .collect();
        Shape::beside(parts)
    }

    /// Parts laid beside each other, with what they lie on.
    pub fn beside(mut parts: Vec<ShapePart>) -> Shape {
        let mut right: Option<f64> = None;
        for part in &mut parts {
            let (least, most) = part.reach();
            let by = right.map_or(0.0, |right| right + APART_MM - least);
            right = Some(most + by);
            part.move_by(Point::new(by, 0.0, 0.0));
        }
        Shape { parts }
    }
}

/// Loops up to which a shape is as quick with a point for each: cells would be as wide as a toe.
const SMALL: usize = 2000;
/// How large the cells of a large coarse shape are: a cuff still has a dozen round it.
const WIDE_CELL: i32 = 5;
/// Loops from which a shape is a grown-up's jacket, and how large its cells are: each takes twice as long with those
/// of a child's, and a shoulder comes through.
const HUGE: (usize, i32) = (60_000, 7);

/// Between two parts that lie beside each other.
const APART_MM: f64 = 40.0;

impl ShapePart {
    /// How far to the left and to the right it and what it lies on reach.
    fn reach(&self) -> (f64, f64) {
        let form = self.form.as_ref().map(|form| form.mesh().at).unwrap_or_default();
        self.at.iter().chain(&form).fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), p| {
            (least.min(p.x), most.max(p.x))
        })
    }

    fn move_by(&mut self, by: Point) {
        for point in &mut self.at {
            *point += by;
        }
        self.form = self.form.as_ref().map(|form| form.moved(by));
    }

    /// One part of a garment: those of a pair can be brought to rest beside each other.
    pub fn put_on(
        graph: &Graph,
        surface: &Surface,
        part: u32,
        size: impl Fn(Structure) -> StitchSize,
        stance: &Stance,
        detail: Detail,
    ) -> ShapePart {
        let (mut net, loops) = Net::of(graph, surface, part, size);
        net.button(&stance.buttoned);
        let mirrored = stance.mirrored();
        // Of a pair, one is for the right and one for the left.
        let stance = if part.is_multiple_of(2) { stance } else { &mirrored };
        // What is flat is worn in too many ways: it lies on the table.
        let table = Stance { form: None, ..stance.clone() };
        let stance = if is_flat(&net) { &table } else { stance };
        let tucked = stance.tucked(&net);
        let stance = tucked.as_ref().unwrap_or(stance);
        let by = match detail {
            Detail::Full => 1,
            Detail::Coarse if net.len() < SMALL => 1,
            Detail::Coarse if net.len() > HUGE.0 => HUGE.1,
            Detail::Coarse if net.len() > LARGE => WIDE_CELL,
            Detail::Coarse => CELL,
        };
        let (coarse, at) = dressed(&net, by, stance);
        let Some(coarse) = coarse else {
            return ShapePart::at_rest(net, loops, at, stance);
        };
        let mut of_cell = vec![u32::MAX; coarse.net.len()];
        for (node, cell) in coarse.of.iter().enumerate() {
            let own = &mut of_cell[*cell as usize];
            *own = (*own).min(loops[node]);
        }
        ShapePart::at_rest(coarse.net, of_cell, at, stance)
    }

    fn at_rest(net: Net, loops: Vec<u32>, at: Vec<Point>, stance: &Stance) -> ShapePart {
        let row =
            |spring: &Spring| net.cells[spring.a as usize].row == net.cells[spring.b as usize].row;
        let stretch = stretch(&net, &at, &|_| true);
        let along_row = self::stretch(&net, &at, &row);
        let along_wale = self::stretch(&net, &at, &|spring| !row(spring));
        let form = stance.form.clone();
        ShapePart { at, loops, faces: net.faces, stretch, along_row, along_wale, form }
    }
}

/// By point, the mean of those of its springs along the cloth that count.
fn stretch(net: &Net, at: &[Point], counts: &dyn Fn(&Spring) -> bool) -> Vec<f32> {
    let mut sums = vec![(0.0, 0.0); net.len()];
    for spring in net.springs.iter().filter(|spring| spring.along && counts(spring)) {
        let now = (at[spring.a as usize] - at[spring.b as usize]).length();
        for node in [spring.a, spring.b] {
            let (is, rest) = &mut sums[node as usize];
            *is += now;
            *rest += spring.rest_mm;
        }
    }
    let share = |(is, rest): &(f64, f64)| if *rest > 0.0 { (is / rest - 1.0) as f32 } else { 0.0 };
    sums.iter().map(share).collect()
}
