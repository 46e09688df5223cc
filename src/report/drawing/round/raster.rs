//! What is nearest, place by place: triangles into a grid of small squares.

use knit::round::Point;

use super::eye::Eye;
use crate::round_mesh::Mesh;

/// What is seen in a square.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Seen {
    #[default]
    Nothing,
    /// What the cloth lies on.
    Form,
    Cloth,
}

/// How light a place is, darkest first.
pub(super) const TONES: u8 = 7;

/// A square of the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Square {
    pub seen: Seen,
    /// What a point of the cloth is worth: its paint, or how far it is stretched.
    pub mark: u16,
    /// How light it is, from 0 to [`TONES`] less one.
    pub tone: u8,
}

/// A part as it is seen from a side, on squares.
pub(super) struct Raster {
    pub wide: usize,
    pub high: usize,
    pub squares: Vec<Square>,
    depths: Vec<f64>,
    eye: Eye,
    /// Where the left and upper edges are, as the eye sees them.
    corner: (f64, f64),
    /// Millimetres to a square.
    square_mm: f64,
}

/// Where the light comes from: from the left, above, and behind whoever looks.
const LIGHT: Point = Point::new(-0.42, 0.58, 0.70);
/// Cloth seen from its inside lies in its own shade.
const INSIDE: f64 = 0.72;
/// What cloth lies on stands so far behind its own place: cloth that lies close to it hides it.
const BEHIND_MM: f64 = 6.0;
/// Squares round about, and how much nearer they are in mm, that throw a shade.
const AROUND: isize = 5;
const NEARER_MM: f64 = 5.0;

/// How much of the form is shown round the cloth, as a share of the cloth's longer side, and at least.
const AROUND_CLOTH: f64 = 0.3;
const LEAST_ROOM_MM: f64 = 30.0;

/// Least and most of a view, as the eye sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    pub left: f64,
    pub right: f64,
    pub low: f64,
    pub high: f64,
}

impl Extent {
    pub fn of<'m>(eye: Eye, meshes: impl IntoIterator<Item = &'m Mesh>) -> Extent {
        let none = f64::INFINITY;
        let mut all = Extent { left: none, right: -none, low: none, high: -none };
        for point in meshes.into_iter().flat_map(|mesh| &mesh.at) {
            let seen = eye.sees(*point);
            all.left = all.left.min(seen.x);
            all.right = all.right.max(seen.x);
            all.low = all.low.min(seen.y);
            all.high = all.high.max(seen.y);
        }
        if all.left > all.right {
            Extent { left: 0.0, right: 0.0, low: 0.0, high: 0.0 }
        } else {
            all
        }
    }

    /// With what lies round about of the form: of a leg in a sock no more than the knitter looks for.
    pub fn with_some_of(self, eye: Eye, form: Option<&Mesh>) -> Extent {
        let Some(form) = form else { return self };
        let (wide, high) = self.size();
        let room = (wide.max(high) * AROUND_CLOTH).max(LEAST_ROOM_MM);
        let form = Extent::of(eye, [form]);
        let left = form.left.clamp(self.left - room, self.left);
        let right = form.right.clamp(self.right, self.right + room);
        let low = form.low.clamp(self.low - room, self.low);
        let high = form.high.clamp(self.high, self.high + room);
        Extent { left, right, low, high }
    }

    pub fn size(&self) -> (f64, f64) {
        (self.right - self.left, self.high - self.low)
    }
}

impl Raster {
    /// An empty grid for what lies within `extent`, a square of room on each side.
    pub fn of(eye: Eye, extent: Extent, square_mm: f64) -> Raster {
        let (width, height) = extent.size();
        let squares = |mm: f64| (mm / square_mm).ceil() as usize + 2;
        let (wide, high) = (squares(width), squares(height));
        Raster {
            wide,
            high,
            squares: vec![Square::default(); wide * high],
            depths: vec![f64::NEG_INFINITY; wide * high],
            eye,
            corner: (extent.left - square_mm, extent.high + square_mm),
            square_mm,
        }
    }

