use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

use diag::{Code, Diagnostic, Diagnostics, Severity};
use store::{self, Place, PlaceFolder, Worked};

/// More pieces than anyone has on the needles at once.
const MOST: usize = 1_000;

/// How far the knitter is in each piece: in the workspace folder where there is one, else only
/// while the program runs.
#[derive(Debug)]
pub struct Places {
    kept: Kept,
    /// Of files that are damaged.
    pub warnings: Diagnostics,
}

#[derive(Debug)]
enum Kept {
    /// On the disk alone: another server may put places there as well.
    Folder(PlaceFolder),
    Memory(Mutex<BTreeMap<String, (Place, Worked)>>),
}

/// What came of setting a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Put {
    Done(Place),
    /// Somebody else moved on since: where the place is now.
    Behind(Place),
}

impl Places {
    /// Damaged files are set aside, and a folder that can't be read is done without: both are told
    /// in the warnings.
    ///
    /// # Errors
    /// None today: whatever is wrong with the folder is a warning.
    pub fn open(folder: Option<PathBuf>) -> Result<Places, Diagnostics> {
        let memory = || Kept::Memory(Mutex::new(BTreeMap::new()));
        let Some(folder) = folder else {
            return Ok(Places { kept: memory(), warnings: Diagnostics::new() });
        };
        let folder = PlaceFolder::of(&folder);
        Ok(match folder.mend() {
            Ok(warnings) => Places { kept: Kept::Folder(folder), warnings },
            Err(fault) => {
                let fault = Diagnostic { severity: Severity::Warning, ..fault };
                Places { kept: memory(), warnings: fault.into() }
            }
        })
    }

    /// Whether places outlive the program.
    pub fn lasting(&self) -> bool {
        matches!(self.kept, Kept::Folder(_))
    }

    /// `None` where the piece is not begun, or its place can't be read.
    pub fn get(&self, id: &str) -> Option<Place> {
        match &self.kept {
            // Anything else could name a file elsewhere.
            _ if !store::is_place_id(id) => None,
            Kept::Folder(folder) => folder.read(id).ok().flatten(),
            Kept::Memory(kept) => held(kept).get(id).map(|(place, _)| place.clone()),
        }
    }

    /// Time worked on a piece, as far as steps were told; nothing where that can't be read.
    pub fn worked(&self, id: &str) -> Worked {
        match &self.kept {
            _ if !store::is_place_id(id) => Worked::default(),
            Kept::Folder(folder) => folder.worked(id).ok().flatten().unwrap_or_default(),
            Kept::Memory(kept) => held(kept).get(id).map(|(_, worked)| *worked).unwrap_or_default(),
        }
    }

    /// All places, by id.
    pub fn all(&self) -> Vec<(String, Place)> {
        let all = match &self.kept {
            Kept::Folder(folder) => folder.all().map(|all| all.places).unwrap_or_default(),
            Kept::Memory(kept) => {
                let kept = held(kept);
                kept.iter().map(|(id, (place, _))| (id.clone(), place.clone())).collect()
            }
        };
        all.into_iter().collect()
    }

    /// Moves a place on. `place.revision` is the one the knitter saw: an older one than what is
    /// kept is refused, so that two devices can't count a row twice. A newer one is taken: then
    /// the program forgot, and the device knows better. `now` is the time in seconds since 1970: since
    /// the step before, the piece was worked on, or there was a pause.
    ///
    /// # Errors
    /// An id that is none, a place that can't be, too many places, a folder that can't be written.
    pub fn put(&self, id: &str, place: Place, now: i64) -> Result<Put, Diagnostics> {
        if !store::is_place_id(id) {
            return Err(Diagnostic::error(Code::NoPlace, "that is no place's id")
                .hint("ids are 16 hexadecimal digits")
                .into());
        }
        match &self.kept {
            Kept::Folder(folder) => Ok(folder.put(id, |before, worked, count| {
                let put = moved(place, before.clone(), count)?;
                let fresh = match &put {
                    Put::Done(to) => Some((to.clone(), worked.after(before.as_ref(), to, now))),
                    Put::Behind(_) => None,
                };
                Ok((fresh, put))
            })?),
            Kept::Memory(kept) => {
                let mut kept = held(kept);
                let (before, worked) = kept.get(id).cloned().unzip();
                let put = moved(place, before.clone(), kept.len())?;
                if let Put::Done(to) = &put {
                    let worked = worked.unwrap_or_default().after(before.as_ref(), to, now);
                    kept.insert(id.to_owned(), (to.clone(), worked));
                }
                Ok(put)
            }
        }
    }
}

