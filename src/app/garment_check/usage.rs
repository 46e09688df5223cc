//! What the manifest declares and nothing uses, and what is used undeclared.

use std::collections::{BTreeMap, BTreeSet};

use super::{Check, placed};
use diag::{Code, Diagnostic, nearest};
use knit::garment::{Counted, Extent};
use knit::program::{Action, Step, Structure};
use knit::size_run::Made;
use script::Declared;

/// What the programs made use of, in any size, on any machine, with any option.
#[derive(Default)]
pub(super) struct Seen {
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
    /// What the manifest declares and nothing uses, and the other way round.
    pub(super) fn judge_use(&mut self) {
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
                    Code::OptionUnread,
                    format!("option `{}` is never read", option.name),
                    "read it as input.options.NAME, or leave it out",
                    Declared::Name("options", &option.name),
                    mentioned(&option.name),
                );
            }
            for measure in manifest.measures.iter().filter(|m| !self.reads.measures.contains(*m)) {
                say(
                    Code::MeasureUnread,
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
                    Code::StructureUnused,
                    format!("structure `{structure}` is neither knitted nor is its gauge read"),
                    "leave it out: the knitter would make a swatch of it for nothing",
                    Declared::Item("structures", structure.name()),
                    false,
                );
            }
        }
        for section in manifest.sections.iter().filter(|s| !self.seen.sections.contains(&s.name)) {
            say(
                Code::SectionUnused,
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
                Code::GrowsUnknown,
                format!("no count is called `{name}`"),
                &hint,
                Declared::Item("grows", name),
                false,
            );
        }
        let unloaded = self.plugin.modules().filter(|m| !self.reads.modules.contains(*m));
        for module in unloaded.filter(|_| self.reads_complete) {
            let fault =
                Diagnostic::warning(Code::ModuleUnused, format!("`{module}` is never required"))
                    .hint("delete it, or require it where it is needed");
            faults.push(placed(fault, self.plugin.module_at(module)));
        }
        for (structure, line) in &self.seen.cast_on {
            let declared = &manifest.structures;
            if !declared.contains(structure) && !declared.contains(&structure.gauged_as()) {
                let fault = Diagnostic::error(
                    Code::StructureUndeclared,
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
                    Code::MarkUnused,
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
}

impl Seen {
    pub(super) fn take(&mut self, made: &Made) {
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
