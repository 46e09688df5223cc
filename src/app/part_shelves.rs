//! Where the parts that garments are made with are taken from.

use std::path::{Path, PathBuf};

use diag::Diagnostic;
use script::{GarmentSource, PluginSource, parts_asked};

const FOLDER: &str = "parts";
/// Parts that are fetched for one garment: more than it may be made with, so that it is told of it.
const MOST_FETCHED: usize = 64;

/// Where a garment in `folder` finds parts, the nearest first: beside it, then in the folder of own
/// garments. A shipped garment takes shipped parts alone, so that it stays the same.
pub(super) fn part_shelves(folder: &Path, own: Option<&Path>) -> Vec<PathBuf> {
    let parent = match (folder.file_name(), folder.parent()) {
        (Some(_), Some(parent)) => parent.to_owned(),
        _ => folder.join(".."),
    };
    // A part's own neighbours are parts.
    let beside = if store::is_part(folder) { parent } else { parent.join(FOLDER) };
    std::iter::once(beside).chain(own.map(|own| own.join(FOLDER))).collect()
}

/// `parts/NAME` of all parts at hand.
pub(super) fn part_names(own: Option<&Path>) -> Vec<String> {
    let shelves: Vec<PathBuf> = own.map(|own| own.join(FOLDER)).into_iter().collect();
    known_on(&shelves).into_iter().map(|name| format!("{FOLDER}/{name}")).collect()
}

fn known_on(shelves: &[PathBuf]) -> Vec<String> {
    let mut names: Vec<String> =
        store::shipped_part_names().iter().map(|name| (*name).to_owned()).collect();
    names.extend(shelves.iter().flat_map(|shelf| store::part_folders_in(shelf)));
    names.sort();
    names.dedup();
    names
}

/// The garment with the parts it asks for, as far as they are at hand.
///
/// # Errors
/// The folder of a part that can't be read.
pub(super) fn with_parts(
    own: PluginSource,
    shelves: &[PathBuf],
) -> Result<GarmentSource, Diagnostic> {
    let mut wanted = asked_by(&own);
    let mut source = GarmentSource::from(own);
    if wanted.is_empty() {
        return Ok(source);
    }
    source.known_parts = known_on(shelves);
    while let Some(name) = wanted.pop() {
        if source.parts.contains_key(&name) || source.parts.len() >= MOST_FETCHED {
            continue;
        }
        let on_shelf = shelves.iter().map(|shelf| shelf.join(&name));
        let part = match on_shelf.into_iter().find(|folder| store::is_part(folder)) {
            Some(folder) => Some(store::read_plugin_folder(&folder)?),
            None => store::shipped_part(&name),
        };
        if let Some(part) = part {
            wanted.extend(asked_by(&part));
            source.parts.insert(name, part);
        }
    }
    Ok(source)
}

fn asked_by(source: &PluginSource) -> Vec<String> {
    let manifests = ["plugin.toml", "part.toml"].map(|file| source.files.get(file));
    let text = manifests.into_iter().flatten().next().map(|bytes| std::str::from_utf8(bytes));
    text.and_then(Result::ok).map(parts_asked).unwrap_or_default()
}
