use std::path::Path;

use super::workbench::load;
use super::{GarmentHome, GradeRequest, Workbench};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::case::{Case, Difference, Expect};
use knit::machine::Machine;
use knit::size_run::SizeResult;
use knit::stash::NamedSwatches;
use script::{Plugin, PluginSource};
use store::{self, CaseFile};

const FOLDER: &str = "cases/";

/// The cases of a garment, run.
#[derive(Clone, Debug)]
pub struct GarmentTest {
    pub title: String,
    pub cases: Vec<CaseOutcome>,
}

/// What came of one case file.
#[derive(Clone, Debug)]
pub struct CaseOutcome {
    /// Its path in the garment's folder: `cases/women-m.toml`.
    pub name: String,
    /// How many figures were looked at.
    pub figures: usize,
    pub differences: Vec<Difference>,
    /// What came of a case that expects nothing yet.
    pub came_out: Option<Expect>,
    /// Why the case could not be run.
    pub faults: Diagnostics,
    /// As read; none where it could not be.
    pub file: Option<CaseFile>,
}

impl CaseOutcome {
    pub fn passed(&self) -> bool {
        self.differences.is_empty() && !self.faults.has_errors()
    }
}

impl Workbench {
    /// Runs the cases of a garment, each on its machine with the demo swatch.
    ///
    /// # Errors
    /// No such garment, or all faults of its manifest and sources. A case that fails or can't be
    /// run is an outcome.
    pub fn test_garment(&self, name: &str) -> Result<GarmentTest, Diagnostics> {
        let source = self.garment_source(name)?;
        let cases = read_cases(&source.own);
        let plugin = load(source, &self.sizes)?;
        Ok(GarmentTest {
            title: plugin.manifest.title.clone(),
            cases: self.run_cases(&plugin, cases)?,
        })
    }

    /// Writes what came out into the cases that expected other figures, or say of a size and nothing
    /// else, and gives their paths. Sizes that should or should not be knittable are left alone.
    ///
    /// # Errors
    /// As [`test_garment`](Self::test_garment); a shipped garment; a file that can't be written.
    pub fn bless_garment(&self, name: &str) -> Result<Vec<String>, Diagnostics> {
        let Some(GarmentHome::Folder(folder)) = self.garment_home(name) else {
            // An unknown name has its own, better words.
            self.garment_source(name)?;
            return Err(Diagnostic::error(
                Code::Shipped,
                format!("`{name}` is built in: its cases can't be rewritten"),
            )
            .hint("name the folder the garment lies in")
            .into());
        };
        let mut written = Vec::new();
        for case in self.test_garment(name)?.cases {
            let Some(file) = case.file else { continue };
            let values: Vec<(String, String)> =
                case.differences.iter().filter_map(|d| d.instead.clone()).collect();
            let text = match &case.came_out {
                Some(expect) => file.filled(expect),
                None => file.with_values(&values),
            };
            if text != file.text {
                store::write_output(&folder.join(Path::new(&case.name)), text.as_bytes())?;
                written.push(case.name);
            }
        }
        Ok(written)
    }

    pub(super) fn run_cases(
        &self,
        plugin: &Plugin,
        cases: Vec<(String, Result<CaseFile, Diagnostics>)>,
    ) -> Result<Vec<CaseOutcome>, Diagnostics> {
        let beds = self.demo_beds()?;
        let run = |(name, file): (String, Result<CaseFile, Diagnostics>)| {
            let mut outcome = CaseOutcome {
                name,
                figures: 0,
                differences: Vec::new(),
                came_out: None,
                faults: Diagnostics::new(),
                file: None,
            };
            let ran = file.and_then(|file| {
                let file = outcome.file.insert(file);
                self.run_case(plugin, &beds, file)
            });
            match (ran, &outcome.file) {
                (Err(faults), _) => outcome.faults = faults,
                (Ok(size), Some(file)) if file.empty => {
                    // A mistake is nothing to expect; that a size is refused may be.
                    match size.diagnostics().iter().find(|fault| is_mistake(fault)) {
                        Some(mistake) => outcome.faults = mistake.clone().into(),
                        None => {
                            outcome.came_out = Some(Expect::of(&size));
                            outcome.faults = nothing_expected(file).into();
                        }
                    }
                }
                (Ok(size), Some(file)) => {
                    outcome.figures = file.case.figures();
                    outcome.differences = file.case.compare(&size);
                }
                (Ok(_), None) => {}
            }
            outcome
        };
        Ok(cases.into_iter().map(run).collect())
    }

