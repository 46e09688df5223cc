//! Yarn: how long a stitch is, and what a run takes in metres and grams.

use std::borrow::Cow;

use super::estimate::{Effect, Likely, Need, Piece, PieceSection};
use super::program::Structure;
use super::run::{Run, SectionRun};
use super::swatch::SwatchSet;

/// An end left to darn in (common practice, no source).
const TAIL_MM: f64 = 200.0;
/// Sewing thread over the length sewn (common practice, no source).
const SEAM_TAKE_UP: f64 = 1.5;

/// Where the loop length comes from, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Basis {
    /// So many of the knitter's own finished pieces.
    Records(u32),
    /// A swatch of this structure on the scale.
    WeighedSwatch,
    /// Loop length from both gauges, by Munden's constant.
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

/// Yarn in one stitch, in mm: what is expected, and 95 % of what the next piece will take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopLength {
    /// Yarn in a stitch, in mm.
    pub mm: f64,
    /// Where it lies with 95 %, in mm, on average over many pieces.
    pub within: Likely,
    /// Where the figure comes from.
    pub basis: Basis,
}

/// The loop length of a structure in this yarn: the model's, moved by all that was weighed.
pub fn loop_length(swatches: &SwatchSet, structure: Structure) -> LoopLength {
    let stitches = swatches.stitches(structure, 1);
    let (model, factor) =
        (swatches.model_loop_mm(structure), swatches.learnt().stitch_factor(&stitches));
    LoopLength {
        mm: model * swatches.learnt().multiplier(&stitches),
        within: Likely {
            middle: model * factor.middle,
            low: model * factor.low,
            high: model * factor.high,
        },
        basis: basis(swatches, structure),
    }
}

