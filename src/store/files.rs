use std::fs;
use std::io::{self, Write};
use std::path::Path;

use crate::diag::Diagnostic;

/// Larger than any table or swatch a person writes.
const MOST_BYTES: u64 = 4 << 20;

/// Reads a UTF-8 text file of a sane size.
///
/// # Errors
/// One diagnostic that names the file and what to do.
pub fn read_text(path: &Path) -> Result<String, Diagnostic> {
    let bytes = read_bytes(path)?;
    String::from_utf8(bytes).map_err(|error| {
        Diagnostic::error(
            "not-text",
            format!(
                "{} is not UTF-8 text (at byte {})",
                path.display(),
                error.utf8_error().valid_up_to()
            ),
        )
        .hint("save it as plain text in UTF-8")
    })
}

pub(super) fn read_bytes(path: &Path) -> Result<Vec<u8>, Diagnostic> {
    let cannot = |error: io::Error| {
        let hint = match error.kind() {
            io::ErrorKind::NotFound => "check the name and the folder",
            io::ErrorKind::PermissionDenied => "check the file's permissions",
            _ => "check the disk",
        };
        Diagnostic::error("read", format!("can't read {}: {error}", path.display())).hint(hint)
    };
    let size = fs::metadata(path).map_err(cannot)?.len();
    if size > MOST_BYTES {
        return Err(Diagnostic::error(
            "too-large",
            format!("{} has {size} bytes; at most {MOST_BYTES} are read", path.display()),
        )
        .hint("is it the right file?"));
    }
    fs::read(path).map_err(cannot)
}

/// Writes a result file whole or not at all: into a neighbour first, synced, then renamed over.
///
/// # Errors
/// One diagnostic that names the file; an existing file is then untouched.
pub fn write_output(path: &Path, bytes: &[u8]) -> Result<(), Diagnostic> {
    let cannot = |error: io::Error| {
        Diagnostic::error("write", format!("can't write {}: {error}", path.display()))
            .hint("check that the folder exists, can be written to and has room")
    };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(cannot)?;
    file.write_all(bytes).map_err(cannot)?;
    file.as_file().sync_all().map_err(cannot)?;
    file.persist(path).map_err(|error| cannot(error.error))?;
    // The rename itself must survive a power cut too.
    fs::File::open(folder).and_then(|f| f.sync_all()).map_err(cannot)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("chart.md");
        write_output(&path, b"old").expect("written");
        let missing = folder.path().join("no-such-folder/chart.md");
        assert!(write_output(&missing, b"new").is_err());
        assert_eq!(read_text(&path).expect("read"), "old");
        assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 1, "no litter");
    }

    #[test]
    fn what_is_not_text_is_said_so() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("x.toml");
        fs::write(&path, [b'a', 0xff]).expect("written");
        let fault = read_text(&path).expect_err("not text");
        assert!(fault.message.contains("byte 1"), "{fault}");
    }
}
