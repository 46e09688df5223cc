//! Steps of a change made to the parsed files.

use std::collections::{BTreeMap, BTreeSet};

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table};

use super::comments::{Above, without_first_blanks};
use super::given::Fields;
use super::line_ends::LineEnds;
use super::list::List;
use super::schema_line::header;
use super::step::Edit;
use super::tables::{array, differing, prefix_of, push, put_before, set};
use super::top::topped;
use crate::workspace::folder::Snapshot;
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// The files a change touches, as they will be.
pub(crate) struct Edits<'a> {
    before: &'a Snapshot,
    /// By path; `None` for a file that goes.
    opened: BTreeMap<String, Option<Opened>>,
    /// Whether new files name their schema.
    schemas: bool,
}

/// A file being edited.
struct Opened {
    document: DocumentMut,
    ends: LineEnds,
    /// Entries that go, unless the change adds their like again.
    cleared: Option<(List, BTreeSet<usize>)>,
}

impl<'a> Edits<'a> {
    pub fn new(before: &'a Snapshot, schemas: bool) -> Self {
        Edits { before, opened: BTreeMap::new(), schemas }
    }

    /// # Errors
    /// A file that isn't TOML, an entry that isn't there or is there already, a list that is
    /// written in one line.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), Diagnostics> {
        match edit {
            Edit::Add { list, fields } => {
                let opened = self.open(list.path())?;
                if !opened.taken_back(*list, fields)? {
                    topped(&mut opened.document, |document| {
                        push(document, list.names().0, list.path(), fields)
                    })?;
                }
            }
            Edit::Change { list, key, fields } => {
                let opened = self.opened_whole(list.path())?;
                let at = opened.position(*list, key)?;
                let entries = opened.entries(*list)?;
                let homeless = entries.get_mut(at).map(|table| set(table, fields));
                opened.put_before(*list, at + 1, &homeless.unwrap_or_default())?;
            }
            Edit::Remove { list, key } => {
                let opened = self.opened_whole(list.path())?;
                let at = opened.position(*list, key)?;
                opened.remove(*list, at)?;
            }
            Edit::RemoveWhere { list, key, values } => {
                let said = |table: &Table| {
                    let text = table.get(key).and_then(Item::as_str);
                    text.is_some_and(|text| values.iter().any(|value| value == text.trim()))
                };
                let opened = self.opened_whole(list.path())?;
                let entries = opened.entries(*list)?.iter().enumerate();
                let going = entries.filter(|(_, table)| said(table)).map(|(at, _)| at).collect();
                opened.cleared = Some((*list, going));
            }
            Edit::Set { path, fields } => {
                let document = &mut self.opened_whole(path)?.document;
                let homeless = topped(document, |document| set(document.as_table_mut(), fields));
                if !homeless.trim().is_empty() {
                    let end = document.trailing().as_str().unwrap_or("").to_owned();
                    document.set_trailing(Above { kept: &homeless, blank: "" }.before_end(&end));
                }
            }
            Edit::Append { path, name, fields } => {
                topped(&mut self.opened_whole(path)?.document, |document| {
                    push(document, name, path, fields)
                })?;
            }
            Edit::Delete { path } => {
                if !self.before.texts.contains_key(path) {
                    let fault = Diagnostic::error(Code::Nothing, format!("there is no {path}"));
                    return Err(fault.hint("is the id right?").into());
                }
                self.opened.insert(path.clone(), None);
            }
            // Made on the texts before they are parsed.
            Edit::Rename { .. } => {}
        }
        Ok(())
    }

    /// What each file touched will hold; `None`: it goes.
    pub fn finish(self) -> Result<BTreeMap<String, Option<String>>, Diagnostics> {
        let mut texts = BTreeMap::new();
        for (path, opened) in self.opened {
            let text = match opened {
                None => None,
                Some(mut opened) => {
                    opened.clear()?;
                    Some(opened.ends.written(&mut opened.document))
                }
            };
            if text.as_ref() != self.before.texts.get(&path) {
                texts.insert(path, text);
            }
        }
        Ok(texts)
    }

    fn open(&mut self, path: &str) -> Result<&mut Opened, Diagnostics> {
        if let Some(fault) = self.before.unreadable.get(path) {
            return Err(fault.clone().into());
        }
        if !self.opened.contains_key(path) {
            let (document, ends) = match self.before.texts.get(path) {
                Some(text) => LineEnds::parsed(path, text)?,
                None => LineEnds::parsed(
                    path,
                    &if self.schemas { header(path) } else { String::new() },
                )?,
            };
            let opened = Opened { document, ends, cleared: None };
            self.opened.insert(path.to_owned(), Some(opened));
        }
        let gone = || Diagnostic::error(Code::Nothing, format!("{path} goes in the same change"));
        Ok(self.opened.get_mut(path).and_then(Option::as_mut).ok_or_else(gone)?)
    }

    /// As [`open`](Self::open), with what was to go gone.
    fn opened_whole(&mut self, path: &str) -> Result<&mut Opened, Diagnostics> {
        let opened = self.open(path)?;
        opened.clear()?;
        Ok(opened)
    }
}

