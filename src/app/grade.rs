use std::cell::RefCell;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::Workbench;
use diag::{Code, Diagnostic, Diagnostics, Severity};
use knit::bed;
use knit::body::{
    Basis, Body, BodyValue, Measure, Size, SizeGroup, SizeId, SizeSelection, made_to_measure,
};
use knit::caution;
use knit::grade::{self, Graded};
use knit::machine::Machine;
use knit::program::Structure;
use knit::size_run::{GarmentName, Made, SizeResult, SizeRun};
use knit::stash::NamedSwatches;
use knit::swatch::{Gauge, SwatchSet};
use knit::view;
use script::{
    GarmentInput, GaugeInput, Limits, MachineInput, Manifest, OptionValue, Plugin, ScriptFailure,
    ScriptHost,
};
use units::Length;

/// What to grade.
#[derive(Clone, Debug)]
pub struct GradeRequest<'a> {
    pub plugin: &'a Plugin,
    pub machine: &'a Machine,
    pub swatch: &'a NamedSwatches,
    pub options: Vec<(String, String)>,
    /// Sizes as typed: `all`, `y4..women-l`. Not used where `person` is given.
    pub sizes: String,
    pub person: Option<Person>,
}

/// Someone to make to measure for.
#[derive(Clone, Debug)]
pub struct Person {
    pub name: String,
    /// The measures that were taken; the others are estimated.
    pub measures: Vec<(Measure, Length)>,
}

thread_local! {
    /// One script machine a worker thread: it can't cross threads and is dear to set up.
    static HOST: RefCell<Option<ScriptHost>> = const { RefCell::new(None) };
}

impl Workbench {
    /// Grades every size asked for, in parallel.
    ///
    /// # Errors
    /// Faults of the request itself (options, sizes, measures), all at once. A size that can't
    /// be made is not an error here: it stays in the run with its reasons.
    pub fn grade(&self, request: &GradeRequest<'_>) -> Result<SizeRun, Diagnostics> {
        let manifest = &request.plugin.manifest;
        let (options, bodies) = self.read(request)?;
        let set = &request.swatch.set;
        let mut warnings = request.swatch.warnings.clone();
        warnings.extend(set.suits(request.machine));
        let gauges: Vec<Gauge> =
            manifest.structures.iter().map(|s| set.gauge(*s).clone()).collect();
        let sizes: Vec<SizeResult> = bodies
            .into_par_iter()
            .map(|body| self.grade_size(request, &options, &gauges, body))
            .collect();
        warnings.extend(self.run_warnings(manifest, set, &sizes));
        Ok(SizeRun {
            garment: name_of(manifest),
            machine: request.machine.clone(),
            swatches: set.clone(),
            gauges,
            options: options
                .iter()
                .filter_map(|(name, value)| {
                    let option = manifest.options.iter().find(|o| o.name == *name)?;
                    Some((name.clone(), option.kind.show(value)))
                })
                .collect(),
            sizes,
            warnings,
        })
    }

    /// The options and the bodies asked for.
    ///
    /// # Errors
    /// All that is wrong with either.
    pub(super) fn read(
        &self,
        request: &GradeRequest<'_>,
    ) -> Result<(BTreeMap<String, OptionValue>, Vec<Body>), Diagnostics> {
        let mut faults = Diagnostics::new();
        let options =
            request.plugin.manifest.parse_options(&request.options).unwrap_or_else(|found| {
                faults.extend(found);
                BTreeMap::new()
            });
        let bodies = self.bodies(request).unwrap_or_else(|found| {
            faults.extend(found);
            Vec::new()
        });
        if faults.has_errors() { Err(faults) } else { Ok((options, bodies)) }
    }

