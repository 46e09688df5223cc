/// One of several ways in which a mass may be spread: `fixed` grams, and `median` more, the logarithm of
/// which is normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    pub(super) weight: f64,
    pub(super) fixed: f64,
    pub(super) median: f64,
    pub(super) log_sd: f64,
}

impl Way {
    /// The chance that it is more than `grams`.
    fn beyond(&self, grams: f64) -> f64 {
        let knitted = grams - self.fixed;
        if knitted <= 0.0 {
            return if self.median > 0.0 || knitted < 0.0 { 1.0 } else { 0.0 };
        }
        if self.median <= 0.0 {
            return 0.0;
        }
        let above = (knitted / self.median).ln();
        if self.log_sd <= 0.0 {
            return if above < 0.0 { 1.0 } else { 0.0 };
        }
        0.5 * libm::erfc(above / self.log_sd / std::f64::consts::SQRT_2)
    }
}

/// The chance that it is more than `grams`, over all ways.
pub(super) fn beyond(ways: &[Way], grams: f64) -> f64 {
    ways.iter().map(|way| way.weight * way.beyond(grams)).sum()
}

/// The mass that is passed with that chance, kept within 0.000001 and 0.999999.
pub(super) fn passed_with(ways: &[Way], chance: f64) -> f64 {
    let chance = chance.clamp(1e-6, 1.0 - 1e-6);
    let most = |way: &Way| way.fixed + way.median * (6.0 * way.log_sd).exp();
    let (mut low, mut high) = (0.0, ways.iter().map(most).fold(0.0, f64::max));
    for _ in 0..80 {
        let middle = (low + high) / 2.0;
        if beyond(ways, middle) > chance {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}
