use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Counted, Gauge, Swatch, check};
use crate::estimate::{
    Id, Learnt, Moisture, Record, Stitches, THICKNESS_SPREAD, TWIN_SPREAD, USUAL_ROWS, Unevenness,
    Weighed, WeighedSection, gauge_spread, loop_from_gauge, loop_from_thickness, pitches_of_loop,
    rib_loop, weighing_sd,
};
use crate::machine::Machine;
use crate::program::Structure;
use diag::{Code, Diagnostic, Diagnostics, Place};
use units::{PerTen, YarnCount};

/// All that is known of one yarn on one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct SwatchSet {
    /// How thick the yarn is.
    pub yarn: YarnCount,
    /// What a page calls it.
    pub yarn_name: String,
    /// What the yarn is called where weighings are held together.
    yarn_id: Id,
    /// Of every structure that has a gauge of its own, measured or estimated.
    gauges: BTreeMap<Structure, Gauge>,
    /// What the plain loop may be off by because of this one gauge, as a share.
    spread: f64,
    learnt: Arc<Learnt>,
}

/// Width lost by a rib as a share of the plain width on as many needles. 1x1: about 30 %
/// (Spencer, *Knitting Technology*, from memory). 2x2 draws in more on the same needles (read in
/// the same literature; the amount is common practice, no source).
const DRAW_IN: [(Structure, f64); 2] = [(Structure::Rib1x1, 0.30), (Structure::Rib2x2, 0.36)];

