use std::sync::Arc;

use super::{Figure, Id, Pitch, Source};

/// The gauge of one fabric.
#[derive(Clone, Debug, PartialEq)]
pub struct Gauge {
    /// Names it: two figures of the same gauge miss together.
    pub id: Id,
    /// Width of a stitch.
    pub width: Pitch,
    /// Height of a row.
    pub height: Pitch,
    /// The gauge that this one was guessed from: it misses with that one too, and its own pitches miss by
    /// the guess alone.
    pub from: Option<Arc<Gauge>>,
}

/// Which way a length runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Along a row: stitches beside each other.
    Across,
    /// Up a column: rows upon each other.
    Up,
}

/// How far a piece comes out from its swatch, as a share (common practice, no source). What is gained
/// in width goes from the height: a relaxed plain fabric has not one shape but a line of them (read,
/// abstract: arXiv 2404.07811, 2024).
const WIDTH_SPREAD: f64 = 0.015;
const HEIGHT_SPREAD: f64 = 0.02;
const TOGETHER: f64 = -0.5;

impl Gauge {
    /// What one stitch or row measures, in mm, by the readings alone.
    pub fn pitch(&self, side: Side) -> Figure {
        let mm = self.of(side).mm;
        let missed = std::iter::successors(Some(self), |gauge| gauge.from.as_deref());
        Figure::with(mm, missed.map(|gauge| (gauge.source(side), mm * gauge.of(side).spread())))
    }

    /// What one stitch or row measures, in mm.
    pub fn mm(&self, side: Side) -> f64 {
        self.of(side).mm
    }

    fn of(&self, side: Side) -> Pitch {
        match side {
            Side::Across => self.width,
            Side::Up => self.height,
        }
    }

    fn source(&self, side: Side) -> Source {
        match side {
            Side::Across => Source::StitchReadings(self.id.clone()),
            Side::Up => Source::RowReadings(self.id.clone()),
        }
    }

    /// The same as the piece named comes out: readings of a swatch say nothing of swatch to piece.
    pub fn pitch_in(&self, side: Side, piece: &Id) -> Figure {
        let figure = self.pitch(side);
        let mm = figure.mean();
        let width = Source::PieceWidth(piece.clone());
        match side {
            Side::Across => figure.and([(width, mm * WIDTH_SPREAD)]),
            Side::Up => {
                let own = HEIGHT_SPREAD * (1.0 - TOGETHER * TOGETHER).sqrt();
                let height = Source::PieceHeight(piece.clone());
                figure.and([(width, mm * TOGETHER * HEIGHT_SPREAD), (height, mm * own)])
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_of_a_stitch_is_surer_than_its_sides_suggest() {
        let exact = |mm: f64| Pitch::new(mm, 0.0, 10.0);
        let gauge = Gauge { id: "blue".into(), width: exact(3.5), height: exact(2.5), from: None };
        let hat = "hat".into();
        let (across, up) = (gauge.pitch_in(Side::Across, &hat), gauge.pitch_in(Side::Up, &hat));
        assert!((across.sd_of_next() / 3.5 - 0.015).abs() < 1e-12);
        assert!((up.sd_of_next() / 2.5 - 0.02).abs() < 1e-12);
        let together = across.covariance(&up) / across.sd_of_next() / up.sd_of_next();
        assert!((together + 0.5).abs() < 1e-12);
        // 1.5 % and 2 % that go against each other by half: sqrt(1.5^2 + 2^2 - 3) %.
        let both = across.times(2.5).plus(&up.times(3.5));
        assert!((both.sd_of_next() / (3.5 * 2.5) - 0.000_325f64.sqrt()).abs() < 1e-9);
        // The readings alone leave no error here: it is all the piece's.
        assert_eq!(across.sd_of_mean(), 0.0);
    }

    #[test]
    fn a_guessed_gauge_misses_with_the_one_it_was_guessed_from() {
        let pitch = |mm: f64, error: f64| Pitch::guessed(mm, error);
        let plain = Arc::new(Gauge {
            id: "blue".into(),
            width: pitch(3.5, 0.03),
            height: pitch(2.5, 0.02),
            from: None,
        });
        let rib = Gauge {
            id: "blue rib".into(),
            width: pitch(2.45, 0.04),
            height: pitch(2.5, 0.04),
            from: Some(plain.clone()),
        };
        let (own, of_plain) = (rib.pitch(Side::Across), plain.pitch(Side::Across));
        assert!((own.sd_of_mean() / 2.45 - 0.05).abs() < 1e-12);
        assert!((own.over(&of_plain).sd_of_mean() / 0.7 - 0.04).abs() < 1e-12);
    }
}
