//! What lies where in a workspace.

/// The file that makes a folder a workspace.
pub(super) const SETTINGS: &str = "oddments.toml";
/// Where the program keeps its own: lock, journal, schemas.
pub(super) const OWN: &str = ".oddments";
/// Files of one each, and folders with a file an id.
pub(super) const SINGLE: [&str; 9] = [
    SETTINGS,
    "stash.toml",
    "people.toml",
    "knitters.toml",
    "gifts.toml",
    "records.toml",
    "plan.toml",
    "machines.toml",
    "times.toml",
];
pub(super) const FOLDERS: [&str; 3] = ["yarns", "swatches", "size-tables"];

/// Whether a path is that of a file of the knitter's: all that a change may touch.
pub(super) fn is_knitters(inside: &str) -> bool {
    let mut parts = inside.split('/');
    match (parts.next(), parts.next(), parts.next()) {
        (Some(file), None, None) => SINGLE.contains(&file),
        (Some(folder), Some(file), None) => {
            let plain = file.ends_with(".toml") && !file.starts_with('.') && !file.contains('\\');
            FOLDERS.contains(&folder) && plain
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_touches_files_of_the_knitter_alone() {
        for own in ["oddments.toml", "stash.toml", "yarns/slate.toml", "swatches/slate-7.toml"] {
            assert!(is_knitters(own), "{own}");
        }
        for other in [
            "",
            "notes.toml",
            "stash.txt",
            "yarns",
            "yarns/",
            "yarns/slate.txt",
            "yarns/.slate.toml",
            "yarns/a\\b.toml",
            "yarns/a/b.toml",
            "../stash.toml",
            "/stash.toml",
            ".oddments/journal",
            "garments/a.toml",
        ] {
            assert!(!is_knitters(other), "{other}");
        }
    }
}
