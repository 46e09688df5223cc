//! Renaming that loses nothing that has the new name already.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Moves a file beside another, under the first free name: `stash.toml.kept-1`.
pub(super) fn keep_beside(path: &Path, target: &Path) -> io::Result<PathBuf> {
    let name = target.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mut number = 1;
    loop {
        let kept = target.with_file_name(format!("{name}.kept-{number}"));
        match without_replacing(path, &kept) {
            Ok(()) => return Ok(kept),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => number += 1,
            Err(error) => return Err(error),
        }
    }
}

/// Renames, unless there is something of that name.
pub(super) fn without_replacing(from: &Path, to: &Path) -> io::Result<()> {
    match rename_with(from, to, How::NoReplace) {
        Err(error) if error.kind() == io::ErrorKind::Unsupported => {}
        other => return other,
    }
    match fs::hard_link(from, to) {
        Ok(()) => fs::remove_file(from),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
        Err(_) if fs::symlink_metadata(to).is_ok() => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(from, to),
    }
}

/// Lets two files change places in one step; `Unsupported` where that can't be.
pub(super) fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    rename_with(one, other, How::Exchange)
}

#[derive(Clone, Copy)]
enum How {
    Exchange,
    NoReplace,
}

/// `Unsupported` where the system or the disk knows no such thing.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn rename_with(from: &Path, to: &Path, how: How) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    let flags = match how {
        How::Exchange => RenameFlags::EXCHANGE,
        How::NoReplace => RenameFlags::NOREPLACE,
    };
    renameat_with(CWD, from, CWD, to, flags).map_err(|errno| match errno {
        Errno::INVAL | Errno::NOSYS | Errno::NOTSUP | Errno::NOTTY => {
            io::ErrorKind::Unsupported.into()
        }
        other => other.into(),
    })
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn rename_with(_: &Path, _: &Path, _: How) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}
