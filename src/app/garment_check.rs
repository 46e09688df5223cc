//! Everything that can be found wrong with a garment without knitting it in wool: its files, its
//! manifest, and what it does for all sizes on every machine that has a demo swatch.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::garment_test::read_cases;
use super::grade::{input_of, with_host};
use super::workbench::load;
use super::{GradeRequest, REFUSED, Workbench, is_script_fault};
use crate::diag::{Diagnostic, Diagnostics, Place, Severity, nearest};
use crate::knit::garment::{Counted, Extent, Garment};
use crate::knit::machine::Machine;
use crate::knit::program::{Action, Step, Structure};
use crate::knit::size_run::{Made, SizeResult, SizeRun};
use crate::report::MachineTally;
use crate::script::{Declared, OptionKind, OptionSpec, Plugin, PluginSource, Reads, ScriptFailure};
use crate::store::SwatchFile;

/// A piece that could not be begun, and what follows from that.
/// Option values tried, times machines; and how many of their runs are held at a time.
const MOST_TRIES: usize = 1_000;
const MOST_AT_ONCE: usize = 32;

const UNMADE: [&str; 3] = ["no-ribber", "off-bed", "needle-taken"];
const FOLLOWS: [&str; 8] = [
    "nothing-to-knit",
    "nothing-in-work",
    "hold-empty",
    "ribber-empty",
    "no-loop",
    "no-such-edge",
    "no-selvedge",
    "edge-empty",
];

/// What a check came to.
#[derive(Clone, Debug)]
pub struct GarmentCheck {
    /// What was checked, to show.
    pub title: String,
    /// None where the garment could not be loaded.
    pub machines: Vec<MachineTally>,
    /// In the order of files and lines; what holds for several sizes is told once.
    pub findings: Diagnostics,
}

type Bed<'a> = (&'a Machine, SwatchFile);

impl Workbench {
    /// Checks a garment, by id or folder.
    ///
    /// # Errors
    /// Nothing of that name, or a folder that can't be read. Whatever is wrong with the garment
    /// is a finding.
    pub fn check_garment(&self, name: &str) -> Result<GarmentCheck, Diagnostics> {
        let source = self.garment_source(name)?;
        let beds = self.demo_beds()?;
        let mut title = source.folder.clone();
        let mut machines = Vec::new();
        let mut findings = Diagnostics::new();
        let cases = read_cases(&source);
        match load(source.clone()) {
            Err(faults) => {
                findings.extend(faults);
                // Their names can't be judged without the manifest, but how they are written can.
                for (_, case) in cases {
                    findings.extend(case.err().into_iter().flatten());
                }
            }
            Ok(plugin) => {
                let manifest = &plugin.manifest;
                title = format!("{} ({} {})", manifest.title, manifest.id, manifest.version);
                findings.extend(folder_faults(&source, &plugin));
                let mut check = Check::new(self, &plugin, &beds);
                check.grade_all()?;
                check.try_options()?;
                check.judge_use();
                machines.clone_from(&check.tallies);
                findings.extend(check.told());
                findings.extend(self.case_faults(&plugin, cases)?);
            }
        }
        Ok(GarmentCheck { title, machines, findings: in_order(findings) })
    }

    /// What is wrong with the cases: unreadable, of another garment, not what comes out.
    fn case_faults(
        &self,
        plugin: &Plugin,
        cases: Vec<(String, Result<crate::store::CaseFile, Diagnostics>)>,
    ) -> Result<Diagnostics, Diagnostics> {
        let mut faults = Diagnostics::new();
        if cases.is_empty() {
            faults.push(placed(
                Diagnostic::warning(
                    "no-cases",
                    "the garment has no cases: nothing tells when it changes",
                )
                .hint("add cases/NAME.toml with a size and what should come of it"),
                plugin.declared_at(Declared::Key("id")),
            ));
        }
        for outcome in self.run_cases(plugin, cases)? {
            faults.extend(outcome.faults);
            let Some(file) = outcome.file else { continue };
            for difference in outcome.differences {
                let key = &difference.what;
                let fault = match difference.unknown {
                    Some(hint) => Diagnostic::error(
                        "case-stale",
                        format!("the garment gives no {}", words(key)),
                    )
                    .hint(hint),
                    None => Diagnostic::error(
                        "case-fails",
                        format!(
                            "{key} should be {} and is {}",
                            difference.expected, difference.got
                        ),
                    )
                    .hint("`oddments garment test` shows all that differs"),
                };
                faults.push(fault.at(file.place(key)));
            }
        }
        Ok(faults)
    }
}

