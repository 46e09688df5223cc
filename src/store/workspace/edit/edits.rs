//! Steps of a change made to the parsed files.

use std::collections::BTreeMap;

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table};

use super::list::List;
use super::schema_line::header;
use super::step::Edit;
use super::tables::{array, set, table_of};
use super::woven::{parsed, woven};
use crate::workspace::folder::Snapshot;
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// The files a change touches, as they will be.
pub(crate) struct Edits<'a> {
    before: &'a Snapshot,
    /// By path: the parsed text, or `None` for a file that goes.
    documents: BTreeMap<String, Option<DocumentMut>>,
    /// Whether new files name their schema.
    schemas: bool,
}

impl<'a> Edits<'a> {
    pub fn new(before: &'a Snapshot, schemas: bool) -> Self {
        Edits { before, documents: BTreeMap::new(), schemas }
    }

    /// # Errors
    /// A file that isn't TOML, an entry that isn't there or is there already, a list that is
    /// written in one line.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), Diagnostics> {
        match edit {
            Edit::Add { list, fields } => {
                let entries = self.entries(*list)?;
                entries.push(table_of(fields));
            }
            Edit::Change { list, key, fields } => {
                let at = self.position(*list, key)?;
                let entries = self.entries(*list)?;
                if let Some(table) = entries.get_mut(at) {
                    set(table, fields);
                }
            }
            Edit::Remove { list, key } => {
                let at = self.position(*list, key)?;
                self.remove(*list, at)?;
            }
            Edit::RemoveWhere { list, key, values } => {
                let said = |table: &Table| {
                    let text = table.get(key).and_then(Item::as_str);
                    text.is_some_and(|text| values.iter().any(|value| value == text.trim()))
                };
                let entries = self.entries(*list)?.iter().enumerate();
                let gone: Vec<usize> =
                    entries.filter(|(_, table)| said(table)).map(|(at, _)| at).collect();
                for at in gone.into_iter().rev() {
                    self.remove(*list, at)?;
                }
            }
            Edit::Clear { list } => {
                for at in (0..self.entries(*list)?.len()).rev() {
                    self.remove(*list, at)?;
                }
            }
            Edit::Set { path, fields } => set(self.document(path)?.as_table_mut(), fields),
            Edit::Append { path, name, fields } => {
                let document = self.document(path)?;
                array(document, name, path)?.push(table_of(fields));
            }
            Edit::Delete { path } => {
                if !self.before.texts.contains_key(path) {
                    let fault = Diagnostic::error(Code::Nothing, format!("there is no {path}"));
                    return Err(fault.hint("is the id right?").into());
                }
                self.documents.insert(path.clone(), None);
            }
            // Made on the texts before they are parsed.
            Edit::Rename { .. } => {}
        }
        Ok(())
    }

    /// What each file touched will hold; `None`: it goes.
    pub fn finish(self) -> Result<BTreeMap<String, Option<String>>, Diagnostics> {
        let mut texts = BTreeMap::new();
        for (path, document) in self.documents {
            let before = self.before.texts.get(&path);
            let text = match document {
                None => None,
                Some(document) => {
                    let after = document.to_string();
                    Some(match before {
                        Some(before) => woven(&path, before, &after)?,
                        None => after,
                    })
                }
            };
            if text.as_ref() != before {
                texts.insert(path, text);
            }
        }
        Ok(texts)
    }

    fn document(&mut self, path: &str) -> Result<&mut DocumentMut, Diagnostics> {
        if let Some(fault) = self.before.unreadable.get(path) {
            return Err(fault.clone().into());
        }
        if !self.documents.contains_key(path) {
            let document = match self.before.texts.get(path) {
                Some(text) => parsed(path, text)?,
                None => parsed(path, &if self.schemas { header(path) } else { String::new() })?,
            };
            self.documents.insert(path.to_owned(), Some(document));
        }
        let gone = || Diagnostic::error(Code::Nothing, format!("{path} goes in the same change"));
        Ok(self.documents.get_mut(path).and_then(Option::as_mut).ok_or_else(gone)?)
    }

    fn entries(&mut self, list: List) -> Result<&mut ArrayOfTables, Diagnostics> {
        array(self.document(list.path())?, list.names().0, list.path())
    }

    fn position(&mut self, list: List, key: &str) -> Result<usize, Diagnostics> {
        let (what, name) = list.names();
        let entries = self.entries(list)?;
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

    /// What stands above an entry up to the last blank line is not about that entry: it stays.
    fn remove(&mut self, list: List, at: usize) -> Result<(), Diagnostics> {
        let document = self.document(list.path())?;
        let first_of_file = document.as_table().len() == 1 && at == 0;
        let entries = array(document, list.names().0, list.path())?;
        let Some(gone) = entries.get(at) else { return Ok(()) };
        let above = gone.decor().prefix().and_then(|p| p.as_str()).unwrap_or("").to_owned();
        let kept = match above.rfind("\n\n") {
            // A blank line above the entry belongs to the entry.
            Some(end) => &above[..end],
            None if first_of_file => above.trim_end_matches('\n'),
            None => "",
        };
        let kept = kept.trim_start_matches('\n').to_owned();
        let leading = first_of_file && !kept.is_empty();
        entries.remove(at);
        if kept.trim().is_empty() {
            return Ok(());
        }
        match entries.get_mut(at) {
            Some(next) => {
                let own = next.decor().prefix().and_then(|p| p.as_str()).unwrap_or("\n");
                let gap = if own.starts_with('\n') { "" } else { "\n" };
                let lead = if leading { "" } else { "\n" };
                let prefix = format!("{lead}{kept}\n{gap}{own}");
                next.decor_mut().set_prefix(prefix);
            }
            None => {
                let own = document.trailing().as_str().unwrap_or("").to_owned();
                let lead = if leading { "" } else { "\n" };
                document.set_trailing(format!("{lead}{kept}\n{own}"));
            }
        }
        Ok(())
    }
}
