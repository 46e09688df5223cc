//! Swatches and the gauge they give, with its standard error.

use std::collections::BTreeMap;

use super::calibration::PieceRecord;
use super::machine::Machine;
use super::program::Structure;
use super::yarn::KW_WET;
use diag::{Code, Diagnostic, Diagnostics, Place};
use units::{Mass, PerTen, YarnCount};

/// What had been done to the fabric when it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FabricState {
    /// Fresh off the bed.
    AsKnitted,
    /// Left to itself for a while, not washed.
    Rested,
    /// Washed and dried.
    Washed,
}

impl FabricState {
    /// All three, in the order in which they come about.
    pub const ALL: [FabricState; 3] =
        [FabricState::AsKnitted, FabricState::Rested, FabricState::Washed];

    /// The words in files.
    pub const fn name(self) -> &'static str {
        match self {
            FabricState::AsKnitted => "as knitted",
            FabricState::Rested => "rested",
            FabricState::Washed => "washed",
        }
    }

    /// The state of that [`name`](Self::name), exactly.
    pub fn parse(text: &str) -> Option<FabricState> {
        FabricState::ALL.into_iter().find(|s| s.name() == text)
    }
}

/// So many stitches or rows over so many millimetres, measured a few times.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    /// Stitches or rows counted each time.
    pub count: u32,
    /// What they measured, in mm, each time.
    pub over_mm: Vec<f64>,
}

/// A swatch as it was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Swatch {
    /// The fabric it is of.
    pub structure: Structure,
    /// What had been done to it.
    pub state: FabricState,
    /// The dial it was knitted at, where noted.
    pub dial: Option<f64>,
    /// Along a row.
    pub stitches: Readings,
    /// Up a column.
    pub rows: Readings,
    /// Its weight, where it was weighed.
    pub weighed: Option<Weighed>,
}

/// The whole swatch on the scale: its mass, and how many stitches it is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighed {
    /// The whole swatch, in grams.
    pub mass: Mass,
    /// Its stitches, all rows together.
    pub stitches: u64,
    /// The scale's smallest step in grams.
    pub scale_step_g: f64,
}

/// A count per 10 cm and its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// The mean of the readings, or an estimate.
    pub per_ten: PerTen,
    /// Its standard error, per 10 cm.
    pub standard_error: f64,
}

impl Counted {
    /// Width of a stitch or height of a row, in mm.
    pub fn pitch_mm(self) -> f64 {
        self.per_ten.pitch_mm()
    }

    /// Standard error as a share of the value.
    pub fn relative_error(self) -> f64 {
        self.standard_error / self.per_ten.per_10_cm()
    }
}

/// The gauge of one structure.
#[derive(Clone, Debug, PartialEq)]
pub struct Gauge {
    /// The fabric it is of.
    pub structure: Structure,
    /// Stitches along a row.
    pub stitches: Counted,
    /// Rows up a column.
    pub rows: Counted,
    /// The dial it was knitted at, where noted.
    pub dial: Option<f64>,
    /// `None`: estimated from the plain swatch.
    pub measured: Option<FabricState>,
    /// The swatch's weight, where it was weighed.
    pub weighed: Option<Weighed>,
}

/// All that is known of one yarn on one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct SwatchSet {
    /// How thick the yarn is.
    pub yarn: YarnCount,
    /// What a page calls it.
    pub yarn_name: String,
    gauges: BTreeMap<Structure, Gauge>,
    records: Vec<PieceRecord>,
}

/// A ruler is read to the millimetre: the standard deviation of that rounding.
const RULER_SD_MM: f64 = 0.29;

/// Width lost by a rib as a share of the plain width on as many needles. 1x1: about 30 %
/// (Spencer, *Knitting Technology*, from memory). 2x2 draws in more on the same needles (read in
/// the same literature; the amount is common practice, no source).
const DRAW_IN: [(Structure, f64); 2] = [(Structure::Rib1x1, 0.30), (Structure::Rib2x2, 0.36)];

/// Standard error, as a share, of a gauge that was estimated and not measured.
const ESTIMATE_ERROR: f64 = 0.08;

/// Tightness factor, the root of tex over the loop in cm: 12 to 13 is normal on domestic machines
/// (computed from published gauges).
const DOMESTIC_TIGHTNESS: f64 = 12.5;
/// Rows to a stitch of an ordinary plain fabric (published machine gauges: 1.30 to 1.54).
const USUAL_ROWS: f64 = 1.4;
/// Standard error, as a share, of a gauge guessed from thickness alone.
const GUESS_ERROR: f64 = 0.12;

