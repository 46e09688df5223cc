//! What was changed, in order, so that it can be taken back, and finished when it was cut short.
//!
//! A line a record, each JSON with a sum over it. Before a file is touched the whole change is
//! written and synced; when all files are written it is marked done. So after a kill at any
//! moment the last change is either not here at all, or here in full.

use std::collections::BTreeSet;
use std::fs::{self, OpenOptions};
use std::io::{self, Read, Write};
use std::sync::{Arc, Mutex, PoisonError};

use serde::{Deserialize, Serialize};

use super::entries::EntryName;
use super::folder::{Folder, OWN, cannot_write, is_knitters};
use super::sums::sum;
use crate::files::{open_regular, replace};
use diag::{Code, Diagnostic};

const JOURNAL: &str = ".oddments/journal";
const DAMAGED: &str = ".oddments/journal.damaged";
/// Past this the oldest changes are forgotten.
const MOST_BYTES: usize = 4 << 20;
/// A journal beyond this was not written by us.
const ABSURD: u64 = 64 << 20;

/// One command's change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Change {
    pub seq: u64,
    /// RFC 3339, UTC.
    pub time: String,
    /// As the knitter would say it: "stash add".
    pub command: String,
    /// The change that this one takes back, or does again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub undoes: Option<u64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub redoes: Option<u64>,
    /// The entries it touched: `remnant/slate-1`. An old journal doesn't say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entries: Option<Vec<String>>,
    /// The one-time key of the form or the request that asked for it; after a `-` what it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub once: Option<String>,
    pub files: Vec<FileChange>,
}

impl Change {
    /// The change that it made, took back or did again.
    fn about(&self) -> u64 {
        self.undoes.or(self.redoes).unwrap_or(self.seq)
    }

    /// Whether it touched that entry; where an old journal doesn't say, it may have.
    pub fn touches(&self, name: &EntryName) -> bool {
        self.entries.is_none() || self.names().any(|own| name.covers(&own))
    }

    /// What tells it from one of the same number in another journal.
    pub fn mark(&self) -> String {
        let mut text = sum(&format!("{} {} {:?}", self.time, self.command, self.files));
        text.truncate(8);
        text
    }

    /// The entries it touched.
    pub fn names(&self) -> impl Iterator<Item = EntryName> {
        self.entries.iter().flatten().filter_map(|text| EntryName::read(text))
    }
}

/// A change that was made, and the one that made it so last: itself, or what did it again; where
/// it is taken back, what took it back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Step<'a> {
    pub change: &'a Change,
    pub last: &'a Change,
    /// Whether something else was changed since it was taken back: it is done again only by its
    /// number then.
    pub stale: bool,
}

/// What happened to one file: at a byte, one stretch of text gave way to another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct FileChange {
    pub path: String,
    /// Sums of the text before and after; `None`: there was, or is, no file.
    pub before: Option<String>,
    pub after: Option<String>,
    pub at: usize,
    pub old: String,
    pub new: String,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum JournalRecord {
    Change(Change),
    /// All files of that change are written.
    Done(u64),
    /// That change failed and was rolled back.
    Dropped(u64),
}

/// How a file stands to a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stand {
    Before,
    After,
    /// Someone else changed it meanwhile.
    Elsewhere,
}

/// How many bytes earlier a stretch that was put in or taken out may just as well begin: entries
/// begin alike, so that the difference of two texts begins within one. Where it can, it begins at a
/// blank line, else at a table's head, else at a line; then neighbours can change apart.
fn aligned(before: &str, stretch: &str) -> usize {
    let same = before.bytes().rev().zip(stretch.bytes().rev());
    let most = same.take_while(|(a, b)| a == b).count();
    let text = format!("{before}{stretch}");
    let begins = |back: &usize, with: &str| {
        let at = before.len() - back;
        let line = at == 0 || text.as_bytes()[at - 1] == b'\n';
        line && text.is_char_boundary(at)
            && text.is_char_boundary(text.len() - back)
            && text[at..].starts_with(with)
    };
    let first = |with| (0..=most).find(|back| begins(back, with));
    first("\n").or_else(|| first("\r\n")).or_else(|| first("[")).or_else(|| first("")).unwrap_or(0)
}

