use super::{Likely, Source};

/// A figure with its sources of error, each once, with its coefficient: by how much the figure moves
/// (in its own unit) when that source is one standard deviation up.
///
/// Sums and differences are exact, products, ratios and powers to first order in the errors. What two
/// figures share is kept, so that it adds up in a sum and cancels in a ratio.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Figure {
    mean: f64,
    /// Sorted by source; none twice.
    parts: Vec<(Source, f64)>,
}

impl Figure {
    /// A figure without any error.
    pub fn exact(mean: f64) -> Figure {
        Figure { mean, parts: Vec::new() }
    }

    /// A figure with its sources. One that is named twice counts with the sum of its coefficients.
    pub fn with(mean: f64, sources: impl IntoIterator<Item = (Source, f64)>) -> Figure {
        let mut parts: Vec<(Source, f64)> =
            sources.into_iter().filter(|(_, c)| *c != 0.0).collect();
        parts.sort_by(|a, b| a.0.cmp(&b.0));
        parts.dedup_by(|later, first| {
            let same = later.0 == first.0;
            if same {
                first.1 += later.1;
            }
            same
        });
        Figure { mean, parts }
    }

    /// The middle of it.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Sources and coefficients, sorted by source.
    pub fn sources(&self) -> &[(Source, f64)] {
        &self.parts
    }

    /// `a * self + b * other`, with `mean` for its middle.
    fn combined(&self, a: f64, other: &Figure, b: f64, mean: f64) -> Figure {
        let (mut left, mut right) = (self.parts.iter().peekable(), other.parts.iter().peekable());
        let mut parts = Vec::with_capacity(self.parts.len() + other.parts.len());
        loop {
            let order = match (left.peek(), right.peek()) {
                (Some(l), Some(r)) => l.0.cmp(&r.0),
                (Some(_), None) => std::cmp::Ordering::Less,
                (None, Some(_)) => std::cmp::Ordering::Greater,
                (None, None) => break,
            };
            let from_left = if order.is_le() { left.next() } else { None };
            let from_right = if order.is_ge() { right.next() } else { None };
            let coefficient =
                from_left.map_or(0.0, |p| a * p.1) + from_right.map_or(0.0, |p| b * p.1);
            if let Some((source, _)) = from_left.or(from_right) {
                parts.push((source.clone(), coefficient));
            }
        }
        Figure { mean, parts }
    }

    /// The sum of both.
    pub fn plus(&self, other: &Figure) -> Figure {
        self.combined(1.0, other, 1.0, self.mean + other.mean)
    }

    /// So many times as much, the errors too.
    pub fn times(&self, factor: f64) -> Figure {
        let parts = self.parts.iter().map(|(s, c)| (s.clone(), c * factor)).collect();
        Figure { mean: self.mean * factor, parts }
    }

    /// This over the other, to first order. The other's mean must not be nought.
    pub fn over(&self, other: &Figure) -> Figure {
        let ratio = self.mean / other.mean;
        self.combined(1.0 / other.mean, other, -ratio / other.mean, ratio)
    }

    /// The same with more sources of its own.
    pub fn and(&self, sources: impl IntoIterator<Item = (Source, f64)>) -> Figure {
        Figure { mean: self.mean, ..self.plus(&Figure::with(0.0, sources)) }
    }

    fn sd_of(&self, counts: impl Fn(&Source) -> bool) -> f64 {
        let counted = self.parts.iter().filter(|(source, _)| counts(source));
        counted.map(|(_, c)| c * c).sum::<f64>().sqrt()
    }

    /// How sure the mean is: its standard deviation by what is the same for all pieces. What many
    /// pieces would average to lies within.
    pub fn sd_of_mean(&self) -> f64 {
        self.sd_of(|source| !source.of_one_piece())
    }

    /// What the next piece will be: its standard deviation by everything, the piece's own included.
    pub fn sd_of_next(&self) -> f64 {
        self.sd_of(|_| true)
    }

    /// The 95 % interval of the mean.
    pub fn mean_within(&self) -> Likely {
        Likely::normal(self.mean, self.sd_of_mean())
    }

    /// The 95 % interval of the next piece: what a knitter is told.
    pub fn next_within(&self) -> Likely {
        Likely::normal(self.mean, self.sd_of_next())
    }
}

