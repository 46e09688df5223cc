//! Yarn: how long a stitch is, and what a run takes in metres and grams.

use std::borrow::Cow;

use super::calibration;
use super::program::Structure;
use super::run::{Run, SectionRun};
use super::swatch::{FabricState, Gauge, SwatchSet};
use units::YarnCount;

/// Loop length over stitch width, l = kw x stitch width: Munden, J. Text. Inst. 50 (1959) T448
/// (from memory). Dry relaxed for fabric fresh off the bed or rested, wet relaxed for washed.
pub const KW_DRY: f64 = 3.8;
/// The same of washed fabric: see [`KW_DRY`].
pub const KW_WET: f64 = 4.1;
/// l of about 4 stitch widths holds within this share (published hand-knit swatches).
const KW_SPREAD: f64 = 0.05;
/// A rib stitch over the plain one at the body's dial: ribs are knitted 2 to 5 numbers tighter
/// (read); the factor is common practice, no source, so its spread is wide.
const RIB_LOOP: f64 = 0.90;
const RIB_SPREAD: f64 = 0.12;
/// An end left to darn in (common practice, no source).
const TAIL_MM: f64 = 200.0;
/// Sewing thread over the length sewn (common practice, no source).
const SEAM_TAKE_UP: f64 = 1.5;
/// Half-width of a 95 % interval in standard errors.
pub(super) const TWO_SIDED_95: f64 = 1.96;

/// Where the loop length comes from, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Basis {
    /// So many of the knitter's own finished pieces.
    Records(u32),
    /// A swatch of this structure on the scale.
    WeighedSwatch,
    /// Loop length from the gauge by Munden's kw.
    LoopLength,
    /// A weighed plain swatch, through an assumed ratio of rib stitch to plain stitch.
    RibFromWeighed,
    /// The same from the gauge.
    RibRatio,
    /// From the yarn's thickness alone: nobody has swatched it.
    Unswatched,
}

impl Basis {
    /// In words, as reports say it.
    pub fn words(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Basis::Records(1) => "a finished piece of yours",
            Basis::Records(pieces) => return format!("{pieces} finished pieces of yours").into(),
            Basis::WeighedSwatch => "weighed swatch",
            Basis::LoopLength => "gauge by Munden's constants",
            Basis::RibFromWeighed => "weighed plain swatch, rib assumed",
            Basis::RibRatio => "gauge by Munden's constants, rib assumed",
            Basis::Unswatched => "its thickness alone, not swatched",
        })
    }
}

/// Yarn in one stitch, in mm, with its relative standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopLength {
    /// Yarn in a stitch, in mm.
    pub mm: f64,
    /// Standard error, as a share of it.
    pub relative_error: f64,
    /// Where the figure comes from.
    pub basis: Basis,
}

/// l = k x pitch: kw with the width of a stitch, kc with the height of a row.
pub fn loop_from_pitch(k: f64, pitch_mm: f64) -> f64 {
    k * pitch_mm
}

/// Mass of a square metre in grams: stitches per cm2 x loop length in mm x tex / 100.
pub fn fabric_grams_per_m2(stitches_per_cm2: f64, loop_mm: f64, yarn: YarnCount) -> f64 {
    stitches_per_cm2 * loop_mm * yarn.tex() / 100.0
}

/// The loop length of a structure in this yarn: the best that swatches and records give.
pub fn loop_length(swatches: &SwatchSet, structure: Structure) -> LoopLength {
    let structure = structure.gauged_as();
    let model = modelled(swatches, structure);
    if swatches.records().is_empty() {
        return model;
    }
    let loops = Structure::ALL
        .iter()
        .filter(|s| s.gauged_as() == **s)
        .map(|s| (*s, modelled(swatches, *s)))
        .collect();
    calibration::improved(structure, &loops, swatches.records()).unwrap_or(model)
}

/// The loop length before any record of a finished piece.
fn modelled(swatches: &SwatchSet, structure: Structure) -> LoopLength {
    let gauge = swatches.gauge(structure);
    if let Some(weighed) = gauge.weighed {
        let grams = weighed.mass.grams();
        // The scale rounds to its step: standard deviation step / sqrt 12.
        let scale = weighed.scale_step_g / 12.0_f64.sqrt() / grams.max(f64::MIN_POSITIVE);
        return LoopLength {
            mm: swatches.yarn.mm_in(grams) / weighed.stitches as f64,
            relative_error: scale,
            basis: Basis::WeighedSwatch,
        };
    }
    if gauge.structure == Structure::Plain {
        return plain_loop(&gauge);
    }
    // A weighed plain swatch still helps the rib.
    let plain = modelled(swatches, Structure::Plain);
    LoopLength {
        mm: plain.mm * RIB_LOOP,
        relative_error: plain.relative_error.hypot(RIB_SPREAD),
        basis: match plain.basis {
            Basis::WeighedSwatch => Basis::RibFromWeighed,
            Basis::Unswatched => Basis::Unswatched,
            _ => Basis::RibRatio,
        },
    }
}