/// Where a place comes to, from where it is now, among so many others.
fn moved(place: Place, now: Option<Place>, count: usize) -> Result<Put, Diagnostic> {
    match now {
        Some(now) if place.revision < now.revision => return Ok(Put::Behind(now)),
        None if count >= MOST => {
            return Err(Diagnostic::error(
                Code::TooManyPlaces,
                format!("there are {MOST} pieces begun already"),
            )
            .hint("remove old ones from the folder .oddments/places"));
        }
        _ => {}
    }
    let place = Place { revision: place.revision.saturating_add(1), ..place };
    place.check()?;
    Ok(Put::Done(place))
}

fn held(
    kept: &Mutex<BTreeMap<String, (Place, Worked)>>,
) -> MutexGuard<'_, BTreeMap<String, (Place, Worked)>> {
    // A panic while it was held leaves the map whole: insertions are single steps.
    kept.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "tests damage files of their own, from two threads")]
mod tests {
    use super::*;

    fn place(stop: u32, revision: u64) -> Place {
        Place { query: "garment=tam".to_owned(), title: "Tam".to_owned(), stop, of: 9, revision }
    }

    #[test]
    fn two_devices_never_count_a_row_twice() {
        let places = Places::open(None).expect("opened");
        let id = "0123456789abcdef";
        let Put::Done(first) = places.put(id, place(1, 0), 0).expect("put") else {
            panic!("refused")
        };
        assert_eq!(first.revision, 1);
        let Put::Behind(now) = places.put(id, place(1, 0), 0).expect("put") else {
            panic!("the same row counted twice")
        };
        assert_eq!(now, first);
        assert!(matches!(places.put(id, place(2, 1), 0).expect("put"), Put::Done(_)));
        assert!(matches!(places.put(id, place(7, 40), 0).expect("put"), Put::Done(_)));
        assert!(places.put("../etc/passwd", place(1, 0), 0).is_err());
    }

    #[test]
    fn a_place_in_a_folder_outlives_the_program() {
        let folder = tempfile::tempdir().expect("a folder");
        let id = "0123456789abcdef";
        let places = Places::open(Some(folder.path().to_owned())).expect("opened");
        let Put::Done(put) = places.put(id, place(3, 0), 0).expect("put") else {
            panic!("refused")
        };
        drop(places);
        let again = Places::open(Some(folder.path().to_owned())).expect("opened");
        assert_eq!(again.get(id), Some(put));
    }

    const ID: &str = "0123456789abcdef";

    fn opened(folder: &tempfile::TempDir) -> Places {
        Places::open(Some(folder.path().to_owned())).expect("opened")
    }

    fn file(folder: &tempfile::TempDir) -> PathBuf {
        folder.path().join(format!(".oddments/places/{ID}.toml"))
    }

    #[test]
    fn two_servers_on_one_folder_know_one_truth() {
        let folder = tempfile::tempdir().expect("a folder");
        let (one, other) = (opened(&folder), opened(&folder));
        let mut seen = 0;
        for stop in 1..=5 {
            let Put::Done(put) = one.put(ID, place(stop, seen), 0).expect("put") else {
                panic!("refused")
            };
            seen = put.revision;
        }
        // Another device begins at the other server, which has never seen the place.
        let Put::Behind(now) = other.put(ID, place(1, 0), 0).expect("put") else {
            panic!("set back to the beginning")
        };
        assert_eq!((now.stop, now.revision), (5, 5));
        assert_eq!(other.get(ID), Some(now.clone()));
        assert!(matches!(other.put(ID, place(6, 5), 0).expect("put"), Put::Done(_)));
        assert!(matches!(one.put(ID, place(9, 5), 0).expect("put"), Put::Behind(_)));
        assert_eq!(one.all(), other.all());
        assert_eq!(one.get(ID).map(|place| place.stop), Some(6));
    }

    #[test]
    fn rows_counted_at_two_servers_at_once_are_each_counted_once() {
        let folder = tempfile::tempdir().expect("a folder");
        let counted: u32 = std::thread::scope(|scope| {
            let count = || {
                let places = opened(&folder);
                let mut counted = 0;
                while counted < 50 {
                    let now = places.get(ID).unwrap_or_else(|| place(0, 0));
                    let next = Place { stop: now.stop + 1, of: 1_000, ..now };
                    counted +=
                        u32::from(matches!(places.put(ID, next, 0).expect("put"), Put::Done(_)));
                }
                counted
            };
            let threads: Vec<_> = (0..4).map(|_| scope.spawn(count)).collect();
            threads.into_iter().map(|thread| thread.join().expect("ended")).sum()
        });
        let place = opened(&folder).get(ID).expect("there");
        assert_eq!((place.stop, place.revision), (counted, u64::from(counted)));
    }

