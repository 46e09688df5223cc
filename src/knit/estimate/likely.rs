use super::NORMAL_95;

/// A middle and the ends of its 95 % interval, in the unit of the figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Likely {
    /// As likely to be passed as not.
    pub middle: f64,
    /// Passed downwards by 2.5 %.
    pub low: f64,
    /// Passed upwards by 2.5 %.
    pub high: f64,
}

impl Likely {
    /// A normal figure: as far up as down.
    pub fn normal(mean: f64, sd: f64) -> Likely {
        let half = NORMAL_95 * sd;
        Likely { middle: mean, low: mean - half, high: mean + half }
    }

    /// A figure whose logarithm is normal, with that spread of the logarithm.
    pub fn log_normal(median: f64, log_sd: f64) -> Likely {
        let factor = (NORMAL_95 * log_sd).exp();
        Likely { middle: median, low: median / factor, high: median * factor }
    }

    /// Half of what lies between the ends: what stands behind "±".
    pub fn half_width(self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// Whether `value` lies within.
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}
