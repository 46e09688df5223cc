use std::sync::{Mutex, PoisonError};

use super::{GarmentHome, GarmentShelf, Workbench};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use script::Plugin;

/// The garments loaded so far, for whoever meets many requests.
#[derive(Debug, Default)]
pub struct Garments {
    shelf: Mutex<GarmentShelf>,
}

impl Garments {
    /// A garment, and what is wrong with its files where an older version is given.
    ///
    /// # Errors
    /// No garment of that id, or all faults of the only version there is.
    pub fn get(&self, bench: &Workbench, id: &str) -> Result<(Plugin, Diagnostics), Diagnostics> {
        known(bench, id)?;
        if bench.garment_home(id) == Some(GarmentHome::Shipped) {
            return Ok((bench.shipped_garment(id)?, Diagnostics::new()));
        }
        // A panic while it was held leaves a shelf whole: insertions are single steps.
        let shelved = self.shelf.lock().unwrap_or_else(PoisonError::into_inner).reload(bench, id);
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
