use super::{Figure, Gauge, Source};

/// Loops to an area, S = KS / l^2, of plain wool in the dry relaxed state: 19.0 (Spencer, *Knitting
/// Technology*, p. 280-281, citing Munden 1959; read second-hand). One constant for fabric fresh off the
/// bed, rested and washed: both fabrics of which the loop was measured lie below it.
const KS: f64 = 19.0;
/// What the constant misses by, as a share, over fabrics (from the two measured ones and the published
/// constants of other states).
const KS_SPREAD: f64 = 0.06;
/// Rows to a stitch of the fabrics that the constant was found on (the same source, kc/kw).
const KS_ROWS: f64 = 1.32;
/// How fast it becomes unsure away from that shape (practice).
const ASPECT_SPREAD: f64 = 0.25;

/// Tightness factor, the root of tex over the loop in cm: 12 to 13 is normal on domestic machines
/// (computed from published gauges).
const DOMESTIC_TIGHTNESS: f64 = 12.5;
/// What a loop guessed from the yarn's thickness alone may miss by, as a share (practice): the spread of such
/// a gauge.
pub const THICKNESS_SPREAD: f64 = 0.12;
/// The same where it is taken from another yarn of the same knitter, knitted to the same cover.
pub const TWIN_SPREAD: f64 = 0.08;
/// Rows to a stitch of an ordinary plain fabric (published machine gauges: 1.30 to 1.54).
pub const USUAL_ROWS: f64 = 1.4;

/// A rib's loop over the plain one at the body's dial: ribs are knitted 2 to 5 numbers tighter (read);
/// the factor is practice, so its spread is wide.
pub const RIB_OVER_PLAIN: f64 = 0.90;
const RIB_SPREAD: f64 = 0.12;
/// Loop lost for each number the rib is tighter, and the spread of a rib at the same dial (practice).
const RIB_PER_NUMBER: f64 = 0.04;
const RIB_SPREAD_AT_DIAL: f64 = 0.08;

/// The yarn in a plain loop, in mm, from both gauges: `l = sqrt(19 A B)`, A the stitch's width, B the
/// row's height.
///
/// Width or height alone is no base: a relaxed fabric has a line of shapes, along which they trade against
/// each other at the same loop (read, abstract: arXiv 2404.07811, 2024); in their product that cancels.
pub fn loop_from_gauge(gauge: &Gauge) -> Figure {
    let (a, b) = (gauge.width, gauge.height);
    let mm = (KS * a.mm * b.mm).sqrt();
    Figure::with(
        mm,
        [
            (Source::LoopConstant, mm * KS_SPREAD),
            (Source::Aspect(gauge.id.clone()), mm * aspect_spread(gauge)),
            (Source::StitchReadings(gauge.id.clone()), mm * a.spread() / 2.0),
            (Source::RowReadings(gauge.id.clone()), mm * b.spread() / 2.0),
        ],
    )
}

fn aspect_spread(gauge: &Gauge) -> f64 {
    ASPECT_SPREAD * (gauge.width.mm / gauge.height.mm / KS_ROWS).ln()
}

/// How far the loop of [`loop_from_gauge`] may be off by this one gauge, as a share: its shape and its
/// readings, without what all gauges have in common. What [`Stitches`](super::Stitches) carry.
pub fn gauge_spread(gauge: &Gauge) -> f64 {
    let readings = gauge.width.spread().hypot(gauge.height.spread()) / 2.0;
    aspect_spread(gauge).hypot(readings)
}

/// A rib's loop from the plain one; `numbers` is by how many numbers of the dial the rib is tighter,
/// where both dials are known.
pub fn rib_loop(plain: &Figure, numbers: Option<f64>) -> Figure {
    let (ratio, spread) = match numbers {
        Some(numbers) => (1.0 - RIB_PER_NUMBER * numbers, RIB_SPREAD_AT_DIAL),
        None => (RIB_OVER_PLAIN, RIB_SPREAD),
    };
    plain.product(&Figure::with(ratio, [(Source::FabricRatio, ratio * spread)]))
}

/// The loop of a yarn nobody has swatched, in mm, from its thickness. `id` names what is guessed.
pub fn loop_from_thickness(tex: f64, id: &str) -> Figure {
    let mm = 10.0 * tex.sqrt() / DOMESTIC_TIGHTNESS;
    Figure::with(mm, [(Source::Aspect(id.into()), mm * THICKNESS_SPREAD)])
}

/// The same from the loop of another yarn, knitted to the same cover: it goes with the root of the
/// thickness.
pub fn loop_from_twin(known: &Figure, known_tex: f64, tex: f64, id: &str) -> Figure {
    let figure = known.times((tex / known_tex).sqrt());
    let own = figure.mean() * TWIN_SPREAD;
    figure.and([(Source::Aspect(id.into()), own)])
}