/// Rows per stitch that knitted fabric normally shows (published machine gauges run from 1.30 to
/// 1.54).
const ROW_STITCH_RATIO: std::ops::RangeInclusive<f64> = 1.2..=1.6;

impl SwatchSet {
    /// Turns swatches into gauges.
    ///
    /// # Errors
    /// All faults at once: no plain swatch, two of one structure, empty or absurd readings.
    pub fn new(
        yarn: YarnCount,
        yarn_name: String,
        swatches: &[Swatch],
    ) -> Result<(SwatchSet, Diagnostics), Diagnostics> {
        SwatchSet::read(yarn, yarn_name, swatches, |_| None)
    }

    /// As [`new`](Self::new) for swatches that were read: `place` tells where each of them stands.
    ///
    /// # Errors
    /// As there; a fault of a swatch is placed.
    pub fn read(
        yarn: YarnCount,
        yarn_name: String,
        swatches: &[Swatch],
        place: impl Fn(usize) -> Option<Place>,
    ) -> Result<(SwatchSet, Diagnostics), Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut gauges = BTreeMap::new();
        let at = |swatch: usize, fault: Diagnostic| match place(swatch) {
            Some(place) => fault.at(place),
            None => fault,
        };
        for (i, swatch) in swatches.iter().enumerate() {
            match gauge(swatch) {
                Ok((gauge, warnings)) => {
                    faults.extend(warnings);
                    if gauges.insert(swatch.structure, gauge).is_some() {
                        let twice = Diagnostic::error(
                            Code::SwatchTwice,
                            format!("two {} swatches", swatch.structure),
                        );
                        faults.push(at(i, twice.hint("keep one, or put all readings into it")));
                    }
                }
                Err(fault) => faults.push(at(i, fault)),
            }
        }
        if !gauges.contains_key(&Structure::Plain) && !faults.has_errors() {
            let fault = Diagnostic::error(Code::NoPlainSwatch, "there is no plain swatch")
                .hint("the other structures are estimated from it, so it must be measured");
            faults.push(at(0, fault));
        }
        if faults.has_errors() {
            return Err(faults);
        }
        for gauge in gauges.values() {
            faults.extend(odd_weight(gauge, yarn));
        }
        Ok((SwatchSet { yarn, yarn_name, gauges, records: Vec::new() }, faults))
    }

    /// A yarn nobody has swatched: from another of the knitter's swatches by thickness, or else
    /// from thickness alone. Its gauges say that they are not measured.
    pub fn estimated(yarn: YarnCount, yarn_name: String, from: Option<&SwatchSet>) -> SwatchSet {
        let plain = match from {
            Some(known) => {
                // The same cover: pitch goes with the root of the thickness.
                let factor = (known.yarn.tex() / yarn.tex()).sqrt();
                let plain = known.plain();
                let scaled = |counted: Counted| {
                    guessed(counted.per_ten.per_10_cm() * factor, ESTIMATE_ERROR)
                };
                (scaled(plain.stitches), scaled(plain.rows))
            }
            None => {
                let loop_mm = 10.0 * yarn.tex().sqrt() / DOMESTIC_TIGHTNESS;
                let stitches = 100.0 * KW_WET / loop_mm;
                (guessed(stitches, GUESS_ERROR), guessed(stitches * USUAL_ROWS, GUESS_ERROR))
            }
        };
        let gauge = Gauge {
            structure: Structure::Plain,
            stitches: plain.0,
            rows: plain.1,
            dial: None,
            measured: None,
            weighed: None,
        };
        let gauges = [(Structure::Plain, gauge)].into();
        SwatchSet { yarn, yarn_name, gauges, records: Vec::new() }
    }

    /// The same with what finished pieces in this yarn took.
    pub fn with_records(self, records: Vec<PieceRecord>) -> SwatchSet {
        SwatchSet { records, ..self }
    }

    /// What finished pieces in this yarn took.
    pub fn records(&self) -> &[PieceRecord] {
        &self.records
    }

    /// What does not look right of these swatches on this machine.
    pub fn suits(&self, machine: &Machine) -> Diagnostics {
        /// Stitch width over needle pitch of fabric that can be knitted and worn (common practice,
        /// no source; published machine gauges lie between 0.7 and 0.9).
        const WIDTH_ON_PITCH: std::ops::RangeInclusive<f64> = 0.5..=1.2;
        let mut warnings = Diagnostics::new();
        let share = self.plain().stitches.pitch_mm() / machine.pitch_mm;
        if !WIDTH_ON_PITCH.contains(&share) {
            warnings.push(
                Diagnostic::warning(
                    Code::OddPitch,
                    format!(
                        "{:.1} stitches to 10 cm are unusual on needles {} mm apart",
                        self.plain().stitches.per_ten.per_10_cm(),
                        machine.pitch_mm
                    ),
                )
                .hint("is it the right machine for this swatch?"),
            );
        }
        warnings
    }

    /// The gauge of plain fabric, which every set has.
    pub fn plain(&self) -> &Gauge {
        &self.gauges[&Structure::Plain]
    }

    /// The gauge of a structure, measured or else estimated from plain (`measured` is `None`).
    pub fn gauge(&self, structure: Structure) -> Gauge {
        let structure = structure.gauged_as();
        if let Some(gauge) = self.gauges.get(&structure) {
            return gauge.clone();
        }
        let plain = self.plain();
        let draw_in = DRAW_IN.iter().find(|(s, _)| *s == structure).map_or(0.0, |(_, d)| *d);
        let estimate = |counted: Counted, factor: f64| {
            let value = (counted.per_ten.per_10_cm() * factor).min(PerTen::MOST);
            Counted {
                per_ten: PerTen::new(value).unwrap_or(counted.per_ten),
                standard_error: value * counted.relative_error().hypot(ESTIMATE_ERROR),
            }
        };
        Gauge {
            structure,
            stitches: estimate(plain.stitches, 1.0 / (1.0 - draw_in)),
            rows: estimate(plain.rows, 1.0),
            dial: None,
            measured: None,
            weighed: None,
        }
    }

    /// Whether the structure has a swatch of its own; a tube has the plain one's.
    pub fn is_measured(&self, structure: Structure) -> bool {
        self.gauges.get(&structure.gauged_as()).is_some_and(|gauge| gauge.measured.is_some())
    }
}

