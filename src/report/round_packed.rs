//! A garment in the round, packed for a page that turns it. The layout stands in this floor's README.

use crate::drawing::InRound;
use crate::round_mesh::Mesh;
use knit::round::{Point, ShapePart};

/// Where on the yarn a point of the cloth lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YarnPlace {
    /// Index into [`Run::sections`](knit::run::Run::sections).
    pub section: u16,
    /// How far along the section's yarn, in mm.
    pub mm: f64,
}

/// A packed garment begins with this; the last sign is the layout's version.
const MAGIC: &[u8; 4] = b"RND1";
/// Steps along the longest side of a garment: 12 bits.
const STEPS: f64 = 4095.0;

/// Packs one size. `places` tells by part and point where on the yarn it lies, `used_mm` by section how
/// much yarn it takes.
pub fn round_packed(size: &InRound<'_>, places: &[Vec<YarnPlace>], used_mm: &[f64]) -> Vec<u8> {
    let parts: Vec<(&ShapePart, Mesh, Mesh)> = (size.shape.parts.iter())
        .map(|part| {
            let form = part.form.as_ref().map(Mesh::of_form).unwrap_or_default();
            (part, Mesh::of_cloth(part), form)
        })
        .collect();
    let grid =
        Steps::over(parts.iter().flat_map(|(_, cloth, form)| cloth.at.iter().chain(&form.at)));
    let mut out = Packed(MAGIC.to_vec());
    out.number(size.palette.colours.len() as u64);
    out.number(used_mm.len() as u64);
    out.number(parts.len() as u64);
    for part in [grid.step_mm, grid.low.x, grid.low.y, grid.low.z] {
        out.0.extend((part as f32).to_le_bytes());
    }
    for colour in &size.palette.colours {
        out.0.extend([colour.shade.red, colour.shade.green, colour.shade.blue]);
    }
    used_mm.iter().for_each(|mm| out.0.extend((*mm as f32).to_le_bytes()));
    for (nth, (part, cloth, form)) in parts.iter().enumerate() {
        out.mesh(cloth, &grid);
        let none = || (0..cloth.at.len()).map(|_| None);
        match size.paints.get(nth) {
            Some(own) => out.marks(own.iter().copied()),
            None => out.marks(none()),
        }
        match places.get(nth) {
            Some(own) => {
                out.marks(own.iter().map(|place| Some(place.section)));
                out.differences(own.iter().map(|place| place.mm.round() as i64));
            }
            None => {
                out.marks(none());
                out.differences(cloth.at.iter().map(|_| 0));
            }
        }
        let percent = |share: &f32| (share * 100.0).round().clamp(-127.0, 127.0) as i8;
        out.0.extend(part.stretch.iter().map(|share| percent(share) as u8));
        out.mesh(form, &grid);
    }
    out.0
}

/// Places as whole steps from the lowest corner.
struct Steps {
    low: Point,
    step_mm: f64,
}

impl Steps {
    fn over<'p>(points: impl Iterator<Item = &'p Point>) -> Steps {
        let mut points = points.peekable();
        let first = points.peek().copied().copied().unwrap_or_default();
        let (mut low, mut high) = (first, first);
        for point in points {
            let least = |of: fn(f64, f64) -> f64, a: Point| {
                Point::new(of(a.x, point.x), of(a.y, point.y), of(a.z, point.z))
            };
            low = least(f64::min, low);
            high = least(f64::max, high);
        }
        let size = high - low;
        let longest = size.x.max(size.y).max(size.z);
        // What is sent is a narrower number: the steps are counted in it.
        let narrow = |number: f64| f64::from(number as f32);
        let low = Point::new(narrow(low.x), narrow(low.y), narrow(low.z));
        Steps { low, step_mm: narrow((longest / STEPS).max(1e-6)) }
    }

    fn of(&self, point: &Point) -> [i64; 3] {
        let from = *point - self.low;
        [from.x, from.y, from.z].map(|mm| (mm / self.step_mm).round() as i64)
    }
}

struct Packed(Vec<u8>);

impl Packed {
    /// Seven bits a byte, the lowest first; the highest bit says that more follow.
    fn number(&mut self, mut number: u64) {
        while number >= 0x80 {
            self.0.push((number & 0x7f) as u8 | 0x80);
            number >>= 7;
        }
        self.0.push(number as u8);
    }

    /// 0, -1, 1, -2, ... as 0, 1, 2, 3, ...
    fn signed(&mut self, number: i64) {
        self.number(((number << 1) ^ (number >> 63)) as u64);
    }

    fn differences(&mut self, numbers: impl Iterator<Item = i64>) {
        let mut before = 0;
        for number in numbers {
            self.signed(number - before);
            before = number;
        }
    }

    /// One more than the index, nought for none.
    fn marks(&mut self, marks: impl Iterator<Item = Option<u16>>) {
        marks.for_each(|mark| self.number(mark.map_or(0, |mark| u64::from(mark) + 1)));
    }

    fn mesh(&mut self, mesh: &Mesh, steps: &Steps) {
        self.number(mesh.at.len() as u64);
        self.number(mesh.faces.len() as u64);
        let at: Vec<[i64; 3]> = mesh.at.iter().map(|point| steps.of(point)).collect();
        for axis in 0..3 {
            self.differences(at.iter().map(|place| place[axis]));
        }
        // From the same corner of the face two before: along a row the differences are the same.
        for (n, face) in mesh.faces.iter().enumerate() {
            let before = n.checked_sub(2).map_or([0; 3], |n| mesh.faces[n]);
            for (corner, own) in face.iter().enumerate() {
                self.signed(i64::from(*own) - i64::from(before[corner]));
            }
        }
    }
}
