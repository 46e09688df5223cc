use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use super::files::read_own_bytes;
use diag::{Code, Diagnostic};
use knit::body::OwnMeasure;
use script::{PluginSource, own_measures};

/// Files in a plugin folder, and folders below it, that are looked at.
const MOST_FILES: usize = 200;
const DEEPEST: usize = 4;
/// How the names of files end that are read.
const READ: [&str; 4] = [".luau", ".lua", ".toml", ".md"];

/// Whether the folder looks like a garment.
pub fn is_plugin(folder: &Path) -> bool {
    folder.join("plugin.toml").is_file()
}

/// Whether the folder looks like a part that garments are made with.
pub fn is_part(folder: &Path) -> bool {
    folder.join("part.toml").is_file()
}

/// Names of the parts inside `folder`, in order; none where it can't be read.
pub fn part_folders_in(folder: &Path) -> Vec<String> {
    folders_in(folder, is_part)
}

/// Names of the garment folders inside `folder`, in order; none where it can't be read.
pub fn plugin_folders_in(folder: &Path) -> Vec<String> {
    folders_in(folder, is_plugin)
}

fn folders_in(folder: &Path, wanted: fn(&Path) -> bool) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .filter(|entry| wanted(&entry.path()))
        .filter_map(|entry| entry.file_name().into_string().ok())
        .collect();
    names.sort();
    names
}

/// Reads a plugin folder, or a part's, into memory. Links are not followed, so a folder can't reach outside;
/// pipes and devices are passed over, so it can't hang the reader.
///
/// # Errors
/// When the folder can't be read or is no plugin at all.
pub fn read_plugin_folder(folder: &Path) -> Result<PluginSource, Diagnostic> {
    if !is_plugin(folder) && !is_part(folder) {
        return Err(Diagnostic::error(
            Code::NoPlugin,
            format!("{} holds no plugin.toml", folder.display()),
        )
        .hint("name the folder that has plugin.toml and init.luau in it"));
    }
    let mut files = BTreeMap::new();
    collect(folder, "", 0, &mut files)?;
    Ok(PluginSource { folder: folder.display().to_string(), files })
}

/// The body measures that the garment in a folder makes known; none where its manifest can't be read.
pub(crate) fn own_measures_in(folder: &Path) -> Vec<OwnMeasure> {
    let bytes = read_own_bytes(&folder.join("plugin.toml")).unwrap_or_default();
    own_measures(&String::from_utf8(bytes).unwrap_or_default())
}

fn collect(
    folder: &Path,
    prefix: &str,
    depth: usize,
    files: &mut BTreeMap<String, Vec<u8>>,
) -> Result<(), Diagnostic> {
    let cannot = |error: std::io::Error| {
        Diagnostic::error(Code::Read, format!("can't read {}: {error}", folder.display()))
    };
    for entry in fs::read_dir(folder).map_err(cannot)? {
        let entry = entry.map_err(cannot)?;
        let kind = entry.file_type().map_err(cannot)?;
        let Ok(name) = entry.file_name().into_string() else { continue };
        if name.starts_with('.') || kind.is_symlink() {
            continue;
        }
        let path = format!("{prefix}{name}");
        if kind.is_dir() {
            if depth < DEEPEST {
                collect(&entry.path(), &format!("{path}/"), depth + 1, files)?;
            }
        } else if kind.is_file() && READ.iter().any(|end| name.ends_with(end)) {
            if files.len() == MOST_FILES {
                return Err(Diagnostic::error(
                    Code::TooManyFiles,
                    format!("{} holds more than {MOST_FILES} files", folder.display()),
                )
                .hint("a garment needs a script, a manifest, a page and a few cases"));
            }
            files.insert(path, read_own_bytes(&entry.path())?);
        }
    }
    Ok(())
}
