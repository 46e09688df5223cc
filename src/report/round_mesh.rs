//! Triangles to draw: of cloth, and of what it lies on.

use std::f64::consts::{PI, TAU};

use knit::round::{Form, Point, ShapePart, Solid};

/// A surface of triangles, wound anticlockwise as seen from the outside. Lengths in millimetres.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Where its points are.
    pub at: Vec<Point>,
    /// Triangles of points.
    pub faces: Vec<[u32; 3]>,
}

/// Pieces round a solid, and from pole to pole.
const ROUND: u32 = 28;
const TALL: u32 = 14;

impl Mesh {
    /// The cloth of a part.
    pub fn of_cloth(part: &ShapePart) -> Mesh {
        Mesh { at: part.at.clone(), faces: part.faces.clone() }
    }

    /// What cloth lies on: a closed surface for each solid.
    pub fn of_form(form: &Form) -> Mesh {
        let mut mesh = Mesh::default();
        for solid in &form.solids {
            mesh.add_solid(solid);
        }
        mesh
    }

    fn add_solid(&mut self, solid: &Solid) {
        match solid {
            Solid::Ball { middle, radii } => self.add_rings(TALL, |along, round| {
                let (height, out) = ((along * PI).cos(), (along * PI).sin());
                let (sin, cos) = (round * TAU).sin_cos();
                let off = Point::new(cos * out * radii.x, -height * radii.y, -sin * out * radii.z);
                *middle + off
            }),
            Solid::Limb { from, to, radii, flat } => {
                let limb = Limb::of(*from, *to, *radii, *flat);
                self.add_rings(TALL + 2, |along, round| limb.at(along, round));
            }
            Solid::Plate { middle, radius, half } => self.add_rings(TALL, |along, round| {
                // Half round the rim, between the two faces.
                let (sin, cos) = (round * TAU).sin_cos();
                let turn = ((along * f64::from(TALL) - 1.0) / f64::from(TALL - 2)).clamp(0.0, 1.0);
                let pole = along <= 0.0 || along >= 1.0;
                let wide = if pole { 0.0 } else { radius - half + half * (turn * PI).sin() };
                *middle + Point::new(cos * wide, -(turn * PI).cos() * half, -sin * wide)
            }),
        }
    }

    /// A closed surface between two poles: `at` says where, by the share of the way from the lower pole
    /// to the upper one and by the share of the way round.
    fn add_rings(&mut self, tall: u32, at: impl Fn(f64, f64) -> Point) {
        let first = self.at.len() as u32;
        self.at.push(at(0.0, 0.0));
        for ring in 1..tall {
            let along = f64::from(ring) / f64::from(tall);
            self.at.extend((0..ROUND).map(|n| at(along, f64::from(n) / f64::from(ROUND))));
        }
        let last = self.at.len() as u32;
        self.at.push(at(1.0, 0.0));
        let node = |ring: u32, n: u32| first + 1 + (ring - 1) * ROUND + n % ROUND;
        for n in 0..ROUND {
            self.faces.push([first, node(1, n + 1), node(1, n)]);
            for ring in 1..tall - 1 {
                let (a, b) = (node(ring, n), node(ring, n + 1));
                let (c, d) = (node(ring + 1, n + 1), node(ring + 1, n));
                self.faces.extend([[a, b, c], [a, c, d]]);
            }
            self.faces.push([last, node(tall - 1, n), node(tall - 1, n + 1)]);
        }
    }

    /// By point, straight out of the surface; nought for a point of no triangle.
    pub fn normals(&self) -> Vec<Point> {
        let mut normals = vec![Point::default(); self.at.len()];
        for face in &self.faces {
            let [a, b, c] = face.map(|n| self.at[n as usize]);
            // As long as twice the area: large triangles count for more.
            let out = (b - a).cross(c - a);
            for n in face {
                normals[*n as usize] += out;
            }
        }
        normals.into_iter().map(Point::unit).collect()
    }
}

/// Round along a line, with round ends.
struct Limb {
    from: Point,
    axis: Point,
    across: [Point; 2],
    radii: (f64, f64),
    flat: f64,
}

