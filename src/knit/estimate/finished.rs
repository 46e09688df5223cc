use super::{Figure, Gauge, Id, Side};

/// One of the lengths that make up a finished measure.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishedPart<'a> {
    /// The piece it lies in: lengths of one piece come out from the swatch together.
    pub piece: Id,
    /// The gauge of its fabric.
    pub gauge: &'a Gauge,
    /// Which way it runs.
    pub side: Side,
    /// Stitches or rows.
    pub count: u32,
    /// How often it counts, as 2 where front and back are alike; negative where it is taken off.
    pub times: f64,
}

impl FinishedPart<'_> {
    /// What it adds to the measure, in mm.
    pub fn mm(&self) -> f64 {
        self.times * f64::from(self.count) * self.gauge.mm(self.side)
    }
}

/// A finished measure in mm: the sum of its parts. Parts of one gauge share the error of its readings;
/// each piece adds how far it comes out from its swatch.
pub fn finished_size(parts: &[FinishedPart<'_>]) -> Figure {
    parts.iter().fold(Figure::exact(0.0), |sum, part| {
        let pitch = part.gauge.pitch_in(part.side, &part.piece);
        sum.plus(&pitch.times(f64::from(part.count) * part.times))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::{NORMAL_95, Pitch};

    fn gauge() -> Gauge {
        // 39 stitches to 10 cm, known to 1 %.
        let width = Pitch::guessed(100.0 / 39.0, 0.01);
        Gauge { id: "rib".into(), width, height: Pitch::guessed(2.0, 0.01), from: None }
    }

    /// Two pieces of 94 needles, worked outside by hand: 482.1 mm, shared 4.82 mm (3.41 if taken as
    /// independent), with the pieces' own 7.03 mm.
    #[test]
    fn two_pieces_of_one_gauge_miss_together() {
        let gauge = gauge();
        let part = |piece: &str| FinishedPart {
            piece: piece.into(),
            gauge: &gauge,
            side: Side::Across,
            count: 94,
            times: 1.0,
        };
        let girth = finished_size(&[part("front"), part("back")]);
        assert!((girth.mean() - 482.1).abs() < 0.06);
        assert!((girth.sd_of_mean() - 4.82).abs() < 0.005, "{}", girth.sd_of_mean());
        assert!((girth.sd_of_next() - 7.03).abs() < 0.005, "{}", girth.sd_of_next());
        assert!((girth.next_within().half_width() - 7.03 * NORMAL_95).abs() < 0.01);
        assert!((part("front").mm() - 241.03).abs() < 0.005, "{}", part("front").mm());
        assert_eq!(FinishedPart { side: Side::Up, times: -2.0, ..part("front") }.mm(), -376.0);
        let both = finished_size(&[FinishedPart { times: 2.0, ..part("front") }]);
        assert!((both.mean() - 482.05).abs() < 0.005, "{}", both.mean());
        // Between parts of one gauge the shared error cancels, and the pieces' own stays.
        let ratio = finished_size(&[part("front")]).over(&finished_size(&[part("back")]));
        assert!(ratio.sd_of_mean() < 1e-12);
        assert!((ratio.sd_of_next() - 0.015 * 2f64.sqrt()).abs() < 1e-9);
    }
}
