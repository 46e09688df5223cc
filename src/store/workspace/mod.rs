//! A workspace: a folder of TOML files that a knitter reads and edits, and this program too.
//!
//! Reading gathers the faults of all files at once. Writing is one change at a time: under a lock,
//! on files read inside it, written down in the journal first, each file put in place whole. A
//! change that would make a file faulty is refused, and a faulty file is never written over.
//! Nothing here knows what a command is called or what a garment looks like.

#[cfg(test)]
mod commit_test;
mod demo;
mod edit;
mod entries;
mod folder;
mod gifts_file;
mod history;
mod journal;
mod knitters_file;
mod layout;
mod load;
mod lock;
mod named;
mod people_file;
mod plan_file;
mod reading;
mod records_file;
mod rename;
mod schemas;
mod secret;
mod settings_file;
mod stash_file;
mod sums;
mod sure_toml;
mod swap;

use std::collections::{BTreeMap, BTreeSet};

pub use demo::{demo_files, empty_files, make};
pub use edit::{Edit, Fields, Given, List, flat};
pub use entries::{EntryKind, EntryName, Tag, record_name, tag, tags_of};
pub use folder::{Folder, Stamp};
pub use history::{Basis, ChangeMark, PastChange, UndoAsk, Undone};
pub use knit::stash::Contents;
pub use named::{Named, can_be_a_person};
pub use schemas::{schema, schema_names};

use diag::{Code, Diagnostic, Diagnostics, Severity};
use edit::Edits;
use folder::Snapshot;
pub use journal::same_key;
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

/// What stands about the line of a text that is not written, where a fault tells of it.
const UNWRITTEN: (&str, &str) = ("in the line `", "`, which is not written");

/// The line that a change would have written and that a fault is about; `None`: it is about none.
pub fn unwritten_line(fault: &Diagnostic) -> Option<&str> {
    fault.context.iter().find_map(|told| told.strip_prefix(UNWRITTEN.0)?.strip_suffix(UNWRITTEN.1))
}

/// What files will hold, by path; `None`: the file goes.
type Texts = BTreeMap<String, Option<String>>;

/// A workspace as it was at one moment.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Everything in it.
    pub contents: Contents,
    /// That state: its number goes up with every change that a command or a form makes.
    pub state: ChangeMark,
    /// What there is to warn of.
    pub warnings: Diagnostics,
}

/// One entry of a workspace as it was at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenEntry {
    /// Its keys and values, as in the file.
    pub values: toml::Table,
    /// Its tag: differs where the entry does.
    pub tag: Tag,
    /// The state it was seen in.
    pub state: ChangeMark,
}

/// What came of a change.
#[derive(Clone, Debug)]
pub struct Changed<T> {
    /// What whoever made it is told.
    pub value: T,
    /// The state after it.
    pub state: ChangeMark,
    /// Whether anything was written: what is asked for may be so already.
    pub written: bool,
    /// What there is to warn of.
    pub warnings: Diagnostics,
}

impl Folder {
    /// Everything in the workspace, its number, and what there is to warn of.
    ///
    /// # Errors
    /// Every fault of every file, at its place.
    pub fn read(&self) -> Result<Seen, Diagnostics> {
        let (lock, state, mut warnings) = self.settled()?;
        let snapshot = self.snapshot();
        drop(lock);
        let (contents, faults) = load::load(self, &snapshot);
        warnings.extend(faults);
        if warnings.has_errors() { Err(warnings) } else { Ok(Seen { contents, state, warnings }) }
    }