/// `counts.wedges` in words.
fn words(key: &str) -> String {
    match key.split_once('.') {
        Some(("counts", name)) => format!("count `{name}`"),
        Some((_, name)) => format!("finished measure `{name}`"),
        None => format!("`{key}`"),
    }
}

fn placed(diagnostic: Diagnostic, place: Option<Place>) -> Diagnostic {
    match place {
        Some(place) => diagnostic.at(place),
        None => diagnostic,
    }
}

/// By file and line; what has no place comes first.
fn in_order(findings: Diagnostics) -> Diagnostics {
    let mut all: Vec<Diagnostic> = findings.into_iter().collect();
    all.sort_by(|a, b| {
        let key = |d: &Diagnostic| d.place.as_ref().map(|p| (p.file.clone(), p.line, p.column));
        key(a).cmp(&key(b))
    });
    let mut sorted = Diagnostics::new();
    sorted.extend(all);
    sorted
}

fn folder_faults(source: &PluginSource, plugin: &Plugin) -> Diagnostics {
    let mut faults = Diagnostics::new();
    let id = plugin.declared_at(Declared::Key("id"));
    if !source.files.contains_key("README.md") {
        faults.push(placed(
            Diagnostic::warning("no-readme", "the garment has no README.md")
                .hint("tell knitters what it is, how it is made and what may be chosen"),
            id.clone(),
        ));
    }
    let folder = std::path::Path::new(&source.folder).file_name().and_then(|name| name.to_str());
    if let Some(folder) = folder
        && folder != plugin.manifest.id
        && folder != "."
    {
        faults.push(placed(
            Diagnostic::warning(
                "other-folder",
                format!("garment `{}` lies in a folder called `{folder}`", plugin.manifest.id),
            )
            .hint("with --garments it is found by its folder's name: give both the same"),
            id,
        ));
    }
    for path in source.files.keys().filter(|path| path.ends_with(".lua")) {
        faults.push(
            Diagnostic::warning("not-read", format!("`{path}` is never read"))
                .hint(format!("call it `{path}u` to require it"))
                .at(Place::from_line(&format!("{}/{path}", source.folder), "", 1)),
        );
    }
    faults
}

/// Something found, and for which machines and sizes.
struct Found {
    diagnostic: Diagnostic,
    /// Index of the machine, index of the size in the table. Empty: for all of the garment.
    holds_for: BTreeSet<(usize, usize)>,
}

/// Same code, same line, same words but for their figures.
type Key = (&'static str, Option<(String, usize)>, String);

struct Check<'a> {
    bench: &'a Workbench,
    plugin: &'a Plugin,
    beds: &'a [Bed<'a>],
    found: Vec<(Key, Found)>,
    tallies: Vec<MachineTally>,
    reads: Reads,
    /// Whether `reads` holds all that was read.
    reads_complete: bool,
    seen: Seen,
}

/// A watched run of the script for one size.
struct Watched {
    reads: Reads,
    /// It made the same of its input as it did unwatched. If not, it reads in a way that goes
    /// unseen.
    same: bool,
    /// The line that refused the size.
    refused_at: Option<Place>,
}

/// What the programs made use of, in any size, on any machine, with any option.
#[derive(Default)]
struct Seen {
    any_made: bool,
    sections: BTreeSet<String>,
    structures: BTreeSet<Structure>,
    counts: BTreeSet<String>,
    /// By tally mark: the script line of one.
    marks: BTreeMap<String, u32>,
    marks_used: BTreeSet<String>,
    /// Structures cast on and the script line.
    cast_on: BTreeMap<Structure, u32>,
}

