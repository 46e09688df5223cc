//! What the manifest declares and nothing uses, and what is used undeclared.

use std::collections::{BTreeMap, BTreeSet};

use super::{Check, placed};
use diag::{Code, Diagnostic, Place, nearest};
use knit::garment::{Counted, Extent};
use knit::program::{Action, Step, Structure};
use knit::size_run::Made;
use script::{Declared, OptionSpec, SectionSpec};

/// What the programs made use of, in any size, on any machine, with any option.
#[derive(Default)]
pub(super) struct Seen {
    any_made: bool,
    sections: BTreeSet<String>,
    structures: BTreeSet<Structure>,
    counts: BTreeSet<String>,
    decisions: BTreeSet<String>,
    /// By tally mark: the script line of one.
    marks: BTreeMap<String, u32>,
    marks_used: BTreeSet<String>,
    /// Structures cast on and the script line.
    cast_on: BTreeMap<Structure, u32>,
}

impl<'a> Check<'a> {
    /// What the manifest declares and nothing uses, and the other way round.
    pub(super) fn judge_use(&mut self) {
        for fault in self.unlisted() {
            self.add(fault, None);
        }
        if !self.seen.any_made {
            return;
        }
        let mut faults = Vec::new();
        // A script that reads in a way that goes unseen is not said to leave anything unread.
        if self.reads_complete {
            faults.extend(self.unread());
        }
        faults.extend(self.unknitted());
        faults.extend(self.uncounted());
        if self.reads_complete {
            faults.extend(self.unrequired());
        }
        faults.extend(self.undeclared());
        faults.extend(self.unmeasured());
        faults.extend(self.undecided());
        for fault in faults {
            self.add(fault, None);
        }
    }

    /// A fault of something that the manifest declares.
    fn declared(&self, code: Code, message: String, hint: &str, what: Declared<'_>) -> Diagnostic {
        placed(Diagnostic::error(code, message).hint(hint), self.plugin.declared_at(what))
    }

