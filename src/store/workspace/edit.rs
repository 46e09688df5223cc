//! Edits to the knitter's files that leave alone what they are not about: comments, order,
//! blanks, line ends.

use std::collections::BTreeMap;

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

use super::folder::{SETTINGS, Snapshot};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::stash::{FinishedPiece, Reservation};
use units::Mass;

/// A file that is a list of entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum List {
    Stash,
    People,
    Gifts,
    Records,
    Plan,
}

impl List {
    pub(super) const fn path(self) -> &'static str {
        match self {
            List::Stash => "stash.toml",
            List::People => "people.toml",
            List::Gifts => "gifts.toml",
            List::Records => "records.toml",
            List::Plan => "plan.toml",
        }
    }

    /// The name of its tables, and the key an entry is known by.
    const fn names(self) -> (&'static str, &'static str) {
        match self {
            List::Stash => ("remnant", "id"),
            List::People => ("person", "name"),
            List::Gifts => ("gift", "id"),
            List::Records => ("record", ""),
            List::Plan => ("reservation", ""),
        }
    }
}

/// A value to write.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    Text(String),
    Whole(i64),
    Number(f64),
    Flag(bool),
    Texts(Vec<String>),
    /// Keys of a table inside the entry; those not named stay, an empty list takes one out.
    Merge(Vec<(String, Given)>),
    /// In braces on one line.
    Table(Vec<(String, Given)>),
    /// A `[[name]]` each.
    Tables(Vec<Vec<(String, Given)>>),
    /// Takes the key out.
    Nothing,
}

impl Given {
    pub fn text(text: impl Into<String>) -> Given {
        Given::Text(text.into())
    }

    /// Whether it takes a key out.
    pub fn is_nothing(&self) -> bool {
        match self {
            Given::Nothing => true,
            Given::Text(text) => text.is_empty(),
            Given::Texts(texts) => texts.is_empty(),
            _ => false,
        }
    }

    /// As it would be typed after `--set NAME=`: numbers and true or false bare.
    pub fn typed(text: &str) -> Given {
        match (text.parse::<i64>(), text.parse::<f64>(), text.parse::<bool>()) {
            (Ok(number), ..) if number.to_string() == text => Given::Whole(number),
            (_, Ok(number), _) if number.is_finite() && number.to_string() == text => {
                Given::Number(number)
            }
            (.., Ok(flag)) => Given::Flag(flag),
            _ => Given::text(text),
        }
    }
}

/// Keys and values of an entry, in order.
pub type Fields = Vec<(String, Given)>;

/// One step of a change.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A new entry at the end of a list.
    Add { list: List, fields: Fields },
    /// Sets keys of an entry; those not named stay.
    Change { list: List, key: String, fields: Fields },
    /// Takes an entry out, with the comment that stands on it.
    Remove { list: List, key: String },
    /// Takes all entries out.
    Clear { list: List },
    /// Sets keys at the top of a file (`yarns/ID.toml`, the settings), which is made if need be.
    Set { path: String, fields: Fields },
    /// Adds tables to a list inside a file, such as `[[swatch]]`.
    Append { path: String, name: String, fields: Fields },
    /// Takes the file away.
    Delete { path: String },
}

impl Edit {
    /// Notes a finished piece.
    pub fn record(piece: &FinishedPiece) -> Edit {
        let text = |text: &String| Given::text(text);
        let mut fields: Fields = vec![
            ("garment".into(), text(&piece.garment)),
            ("size".into(), text(&piece.size)),
            ("yarn".into(), text(&piece.yarn)),
        ];
        fields.extend(piece.machine.as_ref().map(|id| ("machine".into(), text(id))));
        fields.extend(piece.swatch.as_ref().map(|id| ("swatch".into(), text(id))));
        if !piece.options.is_empty() {
            let options = piece.options.iter().map(|(k, v)| (k.clone(), Given::typed(v)));
            fields.push(("options".into(), Given::Table(options.collect())));
        }
        let sections = piece.sections.iter().map(|section| {
            let weights = vec![
                ("before".to_owned(), Given::text(section.before.to_string())),
                ("after".to_owned(), Given::text(section.after.to_string())),
            ];
            (section.name.clone(), Given::Table(weights))
        });
        fields.push(("sections".into(), Given::Table(sections.collect())));
        fields.extend(piece.date.map(|date| ("date".into(), Given::text(date.to_string()))));
        fields.extend(piece.note.as_ref().map(|note| ("note".into(), text(note))));
        Edit::Add { list: List::Records, fields }
    }

