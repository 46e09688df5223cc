//! Which gauge each yarn of the stash is planned at, with what was learnt.

use std::collections::BTreeMap;

use crate::learning::Learning;
use crate::yarn_gauge::{Setup, beds, own_swatch, setup_of};
use knit::stash::Yarn;
use store::workspace::Contents;

/// How each yarn is knitted, by id.
#[derive(Clone, Debug, Default)]
pub(crate) struct Setups {
    pub all: Vec<Setup>,
    /// Index into `all` by yarn; without the yarns that no machine at hand can knit.
    pub of_yarn: BTreeMap<String, usize>,
}

impl Setups {
    /// Of the yarns that `wanted` picks, with what was learnt.
    pub fn of(contents: &Contents, learning: &Learning, wanted: impl Fn(&Yarn) -> bool) -> Setups {
        let mut setups = Setups::default();
        let beds = beds(contents);
        let mut yarns: Vec<&Yarn> = contents.yarns.values().filter(|yarn| wanted(yarn)).collect();
        // Yarns with a swatch of their own first: the others may share it.
        yarns.sort_by_key(|yarn| own_swatch(contents, &beds, yarn).is_none());
        for yarn in yarns {
            if let Some(setup) = setup_of(contents, &beds, yarn) {
                let taught = match &setup.swatch {
                    Some(id) => learning.taught_swatch(contents, id, setup.file.clone()),
                    None => learning.taught_yarn(contents, yarn, &setup),
                };
                let index = setups.put(Setup { file: taught, ..setup });
                setups.of_yarn.insert(yarn.id.clone(), index);
            }
        }
        setups
    }

    fn put(&mut self, setup: Setup) -> usize {
        let same = |other: &Setup| {
            setup.swatch.is_some()
                && other.swatch == setup.swatch
                && other.machine.id == setup.machine.id
        };
        self.all.iter().position(same).unwrap_or_else(|| {
            self.all.push(setup);
            self.all.len() - 1
        })
    }

    /// Whether a yarn can be a section of a garment graded on the setup.
    pub fn suits(&self, yarn: &Yarn, setup: usize) -> bool {
        let Some(own) = self.of_yarn.get(&yarn.id) else { return false };
        let wanted = &self.all[setup];
        *own == setup
            || (self.all[*own].machine.id == wanted.machine.id
                && wanted.file.set.yarn.knits_like(yarn.count))
    }
}
