use std::fs;
use std::io::{self, Read, Write};
use std::path::Path;

use diag::{Code, Diagnostic};

/// Larger than any table or swatch a person writes.
const MOST_BYTES: u64 = 4 << 20;

/// Whether two ways lead to one file that is there.
pub fn is_same_file(a: &Path, b: &Path) -> bool {
    matches!((fs::canonicalize(a), fs::canonicalize(b)), (Ok(a), Ok(b)) if a == b)
}

/// Opens a file of any size, to be read bit by bit.
///
/// # Errors
/// One diagnostic that names the file and what to do.
pub fn open_file(path: &Path) -> Result<fs::File, Diagnostic> {
    fs::File::open(path).map_err(|error| {
        Diagnostic::error(Code::Read, format!("can't read {}: {error}", path.display()))
            .hint("check the path and its permissions")
    })
}

/// Reads a UTF-8 text file of a sane size. A pipe or a device that a user names is read to its end.
///
/// # Errors
/// One diagnostic that names the file and what to do.
pub fn read_text(path: &Path) -> Result<String, Diagnostic> {
    text_of(path, bytes_of(path, |path| fs::File::open(path))?)
}

/// As [`read_text`], of a file that nobody names and that lies where the program looks. What is no
/// file there is passed over, so that a pipe can't hang the program.
pub(super) fn read_own_text(path: &Path) -> Result<String, Diagnostic> {
    text_of(path, read_own_bytes(path)?)
}

pub(super) fn read_own_bytes(path: &Path) -> Result<Vec<u8>, Diagnostic> {
    bytes_of(path, open_regular)
}

/// Opens a file to be read, and nothing else: never waits for the other end of a pipe.
pub(super) fn open_regular(path: &Path) -> io::Result<fs::File> {
    plain(&fs::metadata(path)?)?;
    let mut options = fs::OpenOptions::new();
    options.read(true);
    without_waiting(&mut options);
    let file = options.open(path)?;
    plain(&file.metadata()?)?;
    Ok(file)
}

/// Lets an opening fail where it would wait: what is a file now may be a pipe in a moment.
pub(super) fn without_waiting(options: &mut fs::OpenOptions) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.custom_flags(rustix::fs::OFlags::NONBLOCK.bits().cast_signed());
    }
    #[cfg(not(unix))]
    let _ = options;
}

/// Refuses what is no file, and says what it is.
pub(super) fn plain(meta: &fs::Metadata) -> io::Result<()> {
    if meta.is_file() {
        return Ok(());
    }
    let what = if meta.is_dir() { "a folder" } else { "a pipe, a socket or a device" };
    Err(io::Error::new(io::ErrorKind::InvalidInput, format!("it is {what}, not a file")))
}

fn text_of(path: &Path, bytes: Vec<u8>) -> Result<String, Diagnostic> {
    String::from_utf8(bytes).map_err(|error| {
        Diagnostic::error(
            Code::NotText,
            format!(
                "{} is not UTF-8 text (at byte {})",
                path.display(),
                error.utf8_error().valid_up_to()
            ),
        )
        .hint("save it as plain text in UTF-8")
    })
}

fn bytes_of(
    path: &Path,
    open: impl Fn(&Path) -> io::Result<fs::File>,
) -> Result<Vec<u8>, Diagnostic> {
    let cannot = |error: io::Error| {
        let hint = match error.kind() {
            io::ErrorKind::NotFound => "check the name and the folder",
            io::ErrorKind::PermissionDenied => "check the file's permissions",
            io::ErrorKind::InvalidInput | io::ErrorKind::IsADirectory => {
                "move it away: a text file belongs there"
            }
            _ => "check the disk",
        };
        Diagnostic::error(Code::Read, format!("can't read {}: {error}", path.display())).hint(hint)
    };
    let size = fs::metadata(path).map_err(cannot)?.len();
    let too_large = |size: u64| {
        Diagnostic::error(
            Code::TooLarge,
            format!("{} has {size} bytes or more; at most {MOST_BYTES} are read", path.display()),
        )
        .hint("is it the right file?")
    };
    if size > MOST_BYTES {
        return Err(too_large(size));
    }
    // A pipe or a device tells no size: it is read to the same bound.
    let mut bytes = Vec::new();
    let file = open(path).map_err(cannot)?;
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(too_large(bytes.len() as u64));
    }
    Ok(bytes)
}

