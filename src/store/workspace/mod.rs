//! A workspace: a folder of TOML files that a knitter reads and edits, and this program too.
//!
//! Reading gathers the faults of all files at once. Writing is one change at a time: under a lock,
//! on files read inside it, written down in the journal first, each file put in place whole. A
//! change that would make a file faulty is refused, and a faulty file is never written over.
//! Nothing here knows what a command is called or what a garment looks like.

mod demo;
mod edit;
mod folder;
mod gifts_file;
mod journal;
mod load;
mod lock;
mod people_file;
mod plan_file;
mod reading;
mod records_file;
mod schemas;
mod settings_file;
mod stash_file;
mod swap;

use std::collections::BTreeMap;

pub use demo::{demo_files, empty_files, make};
pub use edit::{Edit, Fields, Given, List};
pub use folder::{Folder, Stamp};
pub use knit::stash::Contents;
pub use schemas::{schema, schema_names};

use diag::{Code, Diagnostic, Diagnostics, Severity};
use edit::Edits;
use folder::Snapshot;
use journal::{Change, FileChange, Journal, Stand};
use lock::Lock;

/// An ISO 8601 day, as the files write it.
pub fn parse_date(text: &str) -> Option<knit::stash::Date> {
    reading::parse_date(text)
}

/// The day it is, by the machine's clock, in UTC.
pub fn today() -> knit::stash::Date {
    reading::today()
}

/// Whether a text can be the id of a yarn, a remnant, a gift.
pub fn is_id(text: &str) -> bool {
    reading::is_id(text)
}

/// What `undo` did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// The command that was taken back, or done again.
    pub command: String,
    /// When it was given, RFC 3339.
    pub time: String,
    /// The files that changed.
    pub files: Vec<String>,
}

impl Folder {
    /// Everything in the workspace, and what there is to warn of.
    ///
    /// # Errors
    /// Every fault of every file, at its place.
    pub fn read(&self) -> Result<(Contents, Diagnostics), Diagnostics> {
        let mut told = self.recover_to_read()?;
        let lock = Lock::shared(self)?;
        let snapshot = self.snapshot();
        drop(lock);
        let (contents, faults) = load::load(self, &snapshot);
        told.extend(faults);
        if told.has_errors() { Err(told) } else { Ok((contents, told)) }
    }

