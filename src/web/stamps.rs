//! Small pictures of garments for their list, drawn once for as long as the server runs.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// By garment, as SVG.
#[derive(Debug, Default)]
pub struct Stamps(Mutex<BTreeMap<String, Arc<str>>>);

impl Stamps {
    fn known(&self) -> MutexGuard<'_, BTreeMap<String, Arc<str>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The picture of a garment, where it was drawn already.
    pub fn of(&self, id: &str) -> Option<Arc<str>> {
        self.known().get(id).map(Arc::clone)
    }

    /// Keeps one; of two that were drawn at once, the first.
    pub fn keep(&self, id: &str, svg: Arc<str>) -> Arc<str> {
        Arc::clone(self.known().entry(id.to_owned()).or_insert(svg))
    }
}
