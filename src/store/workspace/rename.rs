//! A new name goes through all files: where a thing has its name, and wherever something points to
//! it. Reading notes all these words with their places, so that nothing is forgotten here; the new
//! name is put into the quotes of the old one, and no other byte moves.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::Range;

use super::edit::Edit;
use super::folder::{Folder, Snapshot};
use super::load::load_with_words;
use super::named::{Named, can_be_a_person};
use super::reading::{LinkKind, NAMES, is_id, is_name};
use diag::{Code, Diagnostic, Diagnostics, Severity, nearest};
use knit::stash::{Contents, GiftPiece};

/// The texts after the renamings among the edits, before anything else.
pub(super) fn renamed<'s>(
    folder: &Folder,
    before: &'s Snapshot,
    edits: &[Edit],
) -> Result<Cow<'s, Snapshot>, Diagnostics> {
    let mut after = Cow::Borrowed(before);
    for edit in edits {
        if let Edit::Rename { what, old, new } = edit {
            let new = new.trim();
            let words = places(folder, &after, *what, old, new)?;
            if old != new {
                rename(after.to_mut(), *what, (old, new), words);
            }
        }
    }
    Ok(after)
}

/// What each file will hold when edits were made on the renamed texts; `None`: it goes.
pub(super) fn together(
    before: &Snapshot,
    renamed: &Snapshot,
    mut texts: BTreeMap<String, Option<String>>,
) -> BTreeMap<String, Option<String>> {
    for (path, text) in &renamed.texts {
        if before.texts.get(path) != Some(text) && !texts.contains_key(path) {
            texts.insert(path.clone(), Some(text.clone()));
        }
    }
    for path in before.texts.keys().filter(|path| !renamed.texts.contains_key(*path)) {
        texts.entry(path.clone()).or_insert(None);
    }
    texts
}

/// The words to replace and by what, by path, the last of a file first.
type Places = BTreeMap<String, Vec<(Range<usize>, String)>>;

/// Where the old name stands.
///
/// # Errors
/// No such thing; a new name that is taken or can't be one; a file with faults, in which the old
/// name might go unseen.
fn places(
    folder: &Folder,
    snapshot: &Snapshot,
    what: Named,
    old: &str,
    new: &str,
) -> Result<Places, Diagnostics> {
    let (contents, words, faults) = load_with_words(folder, snapshot);
    let mut errors = Diagnostics::new();
    let found = faults.into_iter().filter(|fault| fault.severity == Severity::Error);
    errors.extend(found.map(|fault| fault.context("a new name goes through all files")));
    errors.into_result(())?;
    check_names(&contents, what, old, new)?;
    let mut places = Places::new();
    for (path, word) in words {
        // What is a size of the table is a size there, whoever is called so too.
        let sized = word.kind == LinkKind::Wearer && contents.sizes.get(old).is_some();
        if !what.is_said_by(word.kind) || sized {
            continue;
        }
        // Of many of a kind each piece is named after its entry.
        let piece = contents.pieces(old).find(|gift| what == Named::Gift && gift.id == word.id);
        let said = match piece.and_then(|gift| gift.piece.as_ref()) {
            Some(piece) => Some(GiftPiece::id(new, piece.nth)),
            None => (word.id == old).then(|| new.to_owned()),
        };
        if let Some(said) = said {
            places.entry(path).or_default().push((word.word, said));
        }
    }
    for words in places.values_mut() {
        words.sort_by_key(|(word, _)| std::cmp::Reverse(word.start));
        words.dedup();
    }
    Ok(places)
}

fn known(contents: &Contents, what: Named) -> Vec<&str> {
    match what {
        Named::Yarn => contents.yarns.keys().map(String::as_str).collect(),
        Named::Swatch => contents.swatches.keys().map(String::as_str).collect(),
        Named::Remnant => contents.remnants.iter().map(|r| r.id.as_str()).collect(),
        Named::Person => contents.people.iter().map(|p| p.name.as_str()).collect(),
        Named::Knitter => contents.knitters.iter().map(|k| k.name.as_str()).collect(),
        Named::Gift => contents.gifts.iter().flat_map(|g| [g.id.as_str(), g.entry()]).collect(),
    }
}

fn check_names(contents: &Contents, what: Named, old: &str, new: &str) -> Result<(), Diagnostic> {
    let (word, known) = (what.word(), known(contents, what));
    if !known.contains(&old) {
        let near = nearest(old, known.iter().copied());
        return Err(Diagnostic::error(Code::Nothing, format!("there is no {word} `{old}`"))
            .maybe_hint(near.map(|near| format!("did you mean `{near}`?"))));
    }
    let by_name = matches!(what, Named::Person | Named::Knitter);
    if !by_name && !is_id(new) {
        return Err(Diagnostic::error(Code::Id, format!("`{new}` can't be an id"))
            .hint("use small letters, digits and `-`, such as `skerry-blue-2`"));
    }
    if what == Named::Person && old != new {
        can_be_a_person(contents, new)?;
    }
    if what == Named::Knitter && !is_name(new) {
        return Err(Diagnostic::error(Code::Name, "this can't be a name").hint(NAMES));
    }
    let mut others = known.iter().filter(|name| **name != old);
    if let Some(taken) = others.find(|name| name.to_lowercase() == new.to_lowercase()) {
        return Err(Diagnostic::error(Code::Twice, format!("there is a {word} `{taken}` already"))
            .hint("choose another name, or rename that one first"));
    }
    Ok(())
}

fn rename(snapshot: &mut Snapshot, what: Named, (old, new): (&str, &str), places: Places) {
    for (path, words) in places {
        let Some(text) = snapshot.texts.get_mut(&path) else { continue };
        for (word, said) in words {
            let quoted = quoted(text.get(word.clone()).unwrap_or_default(), &said);
            text.replace_range(word, &quoted);
        }
    }
    if let Some(folder) = what.folder() {
        let path = |name: &str| format!("{folder}/{name}.toml");
        if let Some(text) = snapshot.texts.remove(&path(old)) {
            snapshot.texts.insert(path(new), text);
        }
    }
}

/// The new name in the quotes of the old one, where they can hold it.
fn quoted(old: &str, new: &str) -> String {
    let plain = !new.contains(['\'', '"', '\\']) && !new.contains(diag::is_control);
    let literal = old.starts_with('\'') && !old.starts_with("'''");
    if literal && plain {
        return format!("'{new}'");
    }
    toml_edit::Value::from(new).to_string()
}
