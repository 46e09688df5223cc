//! Where a garment is looked at from.

use knit::round::Point;

/// The side that a garment in the round is looked at from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From the front.
    Front,
    /// From behind.
    Back,
    /// From the side that lies to the left as it is seen from the front.
    Left,
    /// From the other.
    Right,
    /// Straight down.
    Above,
    /// From the front, a little to the right and a little from above.
    ThreeQuarters,
}

impl Side {
    /// All of them, as they are told.
    pub const ALL: [Side; 6] =
        [Side::Front, Side::Back, Side::Left, Side::Right, Side::Above, Side::ThreeQuarters];

    /// As one asks for it.
    pub const fn name(self) -> &'static str {
        match self {
            Side::Front => "front",
            Side::Back => "back",
            Side::Left => "left",
            Side::Right => "right",
            Side::Above => "above",
            Side::ThreeQuarters => "three-quarters",
        }
    }

    /// The side of that name.
    pub fn named(name: &str) -> Option<Side> {
        Side::ALL.into_iter().find(|side| side.name() == name)
    }

    /// Behind "seen".
    pub const fn words(self) -> &'static str {
        match self {
            Side::Front => "from the front",
            Side::Back => "from behind",
            Side::Left => "from the left",
            Side::Right => "from the right",
            Side::Above => "from above",
            Side::ThreeQuarters => "from the front, a little from the right and from above",
        }
    }

    /// Degrees round the garment from the front towards its right, and up.
    const fn degrees(self) -> (f64, f64) {
        match self {
            Side::Front => (0.0, 8.0),
            Side::Back => (180.0, 8.0),
            Side::Left => (-90.0, 8.0),
            Side::Right => (90.0, 8.0),
            Side::Above => (0.0, 90.0),
            Side::ThreeQuarters => (38.0, 24.0),
        }
    }
}

/// Turns places so that whoever looks stands on the side of larger z.
#[derive(Clone, Copy, Debug)]
pub(super) struct Eye {
    right: Point,
    up: Point,
    towards: Point,
}

impl Eye {
    pub fn on(side: Side) -> Eye {
        let (round, up) = side.degrees();
        let (sin, cos) = round.to_radians().sin_cos();
        let (high, level) = up.to_radians().sin_cos();
        Eye {
            right: Point::new(cos, 0.0, -sin),
            up: Point::new(-sin * high, level, -cos * high),
            towards: Point::new(sin * level, high, cos * level),
        }
    }

    pub fn sees(&self, at: Point) -> Point {
        Point::new(at.dot(self.right), at.dot(self.up), at.dot(self.towards))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_side_shows_what_lies_there() {
        let nearest = |side: Side| {
            let named = [
                ("front", Point::new(0.0, 0.0, 1.0)),
                ("back", Point::new(0.0, 0.0, -1.0)),
                ("left", Point::new(-1.0, 0.0, 0.0)),
                ("right", Point::new(1.0, 0.0, 0.0)),
                ("above", Point::new(0.0, 1.0, 0.0)),
            ];
            let far = |at: Point| Eye::on(side).sees(at).z;
            named.into_iter().max_by(|a, b| far(a.1).total_cmp(&far(b.1))).unwrap().0
        };
        for side in &Side::ALL[..5] {
            assert_eq!(nearest(*side), side.name());
            assert_eq!(Side::named(side.name()), Some(*side));
        }
        assert_eq!(nearest(Side::ThreeQuarters), "front");
        assert_eq!(Side::named("below"), None);
    }

    #[test]
    fn nothing_is_mirrored() {
        for side in Side::ALL {
            let eye = Eye::on(side);
            let [x, y, z] = [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]
                .map(|(x, y, z)| eye.sees(Point::new(x, y, z)));
            assert!((x.cross(y).dot(z) - 1.0).abs() < 1e-12, "{side:?}");
        }
    }
}
