use super::{Ask, Garments, GradeRequest, Workbench, Workspace};
use diag::{Code, Diagnostic, Diagnostics};
use knit::machine::Machine;
use knit::size_run::SizeRun;
use script::Plugin;
use store::SwatchFile;

/// Where requests are met, whoever brings them: what they are met with.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'b, 'w> {
    pub bench: &'b Workbench,
    pub workspace: Option<&'w Workspace>,
    pub garments: &'w Garments,
}

/// A run, and what is wrong with the garment as its author has it now.
#[derive(Clone, Debug)]
pub struct Asked {
    pub run: SizeRun,
    /// Faults of the files; the run is of the last good version.
    pub faults: Diagnostics,
}

impl<'b> Desk<'b, '_> {
    /// A garment, and what is wrong with its files where an older version is given.
    ///
    /// # Errors
    /// As [`Garments::get`].
    pub fn garment(&self, id: &str) -> Result<(Plugin, Diagnostics), Diagnostics> {
        self.garments.get(self.bench, id)
    }

    /// The swatch and the machine asked for.
    ///
    /// # Errors
    /// Faults of the swatch, an unknown machine, a machine without a demo swatch.
    pub fn swatch(&self, ask: &Ask) -> Result<(SwatchFile, &'b Machine), Diagnostics> {
        let Some(own) = &ask.swatch else {
            let machine = ask.machine.as_deref();
            if let Some(id) = &ask.swatch_id {
                let workspace = self.workspace.ok_or_else(|| {
                    Diagnostic::error(Code::NoWorkspace, "there is no workspace to take a swatch from")
                        .hint("start in one, or with --workspace FOLDER; `oddments init FOLDER` makes one")
                })?;
                // By its id alone: a file's name is no id.
                return self.bench.with_swatch(workspace.swatch(id)?.clone(), machine);
            }
            return match self.workspace {
                Some(workspace) => workspace.swatch_and_machine(self.bench, None, machine),
                None => self.bench.swatch_and_machine(None, machine),
            };
        };
        let (mut file, machine) = self
            .bench
            .swatch_of_text("swatch", &own.text()?, ask.machine.as_deref())
            .map_err(unplaced)?;
        if own.name.is_none() {
            file.set.yarn_name = "your yarn".to_owned();
        }
        Ok((file, machine))
    }

    /// Grades what is asked for.
    ///
    /// # Errors
    /// Faults of the request itself, all at once. A size that can't be made is none: it stays in
    /// the run with its reasons.
    pub fn grade(&self, ask: &Ask) -> Result<Asked, Diagnostics> {
        let (plugin, faults) = self.garment(ask.garment()?)?;
        let mut wrong = Diagnostics::new();
        wrong.extend(ask.unit().err());
        let person = ask.person().unwrap_or_else(|found| {
            wrong.extend(found);
            None
        });
        let (swatch, machine) = match self.swatch(ask) {
            Ok(found) => found,
            Err(found) => {
                wrong.extend(found);
                return Err(wrong);
            }
        };
        let request = GradeRequest {
            plugin: &plugin,
            machine,
            swatch: &swatch,
            options: ask.typed_options(),
            sizes: ask.sizes.clone().unwrap_or_else(|| "all".to_owned()),
            person,
        };
        match self.bench.grade(&request) {
            Ok(run) if !wrong.has_errors() => Ok(Asked { run, faults }),
            Ok(_) => Err(wrong),
            Err(found) => {
                wrong.extend(found);
                Err(wrong)
            }
        }
    }
}

/// Faults of a swatch that came in no file: the line is told, not where it would stand.
fn unplaced(faults: Diagnostics) -> Diagnostics {
    let mut told = Diagnostics::new();
    told.extend(faults.into_iter().map(|mut fault| {
        fault.context.retain(|context| context != "swatch");
        if let Some(place) = fault.place.take() {
            fault.context.push(place.line_text);
        }
        fault
    }));
    told
}