    fn run_case(
        &self,
        plugin: &Plugin,
        beds: &[(&Machine, NamedSwatches)],
        file: &CaseFile,
    ) -> Result<SizeResult, Diagnostics> {
        let case = &file.case;
        let mut faults = self.unknown_words(plugin, beds, file);
        let bed = beds.iter().find(|(machine, _)| machine.id == case.machine);
        let Some((machine, swatch)) = bed.filter(|_| !faults.has_errors()) else {
            return Err(faults);
        };
        let mut run = self.grade(&GradeRequest {
            plugin,
            machine,
            swatch,
            options: case.options.clone(),
            sizes: case.size.clone(),
            person: None,
        })?;
        match (run.sizes.pop(), run.sizes.is_empty()) {
            (Some(size), true) => Ok(size),
            _ => {
                let fault = stale(file, "size", format!("`{}` is more than one size", case.size));
                faults.push(fault.hint("name one size: a case is about one"));
                Err(faults)
            }
        }
    }

    /// Sizes, machines and options a case names that there are not.
    fn unknown_words(
        &self,
        plugin: &Plugin,
        beds: &[(&Machine, NamedSwatches)],
        file: &CaseFile,
    ) -> Diagnostics {
        let Case { size, machine, options, .. } = &file.case;
        let mut faults = Diagnostics::new();
        if self.sizes.get(size).is_none() {
            let known = self.sizes.sizes().iter().map(|s| s.id.as_str());
            faults.push(
                stale(file, "size", format!("there is no size `{size}`")).hint(did_you_mean(
                    size,
                    known,
                    "the sizes",
                )),
            );
        }
        if beds.iter().all(|(known, _)| known.id != *machine) {
            let known = beds.iter().map(|(machine, _)| machine.id.as_str());
            faults.push(
                stale(
                    file,
                    "machine",
                    format!("there is no machine `{machine}` with a demo swatch"),
                )
                .hint(did_you_mean(machine, known, "the machines")),
            );
        }
        for option in options {
            if let Err(found) = plugin.manifest.parse_options(std::slice::from_ref(option)) {
                let place = file.place(&format!("options.{}", option.0));
                faults.extend(found.into_iter().map(|mut fault| {
                    fault.code = Code::CaseStale;
                    fault.at(place.clone())
                }));
            }
        }
        faults
    }
}

/// Whether a size that can't be made is the garment's fault: it neither refuses it with a reason nor says
/// what it must stretch over or be shaped like.
fn is_mistake(fault: &Diagnostic) -> bool {
    const REASONS: [Code; 4] =
        [Code::ScriptRefused, Code::CannotBePutOn, Code::RatioOutOfRange, Code::Body];
    fault.severity == diag::Severity::Error && !REASONS.contains(&fault.code)
}

fn nothing_expected(file: &CaseFile) -> Diagnostic {
    Diagnostic::error(Code::Case, "the case doesn't say what should come of its size")
        .hint("`oddments garment test --bless` writes in what comes out: read it, and keep it if it is right")
        .at(file.place("size"))
}

/// The case files of a garment, in order, read.
pub(super) fn read_cases(source: &PluginSource) -> Vec<(String, Result<CaseFile, Diagnostics>)> {
    let cases = source
        .files
        .iter()
        .filter(|(path, _)| path.strip_prefix(FOLDER).is_some_and(|name| name.ends_with(".toml")));
    cases
        .map(|(path, bytes)| {
            let file = format!("{}/{path}", source.folder);
            let read = match std::str::from_utf8(bytes) {
                Ok(text) => store::parse_case(&file, text),
                Err(_) => Err(Diagnostic::error(Code::Case, format!("{file} is not UTF-8 text"))
                    .hint("save it as plain text in UTF-8")
                    .into()),
            };
            (path.clone(), read)
        })
        .collect()
}

fn stale(file: &CaseFile, key: &str, message: String) -> Diagnostic {
    Diagnostic::error(Code::CaseStale, message).at(file.place(key))
}

fn did_you_mean<'a>(word: &str, known: impl Iterator<Item = &'a str>, what: &str) -> String {
    let known: Vec<&str> = known.collect();
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("{what} are {}", known.join(", ")),
    }
}
