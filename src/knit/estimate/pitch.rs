use super::{NORMAL_95, Scatter, t_975};

/// Width of a stitch or height of a row, as some readings give it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pitch {
    /// In mm.
    pub mm: f64,
    /// Standard error of it, as a share.
    pub standard_error: f64,
    /// Degrees of freedom of the scatter behind that error: how well it is known itself.
    pub degrees: f64,
    /// Half-width of the 95 % interval in standard errors: worked out once, since it takes a while.
    t: f64,
}

/// A ruler is read to the millimetre: the standard deviation of that rounding.
const RULER_SD_MM: f64 = 0.29;

impl Pitch {
    /// From `count` stitches or rows that measured so many mm, each time anew. `others` are further
    /// readings of the same knitter, each list of one thing, which say how far readings scatter.
    /// `None`: nothing counted, or no length above nought.
    pub fn from_readings(count: u32, over_mm: &[f64], others: &[&[f64]]) -> Option<Pitch> {
        if count == 0 || over_mm.is_empty() || !over_mm.iter().all(|mm| *mm > 0.0) {
            return None;
        }
        let n = over_mm.len() as f64;
        // As counts over a length are averaged: the pitch goes with the mean of the counts.
        let per_mm = over_mm.iter().map(|mm| f64::from(count) / mm).sum::<f64>() / n;
        let mean_mm = over_mm.iter().sum::<f64>() / n;
        let rounding = RULER_SD_MM * 2f64.sqrt() / mean_mm;
        let own = Scatter::guess(rounding).and(over_mm);
        let scatter = others.iter().fold(own, |scatter, other| scatter.and(other));
        Some(Pitch::new(1.0 / per_mm, scatter.sd() / n.sqrt(), scatter.degrees()))
    }

    /// So many mm with a standard error, as a share, that so many degrees of freedom stand behind.
    pub fn new(mm: f64, standard_error: f64, degrees: f64) -> Pitch {
        Pitch { mm, standard_error, degrees, t: t_975(degrees) }
    }

    /// One that was not measured: `error` is its standard deviation, as a share.
    pub fn guessed(mm: f64, error: f64) -> Pitch {
        Pitch::new(mm, error, f64::INFINITY)
    }

    /// Half-width of its 95 % interval, as a share.
    pub fn half_width(self) -> f64 {
        self.t * self.standard_error
    }

    /// The spread, as a share, that a normal figure of the same 95 % interval has. Figures carry this
    /// one, so that "±" stays 95 % where few readings stand behind it.
    pub fn spread(self) -> f64 {
        self.half_width() / NORMAL_95
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stitches(over_mm: &[f64]) -> Pitch {
        Pitch::from_readings(40, over_mm, &[]).expect("readings")
    }

    /// Worked outside by hand, with t from a printed table: 2.776, 2.571 and 2.447.
    #[test]
    fn few_readings_are_as_unsure_as_few_readings_are() {
        let one = stitches(&[143.0]);
        assert!((one.standard_error - 0.0100).abs() < 5e-5);
        assert!((one.half_width() - 0.028).abs() < 5e-4);
        // Two that differ so that their own scatter is 0.5 %.
        let apart = 0.005 / 2f64.sqrt();
        let two = stitches(&[143.0 * (1.0 - apart), 143.0 * (1.0 + apart)]);
        assert!((two.standard_error - 0.00652).abs() < 5e-6, "{}", two.standard_error);
        assert!((two.half_width() - 0.017).abs() < 5e-4);
        let three = stitches(&[143.0, 142.0, 143.0]);
        assert!((three.standard_error - 0.00490).abs() < 5e-6, "{}", three.standard_error);
        assert!((three.half_width() - 0.012).abs() < 5e-4);
        // One reading never looks surer than three, whatever the three say.
        assert!(one.half_width() > stitches(&[143.0; 3]).half_width());
        assert!(one.half_width() > three.half_width());
    }

    #[test]
    fn readings_that_agree_are_never_without_error() {
        assert!(stitches(&[143.0; 3]).standard_error > 0.004);
        // Over two centimetres the ruler's millimetre is more than any guess.
        let short = Pitch::from_readings(6, &[20.0], &[]).expect("a reading");
        assert!((short.standard_error - 0.29 * 2f64.sqrt() / 20.0).abs() < 1e-9);
        // Twice the same: the guess counts for four of five, and the mean of two is surer.
        let twice = Pitch::from_readings(6, &[20.0; 2], &[]).expect("readings");
        let by_hand = short.standard_error * 0.8f64.sqrt() / 2f64.sqrt();
        assert!((twice.standard_error - by_hand).abs() < 1e-9, "{}", twice.standard_error);
    }

    #[test]
    fn other_swatches_of_the_same_hand_tell_how_far_readings_scatter() {
        let uneven: &[f64] = &[136.0, 142.0, 148.0];
        let alone = stitches(&[143.0]);
        let pooled = Pitch::from_readings(40, &[143.0], &[uneven]).expect("readings");
        assert!(pooled.standard_error > 1.5 * alone.standard_error);
        assert_eq!(pooled.degrees, alone.degrees + 2.0);
        assert_eq!(pooled.mm, alone.mm);
    }

    #[test]
    fn senseless_readings_are_none() {
        for (count, over) in [(0, &[10.0][..]), (4, &[][..]), (4, &[0.0][..]), (4, &[f64::NAN][..])]
        {
            assert_eq!(Pitch::from_readings(count, over, &[]), None);
        }
    }
}
