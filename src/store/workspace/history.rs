//! What a change rests on, which changes there were, and the way back.

use std::collections::BTreeMap;

use super::entries::{self, EntryName, Tag, differing, tag_of};
use super::folder::{Folder, Snapshot};
use super::journal::{Change, FileChange, Journal, Step};
use super::lock::{self, Lock};
use super::{change_of, load};
use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::Contents;

/// What whoever asks for a change has seen. Where that is so no longer, nothing is changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Basis {
    /// The workspace's number at that time: no entry that the change touches may have changed
    /// since.
    pub seen: Option<u64>,
    /// Entries as they were seen, `None` where there was none: each must be the same still.
    pub entries: BTreeMap<EntryName, Option<Tag>>,
    /// A key that can be used once: what is asked for twice is done once.
    pub once: Option<String>,
}

/// A change of the past.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PastChange {
    /// Its number, which is that of the state after it too.
    pub number: u64,
    /// The command that made it: `stash add`.
    pub command: String,
    /// When, RFC 3339.
    pub time: String,
    /// The entries it touched; none where an older program made it.
    pub entries: Vec<EntryName>,
    /// Whether it is taken back by now.
    pub taken_back: bool,
}

/// Which change to take back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct UndoAsk {
    /// Do again what was taken back.
    pub redo: bool,
    /// The change of that number, and no other; `None`: the last one.
    pub change: Option<u64>,
    /// A key that can be used once.
    pub once: Option<String>,
}

impl UndoAsk {
    /// To do again what was taken back last.
    pub fn again() -> UndoAsk {
        UndoAsk { redo: true, ..UndoAsk::default() }
    }

    /// To take back the change of that number.
    pub fn of(change: u64) -> UndoAsk {
        UndoAsk { change: Some(change), ..UndoAsk::default() }
    }
}

/// What `undo` did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// The change that was taken back, or done again.
    pub change: u64,
    /// The command that made it.
    pub command: String,
    /// When it was given, RFC 3339.
    pub time: String,
    /// The files that changed.
    pub files: Vec<String>,
    /// The number of the state now.
    pub number: u64,
}

impl PastChange {
    fn of(change: &Change, taken_back: bool) -> PastChange {
        PastChange {
            number: change.seq,
            command: change.command.clone(),
            time: change.time.clone(),
            entries: change.names().collect(),
            taken_back,
        }
    }

    /// As a knitter is told of it: which change, by which command, of when.
    pub fn told(&self) -> String {
        format!("change {}, `{}` of {}", self.number, self.command, self.time)
    }
}

impl Basis {
    /// With a key that can be used once.
    pub fn once(key: Option<String>) -> Basis {
        Basis { once: key, ..Basis::default() }
    }

    /// Adds entries as they are in `contents`.
    #[must_use]
    pub fn on(mut self, contents: &Contents, names: impl IntoIterator<Item = EntryName>) -> Basis {
        let tags = entries::tags(contents);
        self.entries.extend(names.into_iter().map(|name| {
            let tag = tag_of(&tags, &name);
            (name, tag)
        }));
        self
    }

    /// Refuses a key that was used.
    pub(super) fn unused(&self, journal: &Journal) -> Result<(), Diagnostic> {
        let used = self.once.as_deref().and_then(|key| journal.once(key));
        used.map_or(Ok(()), |change| Err(repeated(change)))
    }

    /// Refuses where an entry is not what it was.
    pub(super) fn still(&self, journal: &Journal, now: &Contents) -> Result<(), Diagnostics> {
        let mut faults = Diagnostics::new();
        if let Some(seen) = self.seen.filter(|seen| *seen > journal.number()) {
            let fault = format!(
                "this rests on change {seen}, and the last one here is {}",
                journal.number()
            );
            faults.push(Diagnostic::error(Code::Outdated, fault).hint("look again, and try anew"));
        }
        if !self.entries.is_empty() {
            let tags = entries::tags(now);
            let changed = self.entries.iter().filter(|(name, tag)| tag_of(&tags, name) != **tag);
            for (name, tag) in changed {
                let gone = tag.is_some() && tag_of(&tags, name).is_none();
                faults.push(self.outdated(journal, name, gone));
            }
        }
        faults.into_result(())
    }