    /// The same, only warned of where the name stands in the script: it may be read where no try
    /// led.
    fn never_used(
        &self,
        code: Code,
        message: String,
        hint: &str,
        (what, name): (Declared<'_>, &str),
    ) -> Diagnostic {
        if self.plugin.mentioned_at(name).is_none() {
            return self.declared(code, message, hint, what);
        }
        let fault = Diagnostic::warning(code, format!("{message}, though the script names it"));
        placed(fault.hint(hint), self.plugin.declared_at(what))
    }

    /// Options and body measures that no script reads.
    fn unread(&self) -> Vec<Diagnostic> {
        let manifest = &self.plugin.manifest;
        let options = manifest.options.iter().filter(|o| !self.reads.options.contains(&o.name));
        let measures = manifest.measures.iter().filter(|m| !self.reads.measures.contains(*m));
        let option = |option: &OptionSpec| {
            self.never_used(
                Code::OptionUnread,
                format!("option `{}` is never read", option.name),
                "read it as input.options.NAME, or leave it out",
                (Declared::Name("options", &option.name), &option.name),
            )
        };
        let measure = |measure: &String| {
            self.never_used(
                Code::MeasureUnread,
                format!("body measure `{measure}` is never read"),
                "leave it out: a body that lacks it would be turned away for nothing",
                (Declared::Item("measures", measure), measure),
            )
        };
        options.map(option).chain(measures.map(measure)).collect()
    }

    /// Measures that it makes known, can't read, and fills no other of its own from.
    fn unlisted(&self) -> Vec<Diagnostic> {
        let manifest = &self.plugin.manifest;
        let names = || manifest.own_measures.iter().map(|own| own.spec.name.as_str());
        let fills = |name: &str| {
            let mut lines = manifest.own_measures.iter().flat_map(|own| &own.fill);
            lines.any(|line| line.from == name && line.of != name)
        };
        let idle =
            names().filter(|name| !manifest.measures.iter().any(|m| m == name) && !fills(name));
        let fault = |name| {
            self.declared(
                Code::MeasureUnread,
                format!("body measure `{name}` is made known and not listed under `measures`"),
                "list it, so that the script can read it, or leave it out",
                Declared::Name("own_measures", name),
            )
        };
        idle.map(fault).collect()
    }

    /// Numbers that the script would decide, in branches that no try led to.
    fn undecided(&self) -> Vec<Diagnostic> {
        let decided = self.plugin.decisions_in_sources().into_iter();
        let unreached = decided.filter(|(name, _)| !self.seen.decisions.contains(name));
        let fault = |(name, place): (String, Place)| {
            let message = format!("`{name}` is decided for no size on any machine with any option");
            Diagnostic::warning(Code::DecisionUnreached, message)
                .hint("no knitter can fix it: see that the script comes to it, or leave it out")
                .at(place)
        };
        unreached.map(fault).collect()
    }

    /// Structures that nothing is knitted in and whose gauge is not read, and sections without yarn.
    fn unknitted(&self) -> Vec<Diagnostic> {
        let manifest = &self.plugin.manifest;
        let used = |structure: &Structure| {
            let gauge_read = !self.reads_complete || self.reads.gauges.contains(structure.name());
            gauge_read || self.seen.structures.contains(structure)
        };
        let structure = |structure: &Structure| {
            self.declared(
                Code::StructureUnused,
                format!("structure `{structure}` is neither knitted nor is its gauge read"),
                "leave it out: the knitter would make a swatch of it for nothing",
                Declared::Item("structures", structure.name()),
            )
        };
        let section = |section: &SectionSpec| {
            self.never_used(
                Code::SectionUnused,
                format!("no yarn is ever counted towards section `{}`", section.name),
                "give a piece `section = \"...\"`, or leave the section out",
                (Declared::Name("sections", &section.name), &section.name),
            )
        };
        let sections = manifest.sections.iter().filter(|s| !self.seen.sections.contains(&s.name));
        let structures = manifest.structures.iter().filter(|structure| !used(structure));
        structures.map(structure).chain(sections.map(section)).collect()
    }

    /// What is said to grow and is no count.
    fn uncounted(&self) -> Vec<Diagnostic> {
        let counts = || self.seen.counts.iter().map(String::as_str);
        let grows = self.plugin.manifest.grows.iter();
        let unknown = grows.filter(|name| !self.seen.counts.contains(*name)).map(|name| {
            let hint = match nearest(name, counts()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the counts are {}", counts().collect::<Vec<_>>().join(", ")),
            };
            self.declared(
                Code::GrowsUnknown,
                format!("no count is called `{name}`"),
                &hint,
                Declared::Item("grows", name),
            )
        });
        unknown.collect()
    }

    /// Modules that nothing requires.
    fn unrequired(&self) -> Vec<Diagnostic> {
        let unloaded = self.plugin.modules().filter(|m| !self.reads.modules.contains(*m));
        let fault = |module| {
            let fault =
                Diagnostic::warning(Code::ModuleUnused, format!("`{module}` is never required"))
                    .hint("delete it, or require it where it is needed");
            placed(fault, self.plugin.module_at(module))
        };
        let unused = self.plugin.manifest.parts.keys().filter(|p| !self.reads.parts.contains(*p));
        // Its own part is what a sample is about, but it may well use only some of the others.
        let unused = unused.filter(|_| !self.plugin.is_sample());
        let part = |name: &String| {
            let fault =
                Diagnostic::warning(Code::ModuleUnused, format!("part `{name}` is never required"))
                    .hint(format!(
                        "write require(\"parts/{name}\") where it is needed, or leave it out"
                    ));
            placed(fault, self.plugin.declared_at(Declared::Name("parts", name)))
        };
        unloaded.map(fault).chain(unused.map(part)).collect()
    }

    /// Structures that are knitted and not in the manifest.
    fn undeclared(&self) -> Vec<Diagnostic> {
        let declared = &self.plugin.manifest.structures;
        let known = |s: &Structure| declared.contains(s) || declared.contains(&s.gauged_as());
        let cast_on = self.seen.cast_on.iter().filter(|(structure, _)| !known(structure));
        let fault = |(structure, line): (&Structure, &u32)| {
            let fault = Diagnostic::error(
                Code::StructureUndeclared,
                format!("{structure} is knitted and plugin.toml does not list it"),
            )
            .hint(format!("add \"{structure}\" to `structures`, so that the knitter swatches it"));
            placed(fault, self.plugin.place(*line))
        };
        cast_on.map(fault).collect()
    }

    /// Marks that nothing counts.
    fn unmeasured(&self) -> Vec<Diagnostic> {
        let unused = self.seen.marks.iter().filter(|(m, _)| !self.seen.marks_used.contains(*m));
        let fault = |(mark, line): (&String, &u32)| {
            let fault =
                Diagnostic::warning(Code::MarkUnused, format!("mark `{mark}` is never counted"))
                    .hint(
                        "count it ({ name = ..., marks = ... }), measure from it, or leave it out",
                    );
            placed(fault, self.plugin.place(*line))
        };
        unused.map(fault).collect()
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
        self.decisions.extend(made.garment.decisions.iter().map(|d| d.name.clone()));
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
        for part in made.garment.views.iter().flat_map(|view| &view.parts) {
            self.marks_used.extend(part.patch.from.iter().chain(&part.patch.to).cloned());
        }
        for piece in &made.garment.program.pieces {
            self.walk(&piece.steps);
        }
    }

    /// Marks that something is measured from.
    pub(super) fn measured_from(&mut self, marks: BTreeSet<String>) {
        self.marks_used.extend(marks);
    }

    fn knits(&mut self, structure: Structure, line: u32) {
        self.structures.insert(structure);
        self.cast_on.entry(structure).or_insert(line);
    }

    fn walk(&mut self, steps: &[Step]) {
        for step in steps {
            match &step.action {
                Action::Mark(name) => {
                    self.marks.entry(name.clone()).or_insert(step.line);
                }
                Action::CastOn { structure, .. } => self.knits(*structure, step.line),
                // Rib that begins amid a piece is cast on nowhere.
                Action::ToRib { structure, .. } => self.knits(*structure, step.line),
                Action::Transfer(moved) if moved.to.ribber && !moved.from.ribber => {
                    self.knits(moved.structure, step.line);
                }
                Action::Repeat { steps, .. } => self.walk(steps),
                _ => {}
            }
        }
    }
}
