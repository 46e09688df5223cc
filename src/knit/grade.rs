//! Reading a run: finished measures against their targets, counts, yarn, work. And reading a
//! whole size run: what must not fall from size to size, and sizes that come out the same.

use std::collections::BTreeMap;

use super::carry::Gauged;
use super::estimate::{Figure, FinishedPart, Minutes, finished_size};
use super::garment::{CountSpec, Counted, FinishedSpec, Garment, RatioSpec, StretchSpec};
use super::machine::Machine;
use super::run::Run;
use super::swatch::SwatchSet;
use super::working_time::WorkingTime;
use super::yarn::{self, YarnNeed};
use diag::{Code, Diagnostic, Diagnostics};

/// One size, knitted and measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Graded {
    /// What the bed knitted.
    pub run: Run,
    /// Its finished measures, as the garment lists them.
    pub finished: Vec<Finished>,
    /// Its ratios, likewise.
    pub ratios: Vec<Ratio>,
    /// Its counts, likewise.
    pub counts: Vec<Count>,
    /// The yarn it takes.
    pub yarn: YarnNeed,
    /// Minutes by the operations alone, as a table of times has them.
    pub work_minutes: f64,
    /// What the next one will take whoever knits.
    pub minutes: Minutes,
    /// Faults in what the script asked to be read off, such as an unknown piece.
    pub faults: Diagnostics,
}

/// A measure of the finished thing, with what it was meant to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// Read off the run, in mm.
    pub mm: f64,
    /// What it was meant to be, in mm.
    pub target_mm: f64,
    /// The same with its sources of error, in mm: gauges, and how pieces come out from them.
    pub figure: Figure,
    /// Name of the body measure it answers to.
    pub measure: Option<String>,
    /// The ease asked for and the ease the run gives, as shares of the body measure.
    pub ease: Option<f64>,
    /// The ease the run gives; `None` where the body's measure isn't known.
    pub achieved_ease: Option<f64>,
    /// The ease that still fits, where the garment states it.
    pub ease_range: Option<(f64, f64)>,
}

impl Finished {
    /// How far it is off its target, in mm; negative where it is smaller.
    pub fn deviation_mm(&self) -> f64 {
        self.mm - self.target_mm
    }

    /// Standard deviation of what the next piece will measure, in mm.
    pub fn error_mm(&self) -> f64 {
        self.figure.sd_of_next()
    }

    /// Half-width of 95 % of what the next piece will measure, in mm: what stands behind "±".
    pub fn within_mm(&self) -> f64 {
        self.figure.next_within().half_width()
    }
}

/// A ratio of two finished measures, with the range it should lie in.
#[derive(Clone, Debug, PartialEq)]
pub struct Ratio {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// What came out.
    pub value: f64,
    /// Half-width of 95 % of what the next piece will show: what both measures share cancels.
    pub within: f64,
    /// The least that is right.
    pub low: f64,
    /// The most that is right.
    pub high: f64,
}

/// A whole number read off the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Count {
    /// Snake case, a key in JSON.
    pub name: String,
    /// What a page calls it.
    pub title: String,
    /// What came out.
    pub value: u64,
}

/// Reads everything the garment asks for off the run. `id` is the garment's, for the minutes it takes.
pub fn measure(
    garment: &Garment,
    run: Run,
    machine: &Machine,
    swatches: &SwatchSet,
    body_mm: &BTreeMap<String, f64>,
    (id, working): (&str, &WorkingTime),
) -> Graded {
    let mut faults = Diagnostics::new();
    let gauged = Gauged::Throughout(swatches);
    let finished = finished_sizes(garment, &run, machine, gauged, body_mm, &mut faults);
    faults.extend(check_fit(&garment.stretches, &finished));
    let ratios =
        garment.ratios.iter().filter_map(|spec| ratio(spec, &finished, &mut faults)).collect();
    let counts =
        garment.counts.iter().filter_map(|spec| named_count(spec, &run, &mut faults)).collect();
    let yarn = yarn::need(&run, swatches);
    let work_minutes = working.by_operations(&run.work).unwrap_or_else(|unknown| {
        faults.push(
            Diagnostic::error(Code::NoTime, unknown.to_string())
                .hint("add it to times.toml, in seconds"),
        );
        0.0
    });
    Graded {
        work_minutes,
        minutes: working.minutes(id, id, work_minutes),
        finished,
        ratios,
        counts,
        yarn,
        faults,
        run,
    }
}

