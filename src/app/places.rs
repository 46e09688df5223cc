use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

use diag::{Code, Diagnostic, Diagnostics};
use store::{self, Place};

/// More pieces than anyone has on the needles at once.
const MOST: usize = 1_000;

/// How far the knitter is in each piece: in the workspace folder where there is one, else only
/// while the program runs.
#[derive(Debug)]
pub struct Places {
    folder: Option<PathBuf>,
    kept: Mutex<BTreeMap<String, Place>>,
}

/// What came of setting a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Put {
    Done(Place),
    /// Somebody else moved on since: where the place is now.
    Behind(Place),
}

impl Places {
    /// # Errors
    /// A folder whose places can't be read.
    pub fn open(folder: Option<PathBuf>) -> Result<Places, Diagnostics> {
        let kept = match &folder {
            Some(folder) => store::read_places(folder)?,
            None => BTreeMap::new(),
        };
        Ok(Places { folder, kept: Mutex::new(kept) })
    }

    /// Whether places outlive the program.
    pub fn lasting(&self) -> bool {
        self.folder.is_some()
    }

    pub fn get(&self, id: &str) -> Option<Place> {
        self.kept().get(id).cloned()
    }

    /// All places, by id.
    pub fn all(&self) -> Vec<(String, Place)> {
        self.kept().iter().map(|(id, place)| (id.clone(), place.clone())).collect()
    }

    /// Moves a place on. `place.revision` is the one the knitter saw: an older one than what is
    /// kept is refused, so that two devices can't count a row twice. A newer one is taken: then
    /// the program forgot, and the device knows better.
    ///
    /// # Errors
    /// An id that is none, too many places, a folder that can't be written.
    pub fn put(&self, id: &str, place: Place) -> Result<Put, Diagnostics> {
        if !store::is_place_id(id) {
            return Err(Diagnostic::error(Code::NoPlace, "that is no place's id")
                .hint("ids are 16 hexadecimal digits")
                .into());
        }
        let mut kept = self.kept();
        match kept.get(id) {
            Some(now) if place.revision < now.revision => return Ok(Put::Behind(now.clone())),
            None if kept.len() >= MOST => {
                return Err(Diagnostic::error(
                    Code::TooManyPlaces,
                    format!("there are {MOST} pieces begun already"),
                )
                .hint("remove old ones from the folder .oddments/places")
                .into());
            }
            _ => {}
        }
        let place = Place { revision: place.revision.saturating_add(1), ..place };
        // Written while the lock is held: what is on the disk is never older than what is told.
        if let Some(folder) = &self.folder {
            store::write_place(folder, id, &place)?;
        }
        kept.insert(id.to_owned(), place.clone());
        Ok(Put::Done(place))
    }

    fn kept(&self) -> MutexGuard<'_, BTreeMap<String, Place>> {
        // A panic while it was held leaves the map whole: insertions are single steps.
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(stop: u32, revision: u64) -> Place {
        Place { query: "garment=tam".to_owned(), title: "Tam".to_owned(), stop, of: 9, revision }
    }

    #[test]
    fn two_devices_never_count_a_row_twice() {
        let places = Places::open(None).expect("opened");
        let id = "0123456789abcdef";
        let Put::Done(first) = places.put(id, place(1, 0)).expect("put") else { panic!("refused") };
        assert_eq!(first.revision, 1);
        let Put::Behind(now) = places.put(id, place(1, 0)).expect("put") else {
            panic!("the same row counted twice")
        };
        assert_eq!(now, first);
        assert!(matches!(places.put(id, place(2, 1)).expect("put"), Put::Done(_)));
        assert!(matches!(places.put(id, place(7, 40)).expect("put"), Put::Done(_)));
        assert!(places.put("../etc/passwd", place(1, 0)).is_err());
    }

    #[test]
    fn a_place_in_a_folder_outlives_the_program() {
        let folder = tempfile::tempdir().expect("a folder");
        let id = "0123456789abcdef";
        let places = Places::open(Some(folder.path().to_owned())).expect("opened");
        let Put::Done(put) = places.put(id, place(3, 0)).expect("put") else { panic!("refused") };
        drop(places);
        let again = Places::open(Some(folder.path().to_owned())).expect("opened");
        assert_eq!(again.get(id), Some(put));
    }
}