impl<'a> Check<'a> {
    fn new(bench: &'a Workbench, plugin: &'a Plugin, beds: &'a [Bed<'a>]) -> Check<'a> {
        Check {
            bench,
            plugin,
            beds,
            found: Vec::new(),
            tallies: Vec::new(),
            reads: Reads::default(),
            reads_complete: true,
            seen: Seen::default(),
        }
    }

    fn request(&self, bed: usize, options: Vec<(String, String)>, sizes: &str) -> GradeRequest<'a> {
        let (machine, swatch) = &self.beds[bed];
        GradeRequest {
            plugin: self.plugin,
            machine,
            swatch,
            options,
            sizes: sizes.to_owned(),
            person: None,
        }
    }

    /// All sizes on all machines with the defaults.
    fn grade_all(&mut self) -> Result<(), Diagnostics> {
        for bed in 0..self.beds.len() {
            let request = self.request(bed, Vec::new(), "all");
            let run = self.bench.grade(&request)?;
            let watched = self.watch(&request, &run)?;
            let mut tally = MachineTally {
                machine: self.beds[bed].0.id.clone(),
                made: run.good().count(),
                failed: 0,
                refused: Vec::new(),
            };
            for (at, (size, watched)) in run.sizes.iter().zip(&watched).enumerate() {
                match refusal(size) {
                    Some(reason) => {
                        let id = size.body.id.to_string();
                        match tally.refused.iter_mut().find(|(r, _)| *r == reason.message) {
                            Some((_, sizes)) => sizes.push(id),
                            None => tally.refused.push((reason.message.clone(), vec![id])),
                        }
                        if reason.hints.is_empty() {
                            let fault = Diagnostic::warning(
                                "bare-refusal",
                                format!("a size is refused without a hint: {}", reason.message),
                            )
                            .hint("say what to change: refuse{ reason = ..., hints = { ... } }");
                            self.add(placed(fault, watched.refused_at.clone()), Some((bed, at)));
                        }
                    }
                    None => tally.failed += usize::from(!size.knittable()),
                }
                self.judge_size(size, (bed, at));
            }
            self.take_reads(watched);
            self.judge_run(&run, bed);
            self.tallies.push(tally);
        }
        if self.tallies.iter().all(|t| t.made + t.failed == 0) {
            let place = self.plugin.module_at("init.luau");
            let fault = Diagnostic::error("refuses-all", "every size is refused on every machine")
                .hint("a garment should come out for some size on some machine by its defaults");
            self.add(placed(fault, place), None);
        }
        Ok(())
    }

    /// Each option at the ends of its range, or each of its words, for a middle size.
    fn try_options(&mut self) -> Result<(), Diagnostics> {
        let Some(size) = self.bench.middle_size() else { return Ok(()) };
        let sizes = self.bench.sizes.sizes();
        let at = sizes.iter().position(|s| s.id == size.id).unwrap_or(0);
        let id = size.id.to_string();
        let mut tries = Vec::new();
        for option in &self.plugin.manifest.options {
            for value in trial_values(option) {
                tries.extend(
                    (0..self.beds.len()).map(|bed| (option.name.clone(), value.clone(), bed)),
                );
            }
        }
        if tries.len() > MOST_TRIES {
            tries.truncate(MOST_TRIES);
            let fault = Diagnostic::warning(
                "tries-cut",
                format!("only the first {MOST_TRIES} option values were tried"),
            )
            .hint("fewer options, or fewer words to choose from");
            let place = self.plugin.module_at("init.luau");
            self.add(placed(fault, place), None);
        }
        // A handful at a time: a run is large, and is done with once it is judged.
        for tries in tries.chunks(MOST_AT_ONCE) {
            self.try_some(tries, &id, at)?;
        }
        Ok(())
    }

    fn try_some(
        &mut self,
        tries: &[(String, String, usize)],
        id: &str,
        at: usize,
    ) -> Result<(), Diagnostics> {
        let this = &*self;
        let tried: Vec<_> = tries
            .par_iter()
            .map(|(name, value, bed)| {
                let request = this.request(*bed, vec![(name.clone(), value.clone())], id);
                let run = this.bench.grade(&request)?;
                let watched = this.watch(&request, &run)?;
                Ok((run, watched))
            })
            .collect::<Result<_, Diagnostics>>()?;
        for ((name, value, bed), (run, watched)) in tries.iter().zip(tried) {
            self.take_reads(watched);
            for size in &run.sizes {
                self.judge_option(size, name, value, (*bed, at));
            }
        }
        Ok(())
    }

    fn judge_option(&mut self, size: &SizeResult, name: &str, value: &str, at: (usize, usize)) {
        let with = format!("with --set \"{name}={value}\"");
        let (faults, severity) = match &size.made {
            Ok(made) => {
                self.seen.take(made);
                (self.bed_faults(made), Severity::Warning)
            }
            Err(faults) => {
                let own = faults.iter().filter(|f| is_script_fault(f));
                (own.map(|fault| self.locate(fault, None)).collect(), Severity::Error)
            }
        };
        for fault in faults {
            if fault.severity == Severity::Error && !self.is_known(&fault) {
                let mut fault = self.first_seen(fault, size, at);
                fault.severity = severity;
                fault.context.push(with.clone());
                let hint =
                    format!("refuse such a value of `{name}`, or narrow its range in plugin.toml");
                self.add(fault.hint(hint), Some(at));
            }
        }
    }

    fn is_known(&self, diagnostic: &Diagnostic) -> bool {
        let key = key_of(diagnostic);
        self.found.iter().any(|(known, _)| *known == key)
    }

    /// Runs the scripts once more, noting what they read.
    fn watch(
        &self,
        request: &GradeRequest<'_>,
        run: &SizeRun,
    ) -> Result<Vec<Watched>, Diagnostics> {
        let options = self.plugin.manifest.parse_options(&request.options)?;
        let watch = |size: &SizeResult| {
            let whose = (size.group, size.age_years);
            let input = input_of(request, &options, &run.gauges, &size.body, whose);
            let (now, reads) = with_host(|host| host.watch(self.plugin, &input));
            let told = |found: &Diagnostics| -> Vec<(&str, String)> {
                found.iter().map(|f| (f.code, f.message.clone())).collect()
            };
            let same = match (&size.made, &now) {
                (Ok(before), Ok(garment)) => before.garment == *garment,
                // A body that lacks a measure was not tried.
                (Err(before), _) if before.iter().all(|f| f.code == "body") => true,
                (Err(before), Err(now)) => told(before) == told(now.diagnostics()),
                _ => false,
            };
            let refused_at = match now {
                Err(ScriptFailure::Refused(found)) => found.into_iter().find_map(|f| f.place),
                _ => None,
            };
            Watched { reads, same, refused_at }
        };
        Ok(run.sizes.par_iter().map(watch).collect())
    }

    fn take_reads(&mut self, watched: Vec<Watched>) {
        for watched in watched {
            self.reads_complete &= watched.same;
            self.reads.join(watched.reads);
        }
    }

    fn add(&mut self, diagnostic: Diagnostic, at: Option<(usize, usize)>) {
        let key = key_of(&diagnostic);
        match self.found.iter_mut().find(|(known, _)| *known == key) {
            Some((_, found)) => found.holds_for.extend(at),
            None => {
                let found = Found { diagnostic, holds_for: at.into_iter().collect() };
                self.found.push((key, found));
            }
        }
    }

    /// The diagnostic with a place: its own, or the line that holds what it is about.
    fn locate(&self, diagnostic: &Diagnostic, garment: Option<&Garment>) -> Diagnostic {
        let mut diagnostic = diagnostic.clone();
        if diagnostic.place.is_some() {
            return diagnostic;
        }
        let named = garment.and_then(|garment| {
            let finished = garment.finished.iter().map(|f| (&f.name, &f.title));
            let ratios = garment.ratios.iter().map(|r| (&r.name, &r.title));
            finished
                .chain(ratios)
                .find(|(_, title)| diagnostic.message.starts_with(title.as_str()))
                .and_then(|(name, _)| self.plugin.mentioned_at(name))
        });
        let quoted = || {
            let mut words = diagnostic.message.split('`').skip(1).step_by(2);
            words.find_map(|word| self.plugin.mentioned_at(word))
        };
        diagnostic.place = named.or_else(quoted).or_else(|| self.plugin.module_at("init.luau"));
        diagnostic
    }

    fn judge_size(&mut self, size: &SizeResult, at: (usize, usize)) {
        let made = match &size.made {
            Ok(made) => made,
            Err(faults) => {
                for fault in faults.iter().filter(|f| is_script_fault(f)) {
                    let fault = self.first_seen(self.locate(fault, None), size, at);
                    self.add(fault, Some(at));
                }
                return;
            }
        };
        self.seen.take(made);
        for fault in self.bed_faults(made) {
            let fault = self.first_seen(fault, size, at);
            self.add(fault, Some(at));
        }
        if !made.graded.run.knittable() {
            // What is measured off a broken run says nothing more.
            return;
        }
        let told = &made.graded.run.faults;
        for diagnostic in made.diagnostics.iter() {
            // The bed's are told above, with their lines; what the script says to the knitter is
            // no fault.
            let same =
                |d: &Diagnostic| d.code == diagnostic.code && d.message == diagnostic.message;
            if diagnostic.code == "garment" || told.iter().any(|f| same(&f.diagnostic)) {
                continue;
            }
            let fault = self.first_seen(self.locate(diagnostic, Some(&made.garment)), size, at);
            self.add(fault, Some(at));
        }
        self.judge_measures(&made.garment, at);
    }

    /// What the bed says, at the lines of the script; not what only follows from a cast-on that
    /// could not be made.
    fn bed_faults(&self, made: &Made) -> Vec<Diagnostic> {
        let faults = &made.graded.run.faults;
        let no_fabric = faults.iter().any(|f| UNMADE.contains(&f.diagnostic.code));
        faults
            .iter()
            .filter(|f| !(no_fabric && FOLLOWS.contains(&f.diagnostic.code)))
            .map(|fault| {
                let mut diagnostic = fault.diagnostic.clone();
                diagnostic.place = self.plugin.place(fault.line);
                self.locate(&diagnostic, Some(&made.garment))
            })
            .collect()
    }

    /// What the engine says of one size, as the first of several: where it was seen.
    fn first_seen(
        &self,
        mut diagnostic: Diagnostic,
        size: &SizeResult,
        at: (usize, usize),
    ) -> Diagnostic {
        let mut own = std::mem::take(&mut diagnostic.context);
        own.retain(|c| !c.starts_with("size ") && !c.starts_with("garment "));
        if !own.is_empty() {
            let machine = &self.beds[at.0].0.id;
            diagnostic.context = vec![format!("{} on {machine}: {}", size.body.id, own.join(", "))];
        }
        diagnostic
    }

    fn judge_measures(&mut self, garment: &Garment, at: (usize, usize)) {
        if garment.finished.is_empty() {
            let fault = Diagnostic::warning("no-finished", "the garment measures nothing")
                .hint("list `finished` measures: they tell the knitter the sizes");
            self.add(placed(fault, self.plugin.mentioned_at("pieces")), Some(at));
        }
        for spec in &garment.finished {
            let place = || self.plugin.mentioned_at(&spec.name);
            if spec.parts.is_empty() {
                let fault = Diagnostic::error(
                    "no-parts",
                    format!(
                        "finished measure `{}` has no parts, so it is always nothing",
                        spec.name
                    ),
                )
                .hint("say which lengths it is made of: parts = { { piece = ..., width = true } }");
                self.add(placed(fault, place()), Some(at));
                continue;
            }
            if spec.ease.is_some() && spec.measure.is_none() {
                let fault = Diagnostic::warning(
                    "ease-of-nothing",
                    format!("finished measure `{}` has an ease but no `measure`", spec.name),
                )
                .hint("name the body measure it is the ease on");
                self.add(placed(fault, place()), Some(at));
            }
        }
    }

    /// Counts that fall from size to size.
    fn judge_run(&mut self, run: &SizeRun, bed: usize) {
        for warning in run.warnings.iter().filter(|w| w.code == "falls") {
            let name = warning.message.split('`').nth(1).unwrap_or_default();
            let place = self.plugin.declared_at(Declared::Item("grows", name));
            let larger = run.sizes.iter().rposition(|s| warning.message.ends_with(&s.body.label));
            let fault = Diagnostic::error(
                "grows-falls",
                format!("`{name}` is said to grow and falls"),
            )
            .context(format!("on {}: {}", run.machine.id, warning.message))
            .hint("choose it together with the counts it depends on (fit.best), not by rounding one after another");
            self.add(placed(fault, place), larger.map(|at| (bed, at)));
        }
    }

    /// What the manifest declares and nothing uses, and the other way round.
    fn judge_use(&mut self) {
        if !self.seen.any_made {
            return;
        }
        let manifest = &self.plugin.manifest;
        let mut faults = Vec::new();
        let mut say = |code, message: String, hint: &str, what: Declared<'_>, mentioned: bool| {
            // A name that stands in the script may be read where no try led.
            let fault = if mentioned {
                Diagnostic::warning(code, format!("{message}, though the script names it"))
            } else {
                Diagnostic::error(code, message)
            };
            faults.push(placed(fault.hint(hint), self.plugin.declared_at(what)));
        };
        let mentioned = |name: &str| self.plugin.mentioned_at(name).is_some();
        if self.reads_complete {
            for option in manifest.options.iter().filter(|o| !self.reads.options.contains(&o.name))
            {
                say(
                    "option-unread",
                    format!("option `{}` is never read", option.name),
                    "read it as input.options.NAME, or leave it out",
                    Declared::Name("options", &option.name),
                    mentioned(&option.name),
                );
            }
            for measure in manifest.measures.iter().filter(|m| !self.reads.measures.contains(*m)) {
                say(
                    "measure-unread",
                    format!("body measure `{measure}` is never read"),
                    "leave it out: a body that lacks it would be turned away for nothing",
                    Declared::Item("measures", measure),
                    mentioned(measure),
                );
            }
        }
        for structure in &manifest.structures {
            let gauge_read = !self.reads_complete || self.reads.gauges.contains(structure.name());
            if !gauge_read && !self.seen.structures.contains(structure) {
                say(
                    "structure-unused",
                    format!("structure `{structure}` is neither knitted nor is its gauge read"),
                    "leave it out: the knitter would make a swatch of it for nothing",
                    Declared::Item("structures", structure.name()),
                    false,
                );
            }
        }
        for section in manifest.sections.iter().filter(|s| !self.seen.sections.contains(&s.name)) {
            say(
                "section-unused",
                format!("no yarn is ever counted towards section `{}`", section.name),
                "give a piece `section = \"...\"`, or leave the section out",
                Declared::Name("sections", &section.name),
                mentioned(&section.name),
            );
        }
        for name in manifest.grows.iter().filter(|name| !self.seen.counts.contains(*name)) {
            let known: Vec<&str> = self.seen.counts.iter().map(String::as_str).collect();
            let hint = match nearest(name, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the counts are {}", known.join(", ")),
            };
            say(
                "grows-unknown",
                format!("no count is called `{name}`"),
                &hint,
                Declared::Item("grows", name),
                false,
            );
        }
        let unloaded = self.plugin.modules().filter(|m| !self.reads.modules.contains(*m));
        for module in unloaded.filter(|_| self.reads_complete) {
            let fault =
                Diagnostic::warning("module-unused", format!("`{module}` is never required"))
                    .hint("delete it, or require it where it is needed");
            faults.push(placed(fault, self.plugin.module_at(module)));
        }
        for (structure, line) in &self.seen.cast_on {
            let declared = &manifest.structures;
            if !declared.contains(structure) && !declared.contains(&structure.gauged_as()) {
                let fault = Diagnostic::error(
                    "structure-undeclared",
                    format!("{structure} is knitted and plugin.toml does not list it"),
                )
                .hint(format!(
                    "add \"{structure}\" to `structures`, so that the knitter swatches it"
                ));
                faults.push(placed(fault, self.plugin.place(*line)));
            }
        }
        for (mark, line) in &self.seen.marks {
            if !self.seen.marks_used.contains(mark) {
                let fault = Diagnostic::warning(
                    "mark-unused",
                    format!("mark `{mark}` is never counted"),
                )
                .hint("count it ({ name = ..., marks = ... }), measure from it, or leave it out");
                faults.push(placed(fault, self.plugin.place(*line)));
            }
        }
        for fault in faults {
            self.add(fault, None);
        }
    }

    /// The findings, each with the sizes and machines it holds for.
    fn told(self) -> Diagnostics {
        let mut told = Diagnostics::new();
        let ids: Vec<&str> = self.bench.sizes.sizes().iter().map(|s| s.id.as_str()).collect();
        let machines: Vec<&str> = self.beds.iter().map(|(m, _)| m.id.as_str()).collect();
        for (_, found) in self.found {
            let mut diagnostic = hinted(found.diagnostic);
            if !found.holds_for.is_empty() {
                diagnostic.context.insert(0, spread(&found.holds_for, &machines, &ids));
            }
            told.push(diagnostic);
        }
        told
    }
}

