use std::fs::{self, File, OpenOptions, TryLockError};
use std::time::Duration;

use super::folder::{Folder, OWN, cannot_write};
use crate::files::{open_regular, plain, without_waiting};
use diag::{Code, Diagnostic};

const LOCK: &str = ".oddments/lock";
const PAUSE: Duration = Duration::from_millis(10);
/// Ten seconds: far longer than any change takes.
const MOST_PAUSES: u32 = 1000;

/// Holds a workspace for one writer, or for readers among themselves. Let go when dropped, and
/// by the system when the process dies.
#[derive(Debug)]
pub(super) struct Lock {
    /// Closing it lets go.
    _file: Option<File>,
}

impl Lock {
    /// To write: waits for whoever else reads or writes.
    pub fn exclusive(folder: &Folder) -> Result<Lock, Diagnostic> {
        let path = folder.target(LOCK)?;
        let cannot = |error| cannot_write(&path, &error);
        let mut options = OpenOptions::new();
        options.create(true).truncate(false).write(true);
        without_waiting(&mut options);
        let file = options.open(&path).map_err(cannot)?;
        file.metadata().and_then(|meta| plain(&meta)).map_err(cannot)?;
        wait(&file, File::try_lock, folder)?;
        Ok(Lock { _file: Some(file) })
    }

    /// To read one moment's state. A workspace nobody ever wrote to has no lock and needs none.
    pub fn shared(folder: &Folder) -> Result<Lock, Diagnostic> {
        match open_regular(&folder.path(LOCK)) {
            Ok(file) => {
                wait(&file, File::try_lock_shared, folder)?;
                Ok(Lock { _file: Some(file) })
            }
            Err(_) => Ok(Lock { _file: None }),
        }
    }
}

#[allow(clippy::disallowed_methods, reason = "whoever waits for another writer sleeps")]
fn wait(
    file: &File,
    attempt: impl Fn(&File) -> Result<(), TryLockError>,
    folder: &Folder,
) -> Result<(), Diagnostic> {
    for _ in 0..MOST_PAUSES {
        match attempt(file) {
            Ok(()) => return Ok(()),
            Err(TryLockError::WouldBlock) => std::thread::sleep(PAUSE),
            // A disk that knows no locks: one writer at a time is then up to the knitter.
            Err(TryLockError::Error(error)) if error.kind() == std::io::ErrorKind::Unsupported => {
                return Ok(());
            }
            Err(TryLockError::Error(error)) => {
                return Err(cannot_write(&folder.path(LOCK), &error));
            }
        }
    }
    let fault = format!("another program has been writing to {} for long", folder.shown(""));
    Err(Diagnostic::error(Code::Locked, fault)
        .hint("wait until it is done, or end it, and try again"))
}

/// Makes the folder of the program's own files.
pub(super) fn make_own(folder: &Folder) -> Result<(), Diagnostic> {
    let path = folder.path(OWN);
    if !path.is_dir() {
        fs::create_dir(&path)
            .or_else(|error| if path.is_dir() { Ok(()) } else { Err(error) })
            .map_err(|error| cannot_write(&path, &error))?;
    }
    Ok(())
}