#[cfg(test)]
impl Figure {
    /// By how much both miss together: the sum of the products over the sources they share.
    pub(super) fn covariance(&self, other: &Figure) -> f64 {
        let of_other = |source: &Source| {
            let found = other.parts.binary_search_by(|(s, _)| s.cmp(source));
            found.map_or(0.0, |i| other.parts[i].1)
        };
        self.parts.iter().map(|(source, c)| c * of_other(source)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn width(mean: f64, c: f64) -> Figure {
        Figure::with(mean, [(Source::StitchReadings("blue".into()), c)])
    }

    #[test]
    fn what_is_shared_adds_up_in_a_sum_and_cancels_in_a_ratio() {
        let (a, b) = (width(10.0, 0.3), width(20.0, 0.6));
        assert!((a.plus(&b).sd_of_mean() - 0.9).abs() < 1e-12);
        assert!((a.covariance(&b) - 0.18).abs() < 1e-12);
        assert_eq!([a.plus(&b), a.over(&b)].map(|both| both.mean()), [30.0, 0.5]);
        // Both 3 % up: their ratio does not move.
        assert!(a.over(&b).sd_of_mean() < 1e-12);
        // From other sources: 3 and 4 make 5.
        let own = Figure::with(0.0, [(Source::RowReadings("blue".into()), 0.4)]);
        assert!((a.plus(&own).sd_of_mean() - 0.5).abs() < 1e-12);
        assert_eq!(a.covariance(&own), 0.0);
    }

    #[test]
    fn a_source_named_twice_counts_once_with_its_sum() {
        let twice = Figure::with(1.0, [(Source::Ends, 0.1), (Source::Ends, 0.2)]);
        assert_eq!(twice.sources().len(), 1);
        assert!((twice.sd_of_mean() - 0.3).abs() < 1e-12);
    }

    #[test]
    fn the_next_piece_is_less_sure_than_the_mean() {
        let hat = Figure::with(50.0, [(Source::Ends, 3.0), (Source::Piece("hat".into()), 4.0)]);
        assert_eq!((hat.sd_of_mean(), hat.sd_of_next()), (3.0, 5.0));
        assert!((hat.next_within().half_width() - 9.8).abs() < 0.001);
        assert!((hat.mean_within().half_width() - 5.88).abs() < 0.001);
    }

    fn any_figure() -> impl Strategy<Value = Figure> {
        let source = prop_oneof![
            Just(Source::Ends),
            (0..4u32).prop_map(Source::Learnt),
            "[ab]".prop_map(|id| Source::Piece(id.into())),
        ];
        (1.0..100.0f64, proptest::collection::vec((source, -5.0..5.0f64), 0..8))
            .prop_map(|(mean, parts)| Figure::with(mean, parts))
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// The rule for the variance of a sum (any handbook of statistics).
        #[test]
        fn the_variance_of_a_sum_is_both_variances_and_twice_the_covariance(
            a in any_figure(), b in any_figure(), k in -3.0..3.0f64
        ) {
            let scaled = b.times(k);
            let sum = a.plus(&scaled).sd_of_next().powi(2);
            let parts = a.sd_of_next().powi(2) + (k * b.sd_of_next()).powi(2);
            prop_assert!((sum - parts - 2.0 * k * a.covariance(&b)).abs() < 1e-9 * (1.0 + parts));
            prop_assert!((a.covariance(&b) - b.covariance(&a)).abs() < 1e-9);
        }

        /// To first order, against the figures themselves a little to either side of every source.
        #[test]
        fn ratios_move_as_their_parts_do(a in any_figure(), b in any_figure()) {
            let (of, step) = (a.over(&b), 1e-5);
            for (source, coefficient) in of.sources() {
                let at = |up: f64| {
                    let moved = |figure: &Figure| {
                        let c = figure.sources().iter().find(|p| p.0 == *source).map_or(0.0, |p| p.1);
                        figure.mean() + up * c
                    };
                    moved(&a) / moved(&b)
                };
                let slope = (at(step) - at(-step)) / (2.0 * step);
                prop_assert!((slope - coefficient).abs() < 1e-5 * (1.0 + slope.abs()));
            }
        }
    }
}
