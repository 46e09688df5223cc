//! Small pictures of garments for their list, drawn once for as long as the server runs.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::grade_pages::in_one_size;
use super::problem::Answer;
use super::run_view::stamp;
use super::state::Shared;
use app::Ask;

/// By garment, as SVG.
#[derive(Debug, Default)]
pub struct Stamps(Mutex<BTreeMap<String, Arc<str>>>);

impl Stamps {
    fn known(&self) -> MutexGuard<'_, BTreeMap<String, Arc<str>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The garment in its usual size and the demo's stripes.
    ///
    /// # Errors
    /// There is no such garment, or it can't be knitted.
    pub(super) fn of(&self, shared: &Shared, id: &str) -> Answer<Arc<str>> {
        if let Some(stamp) = self.known().get(id) {
            return Ok(Arc::clone(stamp));
        }
        let ask = Ask { garment: Some(id.to_owned()), ..Ask::default() };
        let (ask, graded) = in_one_size(shared, ask);
        let svg: Arc<str> = stamp(shared, &ask, &graded?.run)?.svg().into();
        Ok(Arc::clone(self.known().entry(id.to_owned()).or_insert(svg)))
    }
}
