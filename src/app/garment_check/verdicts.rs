//! What is found in a run: of one size, of one try of an option, of a run of sizes.

use super::{Check, placed};
use crate::is_script_fault;
use diag::{Code, Diagnostic, Severity};
use knit::garment::Garment;
use knit::graph::{Graph, Surface};
use knit::joined_edges::{Stretch, joined_edges};
use knit::run::Fault;
use knit::size_run::{Made, SizeResult, SizeRun};
use script::{Declared, FIX};

/// A piece could not be begun.
const UNMADE: [Code; 3] = [Code::NoRibber, Code::OffBed, Code::NeedleTaken];

/// What follows from that.
const FOLLOWS: [Code; 8] = [
    Code::NothingToKnit,
    Code::NothingInWork,
    Code::HoldEmpty,
    Code::RibberEmpty,
    Code::NoLoop,
    Code::NoSuchEdge,
    Code::NoSelvedge,
    Code::EdgeEmpty,
];

impl<'a> Check<'a> {
    pub(super) fn judge_option(
        &mut self,
        size: &SizeResult,
        name: &str,
        value: &str,
        at: (usize, usize),
    ) {
        let (with, hint) = match name.strip_prefix(FIX) {
            Some(name) => (
                format!("with --fix {name}={value}"),
                format!("have the cost of such a `{name}` be nil, or narrow its `may`"),
            ),
            None => (
                format!("with --set \"{name}={value}\""),
                format!("refuse such a value of `{name}`, or narrow its range in plugin.toml"),
            ),
        };
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
                self.add(fault.hint(hint.clone()), Some(at));
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

    pub(super) fn judge_size(&mut self, size: &SizeResult, at: (usize, usize)) {
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
            if diagnostic.code == Code::Garment || told.iter().any(|f| same(&f.diagnostic)) {
                continue;
            }
            let fault = self.first_seen(self.locate(diagnostic, Some(&made.garment)), size, at);
            self.add(fault, Some(at));
        }
        self.judge_measures(&made.garment, at);
        self.judge_edges(size, made, at);
        self.judge_surface(made, at);
    }

    /// Edges joined twice are found; those joined to nothing are told of one size.
    fn judge_edges(&mut self, size: &SizeResult, made: &Made, at: (usize, usize)) {
        let edges = joined_edges(&made.garment.program, &made.graded.run);
        for (line, stretch) in &edges.twice {
            let Stretch { piece, edge, from, to } = stretch;
            let fault = Diagnostic::warning(
                Code::EdgeTwice,
                format!("{} to {to} of the {edge} of `{piece}` are joined twice", from + 1),
            )
            .hint("each side meets one other: look which side of which piece lies there");
            self.add(placed(fault, self.plugin.place(*line)), Some(at));
        }
        if self.free_edges.is_empty() && !edges.free.is_empty() {
            let told = |stretch: &Stretch| {
                let Stretch { piece, edge, from, to } = stretch;
                format!("{edge} of `{piece}`, {} to {to}", from + 1)
            };
            let size = format!("{} on {}", size.body.id, self.beds[at.0].0.id);
            self.free_edges.push(size);
            self.free_edges.extend(edges.free.iter().map(told));
        }
    }

    /// Holes that nothing closes, and joins that cross. What can't be drawn loop by loop is not judged.
    fn judge_surface(&mut self, made: &Made, at: (usize, usize)) {
        let Ok(graph) = Graph::of(&made.garment.program, &made.graded.run) else { return };
        let surface = Surface::of(&graph);
        for hole in surface.holes(&graph) {
            let stitch = &graph.loops[hole.loops[0] as usize];
            let piece = &made.garment.program.pieces[usize::from(stitch.piece)].name;
            let fault = Diagnostic::warning(
                Code::OpenHole,
                format!(
                    "a hole in `{piece}` is closed by nothing, {} loops round, at row {}",
                    hole.loops.len(),
                    stitch.row + 1
                ),
            )
            .hint("rows end side by side there: seam them, or knit a row over both");
            self.add(fault, Some(at));
        }
        let program = &made.garment.program;
        for crossed in surface.crossed(&graph, program, &made.graded.run) {
            let piece = &program.pieces[crossed.piece].name;
            let fault = Diagnostic::warning(
                Code::CrossedJoin,
                format!("edges of `{piece}` are joined so that they cross"),
            )
            .hint("look which stretch of which side each seam takes, and from which end on");
            let line = crossed.step.map_or(0, |step| program.finishing[step].line);
            self.add(placed(fault, self.plugin.place(line)), Some(at));
        }
    }

    /// What the bed says, at the lines of the script; not what only follows from a cast-on that
    /// could not be made.
    fn bed_faults(&self, made: &Made) -> Vec<Diagnostic> {
        let faults = &made.graded.run.faults;
        let error = |f: &&Fault| f.diagnostic.severity == Severity::Error;
        let no_fabric = faults.iter().any(|f| UNMADE.contains(&f.diagnostic.code));
        // Loops are left over wherever something before them could not be done.
        let is_left = |f: &Fault| f.diagnostic.code == Code::LoopsLeft;
        let other = faults.iter().filter(error).any(|f| !is_left(f));
        faults
            .iter()
            .filter(|f| !(no_fabric && FOLLOWS.contains(&f.diagnostic.code)))
            .filter(|f| !(other && is_left(f)))
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
            let fault = Diagnostic::warning(Code::NoFinished, "the garment measures nothing")
                .hint("list `finished` measures: they tell the knitter the sizes");
            self.add(placed(fault, self.plugin.mentioned_at("pieces")), Some(at));
        }
        for spec in &garment.finished {
            let place = || self.plugin.mentioned_at(&spec.name);
            if spec.parts.is_empty() {
                let fault = Diagnostic::error(
                    Code::NoParts,
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
                    Code::EaseOfNothing,
                    format!("finished measure `{}` has an ease but no `measure`", spec.name),
                )
                .hint("name the body measure it is the ease on");
                self.add(placed(fault, place()), Some(at));
            }
        }
    }

    /// Counts that fall from size to size.
    pub(super) fn judge_run(&mut self, run: &SizeRun, bed: usize) {
        for warning in run.warnings.iter().filter(|w| w.code == Code::Falls) {
            let name = warning.message.split('`').nth(1).unwrap_or_default();
            let place = self.plugin.declared_at(Declared::Item("grows", name));
            let larger = run.sizes.iter().rposition(|s| warning.message.ends_with(&s.body.label));
            let fault = Diagnostic::error(
                Code::GrowsFalls,
                format!("`{name}` is said to grow and falls"),
            )
            .context(format!("on {}: {}", run.machine.id, warning.message))
            .hint("choose it together with the counts it depends on (fit.best), not by rounding one after another");
            self.add(placed(fault, place), larger.map(|at| (bed, at)));
        }
    }
}
