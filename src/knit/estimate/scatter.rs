/// How far readings of one gauge lie apart, as a share: the knitter's own, pooled with a guess for as
/// long as there are few.
///
/// The guess counts for [`GUESS_DEGREES`](Self::GUESS_DEGREES) readings beyond the first. That guesses
/// pay where readings are few is read (abstract, a metrology journal); its size is common practice, no
/// source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    degrees: f64,
    squares: f64,
}

impl Scatter {
    /// For how much the guess counts.
    pub const GUESS_DEGREES: f64 = 4.0;
    /// The guess, as a share.
    pub const GUESS: f64 = 0.01;

    /// The guess alone, for readings that the ruler makes uncertain by `rounding` (a share): it is
    /// never less than that.
    pub fn guess(rounding: f64) -> Scatter {
        let guess = Scatter::GUESS.max(rounding);
        Scatter { degrees: Scatter::GUESS_DEGREES, squares: Scatter::GUESS_DEGREES * guess.powi(2) }
    }

    /// With some readings of one thing, in any unit, about their own mean.
    pub fn and(self, readings: &[f64]) -> Scatter {
        if readings.len() < 2 {
            return self;
        }
        let n = readings.len() as f64;
        let mean = readings.iter().sum::<f64>() / n;
        let squares: f64 = readings.iter().map(|r| (r / mean - 1.0).powi(2)).sum();
        Scatter { degrees: self.degrees + n - 1.0, squares: self.squares + squares }
    }

    /// Standard deviation of one reading, as a share.
    pub fn sd(self) -> f64 {
        (self.squares / self.degrees).sqrt()
    }

    /// Degrees of freedom behind it.
    pub fn degrees(self) -> f64 {
        self.degrees
    }
}
