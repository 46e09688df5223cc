use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::{GarmentHome, GarmentShelf, Workbench};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use script::Plugin;

/// The garments loaded so far, for whoever meets many requests.
#[derive(Debug, Default)]
pub struct Garments {
    shelf: Mutex<GarmentShelf>,
    shipped: Mutex<BTreeMap<String, Plugin>>,
}

impl Garments {
    /// A garment, and what is wrong with its files where an older version is given.
    ///
    /// # Errors
    /// No garment of that id, or all faults of the only version there is.
    pub fn get(&self, bench: &Workbench, id: &str) -> Result<(Plugin, Diagnostics), Diagnostics> {
        known(bench, id)?;
        // The shipped ones can't change while the program runs.
        if bench.garment_home(id) == Some(GarmentHome::Shipped) {
            if let Some(plugin) = lock(&self.shipped).get(id) {
                return Ok((plugin.clone(), Diagnostics::new()));
            }
            let plugin = bench.garment(id)?;
            lock(&self.shipped).insert(id.to_owned(), plugin.clone());
            return Ok((plugin, Diagnostics::new()));
        }
        let shelved = lock(&self.shelf).reload(bench, id);
        match shelved.plugin {
            Some(plugin) => Ok((plugin, shelved.faults)),
            None => Err(shelved.faults),
        }
    }
}

/// Refuses what is no known garment's id, before anything looks for its files.
fn known(bench: &Workbench, id: &str) -> Result<(), Diagnostic> {
    if store::is_shipped_plugin(id) {
        return Ok(());
    }
    let ids = bench.garment_ids();
    if ids.iter().any(|known| known == id) {
        return Ok(());
    }
    let shown: String = id.chars().take(60).collect();
    let near = nearest(&shown, ids.iter().map(String::as_str));
    let hint = match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("the garments are {}", ids.join(", ")),
    };
    Err(Diagnostic::error(Code::NoGarment, format!("there is no garment `{shown}`")).hint(hint))
}

/// A panic while it was held leaves a map whole: insertions are single steps.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
