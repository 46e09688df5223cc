use std::path::{Path, PathBuf};

use super::gift_life::{self, GiftDeed, GiftTurn, Reserved};
use super::gift_many;
use super::in_use;
use super::removed::Removed;
use super::workbench::Base;
use super::{GiftNames, Workbench, WorkbenchSources, Workspace};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::body::{Measures, SizeId};
use knit::stash::{GiftWish, Reservation, Settings};
use report::gift_words;
use store::workspace::{
    self, Basis, ChangeMark, Contents, Edit, EntryName, Fields, Folder, Given, List, Named,
    PastChange, SeenEntry, UndoAsk, Undone, can_be_a_person, demo_files, empty_files, is_id,
    record_name,
};

/// A change to a workspace by a command. Files are read, changed and checked under one lock, so
/// that two commands at once lose nothing.
#[derive(Clone, Debug)]
pub struct WorkspaceEdit {
    folder: Folder,
    basis: Basis,
    /// The state after the change that was made.
    pub state: Option<ChangeMark>,
    /// Whether anything was written: what was asked for may have been so already.
    pub written: bool,
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
            state: None,
            written: false,
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
        self.basis.seen = self.basis.seen.take().or(more.seen);
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
        let sources = WorkbenchSources { garments, ..WorkbenchSources::default() };
        Workbench::open_over(Base::of(contents), &sources)
    }

    fn change<T>(
        &mut self,
        command: &str,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<T, Diagnostics> {
        let changed = self.folder.change(command, &self.basis, |contents| {
            let (edits, value) = make(contents)?;
            Ok((gift_many::on_entries(contents, edits)?, value))
        })?;
        self.state = Some(changed.state);
        self.written = changed.written;
        self.warnings.extend(changed.warnings);
        Ok(changed.value)
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
            match (list, id) {
                (List::Gifts, _) => known_names(contents, garments, &fields, None)?,
                (List::People, Some(name)) => can_be_a_person(contents, name)?,
                (List::Knitters, Some(name)) => new_knitter(contents, name)?,
                _ => {}
            }
            let id = id.map_or_else(|| free_id(contents, list, stem), str::to_owned);
            let by_name = matches!(list, List::People | List::Knitters);
            let key = if by_name { "name" } else { "id" };
            fields.insert(0, (key.to_owned(), Given::text(&id)));
            Ok((vec![Edit::Add { list, fields }], id))
        })
    }

    /// Sets keys of an entry, and gives what is free by it. A key that is the entry's own name gives
    /// it another, in every file; a gift's `state` does what the command of that name does.
    ///
    /// # Errors
    /// As [`Folder::change`], and yarn that is set aside for the entry as it was, unless `reserved`
    /// says what is to become of it.
    pub fn change_entry(
        &mut self,
        command: &str,
        list: List,
        key: &str,
        mut fields: Fields,
        reserved: Reserved,
    ) -> Result<Vec<Reservation>, Diagnostics> {
        let (what, own) = match list {
            List::People => (Some(Named::Person), "name"),
            List::Knitters => (Some(Named::Knitter), "name"),
            List::Gifts => (Some(Named::Gift), "id"),
            List::Stash => (Some(Named::Remnant), "id"),
            List::Records | List::Plan => (None, ""),
        };
        let renaming = what.and_then(|_| new_name(&mut fields, own, key));
        let garments = self.garments();
        let mut warnings = Diagnostics::new();
        let freed = self.change(command, |contents| {
            let key = renaming.as_ref().map_or_else(|| key.to_owned(), |(_, new)| new.clone());
            let old = renaming.as_ref().map_or(key.as_str(), |(old, _)| old);
            let mut edits: Vec<Edit> = Vec::new();
            if let (Some(what), Some((old, new))) = (what, renaming.clone()) {
                edits.push(Edit::Rename { what, old, new });
            }
            let mut freed = Vec::new();
            match list {
                List::Gifts => {
                    known_names(contents, garments, &fields, contents.gift(old))?;
                    if let Some(gift) = contents.gift(old) {
                        let change = gift_life::changed(contents, gift, fields, reserved)?;
                        (fields, freed) = (change.fields, change.freed);
                        let gone = freed.first().map(|_| key.clone());
                        edits.extend(gift_life::free_gifts(gone.into_iter().collect()));
                    }
                }
                List::Stash => {
                    freed = remnant_changed(contents, old, &fields, reserved)?;
                    let gifts = freed.iter().map(|reserved| reserved.gift.clone()).collect();
                    edits.extend(gift_life::free_gifts(gifts));
                }
                List::People => {
                    freed = person_changed(contents, old, &fields, reserved, &mut warnings);
                    let gifts = freed.iter().map(|reserved| reserved.gift.clone()).collect();
                    edits.extend(gift_life::free_gifts(gifts));
                }
                List::Knitters | List::Records | List::Plan => {}
            }
            if reserved == Reserved::Free && freed.is_empty() {
                warnings.push(gift_words::nothing_to_free(&key));
            }
            if renaming.is_none() || !fields.is_empty() {
                edits.push(Edit::Change { list, key, fields });
            }
            Ok((edits, freed))
        })?;
        self.warnings.extend(warnings);
        Ok(freed)
    }

    /// Gives a thing another name, wherever it stands in the workspace.
    ///
    /// # Errors
    /// No such thing; a name that is taken or can't be one; faults in any file, in which the name
    /// might go unseen.
    pub fn rename(
        &mut self,
        command: &str,
        what: Named,
        old: &str,
        new: &str,
    ) -> Result<(), Diagnostics> {
        let edit = Edit::Rename { what, old: old.to_owned(), new: new.to_owned() };
        self.change(command, |_| Ok((vec![edit], ())))
    }

    /// Takes entries out, and gives what is free by it. What points to them goes too, or is a reason
    /// to refuse.
    ///
    /// # Errors
    /// As [`Folder::change`], and what stands in the way, with the way out.
    pub fn remove(
        &mut self,
        command: &str,
        list: List,
        keys: &[String],
        dependents: Dependents,
    ) -> Result<Removed, Diagnostics> {
        let mut warnings = Diagnostics::new();
        let removed = self.change(command, |contents| {
            if dependents == Dependents::Keep {
                in_the_way(contents, list, keys).into_result(())?;
            }
            let gone = each_once(keys).into_iter().cloned();
            let mut edits: Vec<Edit> = gone.map(|key| Edit::Remove { list, key }).collect();
            let mut removed = Removed::default();
            match (list, dependents) {
                (List::People, Dependents::Remove) => {
                    removed.with_gifts_of(contents, keys, &mut edits);
                }
                (List::Gifts, Dependents::Remove) => {
                    let all = gift_many::with_pieces(contents, keys);
                    removed.free_gifts(contents, &all, &mut edits);
                }
                (List::Stash, Dependents::Remove) => {
                    removed.forget_remnants(contents, keys, &mut edits);
                }
                (List::Stash, Dependents::Keep) => {
                    removed.unpin_over(contents, keys, &mut edits);
                }
                _ => {}
            }
            if list == List::People {
                let gone = each_once(keys).into_iter();
                warnings.extend(gone.filter_map(|name| gift_words::learnt_no_more(name, contents)));
            }
            Ok((edits, removed))
        })?;
        self.warnings.extend(warnings);
        Ok(removed)
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

    /// Sets keys of a yarn; an `id` among them gives it another, in every file.
    ///
    /// # Errors
    /// As [`Folder::change`], and no such yarn.
    pub fn change_yarn(&mut self, id: &str, mut fields: Fields) -> Result<(), Diagnostics> {
        let renaming = new_name(&mut fields, "id", id);
        let path = file_of("yarns", renaming.as_ref().map_or(id, |(_, new)| new))?;
        let mut warnings = Diagnostics::new();
        self.change("yarn change", |contents| {
            exists("yarn", id, contents.yarns.keys())?;
            if fields.iter().any(|(key, given)| key == "id" && *given != Given::Nothing) {
                return Err(Diagnostic::error(Code::Id, "a yarn's id is a text")
                    .hint("use small letters, digits and `-`, such as `skerry-blue-2`")
                    .into());
            }
            let given = |keys: &[&str]| fields.iter().any(|(key, _)| keys.contains(&key.as_str()));
            if given(&["yarn"]) {
                warnings.extend(gift_words::counted_anew(id, contents));
            }
            if given(&["fibres", "care"]) {
                warnings.extend(gift_words::described_anew(id, contents));
            }
            let what = Named::Yarn;
            let rename = renaming.map(|(old, new)| Edit::Rename { what, old, new });
            Ok((rename.into_iter().chain([Edit::Set { path, fields }]).collect(), ()))
        })?;
        self.warnings.extend(warnings);
        Ok(())
    }

    /// Takes a yarn away, with its remnants and what is set aside of them where asked to.
    ///
    /// # Errors
    /// As [`Folder::change`]: also where remnants are of that yarn and were not to go.
    pub fn remove_yarn(
        &mut self,
        id: &str,
        dependents: Dependents,
    ) -> Result<Removed, Diagnostics> {
        let path = file_of("yarns", id)?;
        self.change("yarn remove", |contents| {
            exists("yarn", id, contents.yarns.keys())?;
            let mut edits = vec![Edit::Delete { path }];
            let mut removed = Removed::default();
            match dependents {
                Dependents::Keep => {
                    let mut faults: Diagnostics =
                        gift_words::yarn_in_stash(id, contents).map(Into::into).unwrap_or_default();
                    faults.extend(in_use::yarn_in_records(contents, id));
                    faults.into_result(())?;
                }
                Dependents::Remove => {
                    if let Some(fault) = in_use::yarn_in_records(contents, id) {
                        return Err(fault.into());
                    }
                    let remnants = contents.remnants.iter().filter(|r| r.yarn == id);
                    let ids: Vec<String> = remnants.map(|r| r.id.clone()).collect();
                    let gone = ids.iter().cloned();
                    edits.extend(gone.map(|key| Edit::Remove { list: List::Stash, key }));
                    removed.forget_remnants(contents, &ids, &mut edits);
                }
            }
            Ok((edits, removed))
        })
    }

    /// Adds a `[[swatch]]` to a file of swatches, which is made if there is none.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn add_swatch(
        &mut self,
        id: &str,
        top: Fields,
        mut fields: Fields,
    ) -> Result<(), Diagnostics> {
        let path = file_of("swatches", id)?;
        self.change("swatch add", |contents| {
            // A file that is silent means whole grams.
            let step = contents.settings.scale_step;
            let said = |name: &str| fields.iter().any(|(key, _)| key == name);
            if said("weight") && !said("scale_step") && step != Settings::default().scale_step {
                fields.push(("scale_step".to_owned(), Given::Text(step.to_string())));
            }
            let name = "swatch".to_owned();
            let top = Edit::Set { path: path.clone(), fields: top };
            Ok((vec![top, Edit::Append { path, name, fields }], ()))
        })?;
        self.doubt_swatches(id);
        Ok(())
    }

    /// Tells what is odd about the swatches just measured: now the tape is at hand.
    fn doubt_swatches(&mut self, id: &str) {
        let seen = self.folder.read().ok();
        let swatches = seen.as_ref().and_then(|seen| seen.contents.swatches.get(id));
        self.warnings.extend(swatches.into_iter().flat_map(|own| own.warnings.iter().cloned()));
    }

    /// Makes a file of swatches, or gives the one called `old` what is known now, and perhaps another id: its
    /// keys and all its `[[swatch]]`, in one change. `yarn` is the yarn that it was knitted in, where that is
    /// said.
    ///
    /// # Errors
    /// As [`Folder::change`], and an id that is taken or can't be one; no such yarn.
    pub fn save_swatches(
        &mut self,
        id: &str,
        old: Option<&str>,
        mut top: Fields,
        swatches: Vec<Fields>,
        yarn: Option<&str>,
    ) -> Result<(), Diagnostics> {
        let path = file_of("swatches", id)?;
        top.push(("swatch".to_owned(), Given::Tables(swatches)));
        self.change(if old.is_some() { "swatch change" } else { "swatch add" }, |contents| {
            let mut edits = Vec::new();
            if let Some(old) = old.filter(|old| *old != id) {
                let (old, new) = (old.to_owned(), id.to_owned());
                edits.push(Edit::Rename { what: Named::Swatch, old, new });
            }
            if old != Some(id) && contents.swatches.contains_key(id) {
                let fault = format!("there is a swatch `{id}` already");
                return Err(Diagnostic::error(Code::Twice, fault)
                    .hint("choose another name, or change that one")
                    .into());
            }
            edits.push(Edit::Set { path, fields: top });
            if let Some(yarn) = yarn {
                exists("yarn", yarn, contents.yarns.keys())?;
                let known = contents.yarns[yarn].swatches.iter();
                let mut known: Vec<String> =
                    known.filter(|own| Some(own.as_str()) != old).cloned().collect();
                if !known.iter().any(|own| own == id) {
                    known.push(id.to_owned());
                    let fields = vec![("swatches".to_owned(), Given::Texts(known))];
                    edits.push(Edit::Set { path: file_of("yarns", yarn)?, fields });
                }
            }
            Ok((edits, ()))
        })?;
        self.doubt_swatches(id);
        Ok(())
    }

    /// Sets keys of the settings.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn change_settings(&mut self, fields: Fields) -> Result<(), Diagnostics> {
        let path = "oddments.toml".to_owned();
        self.change("settings", |_| Ok((vec![Edit::Set { path, fields }], ())))
    }

    /// Takes a file of swatches away.
    ///
    /// # Errors
    /// As [`Folder::change`].
    pub fn remove_swatch(&mut self, id: &str) -> Result<(), Diagnostics> {
        let path = file_of("swatches", id)?;
        self.change("swatch remove", |contents| {
            exists("swatch", id, contents.swatches.keys())?;
            if let Some(fault) = in_use::swatch_in_use(contents, id) {
                return Err(fault.into());
            }
            Ok((vec![Edit::Delete { path }], ()))
        })
    }

    /// Puts right what a finished piece says, known by the key of its [`record_name`]. The stash is left as it is:
    /// what lies there is weighed for itself.
    ///
    /// # Errors
    /// As [`Folder::change`], and no such piece.
    pub fn change_record(&mut self, key: &str, fields: Fields) -> Result<(), Diagnostics> {
        self.change("record change", |contents| {
            let (list, key) = (List::Records, (record_at(contents, key)? + 1).to_string());
            Ok((vec![Edit::Change { list, key, fields }], ()))
        })
    }

    /// Takes a finished piece out of the records; nothing is learnt from it any more.
    ///
    /// # Errors
    /// As [`change_record`](Self::change_record).
    pub fn remove_record(&mut self, key: &str) -> Result<(), Diagnostics> {
        self.change("record remove", |contents| {
            let (list, key) = (List::Records, (record_at(contents, key)? + 1).to_string());
            Ok((vec![Edit::Remove { list, key }], ()))
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

    /// As [`edits`](Self::edits), and writes nothing: what would be said of the change.
    ///
    /// # Errors
    /// As [`Folder::try_out`].
    pub fn look<T>(
        &mut self,
        make: impl FnOnce(&Contents) -> Result<(Vec<Edit>, T), Diagnostics>,
    ) -> Result<T, Diagnostics> {
        let (value, warnings) = self.folder.try_out(|contents| {
            let (edits, value) = make(contents)?;
            Ok((gift_many::on_entries(contents, edits)?, value))
        })?;
        self.warnings.extend(warnings);
        Ok(value)
    }

    /// The body measures that people of the workspace may have.
    ///
    /// # Errors
    /// As [`Folder::try_out`].
    pub fn measures(&self) -> Result<Measures, Diagnostics> {
        let seen = self.folder.try_out(|contents| Ok((Vec::new(), contents.measures.clone())));
        Ok(seen?.0)
    }

    /// Turns gifts, in one change: each says what it has become and which yarn is free by it.
    ///
    /// # Errors
    /// No such gift; a gift that is done or given up, where that can't be; as
    /// [`store::workspace::Folder::change`].
    pub fn turn_gifts(
        &mut self,
        ids: &[String],
        deed: GiftDeed,
    ) -> Result<Vec<GiftTurn>, Diagnostics> {
        let mut warnings = Diagnostics::new();
        let turned = self.edits(deed.command(), |contents| {
            let mut faults = Diagnostics::new();
            let (mut edits, mut turns) = (Vec::new(), Vec::new());
            let meant: Vec<String> =
                ids.iter().flat_map(|id| gift_many::meant(contents, id, deed)).collect();
            for id in each_once(&meant) {
                match gift_life::turn_named(contents, id, deed) {
                    Ok((fields, turn)) => {
                        let key = turn.gift.clone();
                        let list = List::Gifts;
                        edits.extend(fields.map(|fields| Edit::Change { list, key, fields }));
                        turns.push(turn);
                    }
                    Err(fault) => faults.push(fault),
                }
            }
            faults.into_result(())?;
            let freed = turns.iter().filter(|turn| !turn.freed.is_empty());
            edits.extend(gift_life::free_gifts(freed.map(|turn| turn.gift.clone()).collect()));
            let bare = turns.iter().filter(|t| contents.set_aside(&t.gift).next().is_none());
            warnings.extend(bare.filter_map(|turn| match deed {
                GiftDeed::Begin => Some(gift_words::begun_from_nothing(&turn.gift)),
                GiftDeed::Keep(true) => Some(gift_words::kept_of_nothing(&turn.gift)),
                _ => None,
            }));
            Ok((edits, turns))
        })?;
        self.warnings.extend(warnings);
        Ok(turned)
    }

    /// Takes back a change, or does one again that was taken back.
    ///
    /// # Errors
    /// As [`Folder::undo`].
    pub fn undo(&mut self, ask: &UndoAsk) -> Result<Undone, Diagnostics> {
        let (undone, warnings) = self.folder.undo(ask)?;
        self.state = Some(undone.state.clone());
        self.written = true;
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
    pub fn history(&mut self) -> Vec<PastChange> {
        let (changes, warnings) = self.folder.history();
        self.warnings.extend(warnings);
        changes
    }
}

/// Which of the records the one with that key of its [`record_name`] is, from 0. A faulty file is not changed, so
/// that each of its records is among the contents.
///
/// # Errors
/// There is none.
pub fn record_at(contents: &Contents, key: &str) -> Result<usize, Diagnostic> {
    contents.records.iter().position(|piece| record_name(piece).key == key).ok_or_else(|| {
        Diagnostic::error(Code::Nothing, "there is no such finished piece, or it has changed since")
            .hint("look at the list of finished pieces again")
    })
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
/// Those that it has from before are looked at where it becomes another garment.
fn known_names(
    contents: &Contents,
    garments: Option<PathBuf>,
    fields: &Fields,
    old: Option<&GiftWish>,
) -> Result<(), Diagnostics> {
    let given = GiftNames::given(fields, old);
    let kept = old.and_then(|old| GiftNames::kept(fields, old));
    if given.is_none() && kept.is_none() {
        return Ok(());
    }
    let bench = WorkspaceEdit::bench(contents, garments)?;
    let mut faults = given.map_or_else(Diagnostics::new, |names| names.faults_on(&bench));
    faults.extend(kept.map_or_else(Diagnostics::new, |names| names.faults_on(&bench)));
    faults.into_result(())
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

/// As they were given, those that were given twice once.
fn each_once(ids: &[String]) -> Vec<&String> {
    let mut seen = std::collections::BTreeSet::new();
    ids.iter().filter(|id| seen.insert(id.as_str())).collect()
}

/// A knitter who is there already is told as such, before the file would say so of two lines.
fn new_knitter(contents: &Contents, name: &str) -> Result<(), Diagnostic> {
    let own = name.trim().to_lowercase();
    match contents.knitters.iter().find(|knitter| knitter.name.to_lowercase() == own) {
        Some(there) => {
            let fault = format!("there is a knitter `{}` already", there.name);
            Err(Diagnostic::error(Code::Twice, fault)
                .hint("change them with `oddments knitters change`, or choose another name"))
        }
        None => Ok(()),
    }
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

/// A new name among the keys of an entry, taken out of them: the old one and the new. The name that
/// it has already is none: the key goes, and nothing is renamed.
fn new_name(fields: &mut Fields, own: &str, old: &str) -> Option<(String, String)> {
    let at =
        fields.iter().position(|(key, given)| key == own && matches!(given, Given::Text(_)))?;
    let Given::Text(new) = &fields[at].1 else { return None };
    let new = new.trim().to_owned();
    fields.remove(at);
    (new != old).then(|| (old.to_owned(), new))
}

/// Whether a person's key says how large they are.
fn is_of_body(contents: &Contents, key: &str) -> bool {
    key == "size" || contents.measures.get(key).is_some()
}

/// Whether a person's key says which yarn they can have.
fn is_of_yarn(_: &Contents, key: &str) -> bool {
    key == "avoid" || key == "wash"
}

/// A remnant's keys are changed: what is set aside of it is not to become another yarn unasked.
fn remnant_changed(
    contents: &Contents,
    id: &str,
    fields: &Fields,
    reserved: Reserved,
) -> Result<Vec<Reservation>, Diagnostic> {
    let Some(remnant) = contents.remnant(id) else { return Ok(Vec::new()) };
    let text = |given: &Given| match given {
        Given::Text(text) => Some(text.trim().to_owned()),
        _ => None,
    };
    let alters = |(key, given): &(String, Given)| match key.as_str() {
        "yarn" => text(given).as_ref() != Some(&remnant.yarn),
        "lot" => text(given) != remnant.lot,
        _ => false,
    };
    let of_it: Vec<Reservation> =
        contents.reservations.iter().filter(|r| r.remnant == id).cloned().collect();
    match reserved {
        // Whatever else is changed: whoever says so wants the yarn. A gift with a part of its yarn
        // could be neither knitted nor planned anew: all that is set aside for it is free.
        Reserved::Free => {
            let theirs = |r: &&Reservation| of_it.iter().any(|own| own.gift == r.gift);
            Ok(contents.reservations.iter().filter(theirs).cloned().collect())
        }
        Reserved::Refuse if !of_it.is_empty() && fields.iter().any(alters) => {
            Err(gift_words::change_of_reserved(remnant, contents))
        }
        Reserved::Refuse | Reserved::Keep => Ok(Vec::new()),
    }
}

/// A person's keys are changed: gives what is free by it, and warns of yarn that is set aside for
/// someone of another size or other wants.
fn person_changed(
    contents: &Contents,
    name: &str,
    fields: &Fields,
    reserved: Reserved,
    warnings: &mut Diagnostics,
) -> Vec<Reservation> {
    let given = |of: fn(&Contents, &str) -> bool| fields.iter().any(|(key, _)| of(contents, key));
    match reserved {
        Reserved::Free => {
            let theirs =
                |r: &&Reservation| contents.gift(&r.gift).is_some_and(|gift| gift.person == name);
            return contents.reservations.iter().filter(theirs).cloned().collect();
        }
        Reserved::Refuse => {
            warnings.extend(
                given(is_of_body).then(|| gift_words::measured_anew(name, contents)).flatten(),
            );
            warnings.extend(
                given(is_of_yarn).then(|| gift_words::avoided_anew(name, contents)).flatten(),
            );
        }
        Reserved::Keep => {}
    }
    Vec::new()
}

/// What forbids entries to be taken out alone.
fn in_the_way(contents: &Contents, list: List, keys: &[String]) -> Diagnostics {
    let mut faults = Diagnostics::new();
    for key in keys {
        match list {
            List::Gifts => {
                let own = contents.gift(key).into_iter().chain(contents.pieces(key));
                let gift = own.into_iter().find(|g| contents.set_aside(&g.id).next().is_some());
                faults.extend(gift.map(|gift| gift_words::removal_of_set_aside(gift, contents)));
            }
            List::Stash => {
                let way = "`--and-reservations` lets that go too; ";
                faults.extend(gift_words::remnant_in_use(key, contents, None, way));
            }
            List::People => faults.extend(gift_words::still_wished_for(key, contents)),
            List::Knitters => faults.extend(in_use::knitter_in_gifts(contents, key)),
            List::Records | List::Plan => {}
        }
    }
    faults
}
