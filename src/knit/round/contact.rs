//! A form as cloth meets it, over and over: each solid in a box, so that most are passed over by a glance.

use super::{Form, Point, Solid};

/// The solids of a form and the boxes that they lie in.
pub(super) struct Contact(Vec<Boxed>);

struct Boxed {
    solid: Solid,
    low: Point,
    high: Point,
}

impl Contact {
    /// Of a form.
    pub fn of(form: &Form) -> Contact {
        let boxed = |solid: &Solid| {
            let (low, high) = solid.reach();
            Boxed { solid: *solid, low, high }
        };
        Contact(form.solids.iter().map(boxed).collect())
    }

    /// As [`Form::outside`], to so far above the surface.
    pub fn outside(&self, point: Point, above: f64) -> Option<Point> {
        let near = self.0.iter().filter(|boxed| boxed.holds(point, above));
        Form::out_of(near.map(|boxed| &boxed.solid), point, above)
    }
}

impl Boxed {
    fn holds(&self, p: Point, above: f64) -> bool {
        let more = Point::new(above, above, above);
        let (low, high) = (self.low - more, self.high + more);
        low.x <= p.x
            && p.x <= high.x
            && low.y <= p.y
            && p.y <= high.y
            && low.z <= p.z
            && p.z <= high.z
    }
}
