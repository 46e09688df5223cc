//! The surface of a form, to be drawn lightly below the cloth.

use super::{Form, Point, Solid};

/// The surface of a form in triangles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FormMesh {
    /// Its points, in millimetres.
    pub at: Vec<Point>,
    /// Triangles of points, wound anticlockwise as seen from the outside.
    pub faces: Vec<[u32; 3]>,
}

/// Steps round a solid, and from one of its ends to the other.
const ROUND: u32 = 24;
const ALONG: u32 = 16;
/// How far inside another solid what is left out lies.
const HIDDEN_MM: f64 = 0.5;

impl Form {
    /// Its surface: of solids that reach into each other, what lies wholly inside another is left out.
    pub fn mesh(&self) -> FormMesh {
        let mut mesh = FormMesh::default();
        for (n, solid) in self.solids.iter().enumerate() {
            let first = mesh.at.len() as u32;
            let own: Vec<Point> = solid.points();
            let hidden: Vec<bool> = own
                .iter()
                .map(|point| {
                    let others = self.solids.iter().enumerate().filter(|(m, _)| *m != n);
                    others.into_iter().any(|(_, other)| other.depth(*point).0 > HIDDEN_MM)
                })
                .collect();
            for row in 0..ALONG {
                for step in 0..ROUND {
                    let point = |row: u32, step: u32| row * ROUND + step % ROUND;
                    let (a, b) = (point(row, step), point(row, step + 1));
                    let (c, d) = (point(row + 1, step + 1), point(row + 1, step));
                    for face in [[a, b, c], [a, c, d]] {
                        if !face.iter().all(|at| hidden[*at as usize]) {
                            mesh.faces.push(face.map(|at| first + at));
                        }
                    }
                }
            }
            mesh.at.extend(own);
        }
        mesh
    }
}

impl Solid {
    /// Rings of points from its lower to its upper end, each anticlockwise as seen from its lower end.
    fn points(&self) -> Vec<Point> {
        let ring = |row: u32, step: u32| {
            let up = f64::from(row) / f64::from(ALONG) * std::f64::consts::PI;
            let round = -f64::from(step) / f64::from(ROUND) * std::f64::consts::TAU;
            (up, round)
        };
        let all = (0..=ALONG).flat_map(|row| (0..ROUND).map(move |step| (row, step)));
        all.map(|(row, step)| {
            let (up, round) = ring(row, step);
            let (out, high) = (up.sin(), -up.cos());
            match *self {
                Solid::Ball { middle, radii } => {
                    let ball = Point::new(out * round.cos(), high, out * round.sin());
                    middle + Point::new(ball.x * radii.x, ball.y * radii.y, ball.z * radii.z)
                }
                Solid::Limb { from, to, radii, flat } => {
                    let axis = (to - from).unit();
                    let aside = Point::new(0.0, 0.0, 1.0);
                    let aside = if axis.z.abs() > 0.9 { Point::new(1.0, 0.0, 0.0) } else { aside };
                    let one = aside.cross(axis).unit();
                    let two = one.cross(axis);
                    let (end, radius) = if high < 0.0 { (from, radii.0) } else { (to, radii.1) };
                    let off = one * (out * round.cos()) + two * (out * round.sin()) + axis * high;
                    end + Point::new(off.x, off.y, off.z * flat) * radius
                }
                Solid::Plate { middle, radius, half } => {
                    let wide = if (up.sin() - 0.5).abs() < 0.5 { radius - half } else { 0.0 };
                    let wide = wide + half * out;
                    let wide = if row == 0 || row == ALONG { 0.0 } else { wide };
                    middle + Point::new(wide * round.cos(), half * high, wide * round.sin())
                }
            }
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;

    /// What triangles hold that are wound anticlockwise as seen from the outside; below 0 where they are inside out.
    fn volume(solid: Solid) -> f64 {
        let mesh = Form { solids: vec![solid] }.mesh();
        let corners = |face: &[u32; 3]| face.map(|n| mesh.at[n as usize]);
        mesh.faces.iter().map(corners).map(|[a, b, c]| a.dot(b.cross(c)) / 6.0).sum()
    }

    #[test]
    fn every_solid_is_the_right_side_out_and_as_large_as_its_form() {
        let radii = Point::new(10.0, 12.0, 8.0);
        let ball = Solid::Ball { middle: Point::new(3.0, -2.0, 5.0), radii };
        let mut solids = vec![("a ball", ball, 4.0 / 3.0 * PI * 10.0 * 12.0 * 8.0)];
        let (first, last, long) = (10.0f64, 8.0f64, 40.0);
        for (name, way, flat) in [
            ("a limb up", Point::new(0.0, 1.0, 0.0), 0.7),
            ("a limb down", Point::new(0.0, -1.0, 0.0), 0.7),
            ("a limb aside", Point::new(-1.0, 0.0, 0.0), 1.0),
            ("a limb to the front", Point::new(0.0, 0.0, 1.0), 1.0),
        ] {
            let (from, to) = (Point::new(1.0, 2.0, 3.0), Point::new(1.0, 2.0, 3.0) + way * long);
            let between = PI * long / 3.0 * (first * first + first * last + last * last);
            let ends = 2.0 / 3.0 * PI * (first.powi(3) + last.powi(3));
            let limb = Solid::Limb { from, to, radii: (first, last), flat };
            solids.push((name, limb, (between + ends) * flat));
        }
        for (name, solid, wanted) in solids {
            let is = volume(solid);
            // Straight between its points, so a little smaller.
            assert!(is > 0.93 * wanted && is < wanted, "{name}: {is} of {wanted}");
        }
        assert!(volume(Solid::Plate { middle: Point::default(), radius: 80.0, half: 4.0 }) > 0.0);
    }
}