impl FileChange {
    pub fn between(path: &str, before: Option<&str>, after: Option<&str>) -> FileChange {
        let (old, new) = (before.unwrap_or(""), after.unwrap_or(""));
        let mut at = old.bytes().zip(new.bytes()).take_while(|(a, b)| a == b).count();
        while !old.is_char_boundary(at) || !new.is_char_boundary(at) {
            at -= 1;
        }
        let most = old.len().min(new.len()) - at;
        let ends = old.bytes().rev().zip(new.bytes().rev());
        let mut end = ends.take(most).take_while(|(a, b)| a == b).count();
        while !old.is_char_boundary(old.len() - end) || !new.is_char_boundary(new.len() - end) {
            end -= 1;
        }
        let (ends_old, ends_new) = (old.len() - end, new.len() - end);
        let back = if at == ends_old {
            aligned(&new[..at], &new[at..ends_new])
        } else if at == ends_new {
            aligned(&old[..at], &old[at..ends_old])
        } else {
            0
        };
        FileChange {
            path: path.to_owned(),
            before: before.map(sum),
            after: after.map(sum),
            at: at - back,
            old: old[at - back..ends_old - back].to_owned(),
            new: new[at - back..ends_new - back].to_owned(),
        }
    }

    pub fn stand(&self, text: Option<&str>) -> Stand {
        let own = text.map(sum);
        if own == self.after {
            Stand::After
        } else if own == self.before {
            Stand::Before
        } else {
            Stand::Elsewhere
        }
    }

    /// The text after, made from the text before. `None` within: no file. `None` without: the
    /// text is not the one it was made for.
    #[expect(clippy::option_option, reason = "no file is not the same as no answer")]
    pub fn applied(&self, text: Option<&str>) -> Option<Option<String>> {
        let text = text.unwrap_or("");
        let rest = text.get(self.at..)?.strip_prefix(self.old.as_str())?;
        let whole = format!("{}{}{rest}", &text[..self.at], self.new);
        let after = self.after.is_some().then_some(whole);
        (after.as_deref().map(sum) == self.after).then_some(after)
    }

    /// Whether a change that came later touched none of what this one wrote; then where that
    /// begins after it.
    fn moved_by(&self, later: &FileChange, at: usize) -> Option<usize> {
        // A journal may be forged: no figure in it is taken for sane.
        let end = at.checked_add(self.new.len())?;
        if later.at >= end {
            return Some(at);
        }
        let behind = at.checked_sub(later.at.checked_add(later.old.len())?)?;
        later.at.checked_add(later.new.len())?.checked_add(behind)
    }

    /// The way back from what the file holds now, past changes that came later.
    ///
    /// # Errors
    /// The number of a later change that stands in the way; `None`: the file was changed by hand.
    pub fn back_past<'a>(
        &self,
        later: impl Iterator<Item = Later<'a>>,
        now: Option<&str>,
    ) -> Result<FileChange, Option<&'a Change>> {
        let later: Vec<Later<'a>> = later.collect();
        let mut at = self.at;
        let mut stands = &self.after;
        let mut rest = later.as_slice();
        loop {
            // What was changed and changed back is no matter.
            let same = rest.iter().rposition(|own| own.file.after == *stands);
            rest = &rest[same.map_or(0, |same| same + 1)..];
            let Some((Later { change, file }, others)) = rest.split_first() else { break };
            if file.before != *stands {
                return Err(None);
            }
            let stays = self.before.is_some() && stands.is_some() && file.after.is_some();
            at = self.moved_by(file, at).filter(|_| stays).ok_or(Some(*change))?;
            stands = &file.after;
            rest = others;
        }
        if now.map(sum) != *stands {
            return Err(None);
        }
        if *stands == self.after {
            return Ok(self.reversed());
        }
        let text = now.unwrap_or("");
        let whole = text.get(at..).and_then(|rest| rest.strip_prefix(self.new.as_str()));
        let whole = whole.ok_or(None)?;
        let after = format!("{}{}{whole}", &text[..at], self.old);
        Ok(FileChange::between(&self.path, now, Some(&after)))
    }

    /// The way back.
    pub fn reversed(&self) -> FileChange {
        FileChange {
            path: self.path.clone(),
            before: self.after.clone(),
            after: self.before.clone(),
            at: self.at,
            old: self.new.clone(),
            new: self.old.clone(),
        }
    }
}

/// Whether two one-time keys are the same, whatever each was used for.
pub fn same_key(one: &str, other: &str) -> bool {
    one.split('-').next() == other.split('-').next()
}

/// A change that came later, and what it did to one file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Later<'a> {
    pub change: &'a Change,
    pub file: &'a FileChange,
}

/// The journal of a workspace, read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Journal {
    records: Vec<Arc<JournalRecord>>,
    /// Lines (from 1) that are not what was written.
    pub damaged: Vec<usize>,
    /// Bytes of the file before the change that was begun last.
    begun: Option<u64>,
}

/// The journal as it was read last. Every command reads it, and a server reads it at every change: what
/// is as it was is compared with this and not taken apart again.
#[derive(Debug, Default)]
pub(super) struct JournalMemo(Mutex<Lines>);

