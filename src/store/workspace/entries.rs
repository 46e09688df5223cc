//! Entries of a workspace by name, each with a tag that tells one state of it from another.

use std::collections::BTreeMap;
use std::fmt;

use super::edit::List;
use super::layout::SETTINGS;
use super::sums::sum;
use knit::stash::{Contents, FinishedPiece};

/// What an entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EntryKind {
    /// How the knitter works, as a whole.
    Settings,
    /// A machine profile.
    Machine,
    /// A size of the table.
    Size,
    /// A file of swatches.
    Swatch,
    /// A yarn.
    Yarn,
    /// A remnant of the stash.
    Remnant,
    /// A person.
    Person,
    /// Someone who knits.
    Knitter,
    /// A gift.
    Gift,
    /// A finished piece, known by its own tag: it has no other name.
    Record,
    /// What is set aside for a gift.
    SetAside,
}

impl EntryKind {
    const ALL: [EntryKind; 11] = [
        EntryKind::Settings,
        EntryKind::Machine,
        EntryKind::Size,
        EntryKind::Swatch,
        EntryKind::Yarn,
        EntryKind::Remnant,
        EntryKind::Person,
        EntryKind::Knitter,
        EntryKind::Gift,
        EntryKind::Record,
        EntryKind::SetAside,
    ];

    /// The word in the journal.
    const fn name(self) -> &'static str {
        match self {
            EntryKind::Settings => "settings",
            EntryKind::Machine => "machine",
            EntryKind::Size => "size",
            EntryKind::Swatch => "swatch",
            EntryKind::Yarn => "yarn",
            EntryKind::Remnant => "remnant",
            EntryKind::Person => "person",
            EntryKind::Knitter => "knitter",
            EntryKind::Gift => "gift",
            EntryKind::Record => "record",
            EntryKind::SetAside => "set-aside",
        }
    }
}

/// An entry by name. An empty key stands for all entries of the kind together.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryName {
    /// What it is.
    pub kind: EntryKind,
    /// Its id or name.
    pub key: String,
}

impl EntryName {
    /// One entry.
    pub fn new(kind: EntryKind, key: impl Into<String>) -> EntryName {
        EntryName { kind, key: key.into() }
    }

    /// All entries of a kind.
    pub fn all(kind: EntryKind) -> EntryName {
        EntryName::new(kind, "")
    }

    /// As the journal has it: `remnant/slate-1`.
    pub(super) fn written(&self) -> String {
        format!("{}/{}", self.kind.name(), self.key)
    }

    /// Reads what the alternate form (`{:#}`) writes.
    pub fn read(text: &str) -> Option<EntryName> {
        let (kind, key) = text.split_once('/')?;
        let kind = EntryKind::ALL.into_iter().find(|known| known.name() == kind)?;
        Some(EntryName::new(kind, key))
    }

    /// Whether a change to `other` is one to this.
    pub(super) fn covers(&self, other: &EntryName) -> bool {
        self.kind == other.kind && (self.key.is_empty() || self.key == other.key)
    }
}

impl fmt::Display for EntryName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if f.alternate() {
            return f.write_str(&self.written());
        }
        match (self.kind, self.key.as_str()) {
            (EntryKind::Settings, _) => f.write_str("the settings"),
            (EntryKind::SetAside, "") => f.write_str("what is set aside"),
            (EntryKind::SetAside, gift) => write!(f, "what is set aside for `{gift}`"),
            (EntryKind::Size, "") => f.write_str("the sizes"),
            (EntryKind::Record, _) => f.write_str("the records"),
            (kind, "") => write!(f, "the list of {}s", kind.name()),
            (kind, key) => write!(f, "{} `{key}`", kind.name()),
        }
    }
}

/// The name of a finished piece: it is known by all that it says. Two that are alike to the gram are alike in
/// this too.
pub fn record_name(piece: &FinishedPiece) -> EntryName {
    EntryName::new(EntryKind::Record, sum(&format!("{piece:?}")))
}

/// A sum over all values of an entry: it differs where the entry does. Comments, order and line
/// ends don't count.
pub type Tag = String;

