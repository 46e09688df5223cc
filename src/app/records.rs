//! A finished piece knitted again on the bed, to hold what it weighed against: a new one, whose record is to
//! say what was counted, and an old one whose record doesn't.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::fitting::request_for;
use super::yarn_gauge::{Setup, setup_of_yarn, yarn_id};
use super::{GradeRequest, Workbench};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::estimate::{Id, PieceSection, TimeTable};
use knit::operation::Operation;
use knit::program::Structure;
use knit::run::Run;
use knit::size_run::SizeRun;
use knit::stash::{Contents, FinishedPiece, KnittedSection};
use report::plan_words::no_bed;
use script::Plugin;

/// The sections of a finished piece as the model has them, in the piece's own yarn.
#[derive(Debug)]
pub(super) struct Regraded {
    /// The swatch and bed it was graded on: its own where they are noted, else its yarn's.
    pub setup: Setup,
    garment: String,
    /// As the bed counts them.
    run: Run,
    /// By fabric the yarn in a stitch by the gauge, in mm.
    loop_mm: Vec<(Structure, f64)>,
    sections: Vec<PieceSection>,
    /// Ends, seams and sewing of each of these, in metres.
    sewing_m: Vec<f64>,
}

/// What was knitted again in one state of a workspace, by all that it depends on there; and the garments it
/// was knitted from, each read once.
#[derive(Debug, Default)]
pub(super) struct Kept {
    pieces: Mutex<BTreeMap<Knitted, Outcome>>,
    garments: Mutex<BTreeMap<String, Result<Arc<Plugin>, Diagnostics>>>,
}

impl Kept {
    fn pieces(&self) -> MutexGuard<'_, BTreeMap<Knitted, Outcome>> {
        self.pieces.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn garment(&self, bench: &Workbench, id: &str) -> Result<Arc<Plugin>, Diagnostics> {
        let mut garments = self.garments.lock().unwrap_or_else(PoisonError::into_inner);
        let read = || bench.garment(id).map(Arc::new);
        garments.entry(id.to_owned()).or_insert_with(read).clone()
    }
}

type Outcome = Result<Arc<Regraded>, Diagnostics>;

/// What of a record says how it was knitted.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Knitted {
    garment: String,
    size: String,
    options: Vec<(String, String)>,
    yarn: String,
    machine: Option<String>,
    swatch: Option<String>,
}

/// Knits finished pieces again, none twice: grams, minutes and what a new record says are all held against
/// the same.
#[derive(Clone, Copy, Debug)]
pub(super) struct Again<'a> {
    pub bench: &'a Workbench,
    pub contents: &'a Contents,
    pub kept: &'a Kept,
}

impl Again<'_> {
    /// # Errors
    /// An unknown yarn or one that no bed takes, where swatch and bed are not noted; a piece that can't be
    /// knitted.
    pub fn knit(self, piece: &FinishedPiece) -> Outcome {
        let key = Knitted {
            garment: piece.garment.clone(),
            size: piece.size.clone(),
            options: piece.options.clone(),
            yarn: piece.yarn.clone(),
            machine: piece.machine.clone(),
            swatch: piece.swatch.clone(),
        };
        if let Some(found) = self.kept.pieces().get(&key) {
            return found.clone();
        }
        // Not while it is locked: grading takes its time, and others wait for other pieces.
        let outcome = Regraded::of(self, piece).map(Arc::new);
        self.kept.pieces().entry(key).or_insert(outcome).clone()
    }
}

impl Regraded {
    fn of(again: Again<'_>, piece: &FinishedPiece) -> Result<Regraded, Diagnostics> {
        let contents = again.contents;
        let setup = setup_of(contents, piece)?;
        let run = knitted_again(again, piece, &setup)?;
        let Some((_, made)) = run.good().next() else {
            let mut refusals = run.refusals();
            if !refusals.has_errors() {
                refusals.push(Diagnostic::error(Code::NoSize, "it can't be knitted"));
            }
            return Err(refusals);
        };
        let yarn = contents.yarns.get(&piece.yarn);
        let tex = yarn.map_or(run.swatches.yarn, |yarn| yarn.count).tex();
        let own: Id = yarn_id(contents, &piece.yarn);
        let graded = &made.graded;
        let of_swatch = run.swatches.yarn.tex();
        let metres = |section: &PieceSection| section.other_g * 1000.0 / of_swatch;
        let sections = graded.yarn.piece.in_yarn(&own, tex / of_swatch).sections;
        let fabrics = Structure::ALL.into_iter().filter(|fabric| graded.run.knits(*fabric));
        let fabrics = fabrics.filter(|fabric| fabric.gauged_as() == *fabric);
        Ok(Regraded {
            loop_mm: fabrics.map(|own| (own, run.swatches.model_loop_mm(own))).collect(),
            sewing_m: graded.yarn.piece.sections.iter().map(metres).collect(),
            run: graded.run.clone(),
            setup,
            garment: piece.garment.clone(),
            sections,
        })
    }

