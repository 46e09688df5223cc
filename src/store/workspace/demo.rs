use std::fs;
use std::io;
use std::path::Path;

use include_dir::{Dir, include_dir};

use super::edit::header;
use super::folder::{OWN, SETTINGS, cannot_write};
use super::schemas::{schema, schema_names};
use diag::{Code, Diagnostic};

static DEMO: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../fixtures/demo");

/// The demo scenario: the keeper's family at Skerry Light. Paths and texts.
pub fn demo_files() -> Vec<(String, String)> {
    let mut files = Vec::new();
    gather(&DEMO, &mut files);
    files
}

fn gather(dir: &Dir<'_>, files: &mut Vec<(String, String)>) {
    for file in dir.files() {
        if let (Some(path), Some(text)) = (file.path().to_str(), file.contents_utf8()) {
            files.push((path.replace('\\', "/"), text.to_owned()));
        }
    }
    for inner in dir.dirs() {
        gather(inner, files);
    }
}

/// What a workspace begins with: settings, and lists with an example in a comment.
pub fn empty_files() -> Vec<(String, String)> {
    let with = |path: &str, text: &str| (path.to_owned(), format!("{}{text}", header(path)));
    vec![
        with(SETTINGS, include_str!("../defaults/workspace/oddments.toml")),
        with("stash.toml", include_str!("../defaults/workspace/stash.toml")),
        with("people.toml", include_str!("../defaults/workspace/people.toml")),
        with("gifts.toml", include_str!("../defaults/workspace/gifts.toml")),
    ]
}

/// Makes a workspace of these files, with the schemas for editors. The settings come last: a
/// folder is no workspace before it is whole.
///
/// # Errors
/// A folder that has something in it, or can't be written to.
pub fn make(folder: &Path, files: &[(String, String)]) -> Result<(), Diagnostic> {
    let occupied = match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_some(),
        Err(error) if error.kind() == io::ErrorKind::NotFound => false,
        Err(error) => return Err(cannot_write(folder, &error)),
    };
    if occupied {
        return Err(Diagnostic::error(
            Code::Occupied,
            format!("{} is not empty", folder.display()),
        )
        .hint("nothing is overwritten: name a new folder"));
    }
    let schemas = schema_names()
        .into_iter()
        .filter_map(|name| Some((format!("{OWN}/schemas/{name}.json"), schema(name)?)));
    let mut all: Vec<(String, String)> = files.iter().cloned().chain(schemas).collect();
    all.sort_by_key(|(path, _)| path == SETTINGS);
    for (path, text) in &all {
        let path = folder.join(path);
        let written = fs::create_dir_all(path.parent().unwrap_or(folder))
            .and_then(|()| fs::write(&path, text))
            .and_then(|()| fs::File::open(&path)?.sync_all());
        written.map_err(|error| cannot_write(&path, &error))?;
    }
    fs::File::open(folder).and_then(|f| f.sync_all()).map_err(|error| cannot_write(folder, &error))
}
