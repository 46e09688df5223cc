use std::collections::BTreeMap;

use super::workbench::{DEFAULT_MACHINE, load};
use super::{GradeRequest, Workbench};
use diag::{Diagnostic, Diagnostics};
use script::{GarmentSource, Plugin};

/// Garments kept at hand while their authors work on them: a change that breaks one leaves its
/// last good version in use.
#[derive(Clone, Debug, Default)]
pub struct GarmentShelf {
    kept: BTreeMap<String, Kept>,
}

#[derive(Clone, Debug)]
struct Kept {
    /// The files as last looked at, good or not.
    source: GarmentSource,
    good: Option<Plugin>,
    faults: Diagnostics,
}

/// A garment as it stands on the shelf.
#[derive(Clone, Debug)]
pub struct Shelved {
    /// The last good version, if there ever was one.
    pub plugin: Option<Plugin>,
    /// What is wrong with the files as they are now; `plugin` is older than they are then.
    pub faults: Diagnostics,
    /// The files are not those of the last time.
    pub changed: bool,
}

impl GarmentShelf {
    pub fn new() -> GarmentShelf {
        GarmentShelf::default()
    }

    /// The last good version of a garment, without looking at its files.
    pub fn get(&self, name: &str) -> Option<&Plugin> {
        self.kept.get(name)?.good.as_ref()
    }

    /// Looks at the files of a garment again. A version is good when it loads and its script
    /// runs for every size on the standard machine; a size it refuses is no fault.
    pub fn reload(&mut self, bench: &Workbench, name: &str) -> Shelved {
        let source = match bench.garment_source(name) {
            Ok(source) => source,
            // Gone or unreadable, perhaps while an editor is saving it.
            Err(faults) => {
                return Shelved { plugin: self.get(name).cloned(), faults, changed: false };
            }
        };
        let before = self.kept.remove(name);
        let changed = before.as_ref().is_none_or(|kept| kept.source != source);
        let kept = match before {
            Some(kept) if !changed => kept,
            before => {
                let last_good = before.and_then(|kept| kept.good);
                match load(source.clone(), &bench.sizes).and_then(|plugin| tried(bench, plugin)) {
                    Ok(plugin) => Kept { source, good: Some(plugin), faults: Diagnostics::new() },
                    Err(faults) => Kept { source, good: last_good, faults },
                }
            }
        };
        let shelved = Shelved { plugin: kept.good.clone(), faults: kept.faults.clone(), changed };
        self.kept.insert(name.to_owned(), kept);
        shelved
    }
}

/// The plugin, unless its script fails.
fn tried(bench: &Workbench, plugin: Plugin) -> Result<Plugin, Diagnostics> {
    let (swatch, machine) = bench.swatch_and_machine(None, Some(DEFAULT_MACHINE))?;
    let run = bench.grade(&GradeRequest {
        plugin: &plugin,
        machine,
        swatch: &swatch,
        options: Vec::new(),
        sizes: "all".to_owned(),
        person: None,
    })?;
    let mut faults = Diagnostics::new();
    for size in &run.sizes {
        if let Err(found) = &size.made {
            for fault in found.iter().filter(|f| super::is_script_fault(f)) {
                // The same mistake in every size is one mistake.
                let same = |f: &Diagnostic| f.code == fault.code && f.place == fault.place;
                if !faults.iter().any(same) {
                    faults.push(fault.clone());
                }
            }
        }
    }
    faults.into_result(plugin)
}