    #[test]
    fn a_damaged_place_is_set_aside_and_the_rest_go_on() {
        let folder = tempfile::tempdir().expect("a folder");
        let places = opened(&folder);
        let rest = "fedcba9876543210";
        places.put(rest, place(4, 0), 0).expect("put");
        places.put(ID, place(3, 0), 0).expect("put");
        let sound = std::fs::read_to_string(file(&folder)).expect("there");
        let damages = [
            sound[..sound.len() / 2].to_owned(),
            String::new(),
            sound.replace("stop = 3", "stop = 10"),
            sound.replace("of = 9", "of = 4000000000"),
            sound.replace("revision = 1", "revision = 9223372036854775807"),
            sound.replace("revision = 1", "revision = 0"),
            sound.replace("title = \"Tam\"", &format!("title = \"{}\"", "x".repeat(70_000))),
            "x".repeat(5 << 20),
        ];
        for (i, damage) in damages.iter().enumerate() {
            std::fs::write(file(&folder), damage).expect("written");
            let places = opened(&folder);
            let told = places.warnings.to_string();
            assert!(told.contains(&format!("{ID}.toml.kept-{}", i + 1)), "{damage:.60}: {told}");
            assert!(!places.warnings.has_errors());
            assert_eq!(places.get(rest).map(|place| place.stop), Some(4));
            assert_eq!((places.get(ID), places.all().len()), (None, 1));
            // While it runs, too.
            std::fs::write(file(&folder), damage).expect("written");
            assert_eq!(places.get(ID), None);
            std::fs::remove_file(file(&folder)).expect("removed");
            assert!(opened(&folder).warnings.is_empty(), "told once");
        }
        std::fs::write(file(&folder), &damages[0]).expect("written");
        assert!(matches!(places.put(ID, place(1, 0), 0).expect("put"), Put::Done(_)));
        assert_eq!(places.get(ID).map(|place| place.stop), Some(1));
        std::fs::create_dir(folder.path().join(".oddments/places/00000000000000ff.toml"))
            .expect("made");
        assert!(opened(&folder).warnings.to_string().contains("a folder, not a file"));
    }

    #[test]
    fn places_that_cannot_be_are_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("secret.toml"), "stop = 1\n").expect("written");
        assert_eq!(opened(&folder).get("../../secret"), None);
        let places = Places::open(None).expect("opened");
        for bad in [place(10, 0), place(1, u64::MAX), place(1, 1 << 53)] {
            assert_eq!(
                places.put(ID, bad, 0).expect_err("refused").iter().next().map(|f| f.code),
                Some(Code::Place)
            );
        }
    }

    #[test]
    fn what_lies_in_the_place_of_the_folder_stops_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::create_dir(folder.path().join(".oddments")).expect("made");
        std::fs::write(folder.path().join(".oddments/places"), "mine").expect("written");
        let places = opened(&folder);
        assert!(!places.lasting() && !places.warnings.is_empty());
        assert!(matches!(places.put(ID, place(1, 0), 0).expect("put"), Put::Done(_)));
    }

    #[test]
    fn two_devices_count_the_time_once() {
        let folder = tempfile::tempdir().expect("a folder");
        for places in [Places::open(None).expect("opened"), opened(&folder)] {
            places.put(ID, place(1, 0), 1_000).expect("put");
            // The other device tells the same step: it is refused, and no time with it.
            assert!(matches!(places.put(ID, place(2, 1), 1_060).expect("put"), Put::Done(_)));
            assert!(matches!(places.put(ID, place(2, 1), 1_090).expect("put"), Put::Behind(_)));
            assert_eq!(places.worked(ID).seconds, 60);
            // By turns they count what the clock counts.
            places.put(ID, place(3, 2), 1_100).expect("put");
            assert_eq!(places.worked(ID), Worked { seconds: 100, told: 1_100 });
            assert_eq!(places.worked("none"), Worked::default());
        }
        // A program that knows nothing of the time finds a place as it always was.
        let keys: Vec<String> = std::fs::read_to_string(file(&folder))
            .expect("there")
            .lines()
            .filter_map(|line| line.split_once(" = ").map(|(key, _)| key.to_owned()))
            .collect();
        assert_eq!(keys, ["query", "title", "stop", "of", "revision"]);
        assert_eq!(opened(&folder).all().len(), 1);
    }

    #[test]
    fn a_damaged_time_is_set_aside_and_the_place_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let places = opened(&folder);
        places.put(ID, place(1, 0), 1_000).expect("put");
        places.put(ID, place(2, 1), 1_030).expect("put");
        let time = folder.path().join(format!(".oddments/places/{ID}.time.toml"));
        std::fs::write(&time, "seconds = -3\n").expect("written");
        let again = opened(&folder);
        assert!(again.warnings.to_string().contains(".time.toml.kept-1"), "{}", again.warnings);
        assert_eq!((again.worked(ID), again.get(ID).map(|p| p.stop)), (Worked::default(), Some(2)));
        again.put(ID, place(3, 2), 2_000).expect("put");
        again.put(ID, place(4, 3), 2_040).expect("put");
        assert_eq!(again.worked(ID).seconds, 40);
    }
}
