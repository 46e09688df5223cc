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
}

/// The chance that it is more than `grams`, over all ways.
pub(super) fn beyond(ways: &[Way], grams: f64) -> f64 {
    ways.iter().map(|way| way.weight * way.beyond(grams)).sum()
}

/// The mass that is passed with that chance, kept within 0.000001 and 0.999999.
pub(super) fn passed_with(ways: &[Way], chance: f64) -> f64 {
    let chance = chance.clamp(1e-6, 1.0 - 1e-6);
    let above = std::f64::consts::SQRT_2 * erfc_inv(2.0 * chance);
    let alone = ways.iter().map(|way| way.fixed + way.median * (above * way.log_sd).exp());
    // It lies between what the ways say alone.
    let (least, most) = alone.fold((f64::INFINITY, 0f64), |(l, m), g| (l.min(g), m.max(g)));
    let (mut low, mut high) = (least.min(most) * (1.0 - 1e-9), most * (1.0 + 1e-9));
    let over = |grams: f64| beyond(ways, grams) - chance;
    let (mut at_low, mut at_high) = (over(low), over(high));
    let mut kept_low = None;
    for _ in 0..100 {
        if high - low <= 1e-8 * high || at_low <= 0.0 || at_high >= 0.0 {
            break;
        }
        // The straight line between both ends; an end that stays twice is halved (the Illinois rule).
        let between = (low * at_high - high * at_low) / (at_high - at_low);
        let at_between = over(between);
        if at_between > 0.0 {
            (low, at_low) = (between, at_between);
            at_high *= if kept_low == Some(false) { 0.5 } else { 1.0 };
            kept_low = Some(false);
        } else {
            (high, at_high) = (between, at_between);
            at_low *= if kept_low == Some(true) { 0.5 } else { 1.0 };
            kept_low = Some(true);
        }
        if at_between.abs() < 1e-12 {
            return between;
        }
    }
    (low + high) / 2.0
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