    /// Refuses to touch what has changed since.
    pub(super) fn untouched(
        &self,
        journal: &Journal,
        names: &[EntryName],
    ) -> Result<(), Diagnostics> {
        let Some(seen) = self.seen else { return Ok(()) };
        let later = journal.since(seen);
        let mut faults = Diagnostics::new();
        // An entry with a tag of its own was looked at already.
        let own = names.iter().filter(|name| !self.entries.keys().any(|own| own.covers(name)));
        for name in own.filter(|name| later.iter().any(|change| change.touches(name))) {
            faults.push(self.outdated(journal, name, false));
        }
        faults.into_result(())
    }

    fn outdated(&self, journal: &Journal, name: &EntryName, gone: bool) -> Diagnostic {
        let by = self.seen.map(|seen| journal.since(seen)).unwrap_or_default();
        let by = by.into_iter().rfind(|change| change.touches(name));
        let what = if gone { "is gone" } else { "has changed" };
        let fault = match by {
            Some(change) => {
                format!("{name} {what} since: {}", PastChange::of(change, false).told())
            }
            None if self.seen.is_some() => format!("{name} {what} since, by hand"),
            None => format!("{name} {what} since"),
        };
        Diagnostic::error(Code::Outdated, fault)
            .hint("nothing is written: look at what it is now, and decide anew")
    }
}

impl Folder {
    /// The changes that there were, the oldest first, as far back as the journal goes. What takes
    /// back or does again is not among them: it shows in the change it is about.
    pub fn history(&self) -> Vec<PastChange> {
        let Ok(journal) = Journal::read(self) else { return Vec::new() };
        let (done, undone) = journal.steps();
        let told = |step: &Step<'_>, back| PastChange::of(step.change, back);
        let mut all: Vec<PastChange> = done.iter().map(|step| told(step, false)).collect();
        all.extend(undone.iter().map(|step| told(step, true)));
        all.sort_by_key(|change| change.number);
        all
    }

    /// The change that was made with a key that can be used once.
    pub fn made_with(&self, once: &str) -> Option<PastChange> {
        let journal = Journal::read(self).ok()?;
        journal.once(once).map(|change| PastChange::of(change, false))
    }

