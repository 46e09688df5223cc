use std::path::Path;
use std::sync::{Arc, OnceLock};

use super::records::{Again, Kept};
use super::workbench::Base;
use super::{Learning, Workbench, WorkbenchSources};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::machine::Machine;
use knit::stash::NamedSwatches;
use knit::taught::Taught;
use knit::working_time::WorkingTime;
use report::Grid;
use store::workspace::{ChangeMark, Contents, EntryKind, EntryName, Folder, Seen, tags_of};

/// An open workspace: its folder, and what was in it when it was opened.
#[derive(Clone, Debug)]
pub struct Workspace {
    pub folder: Folder,
    pub contents: Contents,
    /// The state it was in then.
    pub state: ChangeMark,
    /// From its files.
    pub warnings: Diagnostics,
    /// What all that was weighed teaches: worked out when it is first asked for.
    learning: OnceLock<Arc<Learning>>,
    working: Arc<OnceLock<(Arc<WorkingTime>, Diagnostics)>>,
    /// Its finished pieces knitted again, as far as something asked.
    knitted: Arc<Kept>,
}

impl Workspace {
    /// The workspace named, or the one the working folder lies in; `None` where it lies in none.
    ///
    /// # Errors
    /// A folder that is no workspace; every fault of its files.
    pub fn find(named: Option<&Path>) -> Result<Option<Workspace>, Diagnostics> {
        Folder::find(named)?.map(Workspace::open).transpose()
    }

    /// As [`find`](Self::find), for what can't be done without one.
    ///
    /// # Errors
    /// As [`find`](Self::find), and no workspace at all.
    pub fn require(named: Option<&Path>) -> Result<Workspace, Diagnostics> {
        Workspace::open(Workspace::folder(named)?)
    }

    /// The folder alone, unread.
    ///
    /// # Errors
    /// No workspace.
    pub fn folder(named: Option<&Path>) -> Result<Folder, Diagnostics> {
        Ok(Folder::find(named)?.ok_or_else(|| {
            Diagnostic::error(Code::NoWorkspace, "there is no workspace here")
                .hint("make one with `oddments init FOLDER`, or name one with --workspace FOLDER")
        })?)
    }

    pub(super) fn open(folder: Folder) -> Result<Workspace, Diagnostics> {
        let Seen { contents, state, warnings } = folder.read()?;
        Ok(Workspace {
            folder,
            contents,
            state,
            warnings,
            learning: OnceLock::new(),
            working: Arc::default(),
            knitted: Arc::default(),
        })
    }

    /// What its swatches and finished pieces teach of the yarn in a stitch.
    pub fn learning(&self, bench: &Workbench) -> &Learning {
        self.learning.get_or_init(|| Arc::new(Learning::of(self.again(bench))))
    }

    fn again<'a>(&'a self, bench: &'a Workbench) -> Again<'a> {
        Again { bench, contents: &self.contents, kept: &self.knitted }
    }

    /// What was learnt, to be told.
    pub fn taught(&self, bench: &Workbench) -> Taught {
        self.learning(bench).told(&self.contents, &self.working_time(bench).0.pace)
    }

    /// A swatch of the workspace by its id, with what was learnt.
    ///
    /// # Errors
    /// None of that id.
    pub fn taught_swatch(&self, bench: &Workbench, id: &str) -> Result<NamedSwatches, Diagnostic> {
        let found = self.swatch(id)?.clone();
        Ok(self.learning(bench).taught_swatch(&self.contents, id, found))
    }

    /// A workbench with the workspace's sizes, machines and garments; files named in `sources`
    /// go before the workspace's.
    ///
    /// # Errors
    /// As [`Workbench::open`].
    pub fn bench(&self, sources: &WorkbenchSources) -> Result<Workbench, Diagnostics> {
        let base = Base::of(&self.contents);
        let mut sources = sources.clone();
        sources.garments = sources.garments.or_else(|| self.folder.garments());
        let mut bench = Workbench::open_over(base, &sources)?;
        let (working, warnings) = self.working_time(&bench);
        bench.working = WorkingTime::clone(working);
        bench.reserve = self.contents.settings.reserve;
        bench.scale_step = self.contents.settings.scale_step;
        bench.warnings.extend(warnings.clone());
        Ok(bench)
    }

    /// How long work takes whoever knits here, and what there is to warn of. Found out once.
    pub(super) fn working_time(&self, bench: &Workbench) -> &(Arc<WorkingTime>, Diagnostics) {
        self.working.get_or_init(|| {
            let (working, warnings) = self.again(bench).working_time(&self.contents.records);
            (Arc::new(working), warnings)
        })
    }

