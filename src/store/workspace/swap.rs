//! Puts a text in the place of another, and loses no third.
//!
//! An editor knows nothing of our lock. So a file is never written over: the new text and the file
//! change places, in one step where the system can, and what came out is looked at. When it is not
//! what the change was made on, somebody saved it at that very moment: it goes back. What can't go
//! back is kept beside the file. Until it is looked at again, what came out lies with the
//! program's own files, under a name that says what it should hold, so that a kill loses nothing.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::layout::FOLDERS;
use super::sums::sum_of;
use crate::files::{HELD, open_regular, restrained};
use crate::renames::{exchange, keep_beside, without_replacing};

/// How the names begin of what came out of a file's place.
const OUT: &str = ".out-";
/// Stands in such a name for "no file".
const NONE: &str = "none";
/// How often a text is put back when others are saved all the while.
const MOST_TRIES: usize = 16;

/// What came of it.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Swapped {
    Done,
    /// The file is no longer what the change was made on, and was left so. What was saved
    /// meanwhile and found no place in it is kept here.
    Changed(Option<PathBuf>),
}

/// How much the system can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Two files change places in one step.
    Exchange,
    /// A second name holds what is replaced.
    Link,
    /// Neither: it is looked at just before.
    Look,
}

/// One file and what is to become of it; `None`: there is, or will be, none.
pub(super) struct Swap<'a> {
    /// The path inside the workspace.
    pub inside: &'a str,
    /// Where that is on the disk, links followed.
    pub target: &'a Path,
    /// A folder of the program's own on the same disk.
    pub hold: &'a Path,
    pub before: Option<&'a str>,
    pub after: Option<&'a str>,
}

impl Swap<'_> {
    /// # Errors
    /// The disk's. The file is then what it was.
    pub fn make(&self, way: Way) -> io::Result<Swapped> {
        let swapped = match (self.before, self.after) {
            (None, None) => Ok(Swapped::Done),
            (None, Some(text)) => self.create(text),
            (Some(_), None) => self.take_away(),
            (Some(_), Some(text)) => self.replace(text, way),
        }?;
        // What happened to the names must survive a power cut too.
        let folder = self.target.parent().unwrap_or(Path::new("."));
        File::open(folder)?.sync_all()?;
        Ok(swapped)
    }

    fn create(&self, text: &str) -> io::Result<Swapped> {
        let fresh = self.fresh(text)?;
        match fresh.persist_noclobber(self.target) {
            Ok(_) => Ok(Swapped::Done),
            Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
                Ok(Swapped::Changed(None))
            }
            Err(error) => Err(error.error),
        }
    }

    fn take_away(&self) -> io::Result<Swapped> {
        let out = self.out()?;
        match fs::rename(self.target, &out) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                fs::remove_file(&out)?;
                return Ok(Swapped::Done);
            }
            other => other?,
        }
        if self.holds(&out, self.before) {
            return Ok(Swapped::Done);
        }
        match without_replacing(&out, self.target) {
            Ok(()) => Ok(Swapped::Changed(None)),
            // Another was made meanwhile.
            Err(_) => keep_beside(&out, self.target).map(|kept| Swapped::Changed(Some(kept))),
        }
    }

    fn replace(&self, text: &str, way: Way) -> io::Result<Swapped> {
        let out = self.out()?;
        let fresh = self.fresh(text)?;
        if let Ok(old) = fs::metadata(self.target) {
            fresh.as_file().set_permissions(old.permissions())?;
        }
        fresh.persist(&out).map_err(|error| error.error)?;
        if way != Way::Exchange {
            return self.replace_looking(&out, way);
        }
        match exchange(&out, self.target) {
            Ok(()) if self.holds(&out, self.before) => Ok(Swapped::Done),
            Ok(()) => self.put_back(&out),
            Err(error) if error.kind() == io::ErrorKind::Unsupported => {
                self.replace_looking(&out, Way::Link)
            }
            // It is gone: the change was not made on that.
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                fs::remove_file(&out)?;
                Ok(Swapped::Changed(None))
            }
            Err(error) => {
                fs::remove_file(&out)?;
                Err(error)
            }
        }
    }

    /// Undoes an exchange. Others may save meanwhile: what was saved last is to be in the file.
    fn put_back(&self, out: &Path) -> io::Result<Swapped> {
        // What the file's place holds, for all we know; and what lies outside.
        let mut inside = self.after.map(|text| text.as_bytes().to_vec());
        for _ in 0..MOST_TRIES {
            let outside = bytes_of(out);
            match exchange(out, self.target) {
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    // It was taken away by hand, with what we had put there.
                    return match without_replacing(out, self.target) {
                        Ok(()) => Ok(Swapped::Changed(None)),
                        Err(_) => self.kept(out),
                    };
                }
                other => other?,
            }
            if bytes_of(out) == inside {
                return if self.holds(out, self.after) {
                    Ok(Swapped::Changed(None))
                } else {
                    self.kept(out)
                };
            }
            inside = outside;
        }
        self.kept(out)
    }

    fn kept(&self, out: &Path) -> io::Result<Swapped> {
        keep_beside(out, self.target).map(|kept| Swapped::Changed(Some(kept)))
    }

    /// Where two files can't change places: `fresh` is renamed over the file, which a second name
    /// holds meanwhile, if there can be one.
    fn replace_looking(&self, fresh: &Path, way: Way) -> io::Result<Swapped> {
        let held = self.out()?;
        fs::remove_file(&held)?;
        let linked = way != Way::Look && fs::hard_link(self.target, &held).is_ok();
        let same = !linked || is_same_file(&held, self.target);
        if !same || !self.holds(self.target, self.before) {
            fs::remove_file(fresh)?;
            if linked {
                fs::remove_file(&held)?;
            }
            return Ok(Swapped::Changed(None));
        }
        fs::rename(fresh, self.target)?;
        if !linked || self.holds(&held, self.before) {
            return Ok(Swapped::Done);
        }
        if self.holds(self.target, self.after) {
            fs::rename(&held, self.target)?;
            return Ok(Swapped::Changed(None));
        }
        self.kept(&held)
    }

    /// A file with this text, whole on the disk, that a kill leaves among the litter.
    fn fresh(&self, text: &str) -> io::Result<tempfile::NamedTempFile> {
        let mut fresh = restrained(HELD, "").tempfile_in(self.hold)?;
        fresh.write_all(text.as_bytes())?;
        fresh.as_file().sync_all()?;
        Ok(fresh)
    }

    /// A new name for what comes out, with an empty file under it.
    fn out(&self) -> io::Result<PathBuf> {
        let sum = |text: Option<&str>| text.map_or(NONE.to_owned(), |text| sum_of(text.as_bytes()));
        let prefix = format!("{OUT}{}-{}-", sum(self.before), sum(self.after));
        let suffix = format!("-{}", self.inside.replacen('/', ",", 1));
        let (_, out) = restrained(&prefix, &suffix).tempfile_in(self.hold)?.keep()?;
        Ok(out)
    }

    fn holds(&self, path: &Path, text: Option<&str>) -> bool {
        bytes_of(path).as_deref() == text.map(str::as_bytes)
    }
}

