use std::f64::consts::PI;

/// Short-row wedges that make a round, before rounding to a whole number.
///
/// `step` needles come back at every second row, so a wedge over S stitches has 2S/step rows at its
/// rim: N wedges go round N x 2S/step x `row_mm`, and the round is 2 pi S x `stitch_mm` about. The
/// two agree at N = pi x step x stitch_mm / row_mm (geometry), where the round lies flat.
/// `fullness` is the rim wanted over the flat one: below 1 it domes, above 1 it ruffles.
pub fn wedges(step: u32, stitch_mm: f64, row_mm: f64, fullness: f64) -> f64 {
    PI * f64::from(step) * stitch_mm / row_mm * fullness
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A published recipe: row gauge twice the stitch gauge, one needle every two rows, six wedges.
    /// And by the geometry: 30 x 42 per 10 cm, three needles every two rows, 13 wedges.
    #[test]
    fn published_rounds() {
        assert!((wedges(1, 5.0, 2.5, 1.0) - 2.0 * PI).abs() < 1e-12);
        assert_eq!(wedges(1, 5.0, 2.5, 1.0).round(), 6.0);
        assert_eq!(wedges(3, 100.0 / 30.0, 100.0 / 42.0, 1.0).round(), 13.0);
    }

    #[test]
    fn a_dome_takes_fewer() {
        let flat = wedges(2, 3.5, 2.5, 1.0);
        assert!((wedges(2, 3.5, 2.5, 0.75) / flat - 0.75).abs() < 1e-12);
    }
}