/// The finished measures that the garment lists, read off the run at that gauge. Those it asks of what
/// the run doesn't have are left out, and told in the faults.
pub fn finished_sizes(
    garment: &Garment,
    run: &Run,
    machine: &Machine,
    gauged: Gauged<'_>,
    body_mm: &BTreeMap<String, f64>,
    faults: &mut Diagnostics,
) -> Vec<Finished> {
    let one = |spec: &FinishedSpec| match finished(spec, run, machine, gauged, body_mm) {
        Ok(finished) => Some(finished),
        Err(fault) => {
            faults.push(fault);
            None
        }
    };
    garment.finished.iter().filter_map(one).collect()
}

fn finished(
    spec: &FinishedSpec,
    run: &Run,
    machine: &Machine,
    gauged: Gauged<'_>,
    body_mm: &BTreeMap<String, f64>,
) -> Result<Finished, Diagnostic> {
    let mut parts: Vec<FinishedPart<'_>> = Vec::with_capacity(spec.parts.len());
    for part in &spec.parts {
        if gauged.add_parts(part, (run, machine), &mut parts).is_none() {
            return Err(Diagnostic::error(
                Code::Finished,
                format!(
                    "`{}` measures something of piece `{}` that the run does not have",
                    spec.name, part.piece
                ),
            )
            .hint("name a piece of this garment, needles it uses and marks it passes"));
        }
    }
    let mm = parts.iter().map(FinishedPart::mm).sum::<f64>();
    let body = spec.measure.as_ref().and_then(|m| body_mm.get(m)).copied();
    Ok(Finished {
        name: spec.name.clone(),
        title: spec.title.clone(),
        mm,
        target_mm: spec.target_mm,
        figure: finished_size(&parts),
        measure: spec.measure.clone(),
        ease: spec.ease,
        ease_range: spec.ease_range,
        achieved_ease: body.filter(|b| *b > 0.0).map(|body| mm / body - 1.0),
    })
}

/// Ratios outside the range that the garment gives them.
pub fn check_ratios(ratios: &[Ratio]) -> Diagnostics {
    let mut faults = Diagnostics::new();
    for ratio in ratios.iter().filter(|r| !(r.low..=r.high).contains(&r.value)) {
        faults.push(
            Diagnostic::error(
                Code::RatioOutOfRange,
                format!(
                    "{} comes out at {:.3}, outside {:.2} to {:.2}",
                    ratio.title, ratio.value, ratio.low, ratio.high
                ),
            )
            .hint("widen the range by its options, or leave more of the counts to the engine"),
        );
    }
    faults
}

/// Finished measures that came out well off what was aimed at: by more than three points of ease
/// where it is a matter of ease, else by more than 10 % and 10 mm. Where the garment gives a range
/// of its own, for the ease or by a ratio, that range speaks.
pub fn check_targets(garment: &Garment, finished: &[Finished]) -> Diagnostics {
    const EASE_POINTS: f64 = 0.03;
    const SHARE: f64 = 0.10;
    const LEAST_MM: f64 = 10.0;
    let ranged = |measure: &Finished| {
        measure.ease_range.is_some() || garment.ratios.iter().any(|r| r.of == measure.name)
    };
    let mut warnings = Diagnostics::new();
    for measure in finished.iter().filter(|measure| !ranged(measure)) {
        let missed = match (measure.ease, measure.achieved_ease) {
            (Some(wanted), Some(got)) => (got - wanted).abs() > EASE_POINTS,
            _ => measure.deviation_mm().abs() > LEAST_MM.max(SHARE * measure.target_mm),
        };
        if missed {
            warnings.push(
                Diagnostic::warning(
                    Code::OffTarget,
                    format!(
                        "{} is {:.1} cm where {:.1} cm was aimed at",
                        measure.title,
                        measure.mm / 10.0,
                        measure.target_mm / 10.0
                    ),
                )
                .hint("the bed, the gauge or the options leave no nearer choice"),
            );
        }
    }
    warnings
}