    /// A list in which each row has the tag of its entry, which its first cell names.
    #[must_use]
    pub fn tagged(&self, kind: EntryKind, mut grid: Grid) -> Grid {
        let keys = grid.rows.iter().map(|row| row.first().map_or("", String::as_str));
        grid.tags = tags_of(&self.contents, keys.map(|key| EntryName::new(kind, key)));
        grid
    }

    /// A swatch of the workspace by its id.
    ///
    /// # Errors
    /// None of that id.
    pub fn swatch(&self, id: &str) -> Result<&NamedSwatches, Diagnostic> {
        let known = || self.contents.swatches.keys().map(String::as_str);
        self.contents.swatches.get(id).ok_or_else(|| {
            let hint = match nearest(id, known()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`oddments swatch list` shows them".to_owned(),
            };
            Diagnostic::error(Code::NoSwatch, format!("there is no swatch `{id}`")).hint(hint)
        })
    }

    /// The swatch that is graded on where none is named: the one of the settings when it is of
    /// that machine, else the machine's only one, else the one called like the machine.
    pub fn usual_swatch(&self, machine: &str) -> Option<&str> {
        let of_machine = |id: &&String| {
            self.contents
                .swatches
                .get(*id)
                .is_some_and(|file| file.machine.as_deref().unwrap_or(machine) == machine)
        };
        if let Some(set) = self.contents.settings.swatch.as_ref().filter(of_machine) {
            return Some(set);
        }
        let mut all = self.contents.swatches.keys().filter(of_machine);
        match (all.next(), all.next()) {
            (Some(only), None) => Some(only),
            _ => self
                .contents
                .swatches
                .keys()
                .filter(of_machine)
                .find(|id| *id == machine)
                .map(String::as_str),
        }
    }

    /// The swatch and machine to grade on. `swatch` is an id of the workspace, or a file.
    ///
    /// # Errors
    /// As [`Workbench::swatch_and_machine`], and no swatch of that id.
    pub fn swatch_and_machine<'b>(
        &self,
        bench: &'b Workbench,
        swatch: Option<&str>,
        machine: Option<&str>,
    ) -> Result<(NamedSwatches, &'b Machine), Diagnostics> {
        let settings = &self.contents.settings;
        if let Some(named) = swatch {
            let file = Path::new(named);
            if let Some(id) = self.swatch_in(file) {
                return bench.with_swatch(self.taught_swatch(bench, id)?, machine);
            }
            if !self.contents.swatches.contains_key(named)
                && (file.components().count() > 1 || file.extension().is_some())
            {
                return bench.swatch_and_machine(Some(file), machine);
            }
            return bench.with_swatch(self.taught_swatch(bench, named)?, machine);
        }
        let of_set = settings.swatch.as_ref().and_then(|id| self.contents.swatches.get(id));
        let machine = machine
            .or(settings.machine.as_deref())
            .or(of_set.and_then(|file| file.machine.as_deref()))
            .unwrap_or(super::workbench::DEFAULT_MACHINE);
        bench.machine(machine)?;
        match self.usual_swatch(machine) {
            Some(id) => bench.with_swatch(self.taught_swatch(bench, id)?, Some(machine)),
            None => {
                let (mut file, found) = bench.swatch_and_machine(None, Some(machine))?;
                file.warnings.extend(self.open_choice(machine));
                Ok((file, found))
            }
        }
    }

    /// The workspace's swatch that a file is, by whatever way it is named.
    fn swatch_in(&self, file: &Path) -> Option<&str> {
        let id = file.file_stem()?.to_str()?;
        let (id, _) = self.contents.swatches.get_key_value(id)?;
        let own = self.folder.path(&format!("swatches/{id}.toml"));
        (store::is_same_file(file, &own)).then_some(id)
    }

    /// That there are swatches of a machine, and none is the usual one: what is graded on then is nobody's own.
    fn open_choice(&self, machine: &str) -> Option<Diagnostic> {
        let ids: Vec<String> = self.of_machine(machine).cloned().collect();
        let first = ids.first()?;
        let fault = format!(
            "the workspace has several swatches for machine `{machine}` and none is the usual one: the demo swatch is \
             taken"
        );
        Some(Diagnostic::warning(Code::SwatchOpen, fault).hint(format!(
            "there are {}: name one with --swatch {first}, or write `swatch = \"{first}\"` in oddments.toml",
            ids.join(", ")
        )))
    }

    /// Ids of the swatches of a machine, and of those that name none.
    fn of_machine<'w>(&'w self, machine: &'w str) -> impl Iterator<Item = &'w String> + 'w {
        let all = self.contents.swatches.iter();
        let own =
            all.filter(move |(_, file)| file.machine.as_deref().unwrap_or(machine) == machine);
        own.map(|(id, _)| id)
    }
}