impl Seen {
    fn take(&mut self, made: &Made) {
        self.any_made = true;
        let run = &made.graded.run;
        for section in &run.sections {
            if section.stitches.values().sum::<u64>() + section.sewn_loops > 0 {
                self.sections.insert(section.name.clone());
            }
        }
        for piece in &run.pieces {
            self.structures.extend(piece.rows.iter().map(|row| row.structure));
            self.structures.insert(piece.structure);
        }
        self.counts.extend(made.garment.counts.iter().map(|c| c.name.clone()));
        for count in &made.garment.counts {
            if let Counted::Marks(mark) = &count.what {
                self.marks_used.insert(mark.clone());
            }
        }
        for part in made.garment.finished.iter().flat_map(|f| &f.parts) {
            if let Extent::RowsOn { from, to, .. } = &part.what {
                self.marks_used.extend(from.iter().chain(to).cloned());
            }
        }
        for piece in &made.garment.program.pieces {
            self.walk(&piece.steps);
        }
    }

    fn walk(&mut self, steps: &[Step]) {
        for step in steps {
            match &step.action {
                Action::Mark(name) => {
                    self.marks.entry(name.clone()).or_insert(step.line);
                }
                Action::CastOn { structure, .. } => {
                    self.structures.insert(*structure);
                    self.cast_on.entry(*structure).or_insert(step.line);
                }
                Action::Repeat { steps, .. } => self.walk(steps),
                _ => {}
            }
        }
    }
}