/// What can't be put on, as errors, and ease outside its range, as warnings.
fn check_fit(stretches: &[StretchSpec], finished: &[Finished]) -> Diagnostics {
    let mut faults = Diagnostics::new();
    for stretch in stretches {
        let Some(girth) = finished.iter().find(|f| f.name == stretch.of) else {
            faults.push(
                Diagnostic::error(
                    Code::Stretch,
                    format!("a stretch is asked of `{}`, which is not measured", stretch.of),
                )
                .hint("name a measure of the garment's `finished` list"),
            );
            continue;
        };
        let most = girth.mm * stretch.structure.stretches_to();
        if stretch.over_mm > most {
            faults.push(
                Diagnostic::error(
                    Code::CannotBePutOn,
                    format!(
                        "{}: {:.1} cm of {} stretches to {:.1} cm at the most and must pass over {}, {:.1} cm",
                        girth.title,
                        girth.mm / 10.0,
                        stretch.structure,
                        most / 10.0,
                        stretch.over,
                        stretch.over_mm / 10.0
                    ),
                )
                .hint("give it less negative ease, or a fabric that stretches more"),
            );
        }
    }
    for girth in finished {
        if let (Some(ease), Some((low, high))) = (girth.achieved_ease, girth.ease_range)
            && !(low - 0.005..=high + 0.005).contains(&ease)
        {
            faults.push(Diagnostic::warning(
                Code::EaseOutOfRange,
                format!(
                    "{} has {:+.0} % ease; {:+.0} to {:+.0} % is usual",
                    girth.title,
                    ease * 100.0,
                    low * 100.0,
                    high * 100.0
                ),
            ));
        }
    }
    faults
}

fn ratio(spec: &RatioSpec, finished: &[Finished], faults: &mut Diagnostics) -> Option<Ratio> {
    let find = |name: &str| finished.iter().find(|f| f.name == name);
    match (find(&spec.of), find(&spec.over)) {
        (Some(of), Some(over)) if over.mm > 0.0 => Some(Ratio {
            name: spec.name.clone(),
            title: spec.title.clone(),
            value: spec.factor * of.mm / over.mm,
            within: spec.factor.abs() * of.figure.over(&over.figure).next_within().half_width(),
            low: spec.low,
            high: spec.high,
        }),
        _ => {
            let needs = format!(
                "ratio `{}` needs the finished measures `{}` and `{}`",
                spec.name, spec.of, spec.over
            );
            faults.push(
                Diagnostic::error(Code::Ratio, needs)
                    .hint("name two measures of the garment's `finished` list"),
            );
            None
        }
    }
}

fn named_count(spec: &CountSpec, run: &Run, faults: &mut Diagnostics) -> Option<Count> {
    let value = count(&spec.what, run);
    if value.is_none() {
        let nothing = format!("count `{}` has nothing to count", spec.name);
        faults.push(
            Diagnostic::error(Code::Count, nothing)
                .hint("it names a piece or an edge that the run does not have"),
        );
    }
    value.map(|value| Count { name: spec.name.clone(), title: spec.title.clone(), value })
}

fn count(what: &Counted, run: &Run) -> Option<u64> {
    Some(match what {
        Counted::Needles(piece) => u64::from(run.piece(piece)?.widest),
        Counted::Rows(piece) => run.piece(piece)?.rows.len() as u64,
        Counted::Marks(name) => u64::from(*run.marks.get(name)?),
        Counted::EdgeLoops(edge) => u64::from(run.edge(edge)?.loops),
        Counted::HangPoints(edge) => u64::from(run.edge(edge)?.points),
        Counted::Pieces(name) => {
            let numbered = |piece: &str| {
                piece
                    .strip_prefix(name.as_str())
                    .and_then(|rest| rest.strip_prefix('-'))
                    .is_some_and(|n| n.parse::<u32>().is_ok())
            };
            run.pieces.iter().filter(|p| p.name == *name || numbered(&p.name)).count() as u64
        }
    })
}

/// What is wrong with a run as a run. `sizes` are in order of the primary measure's size run:
/// label, that measure in mm, and the graded size.
pub fn check_run(sizes: &[(&str, f64, &Graded)], grows: &[String]) -> Diagnostics {
    let mut faults = Diagnostics::new();
    let mut by_measure: Vec<&(&str, f64, &Graded)> = sizes.iter().collect();
    by_measure.sort_by(|a, b| a.1.total_cmp(&b.1));
    for pair in by_measure.windows(2) {
        let [(small, small_mm, a), (large, large_mm, b)] = pair else { continue };
        for name in grows {
            let of =
                |graded: &Graded| graded.counts.iter().find(|c| c.name == *name).map(|c| c.value);
            if let (Some(before), Some(after)) = (of(a), of(b))
                && after < before
            {
                faults.push(
                    Diagnostic::warning(
                        Code::Falls,
                        format!("`{name}` falls from {before} to {after} between {small} and {large}"),
                    )
                    .hint("the larger size should never have fewer: report this to the garment's author"),
                );
            }
        }
        if (small_mm - large_mm).abs() > f64::EPSILON && a.counts == b.counts && same_size(a, b) {
            faults.push(
                Diagnostic::warning(
                    Code::SameSize,
                    format!("{small} and {large} come out the same"),
                )
                .hint("the gauge is too coarse, or the bed too narrow, to tell them apart"),
            );
        }
    }
    faults
}