fn plain_loop(gauge: &Gauge) -> LoopLength {
    let kw = match gauge.measured {
        Some(FabricState::Washed) => KW_WET,
        _ => KW_DRY,
    };
    LoopLength {
        mm: loop_from_pitch(kw, gauge.stitches.pitch_mm()),
        relative_error: gauge.stitches.relative_error().hypot(KW_SPREAD),
        basis: if gauge.measured.is_some() { Basis::LoopLength } else { Basis::Unswatched },
    }
}

/// Yarn for one section, in good yarn.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionYarn {
    /// As the program names it.
    pub name: String,
    /// Stitches knitted.
    pub stitches: u64,
    /// Expected length, in metres.
    pub metres: f64,
    /// Expected mass, in grams.
    pub grams: f64,
    /// Ends of the 95 % interval.
    pub grams_low: f64,
    /// Upper end of the 95 % interval.
    pub grams_high: f64,
    /// The weakest basis of its fabrics.
    pub basis: Basis,
}

/// Yarn for a whole run, in good yarn.
#[derive(Clone, Debug, PartialEq)]
pub struct YarnNeed {
    /// Section by section, those without a stitch left out.
    pub sections: Vec<SectionYarn>,
    /// Expected length of all sections, in metres.
    pub metres: f64,
    /// Expected mass of all sections, in grams.
    pub grams: f64,
    /// Lower end of the 95 % interval: errors of one structure go the same way in all sections.
    pub grams_low: f64,
    /// Upper end of it.
    pub grams_high: f64,
    /// The weakest basis of any part.
    pub basis: Basis,
    /// Scrap yarn, by length; it never comes out of the good yarn.
    pub waste_metres: f64,
}

/// What the run takes. The waste yarn is taken to be as thick as the good one.
pub fn need(run: &Run, swatches: &SwatchSet) -> YarnNeed {
    let plain = loop_length(swatches, Structure::Plain);
    let sewing = Sewing::of(swatches);
    // Errors in one structure's loop length go the same way in every section.
    let structures: Vec<Structure> = {
        let mut all: Vec<_> =
            run.sections.iter().flat_map(|s| s.stitches.keys().copied()).collect();
        all.sort_unstable();
        all.dedup();
        all
    };
    let loops: Vec<LoopLength> = structures.iter().map(|s| loop_length(swatches, *s)).collect();
    let mut totals = vec![0.0; structures.len()];
    let mut other_total = 0.0;
    let sections: Vec<SectionYarn> = run
        .sections
        .iter()
        .filter(|s| !s.stitches.is_empty())
        .map(|section| {
            let parts: Vec<f64> = structures
                .iter()
                .zip(&loops)
                .map(|(s, l)| section.stitches.get(s).map_or(0.0, |n| *n as f64 * l.mm))
                .collect();
            for (total, part) in totals.iter_mut().zip(&parts) {
                *total += part;
            }
            let other = sewing.section_mm(section);
            other_total += other;
            let (mm, sd) = sum(&parts, &loops, other);
            let (grams, low, high) = grams(swatches.yarn, mm, sd);
            SectionYarn {
                name: section.name.clone(),
                stitches: section.stitches.values().sum(),
                metres: mm / 1000.0,
                grams,
                grams_low: low,
                grams_high: high,
                basis: parts
                    .iter()
                    .zip(&loops)
                    .filter(|(part, _)| **part > 0.0)
                    .map(|(_, l)| l.basis)
                    .max()
                    .unwrap_or(plain.basis),
            }
        })
        .collect();
    let (mm, sd) = sum(&totals, &loops, other_total);
    let (grams, grams_low, grams_high) = grams(swatches.yarn, mm, sd);
    YarnNeed {
        basis: sections.iter().map(|s| s.basis).max().unwrap_or(plain.basis),
        sections,
        metres: mm / 1000.0,
        grams,
        grams_low,
        grams_high,
        waste_metres: run.waste.stitches as f64 * plain.mm / 1000.0,
    }
}

/// Share by which tails and sewing may miss.
const SEWING_SPREAD: f64 = 0.25;

fn sum(parts: &[f64], loops: &[LoopLength], other: f64) -> (f64, f64) {
    let mm = parts.iter().sum::<f64>() + other;
    let variance: f64 = parts.iter().zip(loops).map(|(p, l)| (p * l.relative_error).powi(2)).sum();
    (mm, variance.sqrt().hypot(other * SEWING_SPREAD))
}

fn grams(yarn: YarnCount, mm: f64, sd: f64) -> (f64, f64, f64) {
    let half = TWO_SIDED_95 * sd;
    (yarn.grams_of(mm), yarn.grams_of((mm - half).max(0.0)), yarn.grams_of(mm + half))
}

/// Yarn, in mm, in what is no knitted stitch: in one of each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sewing {
    /// Yarn in a sewn loop: a stitch of plain fabric.
    pub loop_mm: f64,
    /// Yarn in sewing along a row of selvedge.
    pub seam_row_mm: f64,
    /// Yarn in sewing along a closed stitch of a cast-on or cast-off edge.
    pub seam_stitch_mm: f64,
    /// Yarn in a float over a needle.
    pub float_mm: f64,
    /// An end left to darn in.
    pub tail_mm: f64,
}