/// A word to the author where the engine, which speaks to the knitter, has no more to say.
fn hinted(diagnostic: Diagnostic) -> Diagnostic {
    let more = match diagnostic.code {
        "no-ribber" | "off-bed" => {
            "or refuse the size with a reason: refuse{ reason = ..., hints = { ... } }"
        }
        _ if !diagnostic.hints.is_empty() => return diagnostic,
        "script::error" => {
            "a size that can't be made is refused with a reason: refuse{ reason = ..., hints = { ... } }"
        }
        "ease-out-of-range" => {
            "aim at another ease, or state the range that fits (ease_low, ease_high)"
        }
        _ => "see plugins/README.md for what may be done here",
    };
    diagnostic.hint(more)
}

/// Why the garment refuses a size, or the body lacks what it needs.
fn refusal(size: &SizeResult) -> Option<&Diagnostic> {
    let faults = size.made.as_ref().err()?;
    faults.iter().find(|f| f.code == REFUSED || f.code == "body")
}

fn key_of(diagnostic: &Diagnostic) -> Key {
    let place = diagnostic.place.as_ref().map(|p| (p.file.clone(), p.line));
    let mut shape = String::new();
    for c in diagnostic.message.chars() {
        let figure = c.is_ascii_digit() || (c == '.' && shape.ends_with('#'));
        if !figure {
            shape.push(c);
        } else if !shape.ends_with('#') {
            shape.push('#');
        }
    }
    (diagnostic.code, place, shape)
}

