//! What finished pieces teach about the yarn in a stitch. Each record moves the estimate towards
//! what the piece really took; while records are few, the model still speaks.
//!
//! A normal model on the logarithm of used over expected: the model's own error is the prior, each
//! piece is an observation with the errors of the scale, of the other fabrics in the section and of
//! the piece itself (one piece never takes quite what its twin took).

use std::collections::BTreeMap;

use super::program::Structure;
use super::yarn::{Basis, LoopLength};

/// What one section of a finished piece really took.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceRecord {
    /// Stitches by the structure that gauges them.
    pub stitches: BTreeMap<Structure, u64>,
    /// Tails, seams and floats, in mm, as the model has them.
    pub other_mm: f64,
    /// Yarn gone, in mm, and its standard error from the two weighings.
    pub used_mm: f64,
    /// Standard error of `used_mm`, in mm.
    pub used_sd_mm: f64,
}

/// How much pieces knitted alike differ in yarn, as a share (common practice, no source), and how
/// many observations that guess counts for against the records' own scatter.
const PIECE_SPREAD: f64 = 0.03;
const SPREAD_WEIGHT: f64 = 4.0;
/// A record further than this from the model, as a factor, is a slip of the pen.
const BELIEVABLE: f64 = 1.6;

impl PieceRecord {
    /// The yarn in one stitch of `structure` that this record shows, with its relative standard
    /// error but for the piece's own; the other fabrics are taken at `loops`.
    /// `None`: no such stitches, or nothing sensible left for them.
    fn shows(
        &self,
        structure: Structure,
        loops: &BTreeMap<Structure, LoopLength>,
    ) -> Option<(f64, f64)> {
        let own = *self.stitches.get(&structure)? as f64;
        let mut mm = self.used_mm - self.other_mm;
        let mut variance = self.used_sd_mm.powi(2);
        for (other, stitches) in self.stitches.iter().filter(|(s, _)| **s != structure) {
            let length = loops.get(other)?;
            let part = *stitches as f64 * length.mm;
            mm -= part;
            variance += (part * length.relative_error).powi(2);
        }
        (mm > 0.0 && own > 0.0).then(|| (mm / own, variance.sqrt() / mm))
    }
}

/// The loop length of a structure after the records. `loops` holds the model's for every structure
/// the records name. With no record that shows the structure it is the model's own.
pub fn improved(
    structure: Structure,
    loops: &BTreeMap<Structure, LoopLength>,
    records: &[PieceRecord],
) -> Option<LoopLength> {
    let model = loops.get(&structure)?;
    let seen: Vec<(f64, f64)> = records
        .iter()
        .filter_map(|record| record.shows(structure, loops))
        .map(|(mm, error)| ((mm / model.mm).ln(), error))
        .filter(|(log, _)| log.abs() <= BELIEVABLE.ln())
        .collect();
    if seen.is_empty() {
        return Some(*model);
    }
    // The pieces' own scatter, shrunk towards the guess.
    let mean = seen.iter().map(|(log, _)| log).sum::<f64>() / seen.len() as f64;
    let scatter: f64 = seen.iter().map(|(log, _)| (log - mean).powi(2)).sum();
    let piece_variance = (SPREAD_WEIGHT * PIECE_SPREAD.powi(2) + scatter)
        / (SPREAD_WEIGHT + (seen.len() - 1) as f64);
    let prior = 1.0 / model.relative_error.powi(2).max(1e-8);
    let mut weight = prior;
    let mut sum = 0.0;
    for (log, error) in &seen {
        let w = 1.0 / (piece_variance + error.powi(2));
        weight += w;
        sum += w * log;
    }
    Some(LoopLength {
        mm: model.mm * (sum / weight).exp(),
        // The next piece scatters too.
        relative_error: (1.0 / weight + piece_variance).sqrt().min(model.relative_error),
        basis: Basis::Records(seen.len() as u32),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model(mm: f64, relative_error: f64) -> LoopLength {
        LoopLength { mm, relative_error, basis: Basis::LoopLength }
    }

    fn record(plain: u64, used_mm: f64) -> PieceRecord {
        PieceRecord {
            stitches: [(Structure::Plain, plain)].into(),
            other_mm: 500.0,
            used_mm,
            used_sd_mm: 400.0,
        }
    }

    /// The normal-normal posterior by the textbook formula, for one record.
    #[test]
    fn one_record_moves_the_estimate_by_its_weight() {
        let loops = [(Structure::Plain, model(14.0, 0.05))].into();
        let got = improved(Structure::Plain, &loops, &[record(10_000, 154_500.0)]).expect("known");
        // It shows 15.4 mm, 10 % above the model.
        let error: f64 = 400.0 / 154_000.0;
        let (prior, seen) = (1.0 / 0.05f64.powi(2), 1.0 / (0.03f64.powi(2) + error.powi(2)));
        let expected = 14.0 * (seen / (prior + seen) * 1.1f64.ln()).exp();
        assert!((got.mm - expected).abs() < 1e-9, "{} {expected}", got.mm);
        assert_eq!(got.basis, Basis::Records(1));
        assert!(14.0 < got.mm && got.mm < 15.4);
    }

    #[test]
    fn records_converge_on_what_the_knitter_takes_and_the_interval_tightens() {
        let loops = [(Structure::Plain, model(14.0, 0.08))].into();
        let mut last = model(14.0, 0.08);
        for n in [1usize, 2, 4, 8, 16] {
            let records = vec![record(10_000, 154_500.0); n];
            let got = improved(Structure::Plain, &loops, &records).expect("known");
            assert!((got.mm - 15.4).abs() < (last.mm - 15.4).abs(), "{n}");
            assert!(got.relative_error < last.relative_error, "{n}");
            last = got;
        }
        assert!((last.mm - 15.4).abs() < 0.05, "{}", last.mm);
    }

    #[test]
    fn what_a_record_does_not_show_stays_as_it_was() {
        let loops: BTreeMap<_, _> =
            [(Structure::Plain, model(14.0, 0.05)), (Structure::Rib1x1, model(12.0, 0.12))].into();
        let plain_only = [record(10_000, 140_500.0)];
        assert_eq!(
            improved(Structure::Rib1x1, &loops, &plain_only),
            Some(loops[&Structure::Rib1x1])
        );
        assert_eq!(improved(Structure::Plain, &loops, &[]), Some(loops[&Structure::Plain]));
        // Absurd records are left aside: nothing used, ten times as much.
        let absurd = [record(10_000, 100.0), record(10_000, 1.4e6)];
        assert_eq!(improved(Structure::Plain, &loops, &absurd), Some(loops[&Structure::Plain]));
        // In a section of both, the rib learns less: the plain part's error is in the way.
        let both = PieceRecord {
            stitches: [(Structure::Plain, 10_000), (Structure::Rib1x1, 2_000)].into(),
            other_mm: 0.0,
            used_mm: 140_000.0 + 26_400.0,
            used_sd_mm: 100.0,
        };
        let rib = improved(Structure::Rib1x1, &loops, &[both]).expect("known");
        assert!(rib.mm > 12.0 && rib.mm < 12.6, "{}", rib.mm);
    }
}
