use std::cell::RefCell;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::Workbench;
use diag::{Code, Diagnostic, Diagnostics, Severity};
use knit::bed;
use knit::bed_place::place_on;
use knit::body::{
    Basis, Body, BodyValue, Measure, Measures, Size, SizeGroup, SizeId, SizeSelection, SizeTable,
    made_to_measure,
};
use knit::by_hand::without_grafting;
use knit::caution;
use knit::garment::Garment;
use knit::grade::{self, Graded};
use knit::in_turn::{InTurn, take_turns};
use knit::machine::Machine;
use knit::marked;
use knit::program::Structure;
use knit::run::Run;
use knit::size_run::{GarmentName, Made, SizeResult, SizeRun};
use knit::stash::NamedSwatches;
use knit::swatch::{Gauge, SwatchSet};
use knit::view;
use knit::working_time::WorkingTime;
use script::{
    BY_HAND, Choices, FIX, GarmentInput, GaugeInput, IN_TURN, Limits, MachineInput, Manifest,
    Plugin, ScriptFailure, ScriptHost,
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
        let (choices, bodies) = self.read(request)?;
        let machine = Machine {
            by_hand: choices.by_hand.unwrap_or(request.machine.by_hand),
            ..request.machine.clone()
        };
        let request = &GradeRequest { machine: &machine, ..request.clone() };
        let table = self.sizes_for(manifest);
        let set = &request.swatch.set;
        let mut warnings = request.swatch.warnings.clone();
        warnings.extend(set.suits(request.machine));
        let gauges: Vec<Gauge> =
            manifest.structures.iter().map(|s| set.gauge(*s).clone()).collect();
        let making = Making {
            table: &table,
            request,
            choices: &choices,
            gauges: &gauges,
            working: &self.working,
        };
        let sizes: Vec<SizeResult> = bodies.into_par_iter().map(|body| making.size(body)).collect();
        warnings.extend(run_warnings(manifest, set, &sizes));
        Ok(SizeRun {
            garment: name_of(manifest, &table, &choices.turns),
            machine: request.machine.clone(),
            swatches: set.clone(),
            gauges,
            options: in_force(manifest, &choices),
            sizes,
            reserve: self.reserve,
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
    ) -> Result<(Choices, Vec<Body>), Diagnostics> {
        let mut faults = Diagnostics::new();
        let choices =
            request.plugin.manifest.parse_options(&request.options).unwrap_or_else(|found| {
                faults.extend(found);
                Choices::default()
            });
        let bodies = self.bodies(request).unwrap_or_else(|found| {
            faults.extend(found);
            Vec::new()
        });
        if faults.has_errors() { Err(faults) } else { Ok((choices, bodies)) }
    }

    fn bodies(&self, request: &GradeRequest<'_>) -> Result<Vec<Body>, Diagnostics> {
        if request.plugin.manifest.measures.is_empty() {
            // Nobody wears it: one size, whatever sizes were asked for.
            let label = "One size".to_owned();
            let values = BTreeMap::new();
            return Ok(vec![Body { id: SizeId::from_label(&label), label, values }]);
        }
        let table = self.sizes_for(&request.plugin.manifest);
        match &request.person {
            Some(person) => {
                let table = self.sizes_knowing(&request.plugin.manifest);
                Ok(vec![made_to_measure(&table, &person.measures, &person.name)?])
            }
            None => {
                let selection = SizeSelection::parse(&request.sizes, &table)?;
                let needed = &request.plugin.manifest.measures;
                let needed: Vec<&str> = needed.iter().map(String::as_str).collect();
                let sizes = selection.ids().iter().filter_map(|id| table.get(id.as_str()));
                Ok(sizes.map(|size| table.filled(size.into(), size.group, &needed)).collect())
            }
        }
    }
}

/// What was chosen, as the knitter would type it: options, and behind them what is fixed.
fn in_force(manifest: &Manifest, choices: &Choices) -> Vec<(String, String)> {
    let options = choices.options.iter().filter_map(|(name, value)| {
        let option = manifest.options.iter().find(|o| o.name == *name)?;
        Some((name.clone(), option.kind.show(value)))
    });
    let fixed = choices.fixed.iter().map(|(name, n)| (format!("{FIX}{name}"), n.to_string()));
    let turns =
        choices.turns.iter().map(|turn| (format!("{IN_TURN}{}", turn.section), turn.typed()));
    let by_hand = choices.by_hand.map(|work| (BY_HAND.to_owned(), work.to_string()));
    options.chain(fixed).chain(turns).chain(by_hand).collect()
}

/// The size of the table a body is, or for a person comes nearest to by the measure named.
fn nearest_size<'t>(table: &'t SizeTable, body: &Body, measure: &str) -> Option<&'t Size> {
    if let Some(size) = table.get(body.id.as_str()) {
        return Some(size);
    }
    let measure = if measure.is_empty() { STATURE } else { measure };
    let wanted = body.mm(measure)?;
    let distance = |mm: Option<f64>| mm.map_or(f64::INFINITY, |mm| (mm - wanted).abs());
    table.sizes().iter().min_by(|a, b| distance(a.mm(measure)).total_cmp(&distance(b.mm(measure))))
}

