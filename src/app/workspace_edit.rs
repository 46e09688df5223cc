use std::path::{Path, PathBuf};

use super::{GiftNames, Workbench, WorkbenchSources, Workspace};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::body::SizeId;
use knit::stash::GiftWish;
use store::workspace::{
    self, Basis, Contents, Edit, EntryName, Fields, Folder, Given, List, PastChange, SeenEntry,
    UndoAsk, Undone, demo_files, empty_files, is_id,
};

/// A change to a workspace by a command. Files are read, changed and checked under one lock, so
/// that two commands at once lose nothing.
#[derive(Clone, Debug)]
pub struct WorkspaceEdit {
    folder: Folder,
    basis: Basis,
    /// The number of the state after the change that was made.
    pub number: Option<u64>,
    /// From earlier changes that were cut short, and the like.
    pub warnings: Diagnostics,
}

/// Whether things that point to what is removed go with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dependents {
    Keep,
    Remove,
}

impl WorkspaceEdit {
    /// # Errors
    /// No workspace.
    pub fn open(named: Option<&Path>) -> Result<WorkspaceEdit, Diagnostics> {
        Ok(WorkspaceEdit::of(Workspace::folder(named)?))
    }

    pub(super) fn of(folder: Folder) -> WorkspaceEdit {
        WorkspaceEdit {
            folder,
            basis: Basis::default(),
            number: None,
            warnings: Diagnostics::new(),
        }
    }

    /// For changes that rest on what was seen: where that is so no longer, they are refused.
    #[must_use]
    pub fn resting_on(mut self, basis: Basis) -> WorkspaceEdit {
        self.basis = basis;
        self
    }

    /// Adds to what the change rests on.
    pub(super) fn rest_on(&mut self, more: Basis) {
        self.basis.entries.extend(more.entries);
        self.basis.seen = self.basis.seen.max(more.seen);
    }

    /// The workspace's own garments, where it has any.
    pub(super) fn garments(&self) -> Option<std::path::PathBuf> {
        self.folder.garments()
    }

    /// A workbench with what is in the workspace at the moment of a change.
    pub(super) fn bench(
        contents: &Contents,
        garments: Option<PathBuf>,
    ) -> Result<Workbench, Diagnostics> {
        let base = (contents.sizes.clone(), contents.machines.clone());
        Workbench::open_over(base, &WorkbenchSources { garments, ..WorkbenchSources::default() })
    }

    fn change<T>(
        &mut self,
        command: &str,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<T, Diagnostics> {
        let (value, number, warnings) = self.folder.change(command, &self.basis, make)?;
        self.number = Some(number);
        self.warnings.extend(warnings);
        Ok(value)
    }

    /// Adds an entry and gives its key. Without an id of its own it gets the first free one that
    /// begins with `stem`: `slate-1`, `slate-2`.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn add(
        &mut self,
        command: &str,
        list: List,
        id: Option<&str>,
        stem: &str,
        mut fields: Fields,
    ) -> Result<String, Diagnostics> {
        let garments = self.garments();
        self.change(command, |contents| {
            if list == List::Gifts {
                known_names(contents, garments, &fields, None)?;
            }
            let id = id.map_or_else(|| free_id(contents, list, stem), str::to_owned);
            let key = if list == List::People { "name" } else { "id" };
            fields.insert(0, (key.to_owned(), Given::text(&id)));
            Ok((vec![Edit::Add { list, fields }], id))
        })
    }

