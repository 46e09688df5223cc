use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use super::journal::JournalMemo;
pub(super) use super::layout::{FOLDERS, OWN, SETTINGS, SINGLE, is_knitters};
use super::reading::is_id;
use super::swap::{Out, Swap, Swapped, Way};
use crate::files::{HELD, plain, read_own_text, writable};
use diag::{Code, Diagnostic, Diagnostics};

/// A workspace's folder on the disk: finds it, reads it whole, writes into it and nowhere else.
/// Paths inside are relative, with `/` between.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
    /// Shared by all clones.
    journal_memo: Arc<JournalMemo>,
}

/// The texts of a workspace as they were at one moment, by path.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Snapshot {
    pub texts: BTreeMap<String, String>,
    /// What is there and could not be read, by path: never to be written over.
    pub unreadable: BTreeMap<String, Diagnostic>,
    /// What else is wrong with the folder.
    pub faults: Diagnostics,
}

/// See [`Folder::stamp`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp(Vec<(PathBuf, u64, Option<SystemTime>)>);

impl Folder {
    /// The workspace named, or the nearest one: the working folder, its parent, and so on.
    ///
    /// # Errors
    /// A folder was named that is no workspace.
    pub fn find(named: Option<&Path>) -> Result<Option<Folder>, Diagnostic> {
        if let Some(root) = named {
            if root.join(SETTINGS).is_file() {
                return Ok(Some(Folder::at(root.to_owned())));
            }
            if let Err(error) = fs::metadata(root.join(SETTINGS)).and_then(|meta| plain(&meta))
                && error.kind() == io::ErrorKind::InvalidInput
            {
                let fault = format!("can't read {}: {error}", root.join(SETTINGS).display());
                return Err(Diagnostic::error(Code::Read, fault)
                    .hint("move it away: a text file belongs there"));
            }
            return Err(Diagnostic::error(
                Code::NoWorkspace,
                format!("{} is no workspace: it holds no {SETTINGS}", root.display()),
            )
            .hint(format!("make one: oddments init {}", root.display())));
        }
        let depth = fs::canonicalize(".").map_or(1, |here| here.ancestors().count());
        let mut root = PathBuf::new();
        for _ in 0..depth {
            if root.join(SETTINGS).is_file() {
                return Ok(Some(Folder::at(root)));
            }
            root.push("..");
        }
        Ok(None)
    }

    fn at(root: PathBuf) -> Folder {
        Folder { root, journal_memo: Arc::default() }
    }

    pub(super) fn journal_memo(&self) -> &JournalMemo {
        &self.journal_memo
    }

    pub fn path(&self, inside: &str) -> PathBuf {
        self.root.join(inside)
    }

    /// As it is shown in messages.
    pub(super) fn shown(&self, inside: &str) -> String {
        self.path(inside).display().to_string()
    }

    /// Where garments of the knitter's own are, when there are any.
    pub fn garments(&self) -> Option<PathBuf> {
        Some(self.path("garments")).filter(|folder| folder.is_dir())
    }

    /// Whether the program has ever written here.
    pub(super) fn has_own(&self) -> bool {
        self.path(OWN).is_dir()
    }

    pub(super) fn has_schemas(&self) -> bool {
        self.path(OWN).join("schemas").is_dir()
    }

    /// Names, lengths and times of all files of the knitter's: when it differs, something changed.
    pub fn stamp(&self) -> Stamp {
        let folders = FOLDERS.iter().filter_map(|folder| fs::read_dir(self.path(folder)).ok());
        let inside = folders.flat_map(|entries| entries.flatten().map(|entry| entry.path()));
        let mut paths: Vec<PathBuf> = SINGLE.iter().map(|file| self.path(file)).collect();
        paths.extend(inside);
        // What their manifests say of body measures tells what people may give.
        let garments = self.garments().and_then(|garments| fs::read_dir(garments).ok());
        let garments = garments.into_iter().flat_map(|entries| entries.flatten());
        paths.extend(garments.map(|entry| entry.path().join("plugin.toml")));
        paths.sort();
        let stamped = paths.into_iter().filter_map(|path| {
            let meta = fs::metadata(&path).ok()?;
            Some((path, meta.len(), meta.modified().ok()))
        });
        Stamp(stamped.collect())
    }

    pub(super) fn snapshot(&self) -> Snapshot {
        let mut snapshot = Snapshot::default();
        for inside in SINGLE {
            self.take(inside.to_owned(), &mut snapshot);
        }
        for folder in FOLDERS {
            let entries = match fs::read_dir(self.path(folder)) {
                Ok(entries) => entries,
                Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
                Err(error) => {
                    let fault = format!("can't read {}: {error}", self.shown(folder));
                    let hint = if error.kind() == io::ErrorKind::NotADirectory {
                        "move it away: a folder belongs there"
                    } else {
                        "check its permissions"
                    };
                    let fault = Diagnostic::error(Code::Read, fault).hint(hint);
                    snapshot.unreadable.insert((*folder).to_owned(), fault);
                    continue;
                }
            };
            let mut names: Vec<String> = entries
                .flatten()
                .filter_map(|entry| entry.file_name().into_string().ok())
                .collect();
            names.sort();
            for name in names {
                let Some(stem) = name.strip_suffix(".toml") else { continue };
                // Editors' own files, such as `.#slate.toml`.
                if name.starts_with('.') {
                    continue;
                }
                let inside = format!("{folder}/{name}");
                if !is_id(stem) && folder != "size-tables" {
                    let fault = format!("{} has a name that can't be an id", self.shown(&inside));
                    snapshot.faults.push(
                        Diagnostic::error(Code::Id, fault)
                            .hint("rename it with small letters, digits and `-`: slate-blue.toml"),
                    );
                    continue;
                }
                self.take(inside, &mut snapshot);
            }
        }
        snapshot
    }