fn guessed(per_10_cm: f64, error: f64) -> Counted {
    let value = per_10_cm.clamp(PerTen::LEAST, PerTen::MOST);
    let per_ten = PerTen::new(value).expect("clamped into its range");
    Counted { per_ten, standard_error: value * error }
}

fn gauge(swatch: &Swatch) -> Result<(Gauge, Diagnostics), Diagnostic> {
    let about = |d: Diagnostic| d.context(format!("the {} swatch", swatch.structure));
    let stitches = counted(&swatch.stitches, "stitches").map_err(about)?;
    let rows = counted(&swatch.rows, "rows").map_err(about)?;
    let mut warnings = Diagnostics::new();
    let ratio = rows.per_ten.per_10_cm() / stitches.per_ten.per_10_cm();
    if swatch.structure == Structure::Plain && !ROW_STITCH_RATIO.contains(&ratio) {
        warnings.push(about(
            Diagnostic::warning(
                Code::OddGauge,
                format!("{ratio:.2} rows to a stitch is unusual: plain fabric has 1.2 to 1.6"),
            )
            .hint("count again; let the swatch rest and wash it before measuring"),
        ));
    }
    if let Some(weighed) = swatch.weighed
        && weighed.stitches == 0
    {
        return Err(about(
            Diagnostic::error(Code::WeighedNothing, "a weighed swatch of no stitches")
                .hint("say how many stitches and rows the weighed piece has"),
        ));
    }
    Ok((
        Gauge {
            structure: swatch.structure,
            stitches,
            rows,
            dial: swatch.dial,
            measured: Some(swatch.state),
            weighed: swatch.weighed,
        },
        warnings,
    ))
}

/// A weight that can't be right, or that the scale was too coarse for.
fn odd_weight(gauge: &Gauge, yarn: YarnCount) -> Diagnostics {
    /// A stitch takes about 4 widths of yarn (published hand-knit swatches: within 5 %); ribs and
    /// loose fabrics stray further.
    const WIDTHS: std::ops::RangeInclusive<f64> = 2.8..=6.0;
    const COARSE: f64 = 0.2;
    let mut warnings = Diagnostics::new();
    let Some(weighed) = gauge.weighed else { return warnings };
    let about = format!("the {} swatch", gauge.structure);
    let widths =
        yarn.mm_in(weighed.mass.grams()) / weighed.stitches as f64 / gauge.stitches.pitch_mm();
    if gauge.structure == Structure::Plain && !WIDTHS.contains(&widths) {
        warnings.push(
            Diagnostic::warning(
                Code::OddWeight,
                format!(
                    "its weight makes a stitch {widths:.1} stitch widths of yarn; about 4 is usual"
                ),
            )
            .context(about.clone())
            .hint(
                "check the weight, the stitches and rows of the piece weighed, and the yarn count",
            ),
        );
    }
    if weighed.scale_step_g > COARSE * weighed.mass.grams() {
        warnings.push(
            Diagnostic::warning(
                Code::CoarseScale,
                format!(
                    "a scale in steps of {} g is too coarse for {}",
                    weighed.scale_step_g, weighed.mass
                ),
            )
            .context(about)
            .hint("weigh a larger swatch, or several together"),
        );
    }
    warnings
}