    /// Sets keys of an entry. Where a person's or a gift's key itself is among them, what points
    /// to the old one follows.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn change_entry(
        &mut self,
        command: &str,
        list: List,
        key: &str,
        fields: Fields,
    ) -> Result<(), Diagnostics> {
        let renamed = fields.iter().find_map(|(name, given)| match given {
            Given::Text(new) if name == "name" && list == List::People => Some(new.clone()),
            _ => None,
        });
        let garments = self.garments();
        self.change(command, |contents| {
            if list == List::Gifts {
                known_names(contents, garments, &fields, contents.gift(key))?;
            }
            let mut edits = vec![Edit::Change { list, key: key.to_owned(), fields }];
            if let Some(new) = renamed {
                let theirs = contents.gifts.iter().filter(|gift| gift.person == key);
                edits.extend(theirs.map(|gift| Edit::Change {
                    list: List::Gifts,
                    key: gift.id.clone(),
                    fields: vec![("person".into(), Given::text(&new))],
                }));
            }
            Ok((edits, ()))
        })
    }

    /// Takes entries out. What points to them goes too, or is a reason to refuse.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn remove(
        &mut self,
        command: &str,
        list: List,
        keys: &[String],
        dependents: Dependents,
    ) -> Result<(), Diagnostics> {
        self.change(command, |contents| {
            let mut edits: Vec<Edit> =
                keys.iter().map(|key| Edit::Remove { list, key: key.clone() }).collect();
            if dependents == Dependents::Remove {
                edits.extend(match list {
                    List::People => with_gifts(contents, |gift| keys.contains(&gift.person)),
                    List::Gifts => without_reservations(contents, |r| keys.contains(&r.gift)),
                    List::Stash => without_reservations(contents, |r| keys.contains(&r.remnant)),
                    List::Records | List::Plan => Vec::new(),
                });
            }
            Ok((edits, ()))
        })
    }

    /// Makes a yarn.
    ///
    /// # Errors
    /// As [`Folder::change`], and an id that is taken or can't be one.
    pub fn add_yarn(&mut self, id: &str, fields: Fields) -> Result<(), Diagnostics> {
        let path = file_of("yarns", id)?;
        self.change("yarn add", |contents| {
            if contents.yarns.contains_key(id) {
                return Err(Diagnostic::error(
                    Code::Twice,
                    format!("there is a yarn `{id}` already"),
                )
                .hint("change it with `oddments yarn change`, or choose another id")
                .into());
            }
            Ok((vec![Edit::Set { path, fields }], ()))
        })
    }

    /// Sets keys of a yarn.
    ///
    /// # Errors
    /// As [`Folder::change`], and no such yarn.
    pub fn change_yarn(&mut self, id: &str, fields: Fields) -> Result<(), Diagnostics> {
        let path = file_of("yarns", id)?;
        self.change("yarn change", |contents| {
            exists("yarn", id, contents.yarns.keys())?;
            Ok((vec![Edit::Set { path, fields }], ()))
        })
    }

    /// Takes a yarn away, with its remnants and their reservations where asked to.
    ///
    /// # Errors
    /// As [`Folder::change`]: also where remnants are of that yarn and were not to go.
    pub fn remove_yarn(&mut self, id: &str, dependents: Dependents) -> Result<(), Diagnostics> {
        let path = file_of("yarns", id)?;
        self.change("yarn remove", |contents| {
            exists("yarn", id, contents.yarns.keys())?;
            let mut edits = vec![Edit::Delete { path }];
            if dependents == Dependents::Remove {
                let mine = |key: &str| contents.remnant(key).is_some_and(|r| r.yarn == id);
                let remnants = contents.remnants.iter().filter(|r| r.yarn == id);
                edits.extend(
                    remnants.map(|r| Edit::Remove { list: List::Stash, key: r.id.clone() }),
                );
                edits.extend(without_reservations(contents, |r| mine(&r.remnant)));
            }
            Ok((edits, ()))
        })
    }

    /// Adds a `[[swatch]]` to a file of swatches, which is made if there is none.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn add_swatch(&mut self, id: &str, top: Fields, fields: Fields) -> Result<(), Diagnostics> {
        let path = file_of("swatches", id)?;
        self.change("swatch add", |_| {
            let name = "swatch".to_owned();
            let top = Edit::Set { path: path.clone(), fields: top };
            Ok((vec![top, Edit::Append { path, name, fields }], ()))
        })
    }

    /// Takes a file of swatches away.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn remove_swatch(&mut self, id: &str) -> Result<(), Diagnostics> {
        let path = file_of("swatches", id)?;
        self.change("swatch remove", |contents| {
            exists("swatch", id, contents.swatches.keys())?;
            Ok((vec![Edit::Delete { path }], ()))
        })
    }

    /// Any other change, by the commands that plan and record.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn edits<T>(
        &mut self,
        command: &str,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<T, Diagnostics> {
        self.change(command, make)
    }

    /// Takes back a change, or does one again that was taken back.
    ///
    /// # Errors
    /// As [`Folder::undo`].
    pub fn undo(&mut self, ask: &UndoAsk) -> Result<Undone, Diagnostics> {
        let (undone, warnings) = self.folder.undo(ask)?;
        self.number = Some(undone.number);
        self.warnings.extend(warnings);
        Ok(undone)
    }

    /// One entry as its file has it.
    ///
    /// # Errors
    /// As [`Folder::entry`].
    pub fn entry(&self, name: &EntryName) -> Result<Option<SeenEntry>, Diagnostics> {
        self.folder.entry(name)
    }

    /// The change that was made before with the one-time key of this one.
    pub fn made_before(&self) -> Option<PastChange> {
        self.folder.made_with(self.basis.once.as_deref()?)
    }

    /// The changes that there were, the oldest first.
    pub fn history(&self) -> Vec<PastChange> {
        self.folder.history()
    }
}

