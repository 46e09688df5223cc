//! Many of a kind: an entry of the file that stands for forty gifts. Each has an id of its own, by which
//! yarn is set aside for it, it is begun and done; the file keeps what is so of one piece in its entry.

use diag::{Code, Diagnostic, Diagnostics};
use knit::stash::{Contents, GiftPiece};
use store::workspace::{Edit, Given, List, Named};

use super::gift_life::GiftDeed;

/// Keys that a piece may have of its own.
const OF_ONE: [&str; 5] = ["state", "knitted_in", "keep", "options", "scaled"];

/// Changes of single pieces as changes of the entry they are in.
///
/// # Errors
/// What is so of all pieces alike, and can't be changed of one.
pub(super) fn on_entries(contents: &Contents, edits: Vec<Edit>) -> Result<Vec<Edit>, Diagnostics> {
    let mut faults = Diagnostics::new();
    let edits = edits
        .into_iter()
        .filter_map(|edit| on_entry(contents, edit).map_err(|fault| faults.push(fault)).ok());
    let edits = edits.collect();
    faults.into_result(edits)
}

fn on_entry(contents: &Contents, edit: Edit) -> Result<Edit, Diagnostic> {
    let piece = |id: &str| contents.gift(id)?.piece.clone();
    match edit {
        Edit::Change { list: List::Gifts, key, fields } => {
            let Some(piece) = piece(&key) else {
                return Ok(Edit::Change { list: List::Gifts, key, fields });
            };
            if let Some((of_all, _)) =
                fields.iter().find(|(own, _)| !OF_ONE.contains(&own.as_str()))
            {
                return Err(of_many(
                    &key,
                    &piece,
                    &format!("`{of_all}` is the same for all of them"),
                ));
            }
            let own = vec![(piece.nth.to_string(), Given::Merge(fields))];
            let fields = vec![("pieces".to_owned(), Given::Merge(own))];
            Ok(Edit::Change { list: List::Gifts, key: piece.entry, fields })
        }
        Edit::Remove { list: List::Gifts, key } => match piece(&key) {
            Some(piece) => Err(of_many(&key, &piece, "it can't be taken out alone")),
            None => Ok(Edit::Remove { list: List::Gifts, key }),
        },
        Edit::Rename { what: Named::Gift, old, new } => match piece(&old) {
            Some(piece) => Err(of_many(&old, &piece, "it has no name of its own")),
            None => Ok(Edit::Rename { what: Named::Gift, old, new }),
        },
        other => Ok(other),
    }
}

fn of_many(id: &str, piece: &GiftPiece, why: &str) -> Diagnostic {
    let GiftPiece { entry, of, .. } = piece;
    Diagnostic::error(Code::InUse, format!("`{id}` is one of {of} in `{entry}`: {why}")).hint(format!(
        "change `{entry}`, wish for fewer (`oddments gifts change {entry} --count ...`), or give this one \
         up: `oddments gifts give-up {id}`"
    ))
}

/// The gifts that are meant: the name of an entry is that of all its pieces of which the deed can be said.
pub(super) fn meant(contents: &Contents, id: &str, deed: GiftDeed) -> Vec<String> {
    let open = |over: bool| !over || deed == GiftDeed::Wish;
    let pieces = contents.pieces(id).filter(|gift| open(gift.stage.is_over()));
    let ids: Vec<String> = pieces.map(|gift| gift.id.clone()).collect();
    if ids.is_empty() { vec![id.to_owned()] } else { ids }
}

/// Entries and all their pieces.
pub(super) fn with_pieces(contents: &Contents, ids: &[String]) -> Vec<String> {
    let pieces = |id: &String| contents.pieces(id).map(|gift| gift.id.clone()).collect::<Vec<_>>();
    ids.iter().flat_map(|id| std::iter::once(id.clone()).chain(pieces(id))).collect()
}
