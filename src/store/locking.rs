//! Waiting for a lock, but not for ever.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::Path;
use std::time::Duration;

use super::files::{plain, without_waiting};
use diag::{Code, Diagnostic};

const PAUSE: Duration = Duration::from_millis(10);

/// Opens a file to be locked, or makes it. What is no file there is refused, not waited for.
pub(super) fn open_lock(path: &Path) -> io::Result<File> {
    // The system's own words for it speak of devices.
    if let Ok(there) = fs::metadata(path) {
        plain(&there)?;
    }
    let mut options = OpenOptions::new();
    options.create(true).truncate(false).write(true);
    without_waiting(&mut options);
    let file = options.open(path)?;
    plain(&file.metadata()?)?;
    Ok(file)
}

/// Takes a lock of what lies in `folder`, after at most so many pauses of a hundredth of a second.
/// It is let go when the file is closed, by the system when the process dies.
#[allow(clippy::disallowed_methods, reason = "whoever waits for another writer sleeps")]
pub(super) fn wait(
    file: &File,
    attempt: impl Fn(&File) -> Result<(), TryLockError>,
    most: u32,
    folder: &Path,
) -> Result<(), Diagnostic> {
    for _ in 0..most {
        match attempt(file) {
            Ok(()) => return Ok(()),
            Err(TryLockError::WouldBlock) => std::thread::sleep(PAUSE),
            // A disk that knows no locks: one writer at a time is then up to the knitter.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {
                return Ok(());
            }
            Err(TryLockError::Error(error)) => {
                let fault = format!("can't lock {}: {error}", folder.display());
                return Err(Diagnostic::error(Code::Write, fault)
                    .hint("check that the folder exists, can be written to and has room"));
            }
        }
    }
    let fault = format!("another program has been writing to {} for long", folder.display());
    Err(Diagnostic::error(Code::Locked, fault)
        .hint("wait until it is done, or end it, and try again"))
}