    fn bodies(&self, request: &GradeRequest<'_>) -> Result<Vec<Body>, Diagnostics> {
        if request.plugin.manifest.measures.is_empty() {
            // Nobody wears it: one size, whatever sizes were asked for.
            let label = "One size".to_owned();
            let values = BTreeMap::new();
            return Ok(vec![Body { id: SizeId::from_label(&label), label, values }]);
        }
        match &request.person {
            Some(person) => Ok(vec![made_to_measure(&self.sizes, &person.measures, &person.name)?]),
            None => Ok(SizeSelection::parse(&request.sizes, &self.sizes)?.bodies(&self.sizes)),
        }
    }

    fn grade_size(
        &self,
        request: &GradeRequest<'_>,
        options: &BTreeMap<String, OptionValue>,
        gauges: &[Gauge],
        body: Body,
    ) -> SizeResult {
        let manifest = &request.plugin.manifest;
        let primary: Option<Measure> = manifest.measure.parse().ok();
        let size = self.nearest_size(&body, primary);
        let group = size.map_or(SizeGroup::Women, |size| size.group);
        let age = size.and_then(|size| size.age_years);
        let needed: Vec<Measure> =
            manifest.measures.iter().filter_map(|m| m.parse().ok()).collect();
        let made = body
            .require(&needed)
            .and_then(|()| self.make(request, options, gauges, &body, (group, age)))
            .map(Box::new);
        SizeResult { body, group, age_years: age, is_person: request.person.is_some(), made }
    }

    /// The size of the table a body is, or for a person comes nearest to.
    fn nearest_size(&self, body: &Body, primary: Option<Measure>) -> Option<&Size> {
        if let Some(size) = self.sizes.get(body.id.as_str()) {
            return Some(size);
        }
        let measure = primary.unwrap_or(Measure::Stature);
        let wanted = body.mm(measure)?;
        let distance = |mm: Option<f64>| mm.map_or(f64::INFINITY, |mm| (mm - wanted).abs());
        self.sizes
            .sizes()
            .iter()
            .min_by(|a, b| distance(a.mm(measure)).total_cmp(&distance(b.mm(measure))))
    }

    fn run_warnings(
        &self,
        manifest: &Manifest,
        set: &SwatchSet,
        sizes: &[SizeResult],
    ) -> Diagnostics {
        let mut warnings = Diagnostics::new();
        // Only the structures some size really knits.
        let used = |structure: Structure| {
            sizes.iter().filter_map(SizeResult::good).any(|made| made.graded.run.knits(structure))
        };
        for structure in &manifest.structures {
            // A yarn without any swatch says so itself.
            if *structure != Structure::Plain && !set.is_measured(*structure) && used(*structure) {
                warnings.push(
                    Diagnostic::warning(
                        Code::EstimatedGauge,
                        format!("there is no {structure} swatch: its gauge is estimated from the plain one"),
                    )
                    .hint(format!("knit a {structure} swatch, or expect the {structure} parts to differ by a tenth")),
                );
            }
        }
        if let Ok(primary) = manifest.measure.parse::<Measure>() {
            let graded: Vec<(&str, f64, &Graded)> = sizes
                .iter()
                .filter_map(|s| {
                    let made = s.good()?;
                    Some((s.body.label.as_str(), s.body.mm(primary)?, &made.graded))
                })
                .collect();
            warnings.extend(grade::check_run(&graded, &manifest.grows));
        }
        warnings
    }
}

/// The measures the garment was made to that nobody took.
fn estimates(request: &GradeRequest<'_>, body: &Body) -> Diagnostics {
    let mut warnings = Diagnostics::new();
    for measure in request.plugin.manifest.measures.iter().filter_map(|m| m.parse().ok()) {
        if let Some(BodyValue { mm, basis: Basis::Estimated { from, sd_mm, .. } }) =
            body.get(measure)
        {
            let from = from.first().map_or("", |m| m.label());
            warnings.push(
                Diagnostic::warning(
                    Code::EstimatedMeasure,
                    format!(
                        "the {} is estimated from the {from}: {:.1} cm, and two people in three lie within {:.1} cm of that",
                        measure.label(),
                        mm / 10.0,
                        sd_mm / 10.0
                    ),
                )
                .hint(format!("measure it: {}", measure.how())),
            );
        }
    }
    warnings
}