/// Standard error, as a share, of a gauge that was estimated and not measured.
const ESTIMATE_ERROR: f64 = 0.08;
/// Standard error, as a share, of a gauge guessed from thickness alone.
const GUESS_ERROR: f64 = 0.12;

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
            match Gauge::read(&yarn_name, swatch, swatches) {
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
        let Some(plain) = gauges.get(&Structure::Plain).filter(|_| !faults.has_errors()) else {
            if !faults.has_errors() {
                let fault = Diagnostic::error(Code::NoPlainSwatch, "there is no plain swatch")
                    .hint("the other structures are estimated from it, so it must be measured");
                faults.push(at(0, fault));
            }
            return Err(faults);
        };
        let spread = gauge_spread(&plain.reckoned);
        let mut set = SwatchSet::with_gauges(yarn, yarn_name, gauges, spread);
        let learnt = Learnt::from(&set.weighings(), &Unevenness::learnt());
        faults.extend(check::odd_weights(set.gauges.values(), &learnt));
        set.learnt = Arc::new(learnt);
        Ok((set, faults))
    }

    /// `gauges` has the plain one; those it lacks are estimated from that.
    fn with_gauges(
        yarn: YarnCount,
        yarn_name: String,
        mut gauges: BTreeMap<Structure, Gauge>,
        spread: f64,
    ) -> SwatchSet {
        let plain = gauges[&Structure::Plain].clone();
        for structure in Structure::ALL.into_iter().filter(|s| s.gauged_as() == *s) {
            let draw_in = DRAW_IN.iter().find(|(s, _)| *s == structure).map_or(0.0, |(_, d)| *d);
            let guess = |counted: Counted, factor: f64| {
                Counted::guessed(counted.per_ten.per_10_cm() * factor, ESTIMATE_ERROR)
            };
            gauges.entry(structure).or_insert_with(|| {
                let counts = (guess(plain.stitches, 1.0 / (1.0 - draw_in)), guess(plain.rows, 1.0));
                Gauge::of(&yarn_name, structure, counts, Some(plain.reckoned.clone()))
            });
        }
        let learnt = Arc::new(Learnt::nothing(&Unevenness::learnt()));
        let yarn_id = yarn_name.as_str().into();
        SwatchSet { yarn, yarn_name, yarn_id, gauges, spread, learnt }
    }

    /// A yarn nobody has swatched: from another of the knitter's swatches by thickness, or else
    /// from thickness alone. Its gauges say that they are not measured.
    pub fn estimated(yarn: YarnCount, yarn_name: String, from: Option<&SwatchSet>) -> SwatchSet {
        let (counts, like, spread) = match from {
            Some(known) => {
                // The same cover: pitch goes with the root of the thickness.
                let factor = (known.yarn.tex() / yarn.tex()).sqrt();
                let plain = known.plain();
                let scaled = |counted: Counted| {
                    Counted::guessed(counted.per_ten.per_10_cm() * factor, ESTIMATE_ERROR)
                };
                let counts = (scaled(plain.stitches), scaled(plain.rows));
                (counts, Some(plain.reckoned.clone()), known.spread.hypot(TWIN_SPREAD))
            }
            None => {
                let loop_mm = loop_from_thickness(yarn.tex());
                let (width, height) = pitches_of_loop(loop_mm, USUAL_ROWS);
                let guess = |mm: f64| Counted::guessed(100.0 / mm, GUESS_ERROR);
                ((guess(width), guess(height)), None, THICKNESS_SPREAD)
            }
        };
        let plain = Gauge::of(&yarn_name, Structure::Plain, counts, like);
        let gauges = [(Structure::Plain, plain)].into();
        SwatchSet::with_gauges(yarn, yarn_name, gauges, spread)
    }

    /// The same with its gauges called by another name than the yarn's: two swatches of one workspace
    /// may be of yarns of the same name, and don't miss together.
    #[must_use]
    pub fn named(mut self, id: &str) -> SwatchSet {
        let mut gauges = std::mem::take(&mut self.gauges);
        let Some(plain) = gauges.remove(&Structure::Plain) else { return self };
        let plain = plain.renamed(id, None);
        let of_plain = plain.reckoned.clone();
        let renamed = |gauge: Gauge| gauge.renamed(id, Some(&of_plain));
        self.gauges = gauges.into_iter().map(|(s, gauge)| (s, renamed(gauge))).collect();
        self.gauges.insert(Structure::Plain, plain);
        self
    }

    /// The same from a moment on at which the work measures something else: stitches and rows to 10 cm
    /// of these fabrics. A gauge counted once over work in hand is known to 2 % at best (common
    /// practice, no source). A fabric that is not named stays as it was.
    #[must_use]
    pub fn measured_anew(&self, now: &[(Structure, PerTen, PerTen)]) -> SwatchSet {
        const COUNTED_ONCE: f64 = 0.02;
        let name = format!("{}, from here", self.yarn_name);
        let mut set = self.clone();
        for (structure, stitches, rows) in now {
            let Some(old) = self.gauges.get(&structure.gauged_as()) else { continue };
            let count = |per_ten: PerTen| Counted::guessed(per_ten.per_10_cm(), COUNTED_ONCE);
            let gauge = Gauge::of(&name, old.structure, (count(*stitches), count(*rows)), None);
            let (dial, measured) = (old.dial, old.measured);
            set.gauges.insert(old.structure, Gauge { dial, measured, ..gauge });
        }
        set.spread = gauge_spread(&set.plain().reckoned);
        set
    }

    /// The same with what is learnt of all that was weighed, in which its yarn goes by that id.
    #[must_use]
    pub fn with_learnt(self, learnt: Arc<Learnt>, yarn: Id) -> SwatchSet {
        SwatchSet { learnt, yarn_id: yarn, ..self }
    }

    /// What was learnt of the yarn in a stitch.
    pub fn learnt(&self) -> &Arc<Learnt> {
        &self.learnt
    }

    /// What the yarn is called where weighings are held together.
    pub fn yarn_id(&self) -> &Id {
        &self.yarn_id
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
    pub fn gauge(&self, structure: Structure) -> &Gauge {
        &self.gauges[&structure.gauged_as()]
    }

    /// Whether the structure has a swatch of its own; a tube has the plain one's.
    pub fn is_measured(&self, structure: Structure) -> bool {
        self.gauge(structure).measured.is_some()
    }

    /// The yarn in a stitch, in mm, by the model alone: plain from both gauges, a rib over plain.
    pub fn model_loop_mm(&self, structure: Structure) -> f64 {
        let plain = loop_from_gauge(&self.plain().reckoned);
        let gauge = self.gauge(structure);
        if gauge.structure == Structure::Plain {
            return plain;
        }
        let tighter = self.plain().dial.zip(gauge.dial).map(|(plain, rib)| plain - rib);
        rib_loop(plain, tighter)
    }

    /// So many stitches as estimates reckon with them.
    pub fn stitches(&self, structure: Structure, count: u64) -> Stitches {
        let fabric = structure.gauged_as();
        Stitches {
            yarn: self.yarn_id.clone(),
            fabric,
            gauge: self.plain().reckoned.id.clone(),
            gauge_spread: self.spread,
            grams: self.yarn.grams_of(count as f64 * self.model_loop_mm(fabric)),
        }
    }

    /// Its weighed swatches, as something to learn from.
    pub fn weighings(&self) -> Vec<Record> {
        let of_gauge = |gauge: &Gauge| {
            let weighed = gauge.weighed?;
            let section = WeighedSection {
                name: gauge.structure.name().to_owned(),
                stitches: vec![self.stitches(gauge.structure, weighed.stitches)],
                other_g: 0.0,
                used_g: weighed.mass.grams(),
                scale_sd_g: weighing_sd(weighed.scale_step_g),
                moisture: Moisture::SameRoom,
            };
            Some(Record {
                id: gauge.reckoned.id.to_string(),
                what: Weighed::Swatch,
                sections: vec![section],
                stood_by: weighed.sure,
            })
        };
        self.gauges.values().filter_map(of_gauge).collect()
    }
}
