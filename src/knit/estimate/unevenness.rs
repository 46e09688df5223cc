/// How far a piece is from its twin, as a share of the yarn: known, or learnt along with the rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Unevenness {
    /// Spreads that are tried, with the logarithm of how likely each is before any record.
    tried: Vec<(f64, f64)>,
}

/// The same knitter, dial and yarn (practice).
const MEDIAN: f64 = 0.03;
/// How far knitters differ in it: standard deviation of its logarithm (practice).
const LOG_SPREAD: f64 = 0.5;
/// What is tried. The last ones are for pieces that differ as between knitters by hand (0.09, read) and
/// more: hardly likely before any record, and never the end of what records may ask for.
const GRID: [f64; 10] = [0.010, 0.015, 0.020, 0.030, 0.040, 0.055, 0.075, 0.10, 0.14, 0.20];

impl Unevenness {
    /// Taken for known: `spread` is a share.
    pub fn known(spread: f64) -> Unevenness {
        Unevenness { tried: vec![(spread, 0.0)] }
    }

    /// To be learnt from how far the records lie from what was expected of them.
    pub fn learnt() -> Unevenness {
        let log_prior = |spread: f64| -0.5 * ((spread / MEDIAN).ln() / LOG_SPREAD).powi(2);
        Unevenness { tried: GRID.iter().map(|spread| (*spread, log_prior(*spread))).collect() }
    }

    /// Spreads and the logarithm of their weight.
    pub(super) fn tried(&self) -> &[(f64, f64)] {
        &self.tried
    }
}