    /// The changes that [`undo`](Self::undo) would take back, and do again.
    pub fn undoable(&self) -> (Option<PastChange>, Option<PastChange>) {
        let Ok(journal) = Journal::read(self) else { return (None, None) };
        let (done, undone) = journal.steps();
        let next =
            |steps: &[Step<'_>], back| steps.last().map(|step| PastChange::of(step.change, back));
        (next(&done, false), next(&undone, true))
    }

    /// Takes back a change that is not taken back yet, the last one where none is named; or does
    /// one again. Changes that came later stay, unless they stand in the way.
    ///
    /// # Errors
    /// Nothing to take back; no such change; a later one in the way; a file that was changed by
    /// hand since; a change that would bring a new fault; a folder that can't be written to.
    pub fn undo(&self, ask: &UndoAsk) -> Result<(Undone, Diagnostics), Diagnostics> {
        lock::make_own(self)?;
        let _lock = Lock::exclusive(self)?;
        let (mut journal, mut warnings) = self.recovered()?;
        Basis::once(ask.once.clone()).unused(&journal)?;
        let found = chosen(&journal, ask)?;
        let (change, last) = (found.change.clone(), found.last.clone());
        let before = self.snapshot();
        let files = self.way_back(&journal, &change, &last, &before)?;
        let texts: BTreeMap<String, Option<String>> = files
            .iter()
            .map(|file| {
                let text = before.texts.get(&file.path).map(String::as_str);
                let after = file.applied(text).ok_or_else(|| self.by_hand(file, &change))?;
                Ok((file.path.clone(), after))
            })
            .collect::<Result<_, Diagnostic>>()?;
        let (contents, faults) = load::load(self, &before);
        let (after, found) = self.check_change(&before, &faults, &texts)?;
        warnings.extend(found);
        let names = differing(&contents, &after);
        let foreign = names.iter().find(|name| !change.touches(name));
        if let Some(name) = foreign {
            return Err(in_the_way(&change, &last, &format!("{name} would change with it")).into());
        }
        let (undoes, redoes) =
            if ask.redo { (None, Some(change.seq)) } else { (Some(change.seq), None) };
        let command = if ask.redo { "undo --redo" } else { "undo" };
        let own = Change {
            undoes,
            redoes,
            entries: Some(names.iter().map(EntryName::written).collect()),
            once: ask.once.clone(),
            ..change_of(&journal, command, files)
        };
        let number = own.seq;
        let files = own.files.iter().map(|file| file.path.clone()).collect();
        warnings.extend(self.commit(&mut journal, own, &before)?);
        let Change { seq, command, time, .. } = change;
        Ok((Undone { change: seq, command, time, files, number }, warnings))
    }

    /// What has to happen to each file so that a change is taken back, past those that came later.
    fn way_back(
        &self,
        journal: &Journal,
        change: &Change,
        last: &Change,
        before: &Snapshot,
    ) -> Result<Vec<FileChange>, Diagnostics> {
        // What came later and was about the same entry rests on this change.
        let later = journal.since(last.seq);
        let resting = later.iter().rfind(|own| own.names().any(|name| change.touches(&name)));
        if let Some(own) = resting.filter(|_| change.entries.is_some()) {
            return Err(in_the_way(change, last, &PastChange::of(own, false).told()).into());
        }
        let mut faults = Diagnostics::new();
        let mut files = Vec::new();
        for file in &last.files {
            if let Some(fault) = before.unreadable.get(&file.path) {
                faults.push(fault.clone());
                continue;
            }
            let now = before.texts.get(&file.path).map(String::as_str);
            match file.back_past(journal.later(last.seq, &file.path), now) {
                Ok(back) => files.push(back),
                Err(Some(own)) => {
                    faults.push(in_the_way(change, last, &PastChange::of(own, false).told()));
                }
                Err(None) => faults.push(self.by_hand(file, change)),
            }
        }
        faults.into_result(files)
    }

    fn by_hand(&self, file: &FileChange, change: &Change) -> Diagnostic {
        let fault = format!("{} was changed by hand since", self.shown(&file.path));
        Diagnostic::error(Code::ChangedSince, fault)
            .hint(format!("`{}` can't be taken back over that: edit it", change.command))
    }
}

/// The change to take back or do again.
fn chosen<'a>(journal: &'a Journal, ask: &UndoAsk) -> Result<Step<'a>, Diagnostic> {
    let (done, undone) = journal.steps();
    let (steps, others) = if ask.redo { (undone, done) } else { (done, undone) };
    let Some(number) = ask.change else {
        let what =
            if ask.redo { "there is nothing to do again" } else { "there is nothing to undo" };
        return steps.last().copied().ok_or_else(|| {
            Diagnostic::error(Code::Nothing, what)
                .hint("only changes made by commands can be taken back, the last one first")
        });
    };
    let own = |step: &&Step<'_>| step.change.seq == number;
    if let Some(step) = steps.iter().find(own) {
        return Ok(*step);
    }
    if let Some(step) = others.iter().find(own) {
        let state = if ask.redo { "stands" } else { "is taken back" };
        let told = PastChange::of(step.change, !ask.redo).told();
        return Err(Diagnostic::error(Code::InTheWay, format!("{told}, {state} already"))
            .hint("`oddments undo --list` shows every change and how it stands"));
    }
    let fault = format!("there is no change {number} to take back or do again");
    Err(Diagnostic::error(Code::Nothing, fault)
        .hint("`oddments undo --list` shows every change and how it stands"))
}

fn in_the_way(change: &Change, last: &Change, what: &str) -> Diagnostic {
    let own = PastChange::of(change, false).told();
    let taken = if last.undoes.is_some() { "done again" } else { "taken back" };
    Diagnostic::error(Code::InTheWay, format!("{own}, can't be {taken}: {what} stands in the way"))
        .hint("take that back first; nothing is written")
}

fn repeated(change: &Change) -> Diagnostic {
    let told = PastChange::of(change, false).told();
    Diagnostic::error(Code::Repeated, format!("this was done already: {told}"))
        .hint("nothing is done twice: ask anew, with a new key, if it is wanted again")
}