/// The whole lines of a journal, and what they say.
#[derive(Debug, Default)]
struct Lines {
    bytes: Vec<u8>,
    count: usize,
    records: Vec<Arc<JournalRecord>>,
    damaged: Vec<usize>,
}

impl Lines {
    /// Goes on to the last whole line of `bytes`, which are a journal from its beginning.
    fn read_on(&mut self, mut bytes: Vec<u8>) {
        if !bytes.starts_with(&self.bytes) {
            *self = Lines::default();
        }
        bytes.truncate(bytes.iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1));
        for line in bytes[self.bytes.len()..].split_inclusive(|b| *b == b'\n') {
            self.count += 1;
            let line = &line[..line.len() - 1];
            if line.is_empty() {
                continue;
            }
            match std::str::from_utf8(line).ok().and_then(unsealed) {
                Some(record) => self.records.push(Arc::new(record)),
                None => self.damaged.push(self.count),
            }
        }
        self.bytes = bytes;
    }
}

impl JournalMemo {
    fn read(&self, bytes: Vec<u8>) -> Journal {
        // What follows the last line's end: nothing, or a line that was cut short.
        let torn = bytes.last().is_some_and(|last| *last != b'\n');
        let mut lines = self.0.lock().unwrap_or_else(|broken| {
            // Whoever broke off in the midst of it may have left lines twice.
            let mut lines = PoisonError::into_inner(broken);
            *lines = Lines::default();
            lines
        });
        lines.read_on(bytes);
        let mut damaged = lines.damaged.clone();
        damaged.extend(torn.then_some(lines.count + 1));
        Journal { records: lines.records.clone(), damaged, begun: None }
    }
}

