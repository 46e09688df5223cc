use statrs::function::erf::erfc_inv;

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

    /// How dense the chances lie about `grams`.
    fn density(&self, grams: f64) -> f64 {
        let knitted = grams - self.fixed;
        if knitted <= 0.0 || self.median <= 0.0 || self.log_sd <= 0.0 {
            return 0.0;
        }
        let z = (knitted / self.median).ln() / self.log_sd;
        (-0.5 * z * z).exp() / ((2.0 * std::f64::consts::PI).sqrt() * self.log_sd * knitted)
    }
}

/// The chance that it is more than `grams`, over all ways.
pub(super) fn beyond(ways: &[Way], grams: f64) -> f64 {
    ways.iter().map(|way| way.weight * way.beyond(grams)).sum()
}

/// The mass that is passed with that chance, kept within 0.000001 and 0.999999.
pub(super) fn passed_with(ways: &[Way], chance: f64) -> f64 {
    let chance = chance.clamp(1e-6, 1.0 - 1e-6);
    let above = std::f64::consts::SQRT_2 * erfc_inv(2.0 * chance);
    let alone = |way: &Way| way.fixed + way.median * (above * way.log_sd).exp();
    // It lies between what the ways say alone.
    let (mut least, mut most, mut between) = (f64::INFINITY, 0f64, 0.0);
    for way in ways {
        let grams = alone(way);
        (least, most) = (least.min(grams), most.max(grams));
        between += way.weight * grams;
    }
    let (mut low, mut high) = (least.min(most) * (1.0 - 1e-9), most * (1.0 + 1e-9));
    for _ in 0..100 {
        if high - low <= 1e-8 * high {
            break;
        }
        if !(low < between && between < high) {
            between = (low + high) / 2.0;
        }
        let over = beyond(ways, between) - chance;
        if over.abs() < 1e-12 {
            return between;
        }
        if over > 0.0 {
            low = between;
        } else {
            high = between;
        }
        // Along the tangent (Newton's rule), as long as it leads to somewhere between.
        let step = over / density(ways, between);
        if step.abs() <= 1e-9 * between {
            return between + step;
        }
        between += step;
    }
    (low + high) / 2.0
}

/// How dense the chances lie about `grams`, over all ways.
fn density(ways: &[Way], grams: f64) -> f64 {
    ways.iter().map(|way| way.weight * way.density(grams)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Percentage points of the standard normal to six digits (any table of them).
    #[test]
    fn one_way_alone_has_the_quantiles_of_the_normal_table() {
        let way = Way { weight: 1.0, fixed: 0.0, median: 1.0, log_sd: 0.1 };
        for (p, z) in [(0.975, 1.959_964), (0.95, 1.644_854), (0.99, 2.326_348), (0.999, 3.090_232)]
        {
            assert!((passed_with(&[way], 1.0 - p).ln() / 0.1 - z).abs() < 1e-6, "{p}");
            assert!((passed_with(&[way], p).ln() / 0.1 + z).abs() < 1e-6, "{p}");
        }
        let exact = Way { log_sd: 0.0, fixed: 2.0, ..way };
        assert!((passed_with(&[exact], 0.1) - 3.0).abs() < 1e-7);
        let nothing = Way { median: 0.0, fixed: 0.0, ..way };
        assert_eq!(passed_with(&[nothing], 0.5), 0.0);
    }

    /// By small steps; the tangent that `passed_with` goes along rests on it.
    #[test]
    fn the_density_is_the_slope_of_the_chance() {
        let way = Way { weight: 0.25, fixed: 1.0, median: 20.0, log_sd: 0.1 };
        let ways = [way, Way { weight: 0.75, fixed: 0.5, median: 25.0, log_sd: 0.2 }];
        for grams in [15.0, 20.0, 24.0, 33.0] {
            let slope = (beyond(&ways, grams - 1e-4) - beyond(&ways, grams + 1e-4)) / 2e-4;
            let times = density(&ways, grams) / slope;
            assert!((times - 1.0).abs() < 1e-6, "at {grams}: {times}");
        }
        // What is certain has no slope, nor what is less than the part that is fixed.
        for certain in [Way { log_sd: 0.0, ..way }, Way { median: 0.0, ..way }] {
            assert_eq!(density(&[certain], 21.0), 0.0);
        }
        assert_eq!([density(&[way], 1.0), density(&[way], 0.5)], [0.0, 0.0]);
    }

    #[test]
    fn what_is_certain_is_passed_or_not() {
        let exact = Way { weight: 1.0, fixed: 2.0, median: 1.0, log_sd: 0.0 };
        assert_eq!([2.9, 3.0, 3.1].map(|grams| beyond(&[exact], grams)), [1.0, 0.0, 0.0]);
        let fixed_alone = Way { median: 0.0, ..exact };
        assert_eq!([1.9, 2.0, 2.1].map(|grams| beyond(&[fixed_alone], grams)), [1.0, 0.0, 0.0]);
        // Something is knitted besides: it is more than what is fixed.
        assert_eq!(beyond(&[Way { log_sd: 0.3, ..exact }], 2.0), 1.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn what_is_passed_with_a_chance_is_passed_with_that_chance(
            ways in proptest::collection::vec((0.01..1.0f64, 0.0..3.0f64, 5.0..60.0f64, 0.01..0.3f64), 1..9),
            chance in 0.001..0.999f64,
        ) {
            let sum: f64 = ways.iter().map(|w| w.0).sum();
            let ways: Vec<Way> = ways
                .into_iter()
                .map(|(w, fixed, median, log_sd)| Way { weight: w / sum, fixed, median, log_sd })
                .collect();
            let grams = passed_with(&ways, chance);
            prop_assert!((beyond(&ways, grams) - chance).abs() < 1e-6, "{grams}");
        }
    }
}
