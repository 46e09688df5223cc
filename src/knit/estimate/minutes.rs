use super::{Figure, Likely};

/// Minutes of work on a piece, or on several. What is told is what the next one will take; a pace that is
/// slower than thought makes all of a plan longer, and does not average out over it.
#[derive(Clone, Debug, PartialEq)]
pub struct Minutes {
    /// Medians, and their sources of error.
    figure: Figure,
    mean: f64,
}

impl Minutes {
    /// Of one piece: the logarithm is normal, `sources` say by how much it moves with each.
    pub(super) fn of_piece(
        median: f64,
        sources: impl IntoIterator<Item = (super::Source, f64)>,
    ) -> Minutes {
        let sources = sources.into_iter().map(|(source, log)| (source, log * median));
        let figure = Figure::with(median, sources);
        // Work of no time at all is no surer or less sure than that.
        let log_sd = if median > 0.0 { figure.sd_of_next() / median } else { 0.0 };
        Minutes { mean: median * (log_sd * log_sd / 2.0).exp(), figure }
    }

    /// No work at all.
    pub fn none() -> Minutes {
        Minutes { figure: Figure::exact(0.0), mean: 0.0 }
    }

    /// Both one after the other.
    pub fn plus(&self, other: &Minutes) -> Minutes {
        Minutes { figure: self.figure.plus(&other.figure), mean: self.mean + other.mean }
    }

    /// Such a share of it: what is left of a piece, as unsure as the whole.
    #[must_use]
    pub fn times(&self, share: f64) -> Minutes {
        Minutes { figure: self.figure.times(share), mean: self.mean * share }
    }

    /// The average to expect: above the median, since work may take much longer and not much shorter.
    /// Averages add up; medians don't.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Standard deviation of the logarithm. Of a sum, of a log-normal with its mean and spread.
    pub fn log_sd(&self) -> f64 {
        if self.figure.mean() > 0.0 { self.figure.sd_of_next() / self.figure.mean() } else { 0.0 }
    }

    fn median(&self) -> f64 {
        self.mean * (-self.log_sd().powi(2) / 2.0).exp()
    }

    /// 95 % of what it will take.
    pub fn next_within(&self) -> Likely {
        Likely::log_normal(self.median(), self.log_sd())
    }

    /// 95 % of what many such would take on average: how sure the pace itself is.
    pub fn mean_within(&self) -> Likely {
        let median = self.figure.mean();
        let log_sd = if median > 0.0 { self.figure.sd_of_mean() / median } else { 0.0 };
        Likely::log_normal(self.median(), log_sd)
    }

    /// The chance, 0 to 1, that it takes longer than these minutes.
    pub fn chance_longer(&self, minutes: f64) -> f64 {
        let (median, log_sd) = (self.median(), self.log_sd());
        if minutes <= 0.0 || log_sd <= 0.0 {
            return if median > minutes { 1.0 } else { 0.0 };
        }
        0.5 * libm::erfc((minutes / median).ln() / log_sd / std::f64::consts::SQRT_2)
    }
}