    /// A remnant that weighs something else now.
    pub fn reweigh(remnant: &str, weight: Mass) -> Edit {
        let fields = vec![("weight".to_owned(), Given::text(weight.to_string()))];
        Edit::Change { list: List::Stash, key: remnant.to_owned(), fields }
    }

    /// Puts a plan's reservations in the place of all there are.
    pub fn replace_plan(reservations: &[Reservation]) -> Vec<Edit> {
        let adds = reservations.iter().map(|reserved| Edit::Add {
            list: List::Plan,
            fields: vec![
                ("gift".into(), Given::text(&reserved.gift)),
                ("section".into(), Given::text(&reserved.section)),
                ("remnant".into(), Given::text(&reserved.remnant)),
                ("weight".into(), Given::text(reserved.weight.to_string())),
            ],
        });
        std::iter::once(Edit::Clear { list: List::Plan }).chain(adds).collect()
    }
}

/// The files a change touches, as they will be.
pub(super) struct Edits<'a> {
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

/// The first line of a new file: the convention by which editors find a schema.
pub(super) fn header(path: &str) -> String {
    let up = if path.contains('/') { "../" } else { "./" };
    match schema_name(path) {
        Some(name) => format!("#:schema {up}.oddments/schemas/{name}.json\n"),
        None => String::new(),
    }
}

/// Which schema a file of the workspace follows.
pub(super) fn schema_name(path: &str) -> Option<&str> {
    match path.split_once('/') {
        Some(("yarns", _)) => Some("yarn"),
        Some(("swatches", _)) => Some("swatch"),
        Some(("size-tables", _)) => Some("size-table"),
        Some(_) => None,
        None if path == SETTINGS => Some("oddments"),
        None => path.strip_suffix(".toml"),
    }
}

fn parsed(path: &str, text: &str) -> Result<DocumentMut, Diagnostic> {
    text.strip_prefix('\u{feff}').unwrap_or(text).parse().map_err(|_| {
        Diagnostic::error(Code::Toml, format!("{path} is not sound TOML: it is left as it is"))
            .hint("mend it first; `oddments stash list` tells where")
    })
}

fn array<'d>(
    document: &'d mut DocumentMut,
    name: &str,
    path: &str,
) -> Result<&'d mut ArrayOfTables, Diagnostics> {
    let empty = document
        .get(name)
        .is_some_and(|item| item.as_array().is_some_and(|a| a.is_empty()) || item.is_none());
    if empty {
        document.remove(name);
    }
    let item = document.entry(name).or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
    Ok(item.as_array_of_tables_mut().ok_or_else(|| {
        Diagnostic::error(
            Code::OneLineList,
            format!("{path} lists its entries as `{name} = [...]`"),
        )
        .hint(format!("write each as a [[{name}]] table of its own, so that it can be changed"))
    })?)
}

fn table_of(fields: &Fields) -> Table {
    let mut table = Table::new();
    set(&mut table, fields);
    table
}

fn set(table: &mut Table, fields: &Fields) {
    for (key, given) in fields {
        match given {
            Given::Nothing => {
                table.remove(key);
            }
            Given::Tables(all) => {
                let mut tables = ArrayOfTables::new();
                tables.extend(all.iter().map(table_of));
                table.insert(key, Item::ArrayOfTables(tables));
            }
            Given::Merge(inner) if table.get(key).is_some_and(Item::is_table_like) => {
                let empty = merge(table.get_mut(key).and_then(Item::as_table_like_mut), inner);
                if empty {
                    table.remove(key);
                }
            }
            Given::Merge(inner) if inner.iter().all(|(_, given)| is_empty(given)) => {}
            other => {
                let mut value = value_of(other);
                match table.get_mut(key) {
                    Some(item) => {
                        // What stands behind the old value (a comment) stays behind the new one.
                        if let Some(old) = item.as_value() {
                            *value.decor_mut() = old.decor().clone();
                        }
                        *item = Item::Value(value);
                    }
                    None => {
                        table.insert(key, Item::Value(value));
                    }
                }
            }
        }
    }
}

