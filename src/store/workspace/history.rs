//! What a change rests on, which changes there were, and the way back.

use std::collections::BTreeMap;
use std::fmt;
use std::num::ParseIntError;
use std::str::FromStr;

use super::entries::{self, EntryKind, EntryName, Tag, differing, tag_of};
use super::folder::{Folder, Snapshot};
use super::journal::{Change, FileChange, Journal, Step};
use super::lock::{self, Lock};
use super::{change_of, load};
use diag::{Code, Diagnostic, Diagnostics, Severity};
use knit::stash::Contents;

/// What whoever asks for a change has seen. Where that is so no longer, nothing is changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Basis {
    /// The workspace's number at that time: no entry that the change touches may have changed
    /// since.
    pub seen: Option<ChangeMark>,
    /// Entries as they were seen, `None` where there was none: each must be the same still.
    pub entries: BTreeMap<EntryName, Option<Tag>>,
    /// A key that can be used once: what is asked for twice is done once.
    pub once: Option<String>,
}

/// A change by its number: `34`, or `34.9f3c1a2b`, which no change of another journal is. A state is
/// known by the change that led to it; 0 is the first one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChangeMark {
    /// From 1, in the order in which they were made.
    pub number: u64,
    /// What tells it from one of the same number, where the journal was begun anew.
    pub sum: Option<String>,
}

impl From<u64> for ChangeMark {
    fn from(number: u64) -> ChangeMark {
        ChangeMark { number, sum: None }
    }
}

impl fmt::Display for ChangeMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.sum {
            Some(sum) => write!(f, "{}.{sum}", self.number),
            None => write!(f, "{}", self.number),
        }
    }
}

impl FromStr for ChangeMark {
    type Err = ParseIntError;

    fn from_str(text: &str) -> Result<ChangeMark, ParseIntError> {
        let (number, sum) = match text.split_once('.') {
            Some((number, sum)) => (number, Some(sum.to_owned())),
            None => (text, None),
        };
        Ok(ChangeMark { number: number.parse()?, sum })
    }
}

impl ChangeMark {
    pub(super) fn of(journal: &Journal, number: u64) -> ChangeMark {
        ChangeMark { number, sum: journal.mark(number) }
    }

    /// Refuses a number that is not of this journal.
    fn is_known(&self, journal: &Journal) -> Result<(), Diagnostic> {
        let last = journal.number();
        let own = journal.mark(self.number);
        let other = matches!((&self.sum, own), (Some(seen), Some(own)) if *seen != own);
        if self.number <= last && !other {
            return Ok(());
        }
        let fault = if other {
            format!("change {} is another one by now: the journal was begun anew", self.number)
        } else {
            format!("this rests on change {}, and the last one here is {last}", self.number)
        };
        Err(Diagnostic::error(Code::Outdated, fault).hint("look again, and try anew"))
    }
}

/// A change of the past.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PastChange {
    /// Its number, which is that of the state after it too.
    pub mark: ChangeMark,
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
    /// That change, and no other; `None`: the last one.
    pub change: Option<ChangeMark>,
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
        UndoAsk { change: Some(change.into()), ..UndoAsk::default() }
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
    /// The state now.
    pub state: ChangeMark,
}

impl PastChange {
    fn of(change: &Change, taken_back: bool) -> PastChange {
        PastChange {
            mark: ChangeMark { number: change.seq, sum: Some(change.mark()) },
            command: change.command.clone(),
            time: change.time.clone(),
            entries: change.names().collect(),
            taken_back,
        }
    }
}