/// What a person's size is told by where a garment goes by no measure.
const STATURE: &str = "stature";

fn run_warnings(manifest: &Manifest, set: &SwatchSet, sizes: &[SizeResult]) -> Diagnostics {
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
    if !manifest.measure.is_empty() {
        let graded: Vec<(&str, f64, &Graded)> = sizes
            .iter()
            .filter_map(|s| {
                let made = s.good()?;
                Some((s.body.label.as_str(), s.body.mm(&manifest.measure)?, &made.graded))
            })
            .collect();
        warnings.extend(grade::check_run(&graded, &manifest.grows));
    }
    warnings
}

/// The measures the garment was made to that nobody took.
fn estimates(request: &GradeRequest<'_>, known: &Measures, body: &Body) -> Diagnostics {
    let mut warnings = Diagnostics::new();
    for measure in request.plugin.manifest.measures.iter().filter_map(|name| known.get(name)) {
        if let Some(BodyValue { mm, basis: Basis::Estimated { from, sd_mm, .. } }) =
            body.get(measure.name())
        {
            let from = from.first().map_or("", Measure::label);
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
fn name_of(manifest: &Manifest, table: &SizeTable, turns: &[InTurn]) -> GarmentName {
    let sections = manifest.sections.iter().flat_map(|own| {
        match turns.iter().find(|turn| turn.section == own.name) {
            Some(turn) => turn.titled(&own.title),
            None => vec![(own.name.clone(), own.title.clone())],
        }
    });
    GarmentName {
        id: manifest.id.clone(),
        title: manifest.title.clone(),
        pair: manifest.pair,
        measure: table.known().get(&manifest.measure).cloned(),
        sections: sections.collect(),
    }
}

/// What all sizes of a run have in common.
struct Making<'a> {
    /// The sizes as the garment takes them.
    table: &'a SizeTable,
    request: &'a GradeRequest<'a>,
    choices: &'a Choices,
    gauges: &'a [Gauge],
    working: &'a WorkingTime,
}

impl Making<'_> {
    fn size(&self, body: Body) -> SizeResult {
        let (manifest, is_person) = (&self.request.plugin.manifest, self.request.person.is_some());
        let size = nearest_size(self.table, &body, &manifest.measure);
        let group = size.map_or(SizeGroup::Women, |size| size.group);
        let age = size.and_then(|size| size.age_years);
        let known = self.table.known();
        let needed: Vec<Measure> =
            manifest.measures.iter().filter_map(|name| known.get(name).cloned()).collect();
        let made = body
            .require(&needed, is_person)
            .and_then(|()| self.make(&body, (group, age)))
            .map(Box::new);
        SizeResult { body, group, age_years: age, is_person, made }
    }

    /// The garment on the bed, its pieces where the needles knit.
    fn knit(&self, mut garment: Garment) -> Result<(Garment, Run), Diagnostics> {
        let machine = self.request.machine;
        if machine.is_centred() {
            let run = bed::run(&garment.program, machine);
            marked::settle(&mut garment.program, &run);
            return Ok((garment, run));
        }
        let thought_out = bed::run(&garment.program, &machine.centred());
        marked::settle(&mut garment.program, &thought_out);
        if !thought_out.knittable() {
            return Ok((garment, thought_out));
        }
        let garment = place_on(garment, &thought_out, machine)?;
        let run = bed::run(&garment.program, machine);
        Ok((garment, run))
    }

    /// What needs two beds can't be made by hand: the garment itself may know what can be in its place.
    ///
    /// # Errors
    /// What it says where it is told that there is no ribber.
    fn refused_without_ribber(&self, input: &GarmentInput) -> Result<(), Diagnostics> {
        let mut input = input.clone();
        input.machine.ribber = self.request.machine.ribber;
        match with_host(|host| host.garment(self.request.plugin, &input)) {
            Err(ScriptFailure::Refused(reasons)) => Err(reasons),
            Ok(_) | Err(ScriptFailure::Fault(_)) => Ok(()),
        }
    }

    fn make(
        &self,
        body: &Body,
        (group, age): (SizeGroup, Option<f64>),
    ) -> Result<Made, Diagnostics> {
        let (request, known) = (self.request, self.table.known());
        let input = input_of(request, self.choices, self.gauges, body, (group, age));
        let body_mm = &input.body;
        let garment = with_host(|host| host.garment(request.plugin, &input)).map_err(
            |failure| match failure {
                ScriptFailure::Refused(reasons) | ScriptFailure::Fault(reasons) => reasons,
            },
        )?;
        let mut garment = garment;
        request.machine.by_hand.suits(&request.plugin.manifest.id, &garment)?;
        without_grafting(&mut garment, request.machine.by_hand);
        take_turns(&mut garment, &self.choices.turns)?;
        let (mut garment, run) = self.knit(garment)?;
        if run.faults.iter().any(|fault| fault.diagnostic.code == Code::NoRibber) {
            self.refused_without_ribber(&input)?;
        }
        if request.machine.by_hand.rib && run.knittable() && run.work.passes == 0 {
            garment.warnings.push(
                "all of it is knitted by hand and nothing on the machine: take a fabric that is plain"
                    .to_owned(),
            );
        }
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
        let working = (request.plugin.manifest.id.as_str(), self.working);
        let graded =
            grade::measure(&garment, run, request.machine, &request.swatch.set, body_mm, working);
        diagnostics.extend(graded.faults.clone());
        diagnostics.extend(grade::check_ratios(&graded.ratios));
        diagnostics.extend(estimates(request, known, body));
        diagnostics.extend(grade::check_targets(&garment, &graded.finished));
        for text in &garment.warnings {
            diagnostics.push(Diagnostic::warning(Code::Garment, text.clone()));
        }
        let primary = known.get(&request.plugin.manifest.measure);
        let cautions = caution::cautions(&garment, primary, group);
        Ok(Made { garment, graded, cautions, diagnostics })
    }
}

/// What the script is given.
pub(super) fn input_of(
    request: &GradeRequest<'_>,
    choices: &Choices,
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
            .filter_map(|name| Some((name.clone(), body.mm(name)?)))
            .collect(),
        options: choices.options.clone(),
        fixed: choices.fixed.clone(),
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
            needles: request.machine.widest(),
            pitch_mm: request.machine.pitch_mm,
            ribber: request.machine.ribs(),
        },
    }
}

/// The script machine of this thread.
pub(super) fn with_host<T>(use_it: impl FnOnce(&mut ScriptHost) -> T) -> T {
    HOST.with_borrow_mut(|host| {
        use_it(host.get_or_insert_with(|| ScriptHost::new(Limits::default())))
    })
}