fn basis(swatches: &SwatchSet, structure: Structure) -> Basis {
    let gauge = swatches.gauge(structure);
    let fabric = Effect::YarnFabric(swatches.yarn_id().clone(), gauge.structure);
    let (pieces, weighed) = swatches.learnt().seen(&fabric);
    if pieces > 0 {
        return Basis::Records(pieces);
    }
    if weighed > 0 {
        return Basis::WeighedSwatch;
    }
    if gauge.structure == Structure::Plain {
        let measured = gauge.measured.is_some();
        return if measured { Basis::LoopLength } else { Basis::Unswatched };
    }
    // A weighed plain swatch still helps the rib.
    match basis(swatches, Structure::Plain) {
        Basis::Records(_) | Basis::WeighedSwatch => Basis::RibFromWeighed,
        Basis::Unswatched => Basis::Unswatched,
        _ => Basis::RibRatio,
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
    /// Grams it takes.
    pub need: Need,
    /// The weakest basis of its fabrics.
    pub basis: Basis,
}

/// Yarn for a whole run, in good yarn.
#[derive(Clone, Debug, PartialEq)]
pub struct YarnNeed {
    /// Section by section, those without a stitch left out.
    pub sections: Vec<SectionYarn>,
    /// The same as estimates reckon with it, in the yarn of the swatch.
    pub piece: Piece,
    /// Expected length of all sections, in metres.
    pub metres: f64,
    /// Grams of all sections.
    pub need: Need,
    /// The weakest basis of any part.
    pub basis: Basis,
    /// Scrap yarn, by length; it never comes out of the good yarn.
    pub waste_metres: f64,
}

/// What the run takes. The waste yarn is taken to be as thick as the good one.
pub fn need(run: &Run, swatches: &SwatchSet) -> YarnNeed {
    let plain = loop_length(swatches, Structure::Plain);
    let sewing = Sewing::of(swatches);
    let mut loops: Vec<(Structure, LoopLength)> = Vec::new();
    let mut loop_of = |structure: Structure| match loops.iter().find(|(s, _)| *s == structure) {
        Some((_, length)) => *length,
        None => {
            let length = loop_length(swatches, structure);
            loops.push((structure, length));
            length
        }
    };
    let knitted = || run.sections.iter().filter(|section| !section.stitches.is_empty());
    let of_section = |section: &SectionRun| PieceSection {
        name: section.name.as_str().into(),
        stitches: section.stitches.iter().map(|(s, count)| swatches.stitches(*s, *count)).collect(),
        other_g: swatches.yarn.grams_of(sewing.section_mm(section)),
    };
    let piece = Piece { id: "piece".into(), sections: knitted().map(of_section).collect() };
    let found = swatches.learnt().need(&piece);
    let sections: Vec<SectionYarn> = knitted()
        .zip(found.sections)
        .map(|(section, (_, need))| {
            let each: Vec<(f64, LoopLength)> =
                section.stitches.iter().map(|(s, n)| (*n as f64, loop_of(*s))).collect();
            let mm = each.iter().map(|(n, length)| n * length.mm).sum::<f64>();
            SectionYarn {
                name: section.name.clone(),
                stitches: section.stitches.values().sum(),
                metres: (mm + sewing.section_mm(section)) / 1000.0,
                need,
                basis: each.iter().map(|(_, l)| l.basis).max().unwrap_or(plain.basis),
            }
        })
        .collect();
    YarnNeed {
        basis: sections.iter().map(|s| s.basis).max().unwrap_or(plain.basis),
        metres: sections.iter().map(|s| s.metres).sum(),
        sections,
        piece,
        need: found.whole,
        waste_metres: run.waste.stitches as f64 * plain.mm / 1000.0,
    }
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
    use crate::swatch::{FabricState, Readings, Swatch, Weighed};
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
                sure: false,
            }),
        };
        let yarn = units::YarnCount::from_tex(250.0).expect("a yarn");
        SwatchSet::new(yarn, "test".into(), &[swatch]).expect("sound").0
    }

    /// Half-width of the 95 % interval, as a share.
    fn unsure(length: LoopLength) -> f64 {
        length.within.half_width() / length.mm
    }

    #[test]
    fn a_weighed_swatch_moves_the_gauges_loop_and_a_finer_scale_moves_it_further() {
        let unweighed = loop_length(&set(None, 1.0), Structure::Plain);
        assert_eq!(unweighed.basis, Basis::LoopLength);
        // l = sqrt(19 A B).
        let model = (19.0f64 * 100.0 / 28.0 * 100.0 / 40.0).sqrt();
        assert!((unweighed.mm - model).abs() < 1e-9);
        // 4000 stitches of 14 mm of 250 tex weigh 14 g.
        let coarse = loop_length(&set(Some(14.0), 1.0), Structure::Plain);
        let fine = loop_length(&set(Some(14.0), 0.1), Structure::Plain);
        assert_eq!(coarse.basis, Basis::WeighedSwatch);
        assert!(model < coarse.mm && coarse.mm < fine.mm && fine.mm < 14.0);
        assert!(unsure(unweighed) > unsure(coarse) && unsure(coarse) > unsure(fine));
        // A swatch is not the piece: however fine the scale, 3 % (sd) lie between them.
        assert!(unsure(fine) > 0.04, "{}", unsure(fine));
    }

    #[test]
    fn a_rib_without_a_swatch_says_so_and_leans_on_the_weighed_plain() {
        let swatches = set(Some(14.0), 1.0);
        let (plain, rib) =
            (loop_length(&swatches, Structure::Plain), loop_length(&swatches, Structure::Rib1x1));
        assert_eq!(rib.basis, Basis::RibFromWeighed);
        assert_eq!(loop_length(&set(None, 1.0), Structure::Rib1x1).basis, Basis::RibRatio);
        // Nine tenths of the plain loop; of what plain learnt, what it can't share stays behind.
        let model = swatches.model_loop_mm(Structure::Plain);
        assert!(model * 0.9 < rib.mm && rib.mm < plain.mm * 0.9);
        assert!(unsure(rib) > unsure(plain));
        // A tube is plain fabric.
        assert_eq!(loop_length(&swatches, Structure::Circular), plain);
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
        let plain = loop_length(&swatches, Structure::Plain).mm;
        // 10,050 loops, 100 rows of 2.5 mm at one and a half, 10 floats, two 20 cm ends.
        let mm = 10_050.0 * plain + 375.0 + 10.0 * 100.0 / 28.0 + 400.0;
        assert!((dry.metres * 1000.0 - mm).abs() < 1e-6, "{} {mm}", dry.metres);
        assert!((dry.need.grams() - mm * 250.0 / 1.0e6).abs() < 1e-9);
        let within = dry.need.next_within();
        assert!(within.low < dry.need.grams() && dry.need.grams() < within.high);
        run.waste.stitches = 1_000;
        let with_waste = need(&run, &swatches);
        assert_eq!(with_waste.need, dry.need);
        assert!((with_waste.waste_metres - plain).abs() < 1e-9);
    }
}