    fn take(&self, inside: String, snapshot: &mut Snapshot) {
        let path = self.path(&inside);
        // A link that leads nowhere is no missing file: it is there and can't be read.
        if fs::symlink_metadata(&path).is_err_and(|error| error.kind() == io::ErrorKind::NotFound) {
            return;
        }
        match read_own_text(&path) {
            Ok(text) => {
                snapshot.texts.insert(inside, text);
            }
            Err(fault) => {
                snapshot.unreadable.insert(inside, fault);
            }
        }
    }

    /// The text of one file; `None` where there is none.
    pub(super) fn text(&self, inside: &str) -> Result<Option<String>, Diagnostic> {
        let mut snapshot = Snapshot::default();
        self.take(inside.to_owned(), &mut snapshot);
        match snapshot.unreadable.remove(inside) {
            Some(fault) => Err(fault),
            None => Ok(snapshot.texts.remove(inside)),
        }
    }

    /// Where `inside` is really written to, its folder made where it lacks. A link that leads
    /// out of the workspace is refused, and a file that is read-only.
    pub(super) fn target(&self, inside: &str) -> Result<PathBuf, Diagnostic> {
        let path = self.path(inside);
        let cannot = |error: io::Error| cannot_write(&path, &error);
        let home = if self.root.as_os_str().is_empty() { Path::new(".") } else { &self.root };
        let home = fs::canonicalize(home).map_err(cannot)?;
        let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        if !folder.exists() {
            fs::create_dir(folder).map_err(cannot)?;
        }
        let folder = fs::canonicalize(folder).map_err(cannot)?;
        let name = path.file_name().unwrap_or_default();
        let target = match fs::symlink_metadata(&path) {
            Ok(meta) if meta.is_symlink() => fs::canonicalize(&path).map_err(cannot)?,
            _ => folder.join(name),
        };
        if !folder.starts_with(&home) || !target.starts_with(&home) {
            return Err(Diagnostic::error(
                Code::Outside,
                format!("{} is a link that leads out of the workspace", path.display()),
            )
            .hint("nothing outside the workspace is written to: put the file itself here"));
        }
        writable(&target)?;
        Ok(target)
    }

    /// Puts one text in the place of another, whole or not at all; `None`: no file.
    pub(super) fn swap(
        &self,
        inside: &str,
        before: Option<&str>,
        after: Option<&str>,
    ) -> Result<(), Diagnostic> {
        let target = self.target(inside)?;
        // What a kill leaves behind lies with the program's own files, not among the knitter's.
        let hold = self.path(OWN);
        let swap = Swap { inside, target: &target, hold: &hold, before, after };
        match swap.make(Way::Exchange).map_err(|error| cannot_write(&target, &error))? {
            Swapped::Done => Ok(()),
            Swapped::Changed(kept) => {
                let fault = self.changed_now(inside);
                Err(match kept {
                    Some(kept) => fault.context(format!(
                        "what was saved first at that moment is kept as {}",
                        kept.display()
                    )),
                    None => fault,
                })
            }
        }
    }

    /// An editor saved a file while a change to it was made.
    pub(super) fn changed_now(&self, inside: &str) -> Diagnostic {
        let fault = format!("{} was changed at this very moment", self.shown(inside));
        Diagnostic::error(Code::ChangedSince, fault).hint("nothing is written: try again")
    }

    /// Clears away what a writer left, killed or not. A text that was saved by hand is not
    /// cleared away but kept beside its file, and told of; one that is being saved is left with
    /// `leave_empty`. Only under the lock.
    pub(super) fn sweep(&self, leave_empty: bool) -> Diagnostics {
        let mut told = Diagnostics::new();
        for entry in fs::read_dir(self.path(OWN)).into_iter().flatten().flatten() {
            let path = entry.path();
            if entry.file_name().to_string_lossy().starts_with(HELD) {
                // Litter that can't be cleared does no harm.
                let _ = fs::remove_file(&path);
            }
            let Some(out) = Out::of(&path).filter(|out| is_knitters(&out.inside)) else { continue };
            let cleared = self.target(&out.inside).and_then(|target| {
                out.clear(&target, leave_empty).map_err(|error| cannot_write(&target, &error))
            });
            match cleared {
                Ok(None) => {}
                Ok(Some(kept)) => told.push(self.kept_beside(&out.inside, &kept)),
                Err(_) => told.push(self.kept_beside(&out.inside, &path)),
            }
        }
        told
    }

    fn kept_beside(&self, inside: &str, kept: &Path) -> Diagnostic {
        let told = format!(
            "{} was saved by hand while a command wrote it: that text is kept as {}",
            self.shown(inside),
            kept.display()
        );
        Diagnostic::warning(Code::KeptBeside, told)
            .hint("compare the two, take over what you want, and delete it")
    }
}

pub(super) fn cannot_write(path: &Path, error: &io::Error) -> Diagnostic {
    let hint = if error.kind() == io::ErrorKind::InvalidInput {
        "move it away: the program puts a file of its own there"
    } else {
        "check that the folder exists, can be written to and has room"
    };
    Diagnostic::error(Code::Write, format!("can't write {}: {error}", path.display())).hint(hint)
}