fn is_empty(given: &Given) -> bool {
    matches!(given, Given::Nothing) || matches!(given, Given::Texts(texts) if texts.is_empty())
}

/// Sets keys of an inner table. Gives whether nothing is left in it.
fn merge(table: Option<&mut dyn toml_edit::TableLike>, fields: &Fields) -> bool {
    let Some(table) = table else { return false };
    for (key, given) in fields {
        if is_empty(given) {
            table.remove(key);
            continue;
        }
        let mut value = value_of(given);
        match table.get_mut(key) {
            Some(item) => {
                if let Some(old) = item.as_value() {
                    *value.decor_mut() = old.decor().clone();
                }
                *item = Item::Value(value);
            }
            None => {
                table.insert(key, Item::Value(value));
            }
        }
    }
    table.is_empty()
}

fn value_of(given: &Given) -> Value {
    match given {
        Given::Text(text) => text.as_str().into(),
        Given::Whole(number) => (*number).into(),
        Given::Number(number) => (*number).into(),
        Given::Flag(flag) => (*flag).into(),
        Given::Texts(texts) => texts.iter().map(String::as_str).collect::<Array>().into(),
        Given::Table(fields) | Given::Merge(fields) => {
            let mut table = InlineTable::new();
            for (key, given) in fields.iter().filter(|(_, given)| !is_empty(given)) {
                table.insert(key, value_of(given));
            }
            table.into()
        }
        Given::Tables(_) | Given::Nothing => Array::new().into(),
    }
}

/// The old text with only that replaced which the edit changed. The editor under us writes all
/// line ends as `\n` and drops a byte order mark: outside the edit, not one byte is to differ.
fn woven(path: &str, before: &str, after: &str) -> Result<String, Diagnostic> {
    let (mark, body) = match before.strip_prefix('\u{feff}') {
        Some(body) => ("\u{feff}", body),
        None => ("", before),
    };
    let plain = parsed(path, body)?.to_string();
    if plain != body.replace("\r\n", "\n") {
        return Err(Diagnostic::error(
            Code::UnsafeEdit,
            format!("{path} is written in a way that can't be edited without altering the rest"),
        )
        .hint("make the change by hand"));
    }
    let start = plain.bytes().zip(after.bytes()).take_while(|(a, b)| a == b).count();
    let most = plain.len().min(after.len()) - start;
    let ends = plain.bytes().rev().zip(after.bytes().rev()).take(most);
    let end = ends.take_while(|(a, b)| a == b).count();
    // Back to the lines' ends, so that neither a letter nor a line end is cut in two.
    let start = plain[..floor(&plain, start)].rfind('\n').map_or(0, |i| i + 1);
    let tail = ceiling(&plain, plain.len() - end);
    let tail = plain[tail..].find('\n').map_or(plain.len(), |i| tail + i + 1);
    let end = plain.len() - tail;
    let middle = &after[start.min(after.len())..after.len() - end.min(after.len() - start)];
    let crlf = body.find('\n').is_some_and(|i| body[..i].ends_with('\r'));
    let middle = if crlf { middle.replace('\n', "\r\n") } else { middle.to_owned() };
    Ok(format!("{mark}{}{middle}{}", &body[..original(body, start)], &body[original(body, tail)..]))
}

fn floor(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn ceiling(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at += 1;
    }
    at
}

/// Where the byte `at` of the text with plain line ends is in the text itself. `at` begins a
/// line, or is the end.
fn original(text: &str, at: usize) -> usize {
    let mut plain = 0;
    let mut here = 0;
    for line in text.split_inclusive('\n') {
        if plain >= at {
            break;
        }
        here += line.len();
        plain += line.len() - usize::from(line.ends_with("\r\n"));
    }
    here
}

