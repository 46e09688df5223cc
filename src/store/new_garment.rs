use std::fs;
use std::path::{Path, PathBuf};

use diag::{Code, Diagnostic};

/// The files of a garment to begin with. `NAME` and `TITLE` stand for its id and what people call
/// it.
const FILES: [(&str, &str); 4] = [
    ("plugin.toml", include_str!("defaults/new-garment/plugin.toml")),
    ("init.luau", include_str!("defaults/new-garment/init.luau")),
    ("README.md", include_str!("defaults/new-garment/README.md")),
    ("cases/women-m.toml", include_str!("defaults/new-garment/cases/women-m.toml")),
];

/// A garment to begin with, by path in its folder.
pub fn new_garment_files(id: &str, title: &str) -> Vec<(String, String)> {
    let filled = |text: &str| text.replace("NAME=VALUE", "\u{0}").replace("NAME", id);
    let filled = |text: &str| filled(text).replace('\u{0}', "NAME=VALUE").replace("TITLE", title);
    FILES.iter().map(|(path, text)| ((*path).to_owned(), filled(text))).collect()
}

/// Writes a new folder whole or not at all: under another name first, then renamed.
///
/// # Errors
/// One diagnostic where there is something of that name already, or the parent can't be written.
pub fn write_new_folder(
    parent: &Path,
    name: &str,
    files: &[(String, String)],
) -> Result<PathBuf, Diagnostic> {
    let target = parent.join(name);
    if fs::symlink_metadata(&target).is_ok() {
        return Err(Diagnostic::error(
            Code::Exists,
            format!("there is a `{}` already", target.display()),
        )
        .hint("choose another name, or move that one away: nothing is overwritten"));
    }
    write(parent, &target, files).map_err(|error| {
        Diagnostic::error(Code::Write, format!("can't make {}: {error}", target.display()))
            .hint("check that the folder it goes into can be written to and has room")
    })?;
    Ok(target)
}

fn write(parent: &Path, target: &Path, files: &[(String, String)]) -> std::io::Result<()> {
    let parent = if parent.as_os_str().is_empty() { Path::new(".") } else { parent };
    fs::create_dir_all(parent)?;
    let hold = tempfile::Builder::new().prefix(".new-garment-").tempdir_in(parent)?;
    // One deeper: the holding folder is closed to others, which the garment's should not be.
    let fresh = hold.path().join("garment");
    fs::create_dir(&fresh)?;
    for (path, text) in files {
        let path = fresh.join(path);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::write(&path, text)?;
        fs::File::open(&path)?.sync_all()?;
    }
    fs::rename(&fresh, target)?;
    fs::File::open(parent)?.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_overwritten_and_nothing_is_left_behind() {
        let folder = tempfile::tempdir().expect("a folder");
        let files = new_garment_files("brim", "Brim");
        let made = write_new_folder(folder.path(), "brim", &files).expect("written");
        assert!(made.join("cases/women-m.toml").is_file());
        fs::write(made.join("plugin.toml"), "mine").expect("written");
        let fault = write_new_folder(folder.path(), "brim", &files).expect_err("is there");
        assert_eq!(fault.code, Code::Exists);
        assert_eq!(fs::read_to_string(made.join("plugin.toml")).expect("read"), "mine");
        assert!(write_new_folder(&made.join("plugin.toml"), "brim", &files).is_err());
        assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn every_blank_is_filled_in() {
        for (path, text) in new_garment_files("sea-band", "Sea band") {
            assert!(!text.replace("NAME=VALUE", "").contains("NAME"), "{path}");
            assert!(!text.contains("TITLE"), "{path}");
        }
    }
}
