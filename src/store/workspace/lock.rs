use std::fs::{self, File};

use super::folder::{Folder, OWN, cannot_write};
use crate::files::open_regular;
use crate::locking::{open_lock, wait};
use diag::{Code, Diagnostic};

const LOCK: &str = ".oddments/lock";
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
        let file = open_lock(&path).map_err(cannot)?;
        wait(&file, File::try_lock, MOST_PAUSES, &folder.path(""))?;
        Ok(Lock { _file: Some(file) })
    }

    /// To read one moment's state. A workspace nobody ever wrote to has no lock and needs none.
    pub fn shared(folder: &Folder) -> Result<Lock, Diagnostic> {
        match open_regular(&folder.path(LOCK)) {
            Ok(file) => {
                wait(&file, File::try_lock_shared, MOST_PAUSES, &folder.path(""))?;
                Ok(Lock { _file: Some(file) })
            }
            Err(_) => Ok(Lock { _file: None }),
        }
    }
}

/// Makes the folder of the program's own files.
pub(super) fn make_own(folder: &Folder) -> Result<(), Diagnostic> {
    let path = folder.path(OWN);
    if !path.is_dir() {
        if path.exists() {
            let fault = format!("can't write into {}: it is no folder", path.display());
            return Err(Diagnostic::error(Code::Write, fault)
                .hint("move it away: the program puts a folder of its own there"));
        }
        fs::create_dir(&path)
            .or_else(|error| if path.is_dir() { Ok(()) } else { Err(error) })
            .map_err(|error| cannot_write(&path, &error))?;
    }
    Ok(())
}
