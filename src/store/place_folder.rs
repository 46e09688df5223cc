use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::files::{HELD, read_own_text, replace};
use super::locking::{open_lock, wait};
use super::place::{Place, is_place_id};
use super::renames::keep_beside;
use super::worked::Worked;
use diag::{Code, Diagnostic, Diagnostics, Severity, toml_text};

/// The places kept in a workspace, a file each. Several programs may keep theirs there at once:
/// the disk alone says how far a piece is.
#[derive(Clone, Debug)]
pub struct PlaceFolder {
    folder: PathBuf,
}

/// What the files of places hold, by id.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadPlaces {
    pub places: BTreeMap<String, Place>,
    /// Why others can't be read.
    pub faults: BTreeMap<String, Diagnostic>,
}

impl PlaceFolder {
    /// Two seconds: a place is put in far less, and the knitter stands at the machine.
    const MOST_PAUSES: u32 = 200;

    pub fn of(workspace: &Path) -> PlaceFolder {
        PlaceFolder { folder: workspace.join(".oddments").join("places") }
    }

    /// Sets damaged files aside, and clears away what a kill left half-written. Gives what there
    /// is to tell of it.
    ///
    /// # Errors
    /// A folder that can't be read.
    pub fn mend(&self) -> Result<Diagnostics, Diagnostic> {
        let faults = self.all()?.faults;
        let mut told = Diagnostics::new();
        if !self.folder.is_dir() {
            return Ok(told);
        }
        let lock = self.lock();
        for (id, fault) in faults {
            // Another program may have mended it meanwhile.
            let fault = match lock.is_ok().then(|| self.read(&id)) {
                Some(Ok(_)) => continue,
                Some(Err(now)) => now,
                None => fault,
            };
            told.push(self.set_aside(&id, fault, lock.is_ok()));
        }
        for id in self.ids()? {
            if let Err(fault) = self.worked(&id) {
                told.push(self.set_time_aside(&id, fault, lock.is_ok()));
            }
        }
        if lock.is_ok() {
            for entry in fs::read_dir(&self.folder).into_iter().flatten().flatten() {
                if entry.file_name().to_string_lossy().starts_with(HELD) {
                    // Litter that can't be cleared does no harm.
                    let _ = fs::remove_file(entry.path());
                }
            }
        }
        Ok(told)
    }

    /// All places.
    ///
    /// # Errors
    /// A folder that can't be read.
    pub fn all(&self) -> Result<ReadPlaces, Diagnostic> {
        let mut all = ReadPlaces::default();
        for id in self.ids()? {
            match self.read(&id) {
                Ok(Some(place)) => drop(all.places.insert(id, place)),
                Ok(None) => {}
                Err(fault) => drop(all.faults.insert(id, fault)),
            }
        }
        Ok(all)
    }

    /// One place; `None` where that piece is not begun.
    ///
    /// # Errors
    /// A file that can't be read or holds no place.
    pub fn read(&self, id: &str) -> Result<Option<Place>, Diagnostic> {
        let path = self.path(id);
        if fs::symlink_metadata(&path).is_err_and(|error| error.kind() == io::ErrorKind::NotFound) {
            return Ok(None);
        }
        let name = path.display().to_string();
        let place: Place = read_own_text(&path).and_then(|text| toml_text::parse(&name, &text))?;
        place.check().map_err(|fault| fault.context(name))?;
        Ok(Some(place))
    }

    /// The time worked on a piece; `None` where none was counted. It lies in a file of its own: programs
    /// that know nothing of it read the place as before.
    ///
    /// # Errors
    /// A file that can't be read or holds no such time.
    pub fn worked(&self, id: &str) -> Result<Option<Worked>, Diagnostic> {
        let path = self.time_path(id);
        if fs::symlink_metadata(&path).is_err_and(|error| error.kind() == io::ErrorKind::NotFound) {
            return Ok(None);
        }
        let name = path.display().to_string();
        let worked: Worked =
            read_own_text(&path).and_then(|text| toml_text::parse(&name, &text))?;
        worked.check().map_err(|fault| fault.context(name))?;
        Ok(Some(worked))
    }