/// Width and height of a stitch, in mm, of which [`loop_from_gauge`] gives this loop back, with so many
/// rows to a stitch.
pub fn pitches_of_loop(loop_mm: f64, rows: f64) -> (f64, f64) {
    let width = loop_mm * (rows / KS).sqrt();
    (width, width / rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::{Likely, Pitch};

    fn gauge(stitches: f64, rows: f64, over_mm: f64) -> Gauge {
        let exact = |count: f64| Pitch::new(over_mm / count, 0.0, 9.0);
        Gauge { id: "blue".into(), width: exact(stitches), height: exact(rows), from: None }
    }

    /// Three fabrics. Of two the loop was measured outside: 12.6 to 12.9 mm (practice) and 11.29 mm (a
    /// hand-knit fabric of 9 x 10 to the inch, read).
    #[test]
    fn the_loop_from_both_gauges_is_near_what_was_measured() {
        for (fabric, mm, measured) in [
            (gauge(28.0, 40.0, 100.0), 13.02, Some(12.75)),
            (gauge(9.0, 10.0, 25.4), 11.67, Some(11.29)),
            (gauge(30.0, 42.0, 100.0), 12.28, None),
        ] {
            let figure = loop_from_gauge(&fabric);
            assert!((figure.mean() - mm).abs() < 0.006, "{}", figure.mean());
            if let Some(measured) = measured {
                assert!(figure.mean_within().contains(measured), "{measured}");
                // By the stitch's width alone (4.1, washed) one of them is 14 % over, beyond its 95 %.
                assert!((figure.mean() / measured - 1.0).abs() < 0.04);
            }
        }
    }

    /// Worked outside: sd hypot(0.06, 0.0198) = 0.0632, 95 % 11.51 to 14.74 mm.
    #[test]
    fn its_spread_is_the_constants_the_shapes_and_the_readings() {
        let fabric = gauge(28.0, 40.0, 100.0);
        let figure = loop_from_gauge(&fabric);
        let sd = figure.sd_of_mean() / figure.mean();
        assert!((sd - 0.0632).abs() < 5e-5, "{sd}");
        assert!((gauge_spread(&fabric) - 0.0198).abs() < 5e-5);
        let within = Likely::log_normal(figure.mean(), sd);
        assert!(
            (within.low - 11.51).abs() < 0.006 && (within.high - 14.74).abs() < 0.006,
            "{within:?}"
        );
        // All four figures that other formulas and the scale give lie within.
        for other in [14.64, 13.25, 13.9, 12.75] {
            assert!(within.contains(other), "{other}");
        }
        let mut read = fabric.clone();
        (read.width.standard_error, read.height.standard_error) = (0.01, 0.01);
        let both = loop_from_gauge(&read);
        let readings = read.width.spread().hypot(read.height.spread()) / 2.0;
        let of_gauge = gauge_spread(&fabric).hypot(readings);
        assert!((gauge_spread(&read) - of_gauge).abs() < 1e-12, "{}", gauge_spread(&read));
        assert!((both.sd_of_mean() / both.mean() - sd.hypot(readings)).abs() < 1e-9);
    }

    /// Of a yarn of 250 tex, by hand: 10 x 15.811 / 12.5 mm, and 12 % of it. Four times the thickness is twice the
    /// loop.
    #[test]
    fn the_loop_of_an_unknown_yarn_goes_with_the_root_of_its_thickness() {
        let guessed = loop_from_thickness(250.0, "slate");
        assert!((guessed.mean() - 12.649).abs() < 5e-4, "{}", guessed.mean());
        assert!((guessed.sd_of_mean() - 1.5179).abs() < 5e-5, "{}", guessed.sd_of_mean());
        let thick = loop_from_thickness(1_000.0, "rope");
        assert!((thick.mean() / guessed.mean() - 2.0).abs() < 1e-12);
    }

    /// S = ks / l^2 in the unit of the source: at 28 x 40 the area constant of the measured loop, 12.6 to
    /// 12.9 mm, is 17.8 to 18.6.
    #[test]
    fn the_constant_is_the_published_one() {
        let fabric = gauge(28.0, 40.0, 100.0);
        let area = fabric.width.mm * fabric.height.mm;
        assert!((loop_from_gauge(&fabric).mean().powi(2) / area - 19.0).abs() < 1e-9);
        for (mm, ks) in [(12.6f64, 17.8), (12.9, 18.6)] {
            assert!((mm.powi(2) / area - ks).abs() < 0.05);
        }
    }

    #[test]
    fn a_guessed_yarn_reads_back_as_the_loop_it_was_guessed_at() {
        let guessed = loop_from_thickness(250.0, "new");
        let (width, height) = pitches_of_loop(guessed.mean(), USUAL_ROWS);
        let back = Gauge {
            id: "new".into(),
            width: Pitch::guessed(width, 0.0),
            height: Pitch::guessed(height, 0.0),
            from: None,
        };
        assert!((loop_from_gauge(&back).mean() - guessed.mean()).abs() < 1e-9);
        assert!((width / height - USUAL_ROWS).abs() < 1e-12);
        assert!(guessed.sd_of_mean() / guessed.mean() > 0.11);
    }

    #[test]
    fn a_twin_is_unsure_by_what_the_known_one_is_and_by_its_own() {
        let known = loop_from_gauge(&gauge(28.0, 40.0, 100.0));
        let twin = loop_from_twin(&known, 250.0, 500.0, "new");
        assert!((twin.mean() / known.mean() - 2f64.sqrt()).abs() < 1e-12);
        assert!((twin.sd_of_mean() / twin.mean() - 0.0632f64.hypot(0.08)).abs() < 1e-4);
        // What both rest on cancels between them.
        assert!((twin.over(&known).sd_of_mean() - 0.08 * 2f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_rib_knitted_tighter_by_known_numbers_is_surer() {
        let plain = Figure::exact(13.0);
        let (blind, known) = (rib_loop(&plain, None), rib_loop(&plain, Some(3.0)));
        assert!((blind.mean() - 11.7).abs() < 1e-9 && (known.mean() - 11.44).abs() < 1e-9);
        assert!((blind.sd_of_mean() / blind.mean() - 0.12).abs() < 1e-12);
        assert!((known.sd_of_mean() / known.mean() - 0.08).abs() < 1e-12);
    }
}