    /// The yarn in a stitch by its gauge, in mm, of each fabric that it has.
    pub fn loop_mm(&self) -> &[(Structure, f64)] {
        &self.loop_mm
    }

    /// What was counted of a section, to be noted.
    pub fn counted(&self, section: &str) -> Option<KnittedSection> {
        let of_run = self.run.sections.iter().find(|own| own.name == section)?;
        let at = self.sections.iter().position(|own| *own.name == *section)?;
        Some(KnittedSection {
            name: section.to_owned(),
            stitches: of_run.stitches.iter().map(|(fabric, n)| (*fabric, *n)).collect(),
            sewing_m: self.sewing_m[at],
        })
    }

    /// What was done in a section, and how often.
    pub fn work_in(&self, section: &str, times: &TimeTable) -> Vec<(Operation, f64)> {
        self.run.work_in(section, |operation, n| times.minutes_of(operation, n))
    }

    /// What a weighed section is made of.
    ///
    /// # Errors
    /// None of that name.
    pub fn section(&self, name: &str) -> Result<PieceSection, Diagnostic> {
        let found = self.sections.iter().find(|section| *section.name == *name);
        found.cloned().ok_or_else(|| {
            let known = self.run.sections.iter().map(|section| section.name.as_str());
            no_section(&self.garment, name, known)
        })
    }
}

fn setup_of(contents: &Contents, piece: &FinishedPiece) -> Result<Setup, Diagnostics> {
    let machine = |id: &str| contents.machines.iter().find(|m| m.id == id);
    let noted = piece.machine.as_deref().and_then(machine);
    let swatch = piece.swatch.as_ref().and_then(|id| Some((id, contents.swatches.get(id)?)));
    let of_swatch = swatch.and_then(|(_, file)| machine(file.machine.as_deref()?));
    if let (Some((id, file)), Some(machine)) = (swatch, noted.or(of_swatch)) {
        let swatch = Some(id.clone());
        return Ok(Setup { swatch, machine: machine.clone(), file: file.clone() });
    }
    let yarn = contents.yarns.get(&piece.yarn);
    let mut setup =
        yarn.and_then(|yarn| setup_of_yarn(contents, yarn)).ok_or_else(|| no_bed(&piece.yarn))?;
    if let Some(machine) = noted {
        setup.machine = machine.clone();
    }
    if let Some((id, file)) = swatch {
        (setup.swatch, setup.file) = (Some(id.clone()), file.clone());
    }
    Ok(setup)
}

fn knitted_again(
    again: Again<'_>,
    piece: &FinishedPiece,
    setup: &Setup,
) -> Result<SizeRun, Diagnostics> {
    let Again { bench, contents, kept } = again;
    let plugin = kept.garment(bench, &piece.garment)?;
    let (machine, swatch) = (&setup.machine, &setup.file);
    let options = piece.options.clone();
    match contents.person(&piece.size) {
        Some(person) => bench.grade(&GradeRequest {
            options,
            ..request_for(contents, person, &plugin, machine, swatch)
        }),
        None => bench.grade(&GradeRequest {
            plugin: &plugin,
            machine,
            swatch,
            options,
            sizes: piece.size.clone(),
            person: None,
        }),
    }
}

fn no_section<'n>(
    garment: &str,
    name: &str,
    known: impl Iterator<Item = &'n str> + Clone,
) -> Diagnostic {
    let whole = name.rsplit_once(' ').filter(|(_, nth)| nth.parse::<u8>().is_ok());
    let whole = whole.and_then(|(whole, _)| known.clone().find(|own| *own == whole));
    let hint = match (whole, nearest(name, known.clone())) {
        (Some(whole), _) => {
            format!("were balls of it knitted in turn? say the rows of each: --in-turn {whole}=4,4")
        }
        (None, Some(near)) => format!("did you mean `{near}`?"),
        (None, None) => format!("it has {}", known.collect::<Vec<_>>().join(", ")),
    };
    Diagnostic::error(Code::NoSection, format!("{garment} has no section `{name}`")).hint(hint)
}