/// What is worth trying of an option beside its default.
fn trial_values(option: &OptionSpec) -> Vec<String> {
    let ends = match &option.kind {
        OptionKind::Integer { min, max, step } => {
            vec![min.to_string(), (max - (max - min) % step).to_string()]
        }
        OptionKind::Number { min, max } => vec![min.to_string(), max.to_string()],
        OptionKind::Percent { min, max } => vec![format!("{min} %"), format!("{max} %")],
        OptionKind::Length { min_mm, max_mm } => {
            vec![format!("{min_mm} mm"), format!("{max_mm} mm")]
        }
        OptionKind::Choice { of } => of.clone(),
        OptionKind::Flag => vec!["yes".to_owned(), "no".to_owned()],
    };
    let default = option.default.as_ref().map(ToString::to_string);
    ends.into_iter().filter(|value| Some(value) != default.as_ref()).collect()
}

/// "every size on every machine", "newborn to m3-6 on bulky; y4 on fine and mid".
fn spread(holds_for: &BTreeSet<(usize, usize)>, machines: &[&str], ids: &[&str]) -> String {
    let mut by_sizes: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
    for machine in 0..machines.len() {
        let sizes: Vec<usize> =
            holds_for.iter().filter(|(m, _)| *m == machine).map(|(_, s)| *s).collect();
        if sizes.is_empty() {
            continue;
        }
        match by_sizes.iter_mut().find(|(known, _)| *known == sizes) {
            Some((_, on)) => on.push(machine),
            None => by_sizes.push((sizes, vec![machine])),
        }
    }
    let parts: Vec<String> = by_sizes
        .iter()
        .map(|(sizes, on)| {
            let on = if on.len() == machines.len() {
                "every machine".to_owned()
            } else {
                listed(&on.iter().map(|m| machines[*m].to_owned()).collect::<Vec<_>>())
            };
            format!("{} on {on}", sizes_in_words(sizes, ids))
        })
        .collect();
    parts.join("; ")
}