    /// Makes one change: `make` says what, from what is in the workspace at that moment. What is
    /// faulty in files it doesn't touch is not its business.
    ///
    /// # Errors
    /// What `make` refuses; a touched file that can't be parsed; a change that would bring a new
    /// fault; a folder that can't be written to. Nothing is changed then.
    pub fn change<T>(
        &self,
        command: &str,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<(T, Diagnostics), Diagnostics> {
        lock::make_own(self)?;
        let _lock = Lock::exclusive(self)?;
        let (mut journal, mut warnings) = self.recovered()?;
        let before = self.snapshot();
        let (contents, faults) = load::load(self, &before);
        let (edits, value) = make(&contents)?;
        let mut all = Edits::new(&before, self.has_schemas());
        for edit in &edits {
            all.apply(edit).map_err(|refusal| unparsed(refusal, &faults))?;
        }
        let texts = all.finish()?;
        self.check_change(&before, &faults, &texts)?;
        let files: Vec<FileChange> = texts
            .iter()
            .map(|(path, text)| {
                let before = before.texts.get(path).map(String::as_str);
                FileChange::between(path, before, text.as_deref())
            })
            .collect();
        if !files.is_empty() {
            let change = change_of(&journal, command, files);
            warnings.extend(self.commit(&mut journal, change, &before)?);
        }
        Ok((value, warnings))
    }

    /// The commands that [`undo`](Self::undo) would take back, and do again.
    pub fn undoable(&self) -> (Option<String>, Option<String>) {
        let Ok(journal) = Journal::read(self) else { return (None, None) };
        let (undo, redo) = journal.undoable();
        (undo.map(|change| change.command.clone()), redo.map(|change| change.command.clone()))
    }

    /// Takes back the last command that is not taken back yet; with `redo`, does again the one
    /// that was taken back last.
    ///
    /// # Errors
    /// Nothing to take back; a file that was changed by hand since; a folder that can't be
    /// written to.
    pub fn undo(&self, redo: bool) -> Result<(Undone, Diagnostics), Diagnostics> {
        lock::make_own(self)?;
        let _lock = Lock::exclusive(self)?;
        let (mut journal, mut warnings) = self.recovered()?;
        let found = if redo { journal.undoable().1 } else { journal.undoable().0 };
        let Some(found) = found.cloned() else {
            let what =
                if redo { "there is nothing to do again" } else { "there is nothing to undo" };
            return Err(Diagnostic::error(Code::Nothing, what)
                .hint("only changes made by commands can be taken back, the last one first")
                .into());
        };
        let files: Vec<FileChange> =
            found.files.iter().map(|f| if redo { f.clone() } else { f.reversed() }).collect();
        let mut before = Snapshot::default();
        let mut faults = Diagnostics::new();
        for file in &files {
            let text = self.text(&file.path)?;
            if file.stand(text.as_deref()) != Stand::Before {
                let fault = format!("{} was changed by hand since", self.shown(&file.path));
                faults.push(
                    Diagnostic::error(Code::ChangedSince, fault).hint(format!(
                        "`{}` can't be taken back over that: edit it",
                        found.command
                    )),
                );
            }
            before.texts.extend(text.map(|text| (file.path.clone(), text)));
        }
        faults.into_result(())?;
        let (undoes, redoes) = if redo { (None, Some(found.seq)) } else { (Some(found.seq), None) };
        let command = if redo { "undo --redo" } else { "undo" };
        let change = Change { undoes, redoes, ..change_of(&journal, command, files) };
        let files = change.files.iter().map(|file| file.path.clone()).collect();
        warnings.extend(self.commit(&mut journal, change, &before)?);
        Ok((Undone { command: found.command, time: found.time, files }, warnings))
    }

    /// Refuses a change that brings faults that were not there before.
    fn check_change(
        &self,
        before: &Snapshot,
        old: &Diagnostics,
        texts: &BTreeMap<String, Option<String>>,
    ) -> Result<(), Diagnostics> {
        let mut after = before.clone();
        for (path, text) in texts {
            match text {
                Some(text) => after.texts.insert(path.clone(), text.clone()),
                None => after.texts.remove(path),
            };
        }
        let (_, found) = load::load(self, &after);
        let mut old: Vec<&Diagnostic> = old.iter().collect();
        let mut fresh = Diagnostics::new();
        for fault in found.iter().filter(|fault| fault.severity == Severity::Error) {
            let same = |other: &&Diagnostic| {
                other.code == fault.code
                    && other.message == fault.message
                    && other.hints == fault.hints
            };
            match old.iter().position(same) {
                Some(at) => {
                    old.swap_remove(at);
                }
                None => fresh.push(self.unwritten(fault, texts)),
            }
        }
        fresh.into_result(())
    }

    /// A fault of a text that is not written yet has no place anyone could open.
    fn unwritten(
        &self,
        fault: &Diagnostic,
        texts: &BTreeMap<String, Option<String>>,
    ) -> Diagnostic {
        let mut fault = fault.clone();
        if let Some(place) = &fault.place
            && texts.keys().any(|path| self.shown(path) == place.file)
        {
            let line = place.line_text.trim().to_owned();
            fault.place = None;
            fault = fault.context(format!("in the line `{line}`, which is not written"));
        }
        fault
    }

    /// Gives what there is to warn of.
    fn commit(
        &self,
        journal: &mut Journal,
        change: Change,
        before: &Snapshot,
    ) -> Result<Diagnostics, Diagnostics> {
        // Where nothing may be written is found before anything is.
        for file in &change.files {
            self.target(&file.path)?;
            self.unchanged(file)?;
        }
        if let Err(fault) = journal.begin(self, change.clone()) {
            // It may stand there all the same, where only the disk's word is missing.
            let _ = journal.drop_change(self, change.seq);
            return Err(fault.into());
        }
        for (i, file) in change.files.iter().enumerate() {
            let text = before.texts.get(&file.path).map(String::as_str);
            let Err(fault) = self.unchanged(file).and_then(|()| self.put(file, text)) else {
                continue;
            };
            let back = change.files[..i].iter().try_for_each(|file| {
                let text = self.text(&file.path)?;
                self.put(&file.reversed(), text.as_deref())
            });
            // Where even the way back fails the change stays open, and the next command ends it.
            if back.is_ok() {
                journal.drop_change(self, change.seq)?;
            }
            let mut faults = Diagnostics::from(fault);
            faults.extend(self.sweep(true));
            return Err(faults);
        }
        journal.done(self, change.seq);
        Ok(self.sweep(true))
    }

    /// An editor knows nothing of our lock: what it saved since the file was read must not be
    /// written over.
    fn unchanged(&self, file: &FileChange) -> Result<(), Diagnostic> {
        if file.stand(self.text(&file.path)?.as_deref()) == Stand::Before {
            return Ok(());
        }
        Err(self.changed_now(&file.path))
    }

    fn put(&self, file: &FileChange, text: Option<&str>) -> Result<(), Diagnostic> {
        match file.applied(text) {
            Some(after) => self.swap(&file.path, text, after.as_deref()),
            None => Err(Diagnostic::error(
                Code::ChangedSince,
                format!("{} is not what the change was made for", self.shown(&file.path)),
            )),
        }
    }

    /// The journal, with a change that was cut short finished. Only under the lock.
    fn recovered(&self) -> Result<(Journal, Diagnostics), Diagnostics> {
        let mut warnings = self.sweep(false);
        let mut journal = Journal::read(self)?;
        warnings.extend(journal.damage(self));
        let Some(change) = journal.pending().cloned() else { return Ok((journal, warnings)) };
        let (mut finished, mut elsewhere) = (Vec::new(), Vec::new());
        for file in &change.files {
            let text = self.text(&file.path)?;
            match file.stand(text.as_deref()) {
                Stand::After => {}
                Stand::Before => {
                    self.put(file, text.as_deref())?;
                    finished.push(file.path.as_str());
                }
                Stand::Elsewhere => elsewhere.push(file.path.as_str()),
            }
        }
        journal.done(self, change.seq);
        let command = &change.command;
        if !finished.is_empty() {
            let told =
                format!("`{command}` was cut short: it is finished now ({})", finished.join(", "));
            let told = Diagnostic::warning(Code::Finished, told);
            warnings.push(told.hint("`oddments undo` takes it back"));
        }
        if !elsewhere.is_empty() {
            let told = format!(
                "`{command}` was cut short, and {} was changed since: it is left as it is",
                elsewhere.join(", ")
            );
            warnings.push(
                Diagnostic::warning(Code::Unfinished, told)
                    .hint("look whether it is what you want"),
            );
        }
        Ok((journal, warnings))
    }

    /// As [`recovered`](Self::recovered), for a command that only reads: takes the lock only where
    /// there is something to finish, and goes on where it can't.
    fn recover_to_read(&self) -> Result<Diagnostics, Diagnostics> {
        if !self.has_own() {
            return Ok(Diagnostics::new());
        }
        let journal = match Journal::read(self) {
            Ok(journal) => journal,
            Err(fault) => {
                let fault = Diagnostic { severity: Severity::Warning, ..fault };
                return Ok(fault.into());
            }
        };
        if journal.pending().is_none() {
            return Ok(journal.damage(self).map_or_else(Diagnostics::new, Into::into));
        }
        // Someone may be writing at this moment: then nothing is left to do once they are done.
        let done = Lock::exclusive(self)
            .map_err(Diagnostics::from)
            .and_then(|_lock| self.recovered().map(|(_, warnings)| warnings));
        Ok(done.unwrap_or_else(|faults| {
            let told = "the last change was cut short and can't be finished";
            let mut warnings = Diagnostics::from(Diagnostic::warning(Code::Unfinished, told));
            warnings.extend(
                faults.into_iter().map(|f| Diagnostic { severity: Severity::Warning, ..f }),
            );
            warnings
        }))
    }
}

#[allow(clippy::disallowed_methods, reason = "the journal says when a change was made")]
fn change_of(journal: &Journal, command: &str, files: Vec<FileChange>) -> Change {
    let now = jiff::Timestamp::from_second(jiff::Timestamp::now().as_second());
    Change {
        seq: journal.next_seq(),
        time: now.map(|now| now.to_string()).unwrap_or_default(),
        command: command.to_owned(),
        undoes: None,
        redoes: None,
        files,
    }
}

/// Why a file can't be edited: where its own faults of syntax are known, those.
fn unparsed(refusal: Diagnostics, faults: &Diagnostics) -> Diagnostics {
    if !refusal.iter().any(|fault| fault.code == Code::Toml) {
        return refusal;
    }
    let mut own = Diagnostics::new();
    own.extend(faults.iter().filter(|fault| fault.code == Code::Toml).cloned());
    if own.is_empty() { refusal } else { own }
}