/// Makes a workspace: empty, or the demo scenario.
///
/// # Errors
/// A folder that has something in it, or can't be written to.
pub fn init_workspace(folder: &Path, demo: bool) -> Result<(), Diagnostics> {
    let files = if demo { demo_files() } else { empty_files() };
    Ok(workspace::make(folder, &files)?)
}

/// Refuses options and sections that none of a gift's garments has: they would quietly be left out.
fn known_names(
    contents: &Contents,
    garments: Option<PathBuf>,
    fields: &Fields,
    old: Option<&GiftWish>,
) -> Result<(), Diagnostics> {
    match GiftNames::given(fields, old) {
        Some(names) => names.faults_on(&WorkspaceEdit::bench(contents, garments)?).into_result(()),
        None => Ok(()),
    }
}

/// What the ids of a person's gifts begin with.
pub fn gift_stem(person: &str) -> String {
    let stem = SizeId::from_label(person).to_string();
    let stem: String = stem.chars().filter(char::is_ascii).collect();
    if stem.is_empty() { "gift".to_owned() } else { stem }
}

fn file_of(folder: &str, id: &str) -> Result<String, Diagnostic> {
    if is_id(id) {
        return Ok(format!("{folder}/{id}.toml"));
    }
    Err(Diagnostic::error(Code::Id, format!("`{id}` can't be an id"))
        .hint("use small letters, digits and `-`, such as `skerry-blue-2`"))
}

fn exists<'a>(
    what: &str,
    id: &str,
    known: impl Iterator<Item = &'a String> + Clone,
) -> Result<(), Diagnostic> {
    if known.clone().any(|own| own == id) {
        return Ok(());
    }
    let near = nearest(id, known.map(String::as_str)).map(|near| format!("did you mean `{near}`?"));
    Err(Diagnostic::error(Code::Nothing, format!("there is no {what} `{id}`"))
        .hint(near.unwrap_or_else(|| format!("`oddments {what} list` shows them"))))
}

fn free_id(contents: &Contents, list: List, stem: &str) -> String {
    let taken: std::collections::BTreeSet<&str> = match list {
        List::Gifts => contents.gifts.iter().map(|gift| gift.id.as_str()).collect(),
        _ => contents.remnants.iter().map(|remnant| remnant.id.as_str()).collect(),
    };
    let mut number = 1;
    loop {
        let id = format!("{stem}-{number}");
        if !taken.contains(id.as_str()) {
            return id;
        }
        number += 1;
    }
}

fn with_gifts(contents: &Contents, theirs: impl Fn(&knit::stash::GiftWish) -> bool) -> Vec<Edit> {
    let gifts: Vec<&str> =
        contents.gifts.iter().filter(|gift| theirs(gift)).map(|gift| gift.id.as_str()).collect();
    let mut edits: Vec<Edit> =
        gifts.iter().map(|id| Edit::Remove { list: List::Gifts, key: (*id).to_owned() }).collect();
    edits.extend(without_reservations(contents, |r| gifts.contains(&r.gift.as_str())));
    edits
}

/// The plan without some reservations; no edit where there are none of them.
fn without_reservations(
    contents: &Contents,
    gone: impl Fn(&knit::stash::Reservation) -> bool,
) -> Vec<Edit> {
    if !contents.reservations.iter().any(&gone) {
        return Vec::new();
    }
    let kept: Vec<_> = contents.reservations.iter().filter(|r| !gone(r)).cloned().collect();
    Edit::replace_plan(&kept)
}