/// As a knitter is told of it: which change, by which command, of when.
fn told(change: &Change) -> String {
    format!("change {}, `{}` of {}", change.seq, change.command, change.time)
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
        used.map_or(Ok(()), |change| Err(repeated(change, change.once == self.once)))
    }

    /// Refuses where an entry is not what it was.
    pub(super) fn still(&self, journal: &Journal, now: &Contents) -> Result<(), Diagnostics> {
        let mut faults = Diagnostics::new();
        if let Some(fault) = self.seen.as_ref().and_then(|seen| seen.is_known(journal).err()) {
            faults.push(fault);
        }
        if !self.entries.is_empty() {
            let tags = entries::tags(now);
            let changed = self.entries.iter().filter(|(name, tag)| tag_of(&tags, name) != **tag);
            let changed: Vec<_> = changed.collect();
            let by = |name| self.last_to_touch(journal, name).map(|change| change.seq);
            let all = EntryName::all(EntryKind::SetAside);
            let whole = changed.iter().any(|(name, _)| **name == all).then(|| by(&all)).flatten();
            for (name, tag) in changed {
                // One accept sets yarn aside for many gifts: it is told once.
                if name.kind == EntryKind::Gift && whole.is_some() && by(name) == whole {
                    continue;
                }
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
        let Some(seen) = &self.seen else { return Ok(()) };
        // An entry with a tag of its own was looked at already.
        let own: Vec<&EntryName> =
            names.iter().filter(|name| !self.entries.keys().any(|own| own.covers(name))).collect();
        if !own.is_empty() && !journal.reaches_back_to(seen.number) {
            let fault = format!(
                "nobody knows any more what has changed since change {}: the journal has forgotten \
                 it",
                seen.number
            );
            return Err(Diagnostic::error(Code::Outdated, fault)
                .hint("look again, and try anew")
                .into());
        }
        let later = journal.since(seen.number);
        let changed = own.into_iter().filter(|name| later.iter().any(|own| own.touches(name)));
        let mut faults = Diagnostics::new();
        faults.extend(changed.map(|name| self.outdated(journal, name, false)));
        faults.into_result(())
    }

    /// The last change since it was seen that touched an entry.
    fn last_to_touch<'j>(&self, journal: &'j Journal, name: &EntryName) -> Option<&'j Change> {
        let seen = self.seen.as_ref()?;
        journal.since(seen.number).into_iter().rfind(|change| change.touches(name))
    }

    fn outdated(&self, journal: &Journal, name: &EntryName, gone: bool) -> Diagnostic {
        let by = self.last_to_touch(journal, name);
        let what = if gone { "is gone" } else { "has changed" };
        let fault = match by {
            Some(change) => {
                format!("{name} {what} since: {}", told(change))
            }
            None if self.seen.is_some() => format!("{name} {what} since, by hand"),
            None => format!("{name} {what} since"),
        };
        Diagnostic::error(Code::Outdated, fault)
            .hint("nothing is written: look at what it is now, and decide anew")
    }
}

impl Folder {
    /// The changes that there were, the oldest first, as far back as the journal goes, and what is
    /// wrong with it. What takes back or does again is not among them: it shows in the change it is
    /// about.
    pub fn history(&self) -> (Vec<PastChange>, Diagnostics) {
        let journal = match Journal::read(self) {
            Ok(journal) => journal,
            Err(fault) => return (Vec::new(), fault.into()),
        };
        let (done, undone) = journal.steps();
        let told = |step: &Step<'_>, back| PastChange::of(step.change, back);
        let mut all: Vec<PastChange> = done.iter().map(|step| told(step, false)).collect();
        all.extend(undone.iter().map(|step| told(step, true)));
        all.sort_by_key(|change| change.mark.number);
        (all, journal.damage(self).map_or_else(Diagnostics::new, Into::into))
    }

    /// The change that was made with a key that can be used once, for just this.
    pub fn made_with(&self, once: &str) -> Option<PastChange> {
        let journal = Journal::read(self).ok()?;
        let change = journal.once(once).filter(|change| change.once.as_deref() == Some(once));
        change.map(|change| PastChange::of(change, false))
    }

    /// The changes that [`undo`](Self::undo) would take back, and do again.
    pub fn undoable(&self) -> (Option<PastChange>, Option<PastChange>) {
        let Ok(journal) = Journal::read(self) else { return (None, None) };
        let (done, undone) = journal.steps();
        let next = |steps: &[Step<'_>], back| {
            let next = steps.last().filter(|step| !step.stale);
            next.map(|step| PastChange::of(step.change, back))
        };
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
        let later: Vec<Change> = journal.since(last.seq).into_iter().cloned().collect();
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
        let (after, found) = self
            .check_change(&before, &faults, &texts)
            .map_err(|faults| self.rests_on_it(&change, &last, &later, faults))?;
        let names = differing(&contents, &after);
        if let Some(way) = self.beyond(&change, &last, &later, &names, &found) {
            return Err(way.into());
        }
        warnings.extend(found);
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
        let seq = own.seq;
        let files = own.files.iter().map(|file| file.path.clone()).collect();
        warnings.extend(self.commit(&mut journal, own, &before)?);
        let state = ChangeMark::of(&journal, seq);
        let Change { seq, command, time, .. } = change;
        Ok((Undone { change: seq, command, time, files, state }, warnings))
    }

