//! Triangles to draw: of cloth, and of what it lies on.

use knit::round::{Form, Point, ShapePart};

/// A surface of triangles, wound anticlockwise as seen from the outside. Lengths in millimetres.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Where its points are.
    pub at: Vec<Point>,
    /// Triangles of points.
    pub faces: Vec<[u32; 3]>,
}

/// How much thinner than it is a form is drawn.
const SKIN_MM: f64 = 2.5;

impl Mesh {
    /// The cloth of a part.
    pub fn of_cloth(part: &ShapePart) -> Mesh {
        Mesh { at: part.at.clone(), faces: part.faces.clone() }
    }

    /// What cloth lies on, without the points that no triangle has, and a skin thinner than it is: between
    /// its points cloth is drawn straight, and nothing shall show through it.
    pub fn of_form(form: &Form) -> Mesh {
        let whole = form.mesh();
        let mut own = vec![None; whole.at.len()];
        let mut mesh = Mesh::default();
        for face in &whole.faces {
            let corners = face.map(|n| {
                *own[n as usize].get_or_insert_with(|| {
                    mesh.at.push(whole.at[n as usize]);
                    mesh.at.len() as u32 - 1
                })
            });
            mesh.faces.push(corners);
        }
        for (at, out) in mesh.normals().into_iter().enumerate() {
            mesh.at[at] -= out * SKIN_MM;
        }
        mesh
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

#[cfg(test)]
mod tests {
    use super::*;
    use knit::round::Solid;

    #[test]
    fn a_ball_looks_outwards_everywhere_and_has_no_point_to_spare() {
        let middle = Point::new(5.0, -3.0, 2.0);
        let radii = Point::new(10.0, 10.0, 10.0);
        // One within another is not seen at all.
        let inner = Solid::Ball { middle, radii: radii * 0.5 };
        let mesh = Mesh::of_form(&Form { solids: vec![Solid::Ball { middle, radii }, inner] });
        let used: std::collections::BTreeSet<u32> = mesh.faces.iter().flatten().copied().collect();
        assert_eq!(used.len(), mesh.at.len());
        for (at, normal) in mesh.at.iter().zip(mesh.normals()) {
            let from = *at - middle;
            // Out of a point goes the mean of its triangles' directions.
            assert!((from.length() - (10.0 - SKIN_MM)).abs() < 0.3, "{at:?}");
            // At a pole each triangle has a point of its own.
            assert!(normal.dot(from.unit()) > 0.9, "{at:?} {normal:?}");
        }
    }
}