    /// Puts a surface on; `marks` by point.
    pub fn put(&mut self, mesh: &Mesh, seen: Seen, marks: &[u16]) {
        let at: Vec<Point> = mesh.at.iter().map(|point| self.on_grid(*point)).collect();
        let normals: Vec<Point> = mesh.normals().into_iter().map(|n| self.eye.sees(n)).collect();
        for face in &mesh.faces {
            let corners = face.map(|n| Corner {
                at: at[n as usize],
                normal: normals[n as usize],
                mark: marks.get(n as usize).copied().unwrap_or_default(),
            });
            self.put_face(&corners, seen);
        }
    }

    /// In squares from the left and from the top; depth stays in mm.
    fn on_grid(&self, point: Point) -> Point {
        let seen = self.eye.sees(point);
        let x = (seen.x - self.corner.0) / self.square_mm;
        let y = (self.corner.1 - seen.y) / self.square_mm;
        Point::new(x, y, seen.z)
    }

    fn put_face(&mut self, corners: &[Corner; 3], seen: Seen) {
        let [a, b, c] = corners.each_ref().map(|corner| corner.at);
        // On the grid y runs downwards: what is wound anticlockwise has an area below nought.
        let area = (b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y);
        if area == 0.0 {
            return;
        }
        let inside = area > 0.0;
        let span = |of: fn(&Point) -> f64, most: usize| {
            let low = of(&a).min(of(&b)).min(of(&c)).floor().max(0.0) as usize;
            let high = of(&a).max(of(&b)).max(of(&c)).ceil().max(0.0) as usize;
            low..high.min(most)
        };
        for row in span(|p| p.y, self.high) {
            for column in span(|p| p.x, self.wide) {
                let (x, y) = (column as f64 + 0.5, row as f64 + 0.5);
                let share =
                    |p: Point, q: Point| ((p.x - x) * (q.y - y) - (q.x - x) * (p.y - y)) / area;
                let shares = [share(b, c), share(c, a), share(a, b)];
                if shares.iter().all(|share| *share >= 0.0) {
                    self.put_square(row * self.wide + column, corners, shares, (seen, inside));
                }
            }
        }
    }

    fn put_square(
        &mut self,
        place: usize,
        corners: &[Corner; 3],
        shares: [f64; 3],
        (seen, inside): (Seen, bool),
    ) {
        let mixed = |of: fn(&Corner) -> Point| {
            let parts = corners.iter().zip(shares).map(|(corner, share)| of(corner) * share);
            parts.fold(Point::default(), |all, part| all + part)
        };
        let behind = if seen == Seen::Form { BEHIND_MM } else { 0.0 };
        let depth = mixed(|corner| corner.at).z - behind;
        if depth <= self.depths[place] {
            return;
        }
        let normal = mixed(|corner| corner.normal).unit() * if inside { -1.0 } else { 1.0 };
        let lit = normal.dot(LIGHT).max(0.0) * if inside { INSIDE } else { 1.0 };
        let nearest = (0..3).fold(0, |best, n| if shares[n] > shares[best] { n } else { best });
        self.depths[place] = depth;
        self.squares[place] = Square {
            seen,
            mark: corners[nearest].mark,
            tone: ((lit * f64::from(TONES)) as u8).min(TONES - 1),
        };
    }

    /// Darkens what lies close behind something nearer, so that one sees what lies before what.
    pub fn shade_folds(&mut self) {
        const WAYS: [(isize, isize); 8] =
            [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)];
        let at = |row: usize, column: usize, way: (isize, isize), far: isize| {
            let there = (row as isize + way.0 * far, column as isize + way.1 * far);
            let (row, column) = (usize::try_from(there.0).ok()?, usize::try_from(there.1).ok()?);
            (row < self.high && column < self.wide).then(|| row * self.wide + column)
        };
        let mut darker = vec![0u8; self.squares.len()];
        for row in 0..self.high {
            for column in 0..self.wide {
                let place = row * self.wide + column;
                if self.squares[place].seen == Seen::Nothing {
                    continue;
                }
                let nearer = |far: isize| {
                    let over = |there: usize| self.depths[there] - self.depths[place] > NEARER_MM;
                    WAYS.iter().any(|way| at(row, column, *way, far).is_some_and(over))
                };
                darker[place] = u8::from(nearer(AROUND)) + u8::from(nearer(AROUND / 2));
            }
        }
        for (square, by) in self.squares.iter_mut().zip(darker) {
            square.tone = square.tone.saturating_sub(by);
        }
    }
}

#[derive(Clone, Copy)]
struct Corner {
    at: Point,
    normal: Point,
    mark: u16,
}
