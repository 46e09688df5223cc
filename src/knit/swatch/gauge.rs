use std::sync::Arc;

use super::{FabricState, Readings, Swatch, Weighed};
use crate::estimate::{self, Id, Pitch};
use crate::program::Structure;
use diag::{Code, Diagnostic, Diagnostics};
use units::PerTen;

/// A count per 10 cm, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// The mean of the readings, or an estimate.
    pub per_ten: PerTen,
    /// What one of them measures, with its error.
    pub pitch: Pitch,
}

impl Counted {
    /// Width of a stitch or height of a row, in mm.
    pub fn pitch_mm(self) -> f64 {
        self.per_ten.pitch_mm()
    }

    /// Its standard error, per 10 cm.
    pub fn standard_error(self) -> f64 {
        self.per_ten.per_10_cm() * self.pitch.standard_error
    }

    /// Half-width of its 95 % interval, per 10 cm.
    pub fn half_width(self) -> f64 {
        self.per_ten.per_10_cm() * self.pitch.half_width()
    }

    /// Not measured: `error` is its standard deviation as a share.
    pub(super) fn guessed(per_10_cm: f64, error: f64) -> Counted {
        let value = per_10_cm.clamp(PerTen::LEAST, PerTen::MOST);
        let per_ten = PerTen::new(value).expect("clamped into its range");
        Counted { per_ten, pitch: Pitch::guessed(per_ten.pitch_mm(), error) }
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
    /// `None`: estimated from the plain swatch, or from the yarn's thickness.
    pub measured: Option<FabricState>,
    /// The swatch's weight, where it was weighed.
    pub weighed: Option<Weighed>,
    /// The same as finished sizes reckon with it: figures that name the same one miss together.
    pub reckoned: Arc<estimate::Gauge>,
}

/// The name that a gauge of a set goes by.
fn id(set: &str, structure: Structure) -> Id {
    format!("{set}, {structure}").into()
}

impl Gauge {
    /// From counts, for the set of that name. `from` is the gauge it was guessed from.
    pub(super) fn of(
        set: &str,
        structure: Structure,
        (stitches, rows): (Counted, Counted),
        from: Option<Arc<estimate::Gauge>>,
    ) -> Gauge {
        let id = id(set, structure);
        let (width, height) = (stitches.pitch, rows.pitch);
        let reckoned = Arc::new(estimate::Gauge { id, width, height, from });
        Gauge { structure, stitches, rows, dial: None, measured: None, weighed: None, reckoned }
    }

    /// The same in a set of another name, with `from` called by its new name too.
    pub(super) fn renamed(self, set: &str, from: Option<&Arc<estimate::Gauge>>) -> Gauge {
        let old = &*self.reckoned;
        let reckoned = Arc::new(estimate::Gauge {
            id: id(set, self.structure),
            from: old.from.as_ref().map(|old| from.unwrap_or(old).clone()),
            ..old.clone()
        });
        Gauge { reckoned, ..self }
    }

    /// What a swatch gives, and what is odd about it. `all` are the set's swatches: their readings
    /// say together how far this knitter's readings scatter.
    pub(super) fn read(
        set: &str,
        swatch: &Swatch,
        all: &[Swatch],
    ) -> Result<(Gauge, Diagnostics), Diagnostic> {
        let about = |d: Diagnostic| d.context(format!("the {} swatch", swatch.structure));
        let others: Vec<&[f64]> = all
            .iter()
            .flat_map(|other| [&other.stitches, &other.rows])
            .map(|readings| readings.over_mm.as_slice())
            // A slip of the tape says nothing of how the others scatter.
            .filter(|readings| odd_one(readings).is_none())
            .collect();
        let stitches = counted(&swatch.stitches, "stitches", &others).map_err(about)?;
        let rows = counted(&swatch.rows, "rows", &others).map_err(about)?;
        let mut warnings = Diagnostics::new();
        for (readings, what) in [(&swatch.stitches, "stitches"), (&swatch.rows, "rows")] {
            if let Some((odd, usual)) = odd_one(&readings.over_mm) {
                let told = format!(
                    "one reading of {} {what} stands apart: {:.1} cm, and the others are about {:.1} cm",
                    readings.count,
                    odd / 10.0,
                    usual / 10.0
                );
                let hint = "measure that one again: a slip of the tape is no gauge";
                warnings.push(about(Diagnostic::warning(Code::OddGauge, told).hint(hint)));
            }
        }
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
        let gauge = Gauge {
            dial: swatch.dial,
            measured: Some(swatch.state),
            weighed: swatch.weighed,
            ..Gauge::of(set, swatch.structure, (stitches, rows), None)
        };
        Ok((gauge, warnings))
    }
}

/// Rows per stitch that knitted fabric normally shows (published machine gauges run from 1.30 to
/// 1.54).
const ROW_STITCH_RATIO: std::ops::RangeInclusive<f64> = 1.2..=1.6;

/// Readings of one thing that differ by more are no scatter of a tape laid anew (practice: some 2 %).
const APART: f64 = 0.08;

/// The reading that is farthest from the others where it is too far, and the middle of those, in mm.
fn odd_one(over_mm: &[f64]) -> Option<(f64, f64)> {
    let mut sorted = over_mm.to_vec();
    sorted.sort_by(f64::total_cmp);
    let [least, .., most] = sorted.as_slice() else { return None };
    let middle = |rest: &[f64]| f64::midpoint(rest[(rest.len() - 1) / 2], rest[rest.len() / 2]);
    let (low, high) = (middle(&sorted[1..]), middle(&sorted[..sorted.len() - 1]));
    let (down, up) = (1.0 - least / low, most / high - 1.0);
    let (odd, usual) = if down > up { (*least, low) } else { (*most, high) };
    (down.max(up) > APART).then_some((odd, usual))
}

/// Mean count per 10 cm over the readings, and its error: see [`Pitch::from_readings`]. `others` hold
/// these readings too, but for odd ones.
fn counted(readings: &Readings, what: &str, others: &[&[f64]]) -> Result<Counted, Diagnostic> {
    if readings.count == 0 || readings.over_mm.is_empty() {
        return Err(Diagnostic::error(Code::NoReadings, format!("no {what} were counted"))
            .hint("count, say, 40 stitches and 60 rows and measure them three times"));
    }
    let own = readings.over_mm.as_slice();
    let rest: Vec<&[f64]> =
        others.iter().copied().filter(|other| !std::ptr::eq(*other, own)).collect();
    let Some(pitch) = Pitch::from_readings(readings.count, own, &rest) else {
        return Err(Diagnostic::error(
            Code::NoWidth,
            format!("{what} counted over no width at all"),
        )
        .hint("measure from the first to the last of them"));
    };
    let values = own.iter().map(|mm| f64::from(readings.count) * 100.0 / mm);
    let mean = values.sum::<f64>() / own.len() as f64;
    let per_ten = PerTen::new(mean).map_err(|e| {
        Diagnostic::error(Code::Gauge, format!("{what}: {}", e.message)).hint(e.hint)
    })?;
    Ok(Counted { per_ten, pitch })
}