    /// Why a change can't be taken back although its own lines can: something else would change
    /// with it, or yarn that a later change used would be set aside twice.
    fn beyond(
        &self,
        change: &Change,
        last: &Change,
        later: &[Change],
        names: &[EntryName],
        found: &Diagnostics,
    ) -> Option<Diagnostic> {
        if let Some(name) = names.iter().find(|name| !change.touches(name)) {
            return Some(in_the_way(change, last, None, &format!("{name} would change with it")));
        }
        // With nothing after it, all is as it was before, whatever that was.
        let own = later.last()?;
        let over = found.iter().find(|fault| fault.code == Code::Overdrawn)?;
        Some(in_the_way(change, last, Some(own), &over.message))
    }

    /// A change without which what came later makes no sense.
    fn rests_on_it(
        &self,
        change: &Change,
        last: &Change,
        later: &[Change],
        faults: Diagnostics,
    ) -> Diagnostics {
        let Some(newest) = later.last() else { return faults };
        let why = faults.iter().find(|fault| fault.severity == Severity::Error);
        let place = why.and_then(|fault| fault.place.as_ref()).map(|place| place.file.as_str());
        let wrote = |own: &&Change| {
            own.files.iter().any(|file| Some(self.shown(&file.path).as_str()) == place)
        };
        let own = later.iter().rfind(wrote).unwrap_or(newest);
        let why = why.map_or_else(String::new, |fault| fault.message.clone());
        in_the_way(change, last, Some(own), &format!("without it {why}")).into()
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
            return Err(in_the_way(change, last, Some(own), "it was about the same").into());
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
                    let same = "it altered lines among those";
                    faults.push(in_the_way(change, last, Some(own), same));
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
    let Some(mark) = &ask.change else {
        let what =
            if ask.redo { "there is nothing to do again" } else { "there is nothing to undo" };
        return steps.last().filter(|step| !step.stale).copied().ok_or_else(|| {
            let hint = match steps.last() {
                Some(_) => {
                    "something else was changed since: `oddments undo --list` has the numbers"
                }
                None => "only changes made by commands can be taken back, the last one first",
            };
            Diagnostic::error(Code::Nothing, what).hint(hint)
        });
    };
    if mark.sum.is_some() {
        mark.is_known(journal)?;
    }
    let number = mark.number;
    let own = |step: &&Step<'_>| step.change.seq == number;
    if let Some(step) = steps.iter().find(own) {
        return Ok(*step);
    }
    if let Some(step) = others.iter().find(own) {
        let state = if ask.redo { "stands" } else { "is taken back" };
        let fault = format!("{}, {state} already", told(step.change));
        return Err(Diagnostic::error(Code::InTheWay, fault)
            .hint("`oddments undo --list` shows every change and how it stands"));
    }
    let undo = journal.of(number).and_then(|change| change.undoes.or(change.redoes));
    let fault = match undo {
        Some(target) => format!("change {number} is an undo itself, of change {target}"),
        None => format!("there is no change {number} to take back or do again"),
    };
    Err(Diagnostic::error(Code::Nothing, fault)
        .hint("`oddments undo --list` shows every change and how it stands"))
}

/// What stands in the way of taking `change` back, or of doing it again where `last` took it back.
fn in_the_way(change: &Change, last: &Change, by: Option<&Change>, why: &str) -> Diagnostic {
    let (own, taken) =
        (told(change), if last.undoes.is_some() { "done again" } else { "taken back" });
    let Some(by) = by else {
        let fault = format!("{own}, can't be {taken}: {why}");
        return Diagnostic::error(Code::InTheWay, fault).hint("nothing is written");
    };
    let hint = match (by.undoes, by.redoes) {
        (Some(target), _) => format!("`oddments undo --redo --change {target}` comes before it"),
        (None, Some(target)) => format!("`oddments undo --change {target}` comes before it"),
        (None, None) => format!("`oddments undo --change {}` comes before it", by.seq),
    };
    let fault = format!("{own}, can't be {taken}: {} stands in the way, {why}", told(by));
    Diagnostic::error(Code::InTheWay, fault).hint(hint)
}

fn repeated(change: &Change, same: bool) -> Diagnostic {
    let told = told(change);
    if same {
        return Diagnostic::error(Code::Repeated, format!("this was done already: {told}"))
            .hint("nothing is done twice: ask anew, with a new key, if it is wanted again");
    }
    Diagnostic::error(Code::Rests, format!("the key was used for something else: {told}"))
        .hint("a key is good for one request: send this one with a new key")
}