/// What reports are told of the garment.
fn name_of(manifest: &Manifest) -> GarmentName {
    GarmentName {
        id: manifest.id.clone(),
        title: manifest.title.clone(),
        pair: manifest.pair,
        measure: manifest.measure.parse().ok(),
        sections: manifest.sections.iter().map(|s| (s.name.clone(), s.title.clone())).collect(),
    }
}

impl Workbench {
    fn make(
        &self,
        request: &GradeRequest<'_>,
        options: &BTreeMap<String, OptionValue>,
        gauges: &[Gauge],
        body: &Body,
        (group, age): (SizeGroup, Option<f64>),
    ) -> Result<Made, Diagnostics> {
        let input = input_of(request, options, gauges, body, (group, age));
        let body_mm = &input.body;
        let garment = with_host(|host| host.garment(request.plugin, &input)).map_err(
            |failure| match failure {
                ScriptFailure::Refused(reasons) | ScriptFailure::Fault(reasons) => reasons,
            },
        )?;
        let run = bed::run(&garment.program, request.machine);
        let mut diagnostics = Diagnostics::new();
        for fault in &run.faults {
            let place = request.plugin.place(fault.line);
            let mut diagnostic = fault.diagnostic.clone();
            diagnostic.place = diagnostic.place.or(place);
            // A warning is about the fabric, not the script: no line to show to a knitter.
            if diagnostic.severity == Severity::Warning {
                diagnostic.place = None;
            }
            diagnostics.push(diagnostic);
        }
        for (line, fault) in view::check(&garment.views, &run) {
            diagnostics.push(match request.plugin.place(line) {
                Some(place) => fault.at(place),
                None => fault,
            });
        }
        let working = (request.plugin.manifest.id.as_str(), &self.working);
        let graded =
            grade::measure(&garment, run, request.machine, &request.swatch.set, body_mm, working);
        diagnostics.extend(graded.faults.clone());
        diagnostics.extend(grade::check_ratios(&graded.ratios));
        diagnostics.extend(estimates(request, body));
        diagnostics.extend(grade::check_targets(&garment, &graded.finished));
        for text in &garment.warnings {
            diagnostics.push(Diagnostic::warning(Code::Garment, text.clone()));
        }
        let primary = request.plugin.manifest.measure.parse().ok();
        let cautions = caution::cautions(&garment, primary, group);
        Ok(Made { garment, graded, cautions, diagnostics })
    }
}

/// What the script is given.
pub(super) fn input_of(
    request: &GradeRequest<'_>,
    options: &BTreeMap<String, OptionValue>,
    gauges: &[Gauge],
    body: &Body,
    (group, age): (SizeGroup, Option<f64>),
) -> GarmentInput {
    GarmentInput {
        size_id: body.id.to_string(),
        size_label: body.label.clone(),
        size_group: group.name().to_owned(),
        size_age: age,
        body: request
            .plugin
            .manifest
            .measures
            .iter()
            .filter_map(|name| Some((name.clone(), body.mm(name.parse().ok()?)?)))
            .collect(),
        options: options.clone(),
        gauges: gauges
            .iter()
            .map(|g| {
                let pitch = GaugeInput {
                    stitch_mm: g.stitches.pitch_mm(),
                    row_mm: g.rows.pitch_mm(),
                    stretch: g.structure.stretches_to(),
                };
                (g.structure.name().to_owned(), pitch)
            })
            .collect(),
        machine: MachineInput {
            id: request.machine.id.clone(),
            needles: request.machine.needles,
            pitch_mm: request.machine.pitch_mm,
            ribber: request.machine.ribber,
        },
    }
}

/// The script machine of this thread.
pub(super) fn with_host<T>(use_it: impl FnOnce(&mut ScriptHost) -> T) -> T {
    HOST.with_borrow_mut(|host| {
        use_it(host.get_or_insert_with(|| ScriptHost::new(Limits::default())))
    })
}