/// Mean count per 10 cm over the readings. The standard error joins the scatter of the readings
/// with the ruler's millimetre at both ends.
fn counted(readings: &Readings, what: &str) -> Result<Counted, Diagnostic> {
    if readings.count == 0 || readings.over_mm.is_empty() {
        return Err(Diagnostic::error(Code::NoReadings, format!("no {what} were counted"))
            .hint("count, say, 40 stitches and 60 rows and measure them three times"));
    }
    if readings.over_mm.iter().any(|mm| *mm <= 0.0) {
        return Err(Diagnostic::error(
            Code::NoWidth,
            format!("{what} counted over no width at all"),
        )
        .hint("measure from the first to the last of them"));
    }
    let n = readings.over_mm.len() as f64;
    let values: Vec<f64> =
        readings.over_mm.iter().map(|mm| f64::from(readings.count) * 100.0 / mm).collect();
    let mean = values.iter().sum::<f64>() / n;
    let mean_mm = readings.over_mm.iter().sum::<f64>() / n;
    let scatter = if values.len() > 1 {
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        (squares / (n - 1.0) / n).sqrt()
    } else {
        0.0
    };
    let ruler = mean * RULER_SD_MM * 2.0_f64.sqrt() / mean_mm / n.sqrt();
    let per_ten = PerTen::new(mean).map_err(|e| {
        Diagnostic::error(Code::Gauge, format!("{what}: {}", e.message)).hint(e.hint)
    })?;
    Ok(Counted { per_ten, standard_error: scatter.hypot(ruler) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn swatch(structure: Structure, stitches: &[f64], rows: &[f64]) -> Swatch {
        Swatch {
            structure,
            state: FabricState::Washed,
            dial: Some(7.0),
            stitches: Readings { count: 40, over_mm: stitches.to_vec() },
            rows: Readings { count: 60, over_mm: rows.to_vec() },
            weighed: None,
        }
    }

    fn set(swatches: &[Swatch]) -> Result<(SwatchSet, Diagnostics), Diagnostics> {
        SwatchSet::new(YarnCount::from_tex(250.0).expect("tex"), "blue".into(), swatches)
    }

    #[test]
    fn readings_that_scatter_give_a_wider_error() {
        let (steady, _) = set(&[swatch(Structure::Plain, &[142.0; 3], &[150.0; 3])]).expect("ok");
        let (loose, _) =
            set(&[swatch(Structure::Plain, &[136.0, 142.0, 148.0], &[150.0; 3])]).expect("ok");
        assert!((steady.plain().stitches.per_ten.per_10_cm() - 28.17).abs() < 0.01);
        assert!(
            loose.plain().stitches.standard_error > 5.0 * steady.plain().stitches.standard_error
        );
    }

    #[test]
    fn a_missing_rib_is_estimated_and_flagged() {
        let (set, _) = set(&[swatch(Structure::Plain, &[142.0], &[150.0])]).expect("ok");
        let rib = set.gauge(Structure::Rib1x1);
        assert_eq!(rib.measured, None);
        let narrower = set.plain().stitches.pitch_mm() * 0.7;
        assert!((rib.stitches.pitch_mm() - narrower).abs() < 1e-9);
        assert!(rib.stitches.relative_error() > 0.08);
    }

    #[test]
    fn odd_ratios_warn_and_every_fault_is_gathered() {
        let (_, warnings) = set(&[swatch(Structure::Plain, &[142.0], &[250.0])]).expect("ok");
        assert_eq!(warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["odd-gauge"]);
        let faults = set(&[
            swatch(Structure::Plain, &[], &[150.0]),
            swatch(Structure::Rib1x1, &[0.0], &[150.0]),
        ])
        .expect_err("two faults");
        assert_eq!(
            faults.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(),
            ["no-readings", "no-width"]
        );
    }
}
