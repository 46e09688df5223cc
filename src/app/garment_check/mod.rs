//! Everything that can be found wrong with a garment without knitting it in wool: its files, its
//! manifest, and what it does for all sizes on every machine that has a demo swatch.

mod causes;
mod folder;
mod spread;
mod traces;
mod trials;
mod usage;
mod verdicts;

use std::collections::BTreeSet;

use causes::{in_order, without_what_follows};
use folder::folder_faults;
use spread::spread;
use traces::Traces;
use usage::Seen;

use super::Workbench;
use super::garment_test::read_cases;
use super::workbench::{GarmentHome, load};
use diag::{Code, Diagnostic, Diagnostics, Place};
use knit::machine::Machine;
use knit::stash::NamedSwatches;
use report::{MachineTally, TraceLine};
use script::{Plugin, Reads};

/// What a check came to.
#[derive(Clone, Debug)]
pub struct GarmentCheck {
    /// What was checked, to show.
    pub title: String,
    /// None where the garment could not be loaded.
    pub machines: Vec<MachineTally>,
    /// What the script shows its author, by line.
    pub traces: Vec<TraceLine>,
    /// Edges of one size that nothing is joined to: the size and machine first. Many are meant to be so.
    pub free_edges: Vec<String>,
    /// Causes first, without what only follows from them; what holds for several sizes is told once.
    pub findings: Diagnostics,
}

type Bed<'a> = (&'a Machine, NamedSwatches);

impl Workbench {
    /// Checks a garment, by id or folder.
    ///
    /// # Errors
    /// Nothing of that name, or a folder that can't be read. Whatever is wrong with the garment
    /// is a finding.
    pub fn check_garment(&self, name: &str) -> Result<GarmentCheck, Diagnostics> {
        let source = self.garment_source(name)?;
        let beds = self.demo_beds()?;
        let mut title = source.own.folder.clone();
        let mut machines = Vec::new();
        let mut traces = Vec::new();
        let mut free_edges = Vec::new();
        let mut findings = Diagnostics::new();
        let cases = read_cases(&source.own);
        match load(source.clone(), &self.sizes) {
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
                findings.extend(folder_faults(&source.own, &plugin));
                if let Some(GarmentHome::Folder(folder)) = self.garment_home(name) {
                    findings.extend(self.renew_stubs(&folder, &plugin));
                }
                let mut check = Check::new(self, &plugin, &beds);
                check.grade_all()?;
                check.try_options()?;
                check.try_decisions()?;
                check.judge_use();
                machines.clone_from(&check.tallies);
                traces = check.traces_told();
                free_edges.clone_from(&check.free_edges);
                findings.extend(check.told());
                findings.extend(self.case_faults(&plugin, cases)?);
            }
        }
        let findings = in_order(without_what_follows(findings));
        Ok(GarmentCheck { title, machines, traces, free_edges, findings })
    }
}

fn placed(diagnostic: Diagnostic, place: Option<Place>) -> Diagnostic {
    match place {
        Some(place) => diagnostic.at(place),
        None => diagnostic,
    }
}

/// Something found, and for which machines and sizes.
struct Found {
    diagnostic: Diagnostic,
    /// Index of the machine, index of the size in the table (of what has one size: any). Empty: for all of the garment.
    holds_for: BTreeSet<(usize, usize)>,
}

/// Same code, same line, same words but for their figures.
type Key = (Code, Option<(String, usize)>, String);

struct Check<'a> {
    bench: &'a Workbench,
    plugin: &'a Plugin,
    beds: &'a [Bed<'a>],
    found: Vec<(Key, Found)>,
    tallies: Vec<MachineTally>,
    reads: Reads,
    traces: Traces,
    /// Of which size and machine, then what is joined to nothing there.
    free_edges: Vec<String>,
    /// Whether `reads` holds all that was read.
    reads_complete: bool,
    seen: Seen,
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
            traces: Traces::default(),
            free_edges: Vec::new(),
            reads_complete: true,
            seen: Seen::default(),
        }
    }

    fn is_known(&self, diagnostic: &Diagnostic) -> bool {
        let key = key_of(diagnostic);
        self.found.iter().any(|(known, _)| *known == key)
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

    /// Its sizes; what nobody wears has one.
    fn size_ids(&self) -> Vec<&'a str> {
        let all = self.bench.sizes.sizes().iter().map(|size| size.id.as_str());
        let most = if self.plugin.manifest.measures.is_empty() { 1 } else { usize::MAX };
        all.take(most).collect()
    }

    /// What the script showed, each with the sizes and machines it holds for.
    fn traces_told(&self) -> Vec<TraceLine> {
        let ids = self.size_ids();
        let machines: Vec<&str> = self.beds.iter().map(|(m, _)| m.id.as_str()).collect();
        self.traces.told(&machines, &ids)
    }

    /// The findings, each with the sizes and machines it holds for.
    fn told(self) -> Diagnostics {
        let mut told = Diagnostics::new();
        let ids = self.size_ids();
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

/// A word to the author where the engine, which speaks to the knitter, has no more to say.
fn hinted(diagnostic: Diagnostic) -> Diagnostic {
    let more = match diagnostic.code {
        Code::NoRibber | Code::OffBed => {
            "or refuse the size with a reason: refuse{ reason = ..., hints = { ... } }"
        }
        _ if !diagnostic.hints.is_empty() => return diagnostic,
        Code::ScriptError => {
            "a size that can't be made is refused with a reason: refuse{ reason = ..., hints = { ... } }"
        }
        Code::EaseOutOfRange => {
            "aim at another ease, or state the range that fits (ease_low, ease_high)"
        }
        _ => "see plugins/README.md for what may be done here",
    };
    diagnostic.hint(more)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_do_not_tell_faults_apart() {
        let fault = |text: &str| key_of(&Diagnostic::error(Code::Stretch, text));
        assert_eq!(fault("12 of 84 loops"), fault("3 of 100 loops"));
        assert_eq!(fault("girth 12.5 cm"), fault("girth 8 cm"));
        assert_ne!(fault("girth"), fault("depth"));
    }
}
