use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

/// What a plan is worth, in tenths of a point, so that sums are exact. A tenth is what a decigram
/// of a useless end costs by default.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Points(pub i64);

impl Points {
    /// Nothing gained, nothing lost.
    pub const ZERO: Points = Points(0);

    /// Whole points.
    pub const fn whole(points: i64) -> Points {
        Points(points * 10)
    }

    /// In points, for ratios and charts.
    pub fn as_f64(self) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "instances are kept far below 2^53")]
        let tenths = self.0 as f64;
        tenths / 10.0
    }

    pub(super) const fn times(self, factor: i64) -> Points {
        Points(self.0 * factor)
    }
}

impl fmt::Display for Points {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{}.{}", self.0.unsigned_abs() / 10, self.0.unsigned_abs() % 10)
    }
}

impl Add for Points {
    type Output = Points;
    fn add(self, other: Points) -> Points {
        Points(self.0 + other.0)
    }
}

impl Sub for Points {
    type Output = Points;
    fn sub(self, other: Points) -> Points {
        Points(self.0 - other.0)
    }
}

impl Neg for Points {
    type Output = Points;
    fn neg(self) -> Points {
        Points(-self.0)
    }
}

impl AddAssign for Points {
    fn add_assign(&mut self, other: Points) {
        self.0 += other.0;
    }
}

impl SubAssign for Points {
    fn sub_assign(&mut self, other: Points) {
        self.0 -= other.0;
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Points>>(all: I) -> Points {
        all.fold(Points::ZERO, Add::add)
    }
}
