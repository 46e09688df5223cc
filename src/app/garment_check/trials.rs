//! The garment graded for all sizes and tried with each option, every run of the script watched.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::{Check, placed};
use crate::grade::{input_of, with_host};
use crate::{GradeRequest, REFUSED};
use diag::{Code, Diagnostic, Diagnostics, Place};
use knit::marked;
use knit::size_run::{SizeResult, SizeRun};
use report::MachineTally;
use script::{FIX, OptionKind, OptionSpec, Reads, ScriptFailure};

/// Option values tried, times machines.
const MOST_TRIES: usize = 1_000;

/// Runs of theirs that are held at a time.
const MOST_AT_ONCE: usize = 32;

/// A watched run of the script for one size.
struct Watched {
    reads: Reads,
    /// It made the same of its input as it did unwatched. If not, it reads in a way that goes
    /// unseen.
    same: bool,
    /// The line that refused the size.
    refused_at: Option<Place>,
    /// Marks that edges begin or end at: what was made has rows in their place.
    marks: BTreeSet<String>,
}

impl<'a> Check<'a> {
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
    pub(super) fn grade_all(&mut self) -> Result<(), Diagnostics> {
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
                                Code::BareRefusal,
                                format!("a size is refused without a hint: {}", reason.message),
                            )
                            .hint("say what to change: refuse{ reason = ..., hints = { ... } }");
                            self.add(placed(fault, watched.refused_at.clone()), Some((bed, at)));
                        }
                    }
                    None => tally.failed += usize::from(!size.knittable()),
                }
                self.traces.take(&watched.reads.traces, (bed, at));
                self.judge_size(size, (bed, at));
            }
            self.take_reads(watched);
            self.judge_run(&run, bed);
            self.tallies.push(tally);
        }
        if self.tallies.iter().all(|t| t.made + t.failed == 0) {
            let place = self.plugin.module_at("init.luau");
            let fault =
                Diagnostic::error(Code::RefusesAll, "every size is refused on every machine").hint(
                    "a garment should come out for some size on some machine by its defaults",
                );
            self.add(placed(fault, place), None);
        }
        Ok(())
    }

    /// Each option at the ends of its range, or each of its words, for a middle size.
    pub(super) fn try_options(&mut self) -> Result<(), Diagnostics> {
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
                Code::TriesCut,
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

    /// Each number it decides for a middle size, fixed to the least and to the most it may be.
    pub(super) fn try_decisions(&mut self) -> Result<(), Diagnostics> {
        let Some(size) = self.bench.middle_size() else { return Ok(()) };
        let sizes = self.bench.sizes.sizes();
        let at = sizes.iter().position(|s| s.id == size.id).unwrap_or(0);
        let id = size.id.to_string();
        let mut tries = Vec::new();
        for bed in 0..self.beds.len() {
            let run = self.bench.grade(&self.request(bed, Vec::new(), &id))?;
            for (_, made) in run.good() {
                for decision in &made.garment.decisions {
                    let name = format!("{FIX}{}", decision.name);
                    let ends = [decision.from, decision.to];
                    tries.extend(ends.map(|n| (name.clone(), n.to_string(), bed)));
                }
            }
        }
        tries.truncate(MOST_TRIES);
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

    /// Runs the scripts once more, noting what they read.
    fn watch(
        &self,
        request: &GradeRequest<'_>,
        run: &SizeRun,
    ) -> Result<Vec<Watched>, Diagnostics> {
        let choices = self.plugin.manifest.parse_options(&request.options)?;
        let watch = |size: &SizeResult| {
            let whose = (size.group, size.age_years);
            let input = input_of(request, &choices, &run.gauges, &size.body, whose);
            let (mut now, reads) = with_host(|host| host.watch(self.plugin, &input));
            let mut marks = BTreeSet::new();
            if let (Ok(before), Ok(garment)) = (&size.made, &mut now) {
                marks = marked::marks_of(&mut garment.program);
                marked::settle(&mut garment.program, &before.graded.run);
            }
            let told = |found: &Diagnostics| -> Vec<(Code, String)> {
                found.iter().map(|f| (f.code, f.message.clone())).collect()
            };
            let same = match (&size.made, &now) {
                (Ok(before), Ok(garment)) => before.garment == *garment,
                // A body that lacks a measure was not tried.
                (Err(before), _) if before.iter().all(|f| f.code == Code::Body) => true,
                (Err(before), Err(now)) => told(before) == told(now.diagnostics()),
                _ => false,
            };
            let refused_at = match now {
                Err(ScriptFailure::Refused(found)) => found.into_iter().find_map(|f| f.place),
                _ => None,
            };
            Watched { reads, same, refused_at, marks }
        };
        Ok(run.sizes.par_iter().map(watch).collect())
    }

    fn take_reads(&mut self, watched: Vec<Watched>) {
        for watched in watched {
            self.reads_complete &= watched.same;
            self.reads.join(watched.reads);
            self.seen.measured_from(watched.marks);
        }
    }
}

/// Why the garment refuses a size, or the body lacks what it needs.
fn refusal(size: &SizeResult) -> Option<&Diagnostic> {
    let faults = size.made.as_ref().err()?;
    let refuses = [REFUSED, Code::Body, Code::Decision];
    faults.iter().find(|f| refuses.contains(&f.code))
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