/// Whether all that is measured is the same: a garment may count nothing.
fn same_size(a: &Graded, b: &Graded) -> bool {
    let mm = |graded: &Graded| graded.finished.iter().map(|f| f.mm.to_bits()).collect::<Vec<_>>();
    mm(a) == mm(b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::Structure;
    use units::YarnCount;

    fn graded(counts: &[(&str, u64)]) -> Graded {
        let tex = YarnCount::from_tex(250.0).expect("tex");
        Graded {
            run: Run::default(),
            finished: Vec::new(),
            ratios: Vec::new(),
            counts: counts
                .iter()
                .map(|(name, value)| Count {
                    name: (*name).into(),
                    title: (*name).into(),
                    value: *value,
                })
                .collect(),
            yarn: yarn::need(&Run::default(), &SwatchSet::estimated(tex, "any".into(), None)),
            work_minutes: 0.0,
            minutes: Minutes::none(),
            faults: Diagnostics::new(),
        }
    }

    fn girth(mm: f64, ease: f64) -> Finished {
        Finished {
            name: "cuff".into(),
            title: "Cuff".into(),
            mm,
            target_mm: mm,
            figure: Figure::exact(mm),
            measure: None,
            ease: Some(ease),
            achieved_ease: Some(ease),
            ease_range: Some((-0.15, 0.0)),
        }
    }

    #[test]
    fn a_count_that_falls_is_noticed_in_order_of_the_measure_not_of_the_table() {
        let (a, b, c) = (graded(&[("n", 40)]), graded(&[("n", 44)]), graded(&[("n", 42)]));
        let grows = ["n".to_owned()];
        let codes = |sizes: &[(&str, f64, &Graded)]| -> Vec<&str> {
            check_run(sizes, &grows).iter().map(|d| d.code.as_str()).collect()
        };
        // In table order 40, 42, 44; by the measure 40, 44, 42.
        assert_eq!(codes(&[("S", 10.0, &a), ("M", 30.0, &c), ("L", 20.0, &b)]), ["falls"]);
        assert_eq!(codes(&[("S", 10.0, &a), ("M", 20.0, &c), ("L", 30.0, &b)]), [""; 0]);
        assert_eq!(codes(&[("S", 10.0, &a), ("M", 20.0, &a)]), ["same-size"]);
        // One that counts nothing is told apart by what it measures.
        let measured = |mm: f64| Graded { finished: vec![girth(mm, 0.0)], ..graded(&[]) };
        let (small, large) = (measured(300.0), measured(310.0));
        assert_eq!(codes(&[("S", 10.0, &small), ("M", 20.0, &large)]), [""; 0]);
        assert_eq!(codes(&[("S", 10.0, &small), ("M", 20.0, &small)]), ["same-size"]);
    }

    #[test]
    fn what_cannot_stretch_far_enough_is_refused() {
        let over = |mm: f64, structure: Structure| StretchSpec {
            of: "cuff".into(),
            over: "the hand".into(),
            over_mm: mm,
            structure,
        };
        let finished = [girth(150.0, -0.1)];
        let codes = |stretch: StretchSpec| -> Vec<&str> {
            check_fit(&[stretch], &finished).iter().map(|d| d.code.as_str()).collect()
        };
        assert_eq!(codes(over(240.0, Structure::Plain)), [""; 0]);
        assert_eq!(codes(over(241.0, Structure::Plain)), ["cannot-be-put-on"]);
        assert_eq!(codes(over(290.0, Structure::Rib1x1)), [""; 0]);
        let unknown = StretchSpec { of: "collar".into(), ..over(1.0, Structure::Plain) };
        assert_eq!(codes(unknown), ["stretch"]);
    }

    #[test]
    fn ease_beyond_its_range_warns() {
        let codes = |ease: f64| -> Vec<&str> {
            check_fit(&[], &[girth(150.0, ease)]).iter().map(|d| d.code.as_str()).collect()
        };
        assert_eq!(codes(-0.10), [""; 0]);
        assert_eq!(codes(-0.20), ["ease-out-of-range"]);
        assert_eq!(codes(0.05), ["ease-out-of-range"]);
    }
}