#[cfg(test)]
mod tests {
    use super::*;

    const STASH: &str = "# The stash.\n\n[[remnant]]\nid   = 'a'   # by the door\nyarn = \"slate\"\n\
        weight = \"20 g\" # weighed\n\n# The good one.\n[[remnant]]\nid = \"b\"\nyarn = \"slate\"\n\
        weight = \"30 g\"\n# The end.\n";

    fn edited(text: &str, edits: &[Edit]) -> String {
        let mut before = Snapshot::default();
        before.texts.insert("stash.toml".into(), text.into());
        let mut all = Edits::new(&before, false);
        for edit in edits {
            all.apply(edit).expect("applies");
        }
        let mut texts = all.finish().expect("woven");
        texts.remove("stash.toml").flatten().unwrap_or_else(|| text.to_owned())
    }

    fn weight(key: &str, weight: &str) -> Edit {
        Edit::reweigh(key, weight.parse().expect("a mass"))
    }

    fn add(id: &str) -> Edit {
        let fields = [("id", id), ("yarn", "slate"), ("weight", "5 g")];
        let fields = fields.map(|(k, v)| (k.to_owned(), Given::text(v))).to_vec();
        Edit::Add { list: List::Stash, fields }
    }

    fn remove(key: &str) -> Edit {
        Edit::Remove { list: List::Stash, key: key.into() }
    }

    #[test]
    fn a_change_leaves_every_other_byte_alone() {
        assert_eq!(edited(STASH, &[weight("a", "12 g")]), STASH.replace("20 g", "12 g"));
        let crlf = STASH.replace('\n', "\r\n");
        assert_eq!(edited(&crlf, &[weight("b", "12 g")]), crlf.replace("30 g", "12 g"));
        let marked = format!("\u{feff}{STASH}");
        assert_eq!(edited(&marked, &[weight("b", "12 g")]), marked.replace("30 g", "12 g"));
        // One odd line end among others stays odd.
        let mixed = STASH.replace("'a'   # by the door\n", "'a'   # by the door\r\n");
        assert_eq!(edited(&mixed, &[weight("b", "12 g")]), mixed.replace("30 g", "12 g"));
    }

    #[test]
    fn a_new_entry_comes_last_and_the_old_ones_are_as_they_were() {
        let text = edited(STASH, &[add("c")]);
        let new = "\n[[remnant]]\nid = \"c\"\nyarn = \"slate\"\nweight = \"5 g\"\n";
        assert_eq!(text, STASH.replace("# The end.\n", "") + new + "# The end.\n");
    }

    #[test]
    fn an_entry_goes_with_its_comment_and_no_other() {
        let without_a = "# The stash.\n\n# The good one.\n[[remnant]]\nid = \"b\"\nyarn = \"slate\"\n\
            weight = \"30 g\"\n# The end.\n";
        assert_eq!(edited(STASH, &[remove("a")]), without_a);
        let text = edited(STASH, &[remove("b")]);
        assert!(text.starts_with(&STASH[..STASH.find("\n# The good").expect("there")]), "{text}");
        assert!(!text.contains("good one") && text.ends_with("# The end.\n"), "{text}");
        let text = edited(STASH, &[remove("a"), remove("b")]);
        assert!(text.starts_with("# The stash.\n") && text.contains("# The end."), "{text}");
        assert!(!text.contains("remnant") && !text.contains("good one"), "{text}");
    }

    #[test]
    fn what_is_not_there_is_said_with_the_nearest() {
        let mut before = Snapshot::default();
        before.texts.insert("stash.toml".into(), STASH.replace("'a'", "'skerry-1'"));
        let mut edits = Edits::new(&before, false);
        let fault = edits.apply(&remove("skery-1")).expect_err("not there");
        assert!(fault.to_string().contains("did you mean `skerry-1`?"), "{fault}");
    }
}
