use knit::stash::{AimWeights, PlanWeights};
use plan::Points;

/// The knitter's points as the solver's whole tenths. Only the ratios of the weights count: all are held
/// against the largest, so that weights of a thousandth make the same plan as weights of a thousand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Tenths of the solver for a point of the knitter.
    tenths: f64,
}

/// Tenths that the largest weight comes to, at first: that of a gift by default.
const LEAST_RANGE: f64 = 10_000.0;
/// How far off its share a weight may be rounded, where there is room for more digits.
const EXACT: f64 = 1e-4;
/// The largest weight of the solver, in tenths.
const LARGEST: f64 = 1e9;
/// What all that could be gained and lost stays below, in tenths, with a margin to the solver's own limit.
const LARGEST_TOTAL: f64 = (1u64 << 43) as f64;

/// Gifts of one person are fewer than this.
const MOST_ALIKE: usize = 100;

/// How much there is to weigh: what limits the digits of a weight.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    pub gifts: usize,
    pub musts: usize,
    pub remnants: usize,
    /// Joins that a gift may have.
    pub joins: usize,
    /// Decigrams of the largest useless end.
    pub drib_dg: u32,
}

impl Scale {
    /// As few digits as tell every weight from the others, and no more than the solver can add up.
    pub fn of(weights: &PlanWeights, aim: &AimWeights, extent: Extent) -> Scale {
        let all = weights_of(weights, aim);
        let largest = all.iter().copied().fold(0.0, f64::max);
        if largest <= 0.0 {
            return Scale { tenths: 10.0 };
        }
        let shares = all.map(|weight| weight / largest);
        let sharp = |range: f64| {
            shares.iter().all(|share| {
                let exact = share * range;
                (exact.round() - exact).abs() <= EXACT * exact + 1e-9
            })
        };
        let most = most_range(&shares, extent);
        let mut range = LEAST_RANGE;
        while range < most && !sharp(range) {
            range *= 10.0;
        }
        Scale { tenths: range.min(most) / largest }
    }

    /// A weight for the solver. One that is more than nothing never becomes nothing.
    pub fn points(self, weight: f64) -> Points {
        let tenths = (weight * self.tenths * (1.0 + 1e-12)).round() as i64;
        Points(if weight > 0.0 { tenths.max(1) } else { tenths })
    }

    /// The solver's points in those of the knitter.
    pub fn told(self, points: Points) -> f64 {
        points.0 as f64 / self.tenths
    }
}

/// As the solver has them: that of an end is a decigram's.
fn weights_of(weights: &PlanWeights, aim: &AimWeights) -> [f64; 10] {
    let PlanWeights { priority, preference, join, drib, change, travel, alike, .. } = *weights;
    let AimWeights { gram, ball, hour } = *aim;
    [priority, preference, join, drib / 10.0, change, travel, alike, gram / 10.0, ball, hour]
}

/// The most tenths that the largest weight may come to.
fn most_range(shares: &[f64; 10], extent: Extent) -> f64 {
    const PRIORITY: f64 = 5.0;
    const LIKINGS: f64 = 3.0;
    let [priority, preference, join, drib, change, travel, alike, gram, ball, hour] = *shares;
    // A garment of a kilogram, a week of work: more than any takes.
    let gift = PRIORITY * priority
        + LIKINGS * preference
        + extent.joins as f64 * (join + travel)
        + 2.0 * change
        + extent.gifts.min(MOST_ALIKE) as f64 * 2.0 * alike
        + 10_000.0 * gram
        + 168.0 * hour;
    let ends = extent.remnants as f64 * (f64::from(extent.drib_dg) * drib + ball);
    let all = (extent.gifts as f64 * gift + ends + 1.0) * 2.0 * (extent.musts as f64 + 1.0);
    let range = (LARGEST_TOTAL / all).clamp(1.0, LARGEST);
    10f64.powf(range.log10().floor())
}

#[cfg(test)]
mod tests {
    use super::*;
    use knit::stash::{Aim, Settings};

    const EXTENT: Extent = Extent { gifts: 50, musts: 3, remnants: 80, joins: 24, drib_dg: 80 };

    fn usual() -> PlanWeights {
        PlanWeights { travel: 5.0, alike: 5.0, ..Settings::default().weights }
    }

    fn nothing() -> PlanWeights {
        PlanWeights { change: 0.0, travel: 0.0, alike: 0.0, ..usual() }
    }

    fn times(weights: PlanWeights, by: f64) -> PlanWeights {
        PlanWeights {
            priority: weights.priority * by,
            preference: weights.preference * by,
            join: weights.join * by,
            drib: weights.drib * by,
            change: weights.change * by,
            travel: weights.travel * by,
            alike: weights.alike * by,
            ..weights
        }
    }

    fn solved_with(weights: PlanWeights) -> [i64; 10] {
        let aim = Aim::MostGifts.weighed(&weights);
        let scale = Scale::of(&weights, &aim, EXTENT);
        weights_of(&weights, &aim).map(|weight| scale.points(weight).0)
    }

    #[test]
    fn the_usual_weights_are_tenths_of_a_point() {
        assert_eq!(solved_with(usual()), [10_000, 200, 30, 1, 300, 50, 50, 0, 0, 0]);
        assert_eq!(
            Scale::of(&usual(), &AimWeights::default(), EXTENT).told(Points(12_345)),
            1234.5
        );
    }

    #[test]
    fn only_the_ratios_count() {
        let odd =
            PlanWeights { priority: 7.0, preference: 0.3, join: 0.011, drib: 0.0004, ..nothing() };
        for weights in [usual(), odd] {
            let plain = solved_with(weights);
            for by in [1e-9, 0.001, 0.37, 1000.0, 1e6] {
                assert_eq!(solved_with(times(weights, by)), plain, "{by}");
            }
        }
    }

    #[test]
    fn weights_far_apart_keep_their_ratios() {
        let far =
            PlanWeights { priority: 1.0, preference: 0.02, join: 3e-6, drib: 1e-5, ..nothing() };
        let [priority, preference, join, drib, change, ..] = solved_with(far);
        assert_eq!(change, 0);
        for (tenths, share) in [(preference, 0.02), (join, 3e-6), (drib, 1e-6)] {
            let told = tenths as f64 / priority as f64;
            assert!((told / share - 1.0).abs() < 1e-3, "{tenths} of {priority}: {share}");
        }
        // Too far apart to be added up: the least still counts.
        let beyond = PlanWeights { drib: 1e-30, ..usual() };
        assert_eq!(solved_with(beyond)[3], 1);
    }
}