    /// Moves a place on: `next` says where to, from where it is on the disk, the time worked and how many
    /// places there are, and no other program puts one meanwhile.
    ///
    /// # Errors
    /// What `next` refuses; a folder that can't be made or written to, or is held for long.
    pub fn put<T>(
        &self,
        id: &str,
        next: impl FnOnce(
            Option<Place>,
            Worked,
            usize,
        ) -> Result<(Option<(Place, Worked)>, T), Diagnostic>,
    ) -> Result<T, Diagnostic> {
        fs::create_dir_all(&self.folder)
            .map_err(|error| cannot(Code::Write, &self.folder, &error))?;
        let _lock = self.lock()?;
        let now = match self.read(id) {
            Ok(now) => now,
            Err(fault) => {
                self.set_aside(id, fault, true);
                None
            }
        };
        let worked = self.worked(id).unwrap_or_else(|fault| {
            self.set_time_aside(id, fault, true);
            None
        });
        let (kept, value) = next(now, worked.unwrap_or_default(), self.ids()?.len())?;
        if let Some((place, worked)) = kept {
            self.write(&self.time_path(id), &worked)?;
            self.write(&self.path(id), &place)?;
        }
        Ok(value)
    }

    fn write(&self, path: &Path, value: &impl Serialize) -> Result<(), Diagnostic> {
        let text = toml::to_string(value).map_err(|error| {
            Diagnostic::error(Code::Write, format!("a place can't be written down: {error}"))
        })?;
        replace(path, text.as_bytes(), &self.folder)
            .map_err(|error| cannot(Code::Write, path, &error))
    }

    fn path(&self, id: &str) -> PathBuf {
        self.folder.join(format!("{id}.toml"))
    }

    fn time_path(&self, id: &str) -> PathBuf {
        self.folder.join(format!("{id}.time.toml"))
    }

    fn lock(&self) -> Result<File, Diagnostic> {
        let path = self.folder.join("lock");
        let file = open_lock(&path).map_err(|error| cannot(Code::Write, &path, &error))?;
        wait(&file, File::try_lock, PlaceFolder::MOST_PAUSES, &self.folder)?;
        Ok(file)
    }

    fn ids(&self) -> Result<Vec<String>, Diagnostic> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(cannot(Code::Read, &self.folder, &error)),
        };
        let ids = entries.flatten().filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            name.strip_suffix(".toml").filter(|id| is_place_id(id)).map(str::to_owned)
        });
        Ok(ids.collect())
    }

    /// What to tell of a damaged file, which is moved out of the way where it can be.
    fn set_aside(&self, id: &str, fault: Diagnostic, may: bool) -> Diagnostic {
        aside(&self.path(id), "that piece begins anew", fault, may)
    }

    /// The same of a damaged file of time worked.
    fn set_time_aside(&self, id: &str, fault: Diagnostic, may: bool) -> Diagnostic {
        aside(&self.time_path(id), "the time worked on that piece is counted anew", fault, may)
    }
}

fn aside(path: &Path, comes: &str, fault: Diagnostic, may: bool) -> Diagnostic {
    let aside = may.then(|| keep_beside(path, path).ok()).flatten();
    let hint = match aside {
        Some(aside) => format!("{comes}; the file is set aside as {}", aside.display()),
        None => comes.to_owned(),
    };
    Diagnostic { severity: Severity::Warning, hints: Vec::new(), ..fault }.hint(hint)
}

fn cannot(code: Code, path: &Path, error: &io::Error) -> Diagnostic {
    Diagnostic::error(code, format!("can't {code} {}: {error}", path.display()))
        .hint("check the folder and its permissions")
}
