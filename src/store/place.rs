use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::files::{read_text, write_output};
use diag::{Code, Diagnostic, Diagnostics, toml_text};

/// How far a piece is at the machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// What is knitted, as the page's address says it.
    pub query: String,
    /// What is knitted, in words.
    pub title: String,
    /// Stops done, and stops in all.
    pub stop: u32,
    pub of: u32,
    /// Goes up with each change.
    pub revision: u64,
}

/// Whether a text is a place's id, and so may be part of a file's name.
pub fn is_place_id(id: &str) -> bool {
    id.len() == 16 && id.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}

/// Where the program keeps its own things in a workspace.
fn folder_of(workspace: &Path) -> PathBuf {
    workspace.join(".oddments").join("places")
}

/// All places of a workspace; none where it has none yet.
///
/// # Errors
/// A folder or a file that can't be read.
pub fn read_places(workspace: &Path) -> Result<BTreeMap<String, Place>, Diagnostics> {
    let folder = folder_of(workspace);
    let mut places = BTreeMap::new();
    let entries = match fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(places),
        Err(error) => return Err(cannot(Code::Read, &folder, &error).into()),
    };
    let mut faults = Diagnostics::new();
    for entry in entries.flatten() {
        let path = entry.path();
        let Some(id) = path.file_name().and_then(|name| name.to_str()?.strip_suffix(".toml"))
        else {
            continue;
        };
        if !is_place_id(id) {
            continue;
        }
        let name = path.display().to_string();
        match read_text(&path).and_then(|text| toml_text::parse::<Place>(&name, &text)) {
            Ok(place) => {
                places.insert(id.to_owned(), place);
            }
            Err(fault) => faults.push(fault),
        }
    }
    faults.into_result(places)
}

/// Writes a place whole or not at all.
///
/// # Errors
/// A folder that can't be made or written to.
pub fn write_place(workspace: &Path, id: &str, place: &Place) -> Result<(), Diagnostic> {
    let folder = folder_of(workspace);
    fs::create_dir_all(&folder).map_err(|error| cannot(Code::Write, &folder, &error))?;
    let text = toml::to_string(place).map_err(|error| {
        Diagnostic::error(Code::Write, format!("a place can't be written down: {error}"))
    })?;
    write_output(&folder.join(format!("{id}.toml")), text.as_bytes())
}

fn cannot(code: Code, path: &Path, error: &io::Error) -> Diagnostic {
    Diagnostic::error(code, format!("can't {code} {}: {error}", path.display()))
        .hint("check the folder and its permissions")
}
