//! What a command works with, opened.

use super::output::Output;
use super::shared_args::BenchArgs;
use super::workspace;
use app::{Desk, Garments, Names, Workbench, Workspace};
use diag::Diagnostics;
use knit::stash::Words;
use units::LengthUnit;

/// The workbench, and the workspace it comes from, if any.
pub(super) struct Opened {
    pub bench: Workbench,
    pub workspace: Option<Workspace>,
}

impl Opened {
    /// Opens what is named, or what this folder lies in, and passes on what is warned of.
    pub fn of(sources: &BenchArgs, output: &mut Output) -> Result<Opened, Diagnostics> {
        let workspace = workspace::find(sources.workspace.as_deref(), output)?;
        let bench = match &workspace {
            Some(workspace) => workspace.bench(&sources.into())?,
            None => Workbench::open(&sources.into())?,
        };
        output.diagnostics(&bench.warnings);
        Ok(Opened { bench, workspace })
    }

    /// Where a command's own request is met: it may name folders and files.
    pub fn desk(&self) -> Desk<'_, '_> {
        self.desk_of(Names::Files)
    }

    /// Where the requests of a file are met, which knows ids alone.
    pub fn desk_of_ids<'o>(&'o self, garments: &'o Garments) -> Desk<'o, 'o> {
        self.desk_of(Names::Ids(garments))
    }

    fn desk_of<'o>(&'o self, names: Names<'o>) -> Desk<'o, 'o> {
        Desk { bench: &self.bench, workspace: self.workspace.as_ref(), names }
    }

    /// The unit that is printed in where none is asked for.
    pub fn usual_unit(&self) -> LengthUnit {
        self.workspace
            .as_ref()
            .map_or(LengthUnit::Cm, |workspace| workspace.contents.settings.units)
    }

    /// The words that are printed where none are asked for.
    pub fn usual_words(&self) -> Words {
        self.workspace.as_ref().map_or(Words::Usual, |workspace| workspace.contents.settings.words)
    }

    /// Says so when the garment of that name hides another.
    pub fn tell_clash(&self, garment: &str, output: &mut Output) {
        if let Some(clash) = self.bench.garment_clash(garment) {
            output.diagnostics(&clash.into());
        }
    }
}