/// Each entry's tag, by name.
pub(super) fn tags(contents: &Contents) -> BTreeMap<EntryName, Tag> {
    let mut tags = BTreeMap::new();
    let mut put = |kind, key: &str, value: &dyn fmt::Debug| {
        tags.insert(EntryName::new(kind, key), sum(&format!("{value:?}")));
    };
    put(EntryKind::Settings, "", &contents.settings);
    for machine in &contents.machines {
        put(EntryKind::Machine, &machine.id, machine);
    }
    for size in contents.sizes.sizes() {
        put(EntryKind::Size, size.id.as_str(), size);
    }
    for (id, swatches) in &contents.swatches {
        put(EntryKind::Swatch, id, &(&swatches.name, &swatches.machine, &swatches.set));
    }
    for (id, yarn) in &contents.yarns {
        put(EntryKind::Yarn, id, yarn);
    }
    for remnant in &contents.remnants {
        put(EntryKind::Remnant, &remnant.id, remnant);
    }
    for person in &contents.people {
        put(EntryKind::Person, &person.name, person);
    }
    for knitter in &contents.knitters {
        put(EntryKind::Knitter, &knitter.name, knitter);
    }
    let mut set_aside: BTreeMap<&str, Vec<_>> = BTreeMap::new();
    for reservation in &contents.reservations {
        set_aside.entry(&reservation.gift).or_default().push(reservation);
    }
    for gift in &contents.gifts {
        // Whoever looks at a gift sees whether it has its yarn.
        put(EntryKind::Gift, &gift.id, &(gift, set_aside.get(gift.id.as_str())));
    }
    // Of many of a kind the entry is all its pieces.
    let mut many: BTreeMap<&str, Vec<_>> = BTreeMap::new();
    for gift in contents.gifts.iter().filter(|gift| gift.piece.is_some()) {
        many.entry(gift.entry()).or_default().push((gift, set_aside.get(gift.id.as_str())));
    }
    for (entry, pieces) in many {
        put(EntryKind::Gift, entry, &pieces);
    }
    for (gift, reservations) in set_aside {
        put(EntryKind::SetAside, gift, &reservations);
    }
    // Two pieces may be alike to the gram: each is counted.
    let mut records: BTreeMap<EntryName, usize> = BTreeMap::new();
    for record in &contents.records {
        *records.entry(record_name(record)).or_default() += 1;
    }
    for (name, count) in records {
        put(EntryKind::Record, &name.key, &count);
    }
    tags
}

/// The tag of one entry, or of all entries of a kind; `None`: there is none.
pub fn tag(contents: &Contents, name: &EntryName) -> Option<Tag> {
    tag_of(&tags(contents), name)
}

/// The tags of many entries; an empty one where there is none.
pub fn tags_of(contents: &Contents, names: impl Iterator<Item = EntryName>) -> Vec<Tag> {
    let tags = tags(contents);
    names.map(|name| tag_of(&tags, &name).unwrap_or_default()).collect()
}

pub(super) fn tag_of(tags: &BTreeMap<EntryName, Tag>, name: &EntryName) -> Option<Tag> {
    if !name.key.is_empty() || name.kind == EntryKind::Settings {
        return tags.get(name).cloned();
    }
    let all: Vec<_> = tags.iter().filter(|(own, _)| name.covers(own)).collect();
    (!all.is_empty()).then(|| sum(&format!("{all:?}")))
}

/// The entries that are not the same in both.
pub(super) fn differing(before: &Contents, after: &Contents) -> Vec<EntryName> {
    let (before, after) = (tags(before), tags(after));
    let gone = before.iter().filter(|(name, tag)| after.get(name) != Some(tag));
    let new = after.keys().filter(|name| !before.contains_key(name));
    let mut names: Vec<EntryName> = gone.map(|(name, _)| name).chain(new).cloned().collect();
    names.sort();
    names
}

/// An entry as its file has it.
pub(super) fn values(name: &EntryName, texts: &BTreeMap<String, String>) -> Option<toml::Table> {
    let table = |path: &str| texts.get(path)?.parse::<toml::Table>().ok();
    let list = match name.kind {
        EntryKind::Yarn => return table(&format!("yarns/{}.toml", name.key)),
        EntryKind::Swatch => return table(&format!("swatches/{}.toml", name.key)),
        // What the settings don't say is as usual: there are always some.
        EntryKind::Settings => return Some(table(SETTINGS).unwrap_or_default()),
        EntryKind::Remnant => List::Stash,
        EntryKind::Person => List::People,
        EntryKind::Knitter => List::Knitters,
        EntryKind::Gift => List::Gifts,
        _ => return None,
    };
    let (array, key) = list.names();
    let mut whole = table(list.path())?;
    let toml::Value::Array(all) = whole.remove(array)? else { return None };
    let own = |entry: &toml::Table| {
        entry.get(key).and_then(toml::Value::as_str).is_some_and(|own| own.trim() == name.key)
    };
    all.into_iter().find_map(|entry| match entry {
        toml::Value::Table(entry) if own(&entry) => Some(entry),
        _ => None,
    })
}
