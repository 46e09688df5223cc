//! Will it be enough? The chance that a remnant runs out, and what to have in hand for a chance no
//! greater than one is ready to take.

use super::yarn::{SectionYarn, TWO_SIDED_95, YarnNeed};

/// Grams with their standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grams {
    /// The expected mass, in grams.
    pub mean: f64,
    /// Its standard error, in grams.
    pub sd: f64,
}

impl From<&SectionYarn> for Grams {
    fn from(section: &SectionYarn) -> Grams {
        Grams::of(section.grams, section.grams_high)
    }
}

impl From<&YarnNeed> for Grams {
    fn from(need: &YarnNeed) -> Grams {
        Grams::of(need.grams, need.grams_high)
    }
}

impl Grams {
    /// From a mean and the upper end of its 95 % interval.
    pub fn of(mean: f64, high: f64) -> Grams {
        Grams { mean, sd: (high - mean).max(0.0) / TWO_SIDED_95 }
    }

    /// Weighed on a scale that shows steps of `step` grams: it rounds to the nearest.
    pub fn weighed(grams: f64, step: f64) -> Grams {
        Grams { mean: grams, sd: step / 12f64.sqrt() }
    }

    /// So many times as much, the error too.
    pub fn times(self, factor: f64) -> Grams {
        Grams { mean: self.mean * factor, sd: self.sd * factor }
    }

    /// The chance that `have` is less than this need, 0 to 1: normal errors, independent.
    pub fn chance_short(self, have: Grams) -> f64 {
        let spare = have.mean - self.mean;
        let sd = self.sd.hypot(have.sd);
        if sd <= 0.0 {
            return if spare < 0.0 { 1.0 } else { 0.0 };
        }
        0.5 * libm::erfc(spare / sd / std::f64::consts::SQRT_2)
    }

    /// What to have so that the chance of running out is `risk` (0 to 1, kept within 0.000001 and
    /// 0.999999).
    pub fn to_have(self, risk: f64) -> f64 {
        let risk = risk.clamp(1e-6, 1.0 - 1e-6);
        let (mut low, mut high) = (self.mean - 6.0 * self.sd, self.mean + 6.0 * self.sd);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.chance_short(Grams { mean: middle, sd: 0.0 }) > risk {
                low = middle;
            } else {
                high = middle;
            }
        }
        high.max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Upper tail areas of the standard normal from any printed table: z = 1 0.1587, 1.645 0.0500,
    /// 2 0.0228, 2.576 0.0050.
    #[test]
    fn chances_are_those_of_the_normal_table() {
        let need = Grams { mean: 50.0, sd: 2.0 };
        for (z, tail) in [(0.0, 0.5), (1.0, 0.1587), (1.645, 0.05), (2.0, 0.0228), (2.576, 0.005)] {
            let have = Grams { mean: 50.0 + 2.0 * z, sd: 0.0 };
            assert!((need.chance_short(have) - tail).abs() < 5e-5, "{z}");
            assert!((need.to_have(tail) - have.mean).abs() < 5e-3, "{z}");
        }
        // Quantiles to six digits (any table of percentage points).
        for (p, z) in [(0.975, 1.959_964), (0.95, 1.644_854), (0.99, 2.326_348), (0.999, 3.090_232)]
        {
            let unit = Grams { mean: 50.0, sd: 1.0 };
            assert!((unit.to_have(1.0 - p) - 50.0 - z).abs() < 1e-6, "{p}");
        }
        // Both errors count: 3 and 4 make 5.
        let both = Grams { mean: 50.0, sd: 3.0 }.chance_short(Grams { mean: 55.0, sd: 4.0 });
        assert!((both - 0.1587).abs() < 5e-5);
    }

    #[test]
    fn without_errors_it_is_yes_or_no() {
        let need = Grams { mean: 50.0, sd: 0.0 };
        assert_eq!(need.chance_short(Grams { mean: 49.9, sd: 0.0 }), 1.0);
        assert_eq!(need.chance_short(Grams { mean: 50.0, sd: 0.0 }), 0.0);
        assert!((need.to_have(0.05) - 50.0).abs() < 1e-9);
        assert!((Grams::weighed(20.0, 1.0).sd - 0.288_675).abs() < 1e-6);
    }
}