impl Sewing {
    /// Figures for these swatches. (Take-up of seams, length of ends: common practice, no source.)
    pub fn of(swatches: &SwatchSet) -> Sewing {
        let plain = swatches.plain();
        Sewing {
            loop_mm: loop_length(swatches, Structure::Plain).mm,
            seam_row_mm: plain.rows.pitch_mm() * SEAM_TAKE_UP,
            seam_stitch_mm: plain.stitches.pitch_mm() * SEAM_TAKE_UP,
            float_mm: plain.stitches.pitch_mm(),
            tail_mm: TAIL_MM,
        }
    }

    /// Floats, sewn loops, seams and ends of a section.
    pub fn section_mm(&self, section: &SectionRun) -> f64 {
        section.sewn_loops as f64 * self.loop_mm
            + section.seam_rows as f64 * self.seam_row_mm
            + section.seam_stitches as f64 * self.seam_stitch_mm
            + section.float_needles as f64 * self.float_mm
            + f64::from(section.tails) * self.tail_mm
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swatch::{Readings, Swatch, Weighed};
    use units::Mass;

    /// 28 x 40 per 10 cm in 250 tex; `weight` is of 50 x 80 stitches.
    fn set(weight: Option<f64>, scale_step_g: f64) -> SwatchSet {
        let swatch = Swatch {
            structure: Structure::Plain,
            state: FabricState::Washed,
            dial: None,
            stitches: Readings { count: 28, over_mm: vec![100.0] },
            rows: Readings { count: 40, over_mm: vec![100.0] },
            weighed: weight.map(|grams| Weighed {
                mass: Mass::from_grams(grams).expect("a mass"),
                stitches: 50 * 80,
                scale_step_g,
            }),
        };
        let yarn = YarnCount::from_tex(250.0).expect("a yarn");
        SwatchSet::new(yarn, "test".into(), &[swatch]).expect("sound").0
    }

    #[test]
    fn a_weighed_swatch_beats_the_gauge_and_a_finer_scale_beats_a_coarse_one() {
        // 4000 stitches of 14 mm of 250 tex weigh 14 g.
        let coarse = loop_length(&set(Some(14.0), 1.0), Structure::Plain);
        assert_eq!(coarse.basis, Basis::WeighedSwatch);
        assert!((coarse.mm - 14.0).abs() < 1e-9);
        let fine = loop_length(&set(Some(14.0), 0.1), Structure::Plain);
        assert!((coarse.relative_error / fine.relative_error - 10.0).abs() < 1e-9);
        let unweighed = loop_length(&set(None, 1.0), Structure::Plain);
        assert_eq!(unweighed.basis, Basis::LoopLength);
        assert!(unweighed.relative_error > coarse.relative_error);
        assert!((unweighed.mm - 4.1 * 100.0 / 28.0).abs() < 1e-9);
    }

    #[test]
    fn a_rib_without_a_swatch_says_so_and_leans_on_the_weighed_plain() {
        let rib = loop_length(&set(Some(14.0), 1.0), Structure::Rib1x1);
        assert_eq!(rib.basis, Basis::RibFromWeighed);
        assert_eq!(loop_length(&set(None, 1.0), Structure::Rib1x1).basis, Basis::RibRatio);
        assert!((rib.mm - 14.0 * RIB_LOOP).abs() < 1e-9);
        assert!(rib.relative_error >= RIB_SPREAD);
        // A tube is plain fabric.
        let tube = loop_length(&set(Some(14.0), 1.0), Structure::Circular);
        assert_eq!(tube.basis, Basis::WeighedSwatch);
    }

    #[test]
    fn grams_add_up_and_waste_yarn_stays_apart() {
        let section = SectionRun {
            name: "all".into(),
            stitches: [(Structure::Plain, 10_000)].into(),
            sewn_loops: 50,
            seam_rows: 100,
            seam_stitches: 0,
            float_needles: 10,
            tails: 2,
        };
        let mut run = Run { sections: vec![section], ..Run::default() };
        let swatches = set(Some(14.0), 1.0);
        let dry = need(&run, &swatches);
        // 10,050 loops of 14 mm, 100 rows of 2.5 mm at one and a half, 10 floats, two 20 cm ends.
        let mm = 10_050.0 * 14.0 + 375.0 + 10.0 * 100.0 / 28.0 + 400.0;
        assert!((dry.metres * 1000.0 - mm).abs() < 1e-6, "{} {mm}", dry.metres);
        assert!((dry.grams - mm * 250.0 / 1.0e6).abs() < 1e-9);
        assert!(dry.grams_low < dry.grams && dry.grams < dry.grams_high);
        run.waste.stitches = 1_000;
        let with_waste = need(&run, &swatches);
        assert_eq!(with_waste.grams, dry.grams);
        assert!((with_waste.waste_metres - 14.0).abs() < 1e-9);
    }
}
