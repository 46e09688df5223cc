use super::Point;

/// What cloth lies on: a body or a part of one, a plate to block on. Cloth stays outside of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Form {
    /// Simple solids, all together.
    pub solids: Vec<Solid>,
}

/// Half the thickness of a plate to block on, in millimetres.
pub(super) const PLATE_HALF: f64 = 15.0;

/// A simple solid, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Solid {
    /// A ball drawn out along three axes, which stand upright.
    Ball {
        /// Its middle.
        middle: Point,
        /// From the middle to its surface, along each axis.
        radii: Point,
    },
    /// Round along a line, thicker or thinner towards its end: an arm, a finger, a leg.
    Limb {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// Its radius where it begins and where it ends.
        radii: (f64, f64),
        /// How much narrower it is towards whoever looks than across: 1 where it is round.
        flat: f64,
    },
    /// A round plate with a rounded rim, upright axis.
    Plate {
        /// Its middle.
        middle: Point,
        /// Its radius.
        radius: f64,
        /// Half its thickness.
        half: f64,
    },
}

impl Form {
    /// Where a point that lies inside belongs: on the surface. `None` for one that lies outside.
    pub fn outside(&self, point: Point) -> Option<Point> {
        Form::out_of(self.solids.iter(), point, 0.0)
    }

    /// Out of the one of some solids that a point lies deepest in, to so far above its surface.
    pub(super) fn out_of<'a>(
        solids: impl Iterator<Item = &'a Solid>,
        point: Point,
        above: f64,
    ) -> Option<Point> {
        let mut deepest: Option<(f64, Point)> = None;
        for solid in solids {
            let (depth, out) = solid.depth(point);
            let depth = depth + above;
            if depth > 0.0 && deepest.is_none_or(|(most, _)| depth > most) {
                deepest = Some((depth, point + out * depth));
            }
        }
        deepest.map(|(_, there)| there)
    }
}

impl Form {
    /// How deep a point lies inside (below 0: outside), and the way out there.
    pub(super) fn nearest(&self, point: Point) -> (f64, Point) {
        let all = self.solids.iter().map(|solid| solid.depth(point));
        all.reduce(|one, other| if other.0 > one.0 { other } else { one })
            .unwrap_or((f64::NEG_INFINITY, Point::default()))
    }

    /// The same for the other of a pair: left for right.
    pub(super) fn mirrored(&self) -> Form {
        self.each_point(|point| Point::new(-point.x, point.y, point.z))
    }

    /// The same somewhere else.
    pub(super) fn moved(&self, by: Point) -> Form {
        self.each_point(|point| point + by)
    }

    fn each_point(&self, there: impl Fn(Point) -> Point) -> Form {
        let solids = self.solids.iter().map(|solid| match *solid {
            Solid::Ball { middle, radii } => Solid::Ball { middle: there(middle), radii },
            Solid::Limb { from, to, radii, flat } => {
                Solid::Limb { from: there(from), to: there(to), radii, flat }
            }
            Solid::Plate { middle, radius, half } => {
                Solid::Plate { middle: there(middle), radius, half }
            }
        });
        Form { solids: solids.collect() }
    }

    /// The same, each solid drawn in towards its own middle: 1 leaves it as it is.
    pub(super) fn shrunk(&self, to: f64) -> Form {
        let solids = self.solids.iter().map(|solid| match *solid {
            Solid::Ball { middle, radii } => Solid::Ball { middle, radii: radii * to },
            Solid::Limb { from, to: end, radii, flat } => {
                Solid::Limb { from, to: end, radii: (radii.0 * to, radii.1 * to), flat }
            }
            Solid::Plate { middle, radius, half } => {
                Solid::Plate { middle, radius: (radius * to).max(half), half }
            }
        });
        Form { solids: solids.collect() }
    }
}

impl Solid {
    /// The corners of a box that it lies in.
    pub(super) fn reach(&self) -> (Point, Point) {
        match *self {
            Solid::Ball { middle, radii } => (middle - radii, middle + radii),
            Solid::Limb { from, to, radii, flat } => {
                let radius = f64::max(radii.0, radii.1);
                let out = Point::new(radius, radius, radius * f64::max(flat, 1.0));
                (from.least(to) - out, from.most(to) + out)
            }
            Solid::Plate { middle, radius, half } => {
                let out = Point::new(radius, half, radius);
                (middle - out, middle + out)
            }
        }
    }

    /// How deep a point lies inside (below 0: outside), and the way out.
    pub(super) fn depth(&self, point: Point) -> (f64, Point) {
        match self {
            Solid::Ball { middle, radii } => {
                let from = point - *middle;
                let scaled = Point::new(from.x / radii.x, from.y / radii.y, from.z / radii.z);
                let steep = Point::new(scaled.x / radii.x, scaled.y / radii.y, scaled.z / radii.z);
                let (far, slope) = (scaled.length(), steep.length());
                if slope <= 0.0 {
                    return (radii.x.min(radii.y).min(radii.z), Point::new(0.0, 1.0, 0.0));
                }
                (far * (1.0 - far) / slope, steep.unit())
            }
            Solid::Limb { from, to, radii, flat } => {
                let axis = *to - *from;
                let along = (point - *from).dot(axis) / axis.dot(axis).max(1e-9);
                let along = along.clamp(0.0, 1.0);
                let off = point - (*from + axis * along);
                let radius = radii.0 + (radii.1 - radii.0) * along;
                let off = Point::new(off.x, off.y, off.z / flat);
                let far = off.length();
                if far <= 0.0 {
                    return (radius, Point::new(1.0, 0.0, 0.0));
                }
                // How fast the distance grows across: where it is flattened, faster than the way is long.
                let steep = Point::new(off.x, off.y, off.z / flat);
                ((radius - far) * far / steep.length(), steep.unit())
            }
            Solid::Plate { middle, radius, half } => {
                let from = point - *middle;
                let wide = (from.x * from.x + from.z * from.z).sqrt();
                // From the ring in the middle of its rim, or from its face.
                let over = (wide - (radius - half)).max(0.0);
                let far = (over * over + from.y * from.y).sqrt();
                let across = if wide > 0.0 { over / wide } else { 0.0 };
                let out = Point::new(from.x * across, from.y, from.z * across).unit();
                let out = if far > 0.0 { out } else { Point::new(0.0, 1.0, 0.0) };
                (half - far, out)
            }
        }
    }
}