/// Writes a result file whole or not at all: into a neighbour first, synced, then renamed over.
/// A link is followed, and an existing file keeps its mode. What is no regular file (a pipe, a
/// terminal) is written to as it is.
///
/// # Errors
/// One diagnostic that names the file; an existing file is then untouched.
pub fn write_output(path: &Path, bytes: &[u8]) -> Result<(), Diagnostic> {
    let cannot = |error: io::Error| {
        Diagnostic::error(Code::Write, format!("can't write {}: {error}", path.display()))
            .hint("check that the folder exists, can be written to and has room")
    };
    let (target, old) = match fs::canonicalize(path) {
        Ok(target) => {
            let old = fs::metadata(&target).map_err(cannot)?;
            (target, Some(old))
        }
        Err(_) => (path.to_owned(), None),
    };
    if old.as_ref().is_some_and(|old| !old.is_file()) {
        let mut file = fs::OpenOptions::new().write(true).open(&target).map_err(cannot)?;
        return file.write_all(bytes).map_err(cannot);
    }
    writable(&target)?;
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    replace(&target, bytes, folder).map_err(cannot)
}

/// Refuses a file that is marked as not to be written to: what is renamed over it would not ask.
pub(super) fn writable(path: &Path) -> Result<(), Diagnostic> {
    match fs::metadata(path) {
        Ok(meta) if meta.is_file() && meta.permissions().readonly() => {
            let shown = path.display();
            let fault = format!("can't write {shown}: the file is read-only");
            Err(Diagnostic::error(Code::Write, fault)
                .hint(format!("if it is to change, make it writable: `chmod u+w {shown}`")))
        }
        _ => Ok(()),
    }
}

/// Makes a folder, and those it lies in; one that is there stays as it is.
///
/// # Errors
/// A folder that can't be made.
pub fn make_folder(path: &Path) -> Result<(), Diagnostic> {
    fs::create_dir_all(path).map_err(|error| {
        Diagnostic::error(Code::Write, format!("can't make the folder {}: {error}", path.display()))
            .hint("check that the folder it lies in can be written to")
    })
}

/// How the names of files begin that are being written.
pub(super) const HELD: &str = ".tmp-";

/// Names for new files, which get the mode of any new file, less what the umask takes.
pub(super) fn restrained<'a>(prefix: &'a str, suffix: &'a str) -> tempfile::Builder<'a, 'a> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(prefix).suffix(suffix);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder
}

/// Puts `bytes` in the place of a file, or makes it: written into the folder `hold` of the same
/// disk, synced, and renamed. An existing file keeps its mode.
pub(super) fn replace(target: &Path, bytes: &[u8], hold: &Path) -> io::Result<()> {
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut file = restrained(HELD, "").tempfile_in(hold)?;
    if let Ok(old) = fs::metadata(target) {
        file.as_file().set_permissions(old.permissions())?;
    }
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(target).map_err(|error| error.error)?;
    // The rename itself must survive a power cut too.
    fs::File::open(folder)?.sync_all()
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

    /// A link keeps pointing, a mode stays, a device is not replaced.
    #[cfg(unix)]
    #[test]
    #[allow(clippy::disallowed_types, reason = "a socket is a file that can't be written")]
    fn what_a_name_stands_for_is_written_and_not_replaced() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().expect("a folder");
        let (real, link) = (folder.path().join("real.txt"), folder.path().join("link.txt"));
        fs::write(&real, "old").expect("written");
        fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).expect("set");
        symlink(&real, &link).expect("linked");
        write_output(&link, b"new").expect("written");
        assert!(fs::symlink_metadata(&link).expect("there").file_type().is_symlink());
        assert_eq!(read_text(&real).expect("read"), "new");
        assert_eq!(fs::metadata(&real).expect("there").permissions().mode() & 0o777, 0o640);

        let endpoint = folder.path().join("endpoint");
        let _listener = std::os::unix::net::UnixListener::bind(&endpoint).expect("bound");
        assert!(write_output(&endpoint, b"x").is_err(), "it can't be opened to write");
        assert!(!fs::symlink_metadata(&endpoint).expect("there").is_file(), "nor is it replaced");
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