/// What lies in the program's own folder and came out of a file's place.
pub(super) struct Out {
    path: PathBuf,
    /// The path inside the workspace that it came from.
    pub inside: String,
    sums: [String; 2],
}

impl Out {
    pub fn of(path: &Path) -> Option<Out> {
        let name = path.file_name()?.to_str()?.strip_prefix(OUT)?;
        let mut parts = name.splitn(4, '-');
        let sums = [parts.next()?.to_owned(), parts.next()?.to_owned()];
        let inside = parts.nth(1)?;
        let inside = match inside.split_once(',') {
            Some((folder, file)) if FOLDERS.contains(&folder) => format!("{folder}/{file}"),
            _ => inside.to_owned(),
        };
        Some(Out { path: path.to_owned(), inside, sums })
    }

    /// Clears it away, unless someone wrote something else into it: that is kept beside the file.
    /// An empty one is left with `leave_empty`: a program that has just emptied the file has yet to
    /// write into it.
    ///
    /// # Errors
    /// It can't be kept there; it stays where it is then.
    pub fn clear(&self, target: &Path, leave_empty: bool) -> io::Result<Option<PathBuf>> {
        let mut file = match open_regular(&self.path) {
            Ok(file) => file,
            // No text of anybody's.
            Err(_) => return Ok(None),
        };
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes)?;
        if bytes.is_empty() && leave_empty {
            return Ok(None);
        }
        if !bytes.is_empty() && !self.sums.contains(&sum_of(&bytes)) {
            return keep_beside(&self.path, target).map(Some);
        }
        fs::remove_file(&self.path)?;
        // A program that had opened it before may have written this late.
        let mut late = Vec::new();
        file.seek(SeekFrom::Start(0))?;
        file.read_to_end(&mut late)?;
        if late == bytes {
            return Ok(None);
        }
        fs::write(&self.path, &late)?;
        keep_beside(&self.path, target).map(Some)
    }
}

fn bytes_of(path: &Path) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    open_regular(path).ok()?.read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

#[cfg(unix)]
fn is_same_file(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |path: &Path| fs::metadata(path).ok().map(|meta| (meta.dev(), meta.ino()));
    id(one) == id(other)
}