fn sizes_in_words(sizes: &[usize], ids: &[&str]) -> String {
    if sizes.len() == ids.len() && ids.len() > 1 {
        return "every size".to_owned();
    }
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for size in sizes {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *size => *last = *size,
            _ => runs.push((*size, *size)),
        }
    }
    let name = |at: usize| ids.get(at).copied().unwrap_or("?");
    let parts: Vec<String> = runs
        .iter()
        .map(|(first, last)| match last - first {
            0 => name(*first).to_owned(),
            1 => format!("{} and {}", name(*first), name(*last)),
            _ => format!("{} to {}", name(*first), name(*last)),
        })
        .collect();
    parts.join(", ")
}

/// "a", "a and b", "a, b and c".
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_it_holds_is_said_in_few_words() {
        let ids = ["newborn", "y4", "women-m", "men-m"];
        let machines = ["fine", "mid", "bulky"];
        let told =
            |holds: &[(usize, usize)]| spread(&holds.iter().copied().collect(), &machines, &ids);
        let all: Vec<_> = (0..3).flat_map(|m| (0..4).map(move |s| (m, s))).collect();
        assert_eq!(told(&all), "every size on every machine");
        assert_eq!(
            told(&[(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (2, 3)]),
            "newborn to women-m on fine and mid; men-m on bulky"
        );
        assert_eq!(told(&[(0, 0), (0, 2), (0, 3)]), "newborn, women-m and men-m on fine");
    }

    #[test]
    fn figures_do_not_tell_faults_apart() {
        let fault = |text: &str| key_of(&Diagnostic::error("x", text));
        assert_eq!(fault("12 of 84 loops"), fault("3 of 100 loops"));
        assert_eq!(fault("girth 12.5 cm"), fault("girth 8 cm"));
        assert_ne!(fault("girth"), fault("depth"));
    }
}