impl Opened {
    fn entries(&mut self, list: List) -> Result<&mut ArrayOfTables, Diagnostics> {
        array(&mut self.document, list.names().0, list.path())
    }

    fn position(&mut self, list: List, key: &str) -> Result<usize, Diagnostics> {
        let (what, name) = list.names();
        let entries = self.entries(list)?;
        if list == List::Records {
            let nth = key.parse::<usize>().ok().and_then(|nth| nth.checked_sub(1));
            return Ok(nth.filter(|nth| *nth < entries.len()).ok_or_else(|| {
                Diagnostic::error(Code::Nothing, format!("there is no {what} number {key}"))
                    .hint(format!("{} has {} of them", list.path(), entries.len()))
            })?);
        }
        let keys: Vec<&str> = entries
            .iter()
            .map(|table| table.get(name).and_then(Item::as_str).unwrap_or_default())
            .collect();
        let found = keys.iter().position(|own| own.trim() == key);
        Ok(found.ok_or_else(|| {
            let hint = match nearest(key, keys.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("`list` shows what is in {}", list.path()),
            };
            Diagnostic::error(Code::Nothing, format!("there is no {what} `{key}`")).hint(hint)
        })?)
    }

    /// Whether an entry that was to go is the one to add, or differs in its weight alone. It
    /// stays then, with its place and comments.
    fn taken_back(&mut self, list: List, fields: &Fields) -> Result<bool, Diagnostics> {
        let Some((cleared, mut going)) = self.cleared.take().filter(|(own, _)| *own == list) else {
            self.clear()?;
            return Ok(false);
        };
        let entries = self.entries(list)?;
        let differs = |at: &usize| differing(entries.get(*at)?, fields);
        let same = going.iter().find(|at| differs(at).is_some_and(|keys| keys.is_empty()));
        let near = || going.iter().find(|at| differs(at).is_some_and(|keys| keys == ["weight"]));
        let found = same.or_else(near).copied();
        if let Some(at) = found {
            going.remove(&at);
            entries.get_mut(at).map(|table| set(table, fields));
        }
        self.cleared = Some((cleared, going));
        Ok(found.is_some())
    }

    /// Takes out what is to go.
    fn clear(&mut self) -> Result<(), Diagnostics> {
        let Some((list, going)) = self.cleared.take() else { return Ok(()) };
        going.into_iter().rev().try_for_each(|at| self.remove(list, at))
    }

    /// What stands above an entry up to the last blank line is not about that entry: it stays.
    fn remove(&mut self, list: List, at: usize) -> Result<(), Diagnostics> {
        let first = self.document.as_table().len() == 1 && at == 0;
        let entries = self.entries(list)?;
        let Some(gone) = entries.get(at) else { return Ok(()) };
        let lines = prefix_of(gone).to_owned();
        entries.remove(at);
        let mut above = Above::of(&lines);
        if first && above.blank.is_empty() {
            // The file's own first words.
            above.kept = &lines[..lines.rfind('\n').map_or(0, |end| end + 1)];
        }
        if first
            && above.is_empty()
            && let Some(next) = entries.get_mut(at)
        {
            let lines = without_first_blanks(prefix_of(next)).to_owned();
            next.decor_mut().set_prefix(lines);
        }
        self.put_above(list, at, &above)
    }

    fn put_before(&mut self, list: List, at: usize, lines: &str) -> Result<(), Diagnostics> {
        self.put_above(list, at, &Above { kept: lines, blank: "" })
    }

    /// Puts lines before an entry, or at the end of the file.
    fn put_above(&mut self, list: List, at: usize, above: &Above<'_>) -> Result<(), Diagnostics> {
        if above.is_empty() {
            return Ok(());
        }
        if let Some(next) = self.entries(list)?.get_mut(at) {
            put_before(next, above);
        } else {
            let end = self.document.trailing().as_str().unwrap_or("").to_owned();
            self.document.set_trailing(above.before_end(&end));
        }
        Ok(())
    }
}