impl Journal {
    pub fn read(folder: &Folder) -> Result<Journal, Diagnostic> {
        let path = folder.path(JOURNAL);
        let cannot = |error: io::Error| {
            Diagnostic::error(Code::Read, format!("can't read {}: {error}", path.display()))
                .hint("check its permissions; the files themselves are whole")
        };
        let file = match open_regular(&path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Journal::default()),
            Err(error) => return Err(cannot(error)),
        };
        let length = file.metadata().map_or(0, |meta| meta.len().min(ABSURD));
        let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0) + 1);
        file.take(ABSURD).read_to_end(&mut bytes).map_err(cannot)?;
        Ok(folder.journal_memo().read(bytes))
    }

    /// What to tell of lines that can't be read.
    pub fn damage(&self, folder: &Folder) -> Option<Diagnostic> {
        let first = self.damaged.first()?;
        let fault = format!(
            "the journal {} is damaged from line {first} on: what it says there can't be undone",
            folder.shown(JOURNAL)
        );
        Some(Diagnostic::warning(Code::Journal, fault).hint(format!(
            "your own files are not touched by it; the next change sets the old journal aside as {}",
            folder.shown(DAMAGED)
        )))
    }

    fn changes(&self) -> impl DoubleEndedIterator<Item = &Change> {
        self.records.iter().filter_map(|record| match &**record {
            JournalRecord::Change(change) => Some(change),
            _ => None,
        })
    }

    fn settled(&self, seq: u64) -> bool {
        self.records.iter().rev().any(|record| match **record {
            JournalRecord::Done(done) | JournalRecord::Dropped(done) => done == seq,
            JournalRecord::Change(_) => false,
        })
    }

    /// The last change, where it was cut short.
    pub fn pending(&self) -> Option<&Change> {
        self.changes().next_back().filter(|change| !self.settled(change.seq))
    }

    /// The number of the state after the last change; 0 before the first one.
    pub fn number(&self) -> u64 {
        self.made().map(|change| change.seq).max().unwrap_or(0)
    }

    pub fn next_seq(&self) -> u64 {
        self.changes().map(|change| change.seq).max().unwrap_or(0) + 1
    }

    /// The changes that were made, in order.
    fn made(&self) -> impl DoubleEndedIterator<Item = &Change> {
        let dropped: BTreeSet<u64> = self
            .records
            .iter()
            .filter_map(|record| match **record {
                JournalRecord::Dropped(seq) => Some(seq),
                _ => None,
            })
            .collect();
        self.changes().filter(move |change| !dropped.contains(&change.seq))
    }

    /// What tells the change of that number from one of the same number in another journal; `None`:
    /// it is not kept here.
    pub fn mark(&self, seq: u64) -> Option<String> {
        self.of(seq).map(Change::mark)
    }

    /// Whether every change after that number is kept: the oldest are forgotten in time.
    pub fn reaches_back_to(&self, number: u64) -> bool {
        self.changes().next().is_none_or(|oldest| oldest.seq <= number + 1)
    }

    /// The change that a form or a request with this key made, as long as it stands: what is taken
    /// back may be asked for again from the same page.
    pub fn once(&self, key: &str) -> Option<&Change> {
        let stands = |own: &&Change| {
            let last = self.made().rfind(|change| change.about() == own.about());
            last.is_some_and(|last| last.undoes.is_none() || last.seq == own.seq)
        };
        let same = |own: &str| same_key(own, key);
        self.made().filter(|change| change.once.as_deref().is_some_and(same)).find(stands)
    }

    /// The changes made after a number, but for those taken back again since.
    pub fn since(&self, number: u64) -> Vec<&Change> {
        let mut net: Vec<&Change> = Vec::new();
        for change in self.made().filter(|change| change.seq > number) {
            // To and fro take turns: two steps about one change come to nothing.
            let reversed = net.iter().position(|own| own.about() == change.about());
            match reversed {
                Some(at) => drop(net.remove(at)),
                None => net.push(change),
            }
        }
        net
    }

    /// The changes to one file that came after a number, each as it was made.
    pub fn later<'a>(&'a self, number: u64, path: &'a str) -> impl Iterator<Item = Later<'a>> {
        self.made().filter(move |change| change.seq > number).flat_map(move |change| {
            let own = change.files.iter().filter(move |file| file.path == path);
            own.map(move |file| Later { change, file })
        })
    }

    /// The changes that stand and those that are taken back, each in the order in which `undo`
    /// and `undo --redo` come to them, the next one last.
    pub fn steps(&self) -> (Vec<Step<'_>>, Vec<Step<'_>>) {
        let (mut done, mut undone): (Vec<Step<'_>>, Vec<Step<'_>>) = (Vec::new(), Vec::new());
        let moved = |from: &mut Vec<Step<'_>>, seq| {
            let at = from.iter().rposition(|step| step.change.seq == seq);
            at.map(|at| from.remove(at).change.seq)
        };
        for change in self.made() {
            let (seq, from, to) = match (change.undoes, change.redoes) {
                (Some(seq), _) => (seq, &mut done, &mut undone),
                (None, Some(seq)) => (seq, &mut undone, &mut done),
                (None, None) => {
                    done.push(Step { change, last: change, stale: false });
                    undone.iter_mut().for_each(|step| step.stale = true);
                    continue;
                }
            };
            if let Some(own) = moved(from, seq).and_then(|seq| self.of(seq)) {
                to.push(Step { change: own, last: change, stale: false });
            }
        }
        (done, undone)
    }

    pub fn of(&self, seq: u64) -> Option<&Change> {
        self.made().find(|change| change.seq == seq)
    }

    /// Writes a change down before it is made.
    pub fn begin(&mut self, folder: &Folder, change: Change) -> Result<(), Diagnostic> {
        self.mend(folder)?;
        self.begun = Some(length(folder));
        self.append(folder, JournalRecord::Change(change), true)
    }

    /// Every file of the change is written. Not synced, and no fault when there is no room for it:
    /// where the mark is lost, the files themselves show that all is done.
    pub fn done(&mut self, folder: &Folder, seq: u64) {
        let whole = length(folder);
        if self.append(folder, JournalRecord::Done(seq), false).is_err() {
            // Half a mark would look like damage.
            let _ = cut(folder, whole);
        }
    }

    /// The change just begun is not made after all. It is cut off, which needs no room on the
    /// disk; else it would be finished by the next command, though it was refused.
    pub fn drop_change(&mut self, folder: &Folder, seq: u64) -> Result<(), Diagnostic> {
        match self.begun.take() {
            Some(length) if cut(folder, length).is_ok() => {
                self.records
                    .retain(|r| !matches!(&**r, JournalRecord::Change(own) if own.seq == seq));
                Ok(())
            }
            _ => self.append(folder, JournalRecord::Dropped(seq), true),
        }
    }

    fn append(
        &mut self,
        folder: &Folder,
        record: JournalRecord,
        sync: bool,
    ) -> Result<(), Diagnostic> {
        let path = folder.target(JOURNAL)?;
        let fresh = !path.exists();
        let mut line = sealed(&record);
        if !self.damaged.is_empty() {
            // The last line may have been cut short: nothing is to be written onto it.
            line.insert(0, '\n');
        }
        let written = OpenOptions::new().create(true).append(true).open(&path).and_then(|mut f| {
            f.write_all(line.as_bytes())?;
            if sync { f.sync_all() } else { Ok(()) }
        });
        written.map_err(|error| cannot_write(&path, &error))?;
        if fresh {
            let own = folder.path(OWN);
            fs::File::open(&own).and_then(|f| f.sync_all()).map_err(|e| cannot_write(&own, &e))?;
        }
        self.records.push(Arc::new(record));
        Ok(())
    }

    /// Sets a damaged journal aside, and forgets the oldest changes of one that is too long.
    fn mend(&mut self, folder: &Folder) -> Result<(), Diagnostic> {
        let path = folder.target(JOURNAL)?;
        let cannot = |error: io::Error| cannot_write(&path, &error);
        let size = fs::metadata(&path).map_or(0, |meta| meta.len());
        if self.damaged.is_empty() && size <= MOST_BYTES as u64 {
            return Ok(());
        }
        if !self.damaged.is_empty() {
            let aside = folder.target(DAMAGED)?;
            fs::copy(&path, &aside).map_err(cannot)?;
        }
        let lines: Vec<String> = self.records.iter().map(|record| sealed(record)).collect();
        let mut first = lines.len();
        let mut bytes = 0;
        while first > 0 && bytes + lines[first - 1].len() <= MOST_BYTES / 2 {
            first -= 1;
            bytes += lines[first].len();
        }
        // The count goes on from the last change, however long it was.
        let last = self.records.iter().rposition(|r| matches!(**r, JournalRecord::Change(_)));
        first = last.map_or(first, |last| first.min(last));
        replace(&path, lines[first..].concat().as_bytes(), &folder.path(OWN)).map_err(cannot)?;
        self.records.drain(..first);
        self.damaged.clear();
        Ok(())
    }
}