#[cfg(not(unix))]
fn is_same_file(_: &Path, _: &Path) -> bool {
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    const WAYS: [Way; 3] = [Way::Exchange, Way::Link, Way::Look];

    /// Makes a swap of `before` and `after` in a folder whose file holds `there`. Gives what came of
    /// it, what the file holds, and what else is there when all is swept.
    fn made(
        way: Way,
        there: Option<&str>,
        before: Option<&str>,
        after: Option<&str>,
    ) -> (Swapped, Option<String>, Vec<String>) {
        let folder = tempfile::tempdir().expect("a folder");
        let hold = folder.path().join("own");
        fs::create_dir(&hold).expect("made");
        let target = folder.path().join("stash.toml");
        if let Some(text) = there {
            fs::write(&target, text).expect("written");
        }
        let swap = Swap { inside: "stash.toml", target: &target, hold: &hold, before, after };
        let swapped = swap.make(way).expect("made");
        for entry in fs::read_dir(&hold).expect("listed").flatten() {
            let out = Out::of(&entry.path()).expect("a name of ours");
            assert_eq!(out.inside, "stash.toml");
            assert_eq!(out.clear(&target, false).expect("cleared"), None);
        }
        let names = |folder: &Path| {
            let entries = fs::read_dir(folder).expect("listed").flatten();
            entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect::<Vec<_>>()
        };
        let mut rest = [names(folder.path()), names(&hold)].concat();
        rest.retain(|name| !["own", "stash.toml"].contains(&name.as_str()));
        (swapped, fs::read_to_string(&target).ok(), rest)
    }

    #[test]
    fn a_file_is_replaced_made_and_taken_away() {
        for way in WAYS {
            for (before, after) in [(Some("a"), Some("b")), (None, Some("b")), (Some("a"), None)] {
                let (swapped, text, rest) = made(way, before, before, after);
                assert_eq!(swapped, Swapped::Done, "{way:?}");
                assert_eq!(text.as_deref(), after);
                assert_eq!(rest, Vec::<String>::new());
            }
        }
    }

    #[test]
    fn what_was_saved_meanwhile_stays() {
        let cases = [
            (Some("mine"), Some("a"), Some("b")),
            (Some("mine"), None, Some("b")),
            (Some("mine"), Some("a"), None),
            (None, Some("a"), Some("b")),
        ];
        for way in WAYS {
            for (there, before, after) in cases {
                let (swapped, text, rest) = made(way, there, before, after);
                assert_eq!(swapped, Swapped::Changed(None), "{way:?} {there:?}");
                assert_eq!(text.as_deref(), there);
                assert_eq!(rest, Vec::<String>::new());
            }
        }
    }

    #[test]
    fn what_is_written_late_is_kept_beside_under_a_free_name() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("slate.toml");
        let hold = folder.path();
        fs::write(&target, "a").expect("written");
        fs::write(folder.path().join("slate.toml.kept-1"), "earlier").expect("written");
        let (before, after) = (Some("a"), Some("b"));
        let swap = Swap { inside: "yarns/slate.toml", target: &target, hold, before, after };
        assert_eq!(swap.make(Way::Exchange).expect("made"), Swapped::Done);
        let outs = fs::read_dir(hold).expect("listed").flatten();
        let out = outs.filter_map(|entry| Out::of(&entry.path())).next().expect("what came out");
        assert_eq!(out.inside, "yarns/slate.toml");
        fs::write(&out.path, "").expect("written");
        assert_eq!(out.clear(&target, true).expect("left"), None);
        fs::write(&out.path, "late").expect("written");
        let kept = out.clear(&target, true).expect("kept").expect("beside");
        assert!(kept.ends_with("slate.toml.kept-2"));
        assert_eq!(fs::read_to_string(kept).expect("there"), "late");
        assert_eq!(fs::read_to_string(&target).expect("there"), "b");
    }

    /// Whatever is saved by renaming while the file is replaced is in it, or beside it.
    #[test]
    fn of_two_who_save_at_once_none_loses_a_text() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("stash.toml");
        let hold = folder.path().join("own");
        fs::create_dir(&hold).expect("made");
        fs::write(&target, "0").expect("written");
        let (mut refused, mut kept) = (0, 0);
        for turn in 0..400 {
            let before = fs::read_to_string(&target).expect("there");
            let after = format!("ours {turn}");
            let by_hand = [format!("hand {turn} a"), format!("hand {turn} b")];
            #[allow(clippy::disallowed_methods, reason = "an editor saves while a change is made")]
            let swapped = std::thread::scope(|scope| {
                scope.spawn(|| {
                    for text in &by_hand {
                        let fresh = folder.path().join("fresh");
                        fs::write(&fresh, text).expect("written");
                        fs::rename(&fresh, &target).expect("renamed");
                    }
                });
                let (before, after) = (Some(before.as_str()), Some(after.as_str()));
                let swap =
                    Swap { inside: "stash.toml", target: &target, hold: &hold, before, after };
                swap.make(Way::Exchange).expect("made")
            });
            // Whoever saves last has the word: ours came before it, or was taken back.
            let text = fs::read_to_string(&target).expect("there");
            assert_eq!(text, by_hand[1], "{swapped:?}");
            refused += u32::from(matches!(swapped, Swapped::Changed(_)));
            kept += u32::from(matches!(swapped, Swapped::Changed(Some(_))));
        }
        assert!(refused > 0, "no race was met; {kept} kept");
    }
}
