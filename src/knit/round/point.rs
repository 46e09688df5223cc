use std::ops::{Add, AddAssign, Mul, Sub, SubAssign};

/// A place or a direction, in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Up.
    pub y: f64,
    /// Towards whoever looks.
    pub z: f64,
}

impl Point {
    /// By its three parts.
    pub const fn new(x: f64, y: f64, z: f64) -> Point {
        Point { x, y, z }
    }

    /// The sum of the products of the parts.
    pub fn dot(self, other: Point) -> f64 {
        self.x * other.x + self.y * other.y + self.z * other.z
    }

    /// At right angles to both, as long as the area between them.
    pub fn cross(self, other: Point) -> Point {
        Point {
            x: self.y * other.z - self.z * other.y,
            y: self.z * other.x - self.x * other.z,
            z: self.x * other.y - self.y * other.x,
        }
    }

    /// Part of the way to another.
    #[must_use]
    pub fn lerp(self, other: Point, part: f64) -> Point {
        self + (other - self) * part
    }

    /// By part, the less of two.
    #[must_use]
    pub(super) fn least(self, other: Point) -> Point {
        Point::new(self.x.min(other.x), self.y.min(other.y), self.z.min(other.z))
    }

    /// By part, the more of two.
    #[must_use]
    pub(super) fn most(self, other: Point) -> Point {
        Point::new(self.x.max(other.x), self.y.max(other.y), self.z.max(other.z))
    }

    /// How long it is.
    pub fn length(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// One long in the same direction; nothing stays nothing.
    #[must_use]
    pub fn unit(self) -> Point {
        let length = self.length();
        if length > 0.0 { self * (1.0 / length) } else { self }
    }
}

impl Add for Point {
    type Output = Point;
    fn add(self, other: Point) -> Point {
        Point { x: self.x + other.x, y: self.y + other.y, z: self.z + other.z }
    }
}

impl Sub for Point {
    type Output = Point;
    fn sub(self, other: Point) -> Point {
        Point { x: self.x - other.x, y: self.y - other.y, z: self.z - other.z }
    }
}

impl Mul<f64> for Point {
    type Output = Point;
    fn mul(self, times: f64) -> Point {
        Point { x: self.x * times, y: self.y * times, z: self.z * times }
    }
}

impl AddAssign for Point {
    fn add_assign(&mut self, other: Point) {
        *self = *self + other;
    }
}

impl SubAssign for Point {
    fn sub_assign(&mut self, other: Point) {
        *self = *self - other;
    }
}