/// Bytes of the journal's file.
fn length(folder: &Folder) -> u64 {
    fs::metadata(folder.path(JOURNAL)).map_or(0, |meta| meta.len())
}

/// Takes off what was written last. Only under the lock.
fn cut(folder: &Folder, length: u64) -> io::Result<()> {
    let file = OpenOptions::new().write(true).open(folder.path(JOURNAL))?;
    file.set_len(length)?;
    file.sync_all()
}

const HEAD: &str = "{\"sum\":\"";
const MIDDLE: &str = "\",\"record\":";

fn sealed(record: &JournalRecord) -> String {
    let body = serde_json::to_string(record).expect("plain data");
    format!("{HEAD}{}{MIDDLE}{body}}}\n", sum(&body))
}

fn unsealed(line: &str) -> Option<JournalRecord> {
    let (own, body) = line.strip_prefix(HEAD)?.split_once(MIDDLE)?;
    let body = body.strip_suffix('}')?;
    if own != sum(body) {
        return None;
    }
    serde_json::from_str(body).ok().filter(is_ours)
}

/// Whether we could have written the record. Anyone can seal a line: one that came with somebody
/// else's folder must not lead to files that no change touches.
fn is_ours(record: &JournalRecord) -> bool {
    match record {
        JournalRecord::Change(change) => {
            change.seq < u64::MAX && change.files.iter().all(|file| is_knitters(&file.path))
        }
        JournalRecord::Done(_) | JournalRecord::Dropped(_) => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_goes_there_and_back() {
        let cases = [
            (None, Some("a = 1\n")),
            (Some("a = 1\nb = 2\n"), Some("a = 1\nc = 3\nb = 2\n")),
            (Some("aaa"), Some("aaaa")),
            (Some("é"), Some("è")),
            (Some(""), None),
            (Some("x"), None),
            (None, Some("")),
        ];
        for (before, after) in cases {
            let change = FileChange::between("x", before, after);
            assert_eq!(change.applied(before), Some(after.map(str::to_owned)), "{change:?}");
            assert_eq!(change.reversed().applied(after), Some(before.map(str::to_owned)));
            assert_eq!(change.stand(before), Stand::Before);
            assert_eq!(change.stand(Some("else")), Stand::Elsewhere);
        }
    }

    /// A journal grows by what changed and by no more. Where an entry is put in among others that begin as it
    /// does, it begins at its blank line, its head or its line.
    #[test]
    fn a_change_holds_what_differs_alone() {
        let entries = "[[r]]\nid = 1\n\n[[r]]\nid = 3\n";
        let three = "[[r]]\nid = 1\n\n[[r]]\nid = 2\n\n[[r]]\nid = 3\n";
        let (windows, three_windows) = (entries.replace('\n', "\r\n"), three.replace('\n', "\r\n"));
        for (before, after, at, old, new) in [
            ("a = 1\nb = 2\n", "a = 1\nb = 3\n", 10, "2", "3"),
            ("aaa", "aaaa", 3, "", "a"),
            // Letters are left whole, whichever of their bytes are the same.
            ("é = 1\n", "è = 1\n", 0, "é", "è"),
            ("a = é", "a = ũ", 4, "é", "ũ"),
            (entries, three, 13, "", "\n[[r]]\nid = 2\n"),
            (&windows, &three_windows, 15, "", "\r\n[[r]]\r\nid = 2\r\n"),
            (
                "[a.a]\nx = 1\n[a.c]\n",
                "[a.a]\nx = 1\n[a.b]\nx = 2\n[a.c]\n",
                12,
                "",
                "[a.b]\nx = 2\n",
            ),
            ("a = 1\na = 3\n", "a = 1\na = 2\na = 3\n", 6, "", "a = 2\n"),
        ] {
            let there = FileChange::between("x", Some(before), Some(after));
            assert_eq!((there.at, &*there.old, &*there.new), (at, old, new), "{before:?}");
            let back = FileChange::between("x", Some(after), Some(before));
            assert_eq!((back.at, &*back.old, &*back.new), (at, new, old), "{after:?}");
        }
    }

    fn parse(bytes: &[u8]) -> Journal {
        JournalMemo::default().read(bytes.to_vec())
    }

    fn change(seq: u64) -> Change {
        let files = vec![FileChange::between("stash.toml", Some("a"), Some("b\n\"{}"))];
        let (time, command) = (String::new(), "stash add".to_owned());
        Change { seq, time, command, undoes: None, redoes: None, entries: None, once: None, files }
    }

    #[test]
    fn cut_and_altered_lines_are_noticed_wherever_they_are() {
        let (one, two) =
            (sealed(&JournalRecord::Change(change(1))), sealed(&JournalRecord::Done(1)));
        let whole = format!("{one}{two}");
        assert_eq!(parse(whole.as_bytes()).damaged, Vec::<usize>::new());
        for cut in 1..whole.len() {
            let journal = parse(&whole.as_bytes()[..cut]);
            let at_end = cut == one.len();
            assert_eq!(journal.damaged.is_empty(), at_end, "{cut}: {journal:?}");
            assert_eq!(journal.pending().is_some(), cut >= one.len(), "{cut}");
        }
        assert_eq!(parse(whole.as_bytes()).pending(), None);
        let dropped = format!("{one}{}", sealed(&JournalRecord::Dropped(1)));
        assert_eq!(parse(dropped.as_bytes()).pending(), None);
        let other = format!("{one}{}", sealed(&JournalRecord::Done(2)));
        assert!(parse(other.as_bytes()).pending().is_some());
        let altered = whole.replace("stash add", "stash odd");
        let journal = parse(altered.as_bytes());
        assert_eq!((journal.damaged.as_slice(), journal.changes().count()), (&[1][..], 0));
    }

    /// Anyone can seal a line.
    #[test]
    fn what_is_read_on_is_as_if_read_at_once() {
        let line =
            |seq| sealed(&JournalRecord::Change(change(seq))) + &sealed(&JournalRecord::Done(seq));
        let whole = line(1) + "no line of ours\n\n" + &line(2) + &line(3);
        for first in 0..=whole.len() {
            let memo = JournalMemo::default();
            for bytes in [&whole[..first], &whole, &whole[..first], &whole] {
                assert_eq!(memo.read(bytes.into()), parse(bytes.as_bytes()), "{first}");
            }
        }
        // Another journal of the same length, one that lost its beginning, none.
        let memo = JournalMemo::default();
        let other = line(4) + "no line of ours\n\n" + &line(5) + &line(6);
        assert_eq!(other.len(), whole.len());
        for text in [whole.as_str(), &other, &whole[line(1).len()..], &whole, ""] {
            assert_eq!(memo.read(text.into()), parse(text.as_bytes()));
        }
    }

    #[test]
    fn a_record_that_no_change_of_ours_can_have_made_is_damage() {
        let damaged = |seq, path: &str| {
            let mut one = change(seq);
            one.files[0].path = path.to_owned();
            parse(sealed(&JournalRecord::Change(one)).as_bytes()).damaged
        };
        assert!(damaged(u64::MAX - 1, "yarns/slate.toml").is_empty());
        assert_eq!(damaged(u64::MAX, "yarns/slate.toml"), [1]);
        assert_eq!(damaged(1, "../stash.toml"), [1]);
    }

    /// Lines as the first version wrote them.
    #[test]
    fn a_journal_of_the_first_version_is_read_and_written_the_same() {
        let written = concat!(
            r#"{"sum":"d59ea0097ed12996","record":{"change":{"seq":1,"time":"2026-11-29T16:48:38Z","#,
            r#""command":"stash change","files":[{"path":"stash.toml","before":"5abe16ab7ef8e8c2","#,
            r#""after":"c334ef2d3d377d40","at":178,"old":"7","new":"5"}]}}}"#,
            "\n",
            r#"{"sum":"fc1e606af863de9e","record":{"done":1}}"#,
            "\n",
            r#"{"sum":"cbaaa976302547b5","record":{"change":{"seq":2,"time":"2026-11-29T16:48:38Z","#,
            r#""command":"undo","undoes":1,"files":[{"path":"stash.toml","before":"c334ef2d3d377d40","#,
            r#""after":"5abe16ab7ef8e8c2","at":178,"old":"5","new":"7"}]}}}"#,
            "\n",
            r#"{"sum":"fc21606af8661475","record":{"done":2}}"#,
            "\n",
        );
        let journal = parse(written.as_bytes());
        assert_eq!((journal.damaged.as_slice(), journal.records.len()), (&[][..], 4));
        assert_eq!(journal.steps().1.last().map(|step| step.change.seq), Some(1));
        assert_eq!(
            journal.records.iter().map(|record| sealed(record)).collect::<String>(),
            written
        );
    }

    /// A file before and after each change, whatever it is about.
    fn between(seq: u64, before: Option<&str>, after: Option<&str>) -> Change {
        Change { files: vec![FileChange::between("stash.toml", before, after)], ..change(seq) }
    }

    fn later(all: &[Change]) -> impl Iterator<Item = Later<'_>> {
        all.iter().map(|change| Later { change, file: &change.files[0] })
    }

    #[test]
    fn the_way_back_goes_round_what_came_later() {
        let texts = ["a = 1\nb = 2\nc = 3\n", "a = 1\nb = 5\nc = 3\n", "a = 100\nb = 5\nc = 3\n"];
        let last = "a = 100\nb = 5\nc = 4\n";
        let made = |seq, from, to| between(seq, Some(from), Some(to));
        let own = &made(1, texts[0], texts[1]).files[0];
        let others = [made(2, texts[1], texts[2]), made(3, texts[2], last)];
        let back = own.back_past(later(&others), Some(last)).expect("a way");
        let gone = back.applied(Some(last));
        assert_eq!(gone, Some(Some("a = 100\nb = 2\nc = 4\n".to_owned())));
        // What a later change wrote in its place is not taken for its own.
        let same = [made(2, texts[1], "a = 1\nb = 7\nc = 3\n")];
        let way = own.back_past(later(&same), Some("a = 1\nb = 7\nc = 3\n"));
        assert_eq!(way, Err(Some(&same[0])));
        // By hand: between the two, and since.
        let odd = [made(2, "a = 1\nb = 5\nc = 9\n", "a = 2\nb = 5\nc = 9\n")];
        assert_eq!(own.back_past(later(&odd), Some("a = 2\nb = 5\nc = 9\n")), Err(None));
        assert_eq!(own.back_past(later(&[]), Some("a = 1\nb = 5\nc = 9\n")), Err(None));
        assert_eq!(own.back_past(later(&others[..1]), Some("a = 101\nb = 5\nc = 3\n")), Err(None));
        // To and fro is no matter.
        let fro = [made(2, texts[1], texts[2]), made(3, texts[2], texts[1])];
        assert_eq!(own.back_past(later(&fro), Some(texts[1])), Ok(own.reversed()));
        // A file that came with it can't go while something else stands in it.
        let came = &between(1, None, Some(texts[1])).files[0];
        let longer = format!("{}d = 6\n", texts[1]);
        let more = [made(2, texts[1], &longer)];
        assert_eq!(came.back_past(later(&more), Some(&longer)), Err(Some(&more[0])));
        assert_eq!(own.applied(Some("a = 9\nb = 2\nc = 3\n")), None, "made for another text");
    }

    fn holding(records: impl IntoIterator<Item = JournalRecord>) -> Journal {
        Journal { records: records.into_iter().map(Arc::new).collect(), ..Journal::default() }
    }

    #[test]
    fn what_was_dropped_or_taken_back_is_as_if_it_had_not_been() {
        let one = || JournalRecord::Change(Change { once: Some("key-add".into()), ..change(4) });
        let dropped = holding([one(), JournalRecord::Change(change(5)), JournalRecord::Dropped(5)]);
        assert_eq!((dropped.number(), dropped.next_seq()), (4, 6));
        assert_eq!((dropped.of(5), dropped.since(4)), (None, Vec::new()));
        assert!(dropped.reaches_back_to(3) && !dropped.reaches_back_to(2));
        assert!(Journal::default().reaches_back_to(0));
        let undo = |seq| JournalRecord::Change(Change { undoes: Some(4), ..change(seq) });
        let redo = |seq| JournalRecord::Change(Change { redoes: Some(4), ..change(seq) });
        let number = |journal: &Journal, key| journal.once(key).map(|change| change.seq);
        assert_eq!(number(&holding([one()]), "key-other"), Some(4));
        let back = holding([one(), undo(5)]);
        assert_eq!((back.since(3), number(&back, "key-add")), (Vec::new(), None));
        let again = holding([one(), undo(5), redo(6)]);
        assert_eq!((again.since(3).len(), number(&again, "key-add")), (1, Some(4)));
    }

    /// A workspace whose journal holds this.
    fn kept(text: &str) -> (tempfile::TempDir, Folder) {
        let root = tempfile::tempdir().expect("a folder");
        fs::create_dir(root.path().join(OWN)).expect("made");
        fs::write(root.path().join("oddments.toml"), "").expect("written");
        fs::write(root.path().join(JOURNAL), text).expect("written");
        let folder = Folder::find(Some(root.path())).expect("found").expect("a workspace");
        (root, folder)
    }

    #[test]
    fn a_damaged_journal_is_set_aside_and_gone_on_with() {
        let whole = sealed(&JournalRecord::Change(change(1)));
        let torn = format!("{whole}{{\"sum\"");
        let (root, folder) = kept(&torn);
        let mut journal = Journal::read(&folder).expect("read");
        assert_eq!((journal.damaged.as_slice(), journal.pending().is_some()), (&[2][..], true));
        // A mark goes on a line of its own.
        journal.done(&folder, 1);
        let mut journal = Journal::read(&folder).expect("read");
        assert_eq!((journal.damaged.as_slice(), journal.pending()), (&[2][..], None));
        journal.begin(&folder, change(2)).expect("begun");
        assert!(journal.damaged.is_empty());
        let aside = fs::read_to_string(root.path().join(DAMAGED)).expect("set aside");
        assert!(aside.starts_with(&torn));
        let journal = Journal::read(&folder).expect("read");
        assert_eq!((journal.damaged.len(), journal.number()), (0, 2));
    }

    #[test]
    fn what_is_not_made_after_all_leaves_nothing() {
        let whole = sealed(&JournalRecord::Change(change(1))) + &sealed(&JournalRecord::Done(1));
        let (root, folder) = kept(&whole);
        let mut journal = Journal::read(&folder).expect("read");
        journal.begin(&folder, change(2)).expect("begun");
        journal.drop_change(&folder, 2).expect("dropped");
        assert_eq!(fs::read_to_string(root.path().join(JOURNAL)).expect("read"), whole);
        assert_eq!((journal.next_seq(), journal.pending()), (2, None));
    }

    /// The oldest go, the last one stays however long it is, and the count goes on.
    #[test]
    fn a_long_journal_forgets_the_oldest() {
        for (many, size, stay) in [(9, 1 << 19, 4..=9), (2, 3 << 20, 2..=2)] {
            let (long, mut text) = ("x".repeat(size), String::new());
            for seq in 1..=many {
                text += &sealed(&JournalRecord::Change(between(seq, Some(""), Some(&long))));
                text += &sealed(&JournalRecord::Done(seq));
            }
            assert!(text.len() > MOST_BYTES);
            let (root, folder) = kept(&text);
            let mut journal = Journal::read(&folder).expect("read");
            journal.begin(&folder, change(many + 1)).expect("begun");
            let read = Journal::read(&folder).expect("read");
            assert_eq!(read.records, journal.records);
            let left = fs::metadata(root.path().join(JOURNAL)).expect("there").len();
            assert!(left < MOST_BYTES as u64, "{left}");
            let first = read.changes().next().expect("one").seq;
            assert!(stay.contains(&first), "from {first} on");
            assert_eq!((read.next_seq(), read.reaches_back_to(0)), (many + 2, false));
        }
    }

    #[test]
    fn undo_walks_back_and_redo_walks_forward() {
        let mut journal = Journal::default();
        let mut add = |seq, undoes, redoes| {
            let own = Change { undoes, redoes, ..change(seq) };
            journal.records.push(Arc::new(JournalRecord::Change(own)));
            let (done, undone) = journal.steps();
            let next = |steps: &[Step<'_>]| {
                steps.last().filter(|step| !step.stale).map(|step| step.change.seq)
            };
            (next(&done), next(&undone))
        };
        assert_eq!(add(1, None, None), (Some(1), None));
        assert_eq!(add(2, None, None), (Some(2), None));
        assert_eq!(add(3, Some(2), None), (Some(1), Some(2)));
        assert_eq!(add(4, Some(1), None), (None, Some(1)));
        assert_eq!(add(5, None, Some(1)), (Some(1), Some(2)));
        assert_eq!(add(6, None, None), (Some(6), None));
    }
}