impl Limb {
    fn of(from: Point, to: Point, radii: (f64, f64), flat: f64) -> Limb {
        let axis = to - from;
        let along = axis.unit();
        // Any direction that the line doesn't follow.
        let other =
            if along.z.abs() < 0.9 { Point::new(0.0, 0.0, 1.0) } else { Point::new(1.0, 0.0, 0.0) };
        let first = along.cross(other).unit();
        Limb { from, axis, across: [first, along.cross(first)], radii, flat }
    }

    /// A quarter of the way is the first end, a quarter the last, the rest the line between.
    fn at(&self, along: f64, round: f64) -> Point {
        let (sin, cos) = (round * TAU).sin_cos();
        let out = self.across[0] * cos + self.across[1] * sin;
        let (place, lean) = match along {
            near if near < 0.25 => (0.0, near / 0.25 - 1.0),
            far if far > 0.75 => (1.0, (far - 0.75) / 0.25),
            middle => ((middle - 0.25) / 0.5, 0.0),
        };
        let (up, wide) = (lean * PI / 2.0).sin_cos();
        let way = self.axis.unit() * up + out * wide;
        let radius = self.radii.0 + (self.radii.1 - self.radii.0) * place;
        let far = Point::new(way.x, way.y, way.z / self.flat).length();
        self.from + self.axis * place + way * (radius / far.max(1e-9))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Positive where the triangles are wound as they should be.
    fn volume(mesh: &Mesh) -> f64 {
        let six = |[a, b, c]: &[u32; 3]| {
            let at = |n: &u32| mesh.at[*n as usize];
            at(a).dot(at(b).cross(at(c)))
        };
        mesh.faces.iter().map(six).sum::<f64>() / 6.0
    }

    fn mesh_of(solid: Solid) -> Mesh {
        Mesh::of_form(&Form { solids: vec![solid] })
    }

    #[test]
    fn solids_are_closed_and_as_large_as_they_say() {
        let middle = Point::new(5.0, -3.0, 2.0);
        let ball = Solid::Ball { middle, radii: Point::new(10.0, 20.0, 30.0) };
        let limb = |to: Point, flat: f64| Solid::Limb { from: middle, to, radii: (8.0, 8.0), flat };
        let up = middle + Point::new(0.0, 50.0, 0.0);
        let round = PI * 64.0 * 50.0 + 4.0 / 3.0 * PI * 512.0;
        let plate = Solid::Plate { middle, radius: 100.0, half: 3.0 };
        let cases = [
            (ball, 4.0 / 3.0 * PI * 6000.0),
            (limb(up, 1.0), round),
            // Flattened from the front to the back, its ends too.
            (limb(up, 0.5), round / 2.0),
            (limb(middle + Point::new(30.0, 40.0, 0.0), 1.0), round),
            (plate, PI * 97.0 * 97.0 * 6.0 + PI * PI * 9.0 * 97.0 + 4.0 / 3.0 * PI * 27.0),
        ];
        for (solid, wanted) in cases {
            let mesh = mesh_of(solid);
            let is = volume(&mesh);
            assert!((is / wanted - 1.0).abs() < 0.06, "{solid:?}: {is} instead of {wanted}");
            let edges = mesh.faces.len() as i64 * 3 / 2;
            assert_eq!(mesh.at.len() as i64 - edges + mesh.faces.len() as i64, 2, "{solid:?}");
        }
    }

    #[test]
    fn no_point_of_a_mesh_lies_far_from_the_solid_it_is_of() {
        let part = knit::body::BodyPart::Hand;
        let mm = |name: &str| match name {
            "hand_girth" => Some(187.0),
            "wrist_girth" => Some(155.0),
            "hand_length" => Some(181.0),
            _ => None,
        };
        let form = Form::of(part, mm).unwrap();
        for solid in &form.solids {
            let alone = Form { solids: vec![*solid] };
            for point in Mesh::of_form(&alone).at {
                let out = alone.outside(point).unwrap_or(point);
                assert!((out - point).length() < 0.5, "{solid:?} {point:?}");
            }
        }
    }
}