    /// One entry as its file has it, with its tag and the number of the state; `None`: there is no
    /// such entry, or it is faulty.
    ///
    /// # Errors
    /// A folder that can't be read.
    pub fn entry(&self, name: &EntryName) -> Result<Option<SeenEntry>, Diagnostics> {
        let (lock, state, _) = self.settled()?;
        let snapshot = self.snapshot();
        drop(lock);
        let (contents, _) = load::load(self, &snapshot);
        let Some(tag) = tag(&contents, name) else { return Ok(None) };
        Ok(entries::values(name, &snapshot.texts).map(|values| SeenEntry { values, tag, state }))
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
        basis: &Basis,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<Changed<T>, Diagnostics> {
        lock::make_own(self)?;
        let _lock = Lock::exclusive(self)?;
        let (mut journal, mut warnings) = self.recovered()?;
        basis.unused(&journal)?;
        let before = self.snapshot();
        let (contents, faults) = load::load(self, &before);
        basis.still(&journal, &contents)?;
        let (edits, value) = make(&contents)?;
        self.sighted(&before, &faults, &edits)?;
        let (texts, after, found) = self.worked_out(&before, &faults, &edits)?;
        warnings.extend(found);
        let files: Vec<FileChange> = texts
            .iter()
            .map(|(path, text)| {
                let before = before.texts.get(path).map(String::as_str);
                FileChange::between(path, before, text.as_deref())
            })
            .collect();
        if files.is_empty() {
            let state = ChangeMark::of(&journal, journal.number());
            return Ok(Changed { value, state, written: false, warnings });
        }
        let names = entries::differing(&contents, &after);
        basis.untouched(&journal, &names)?;
        let change = Change {
            entries: Some(names.iter().map(EntryName::written).collect()),
            once: basis.once.clone(),
            ..change_of(&journal, command, files)
        };
        let seq = change.seq;
        warnings.extend(self.commit(&mut journal, change, &before)?);
        Ok(Changed { value, state: ChangeMark::of(&journal, seq), written: true, warnings })
    }

    /// As [`change`](Self::change), and writes nothing: what would be said of the change.
    ///
    /// # Errors
    /// As [`change`](Self::change), but for the writing.
    pub fn try_out<T>(
        &self,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<(T, Diagnostics), Diagnostics> {
        let (lock, _, mut warnings) = self.settled()?;
        let before = self.snapshot();
        drop(lock);
        let (contents, faults) = load::load(self, &before);
        let (edits, value) = make(&contents)?;
        self.sighted(&before, &faults, &edits)?;
        let (_, _, found) = self.worked_out(&before, &faults, &edits)?;
        warnings.extend(found);
        Ok((value, warnings))
    }

    /// Refuses edits that have to mind a file which can't be read: what it says of an entry would pass
    /// for nothing.
    fn sighted(
        &self,
        before: &Snapshot,
        faults: &Diagnostics,
        edits: &[Edit],
    ) -> Result<(), Diagnostics> {
        let needed: BTreeSet<&str> = edits.iter().flat_map(Edit::minds).copied().collect();
        let mut blind = Diagnostics::new();
        for path in needed {
            let shown = self.shown(path);
            let torn = |fault: &&Diagnostic| {
                fault.code == Code::Toml && fault.place.as_ref().is_some_and(|p| p.file == shown)
            };
            let fault = before.unreadable.get(path).or_else(|| faults.iter().find(torn));
            blind.extend(fault.cloned().map(|fault| {
                fault.hint(format!("mend {path} first: what it says has to be minded here"))
            }));
        }
        blind.into_result(())
    }

    /// The texts that edits make, what is in the workspace with them, and what there is to warn of
    /// that was not before.
    fn worked_out(
        &self,
        before: &Snapshot,
        faults: &Diagnostics,
        edits: &[Edit],
    ) -> Result<(Texts, Contents, Diagnostics), Diagnostics> {
        let renamed = rename::renamed(self, before, edits)?;
        let mut all = Edits::new(&renamed, self.has_schemas());
        for edit in edits {
            all.apply(edit).map_err(|refusal| unparsed(refusal, faults))?;
        }
        let texts = rename::together(before, &renamed, all.finish()?);
        let (after, warnings) = self.check_change(before, faults, &texts)?;
        Ok((texts, after, warnings))
    }

    /// Refuses a change that brings faults that were not there before, and gives what is there
    /// after it with the warnings that it brings.
    fn check_change(
        &self,
        before: &Snapshot,
        old: &Diagnostics,
        texts: &Texts,
    ) -> Result<(Contents, Diagnostics), Diagnostics> {
        let mut after = before.clone();
        for (path, text) in texts {
            match text {
                Some(text) => after.texts.insert(path.clone(), text.clone()),
                None => after.texts.remove(path),
            };
        }
        let (contents, found) = load::load(self, &after);
        let mut old: Vec<&Diagnostic> = old.iter().collect();
        let (mut fresh, mut warnings) = (Diagnostics::new(), Diagnostics::new());
        for fault in found.iter() {
            let same = |other: &&Diagnostic| {
                other.code == fault.code
                    && other.message == fault.message
                    && other.hints == fault.hints
            };
            match old.iter().position(same) {
                Some(at) => {
                    old.swap_remove(at);
                }
                None if fault.severity == Severity::Error => {
                    fresh.push(self.unwritten(fault, texts));
                }
                None => warnings.push(fault.clone()),
            }
        }
        fresh.into_result((contents, warnings))
    }

    /// A fault of a text that is not written yet has no place anyone could open.
    fn unwritten(&self, fault: &Diagnostic, texts: &Texts) -> Diagnostic {
        let mut fault = fault.clone();
        if let Some(place) = &fault.place
            && texts.keys().any(|path| self.shown(path) == place.file)
        {
            let line = place.line_text.trim();
            // Of a text of several lines the first says only that it is one.
            let several = line.ends_with("\"\"\"") || line.ends_with("'''");
            let told = match line.split_once('=').filter(|_| several) {
                Some((key, _)) => format!("in `{}`, which is not written", key.trim()),
                None => format!("{}{line}{}", UNWRITTEN.0, UNWRITTEN.1),
            };
            fault.place = None;
            fault = fault.context(told);
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
            let fault = if back.is_ok() {
                journal.drop_change(self, change.seq)?;
                fault
            } else {
                fault.hint("part of it is written: once it can be, the next command finishes it")
            };
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

    /// The workspace held for reading, with its number; a change that was cut short is finished
    /// first, where that can be done.
    fn settled(&self) -> Result<(Lock, ChangeMark, Diagnostics), Diagnostics> {
        let mut told = Diagnostics::new();
        let lock = Lock::shared(self)?;
        if !self.has_own() {
            return Ok((lock, ChangeMark::default(), told));
        }
        // While nobody may write, what is not finished was cut short.
        let (state, cut_short) = self.state(&mut told);
        if !cut_short {
            return Ok((lock, state, told));
        }
        drop(lock);
        let done = Lock::exclusive(self)
            .map_err(Diagnostics::from)
            .and_then(|_lock| self.recovered().map(|(_, warnings)| warnings));
        told = done.unwrap_or_else(|faults| {
            let unfinished = "the last change was cut short and can't be finished";
            let mut warnings = Diagnostics::from(Diagnostic::warning(Code::Unfinished, unfinished));
            warnings.extend(
                faults.into_iter().map(|f| Diagnostic { severity: Severity::Warning, ..f }),
            );
            warnings
        });
        let lock = Lock::shared(self)?;
        let (state, _) = self.state(&mut Diagnostics::new());
        Ok((lock, state, told))
    }

    /// The state, and whether the last change was cut short.
    fn state(&self, told: &mut Diagnostics) -> (ChangeMark, bool) {
        match Journal::read(self) {
            Ok(journal) => {
                told.extend(journal.damage(self));
                (ChangeMark::of(&journal, journal.number()), journal.pending().is_some())
            }
            Err(fault) => {
                told.push(Diagnostic { severity: Severity::Warning, ..fault });
                (ChangeMark::default(), false)
            }
        }
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
        entries: None,
        once: None,
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
