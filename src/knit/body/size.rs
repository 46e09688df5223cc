use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Measure, Measures, SizeGroup, SizeId};

/// Where a figure comes from: the published source, and whether it was computed from another
/// measure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// The publication, as the table names it.
    pub source: Arc<str>,
    /// Computed from another measure, not published itself.
    pub derived: bool,
}

/// One figure of a size, in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeValue {
    /// The measure, in mm.
    pub mm: f64,
    /// Where it comes from.
    pub provenance: Provenance,
    /// From a table laid over the first: someone's own, so that it stands before what goes with
    /// another measure on average.
    pub laid_over: bool,
}

/// A row of a size table. `age_years` is the mean age where the size has one.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    /// The short name, unique in its table.
    pub id: SizeId,
    /// What it is called on a page.
    pub label: String,
    /// Which stretch of the size run it belongs to.
    pub group: SizeGroup,
    /// Mean age in years; `None` for adults.
    pub age_years: Option<f64>,
    /// Other names it answers to.
    pub aliases: Vec<SizeId>,
    /// Its figures; a measure that the table lacks is not there.
    pub values: BTreeMap<Measure, SizeValue>,
}

impl Size {
    /// A figure by the name of its measure; `None` where the table lacks it.
    pub fn get(&self, name: &str) -> Option<&SizeValue> {
        self.values.iter().find(|(measure, _)| measure.name() == name).map(|(_, value)| value)
    }

    /// A measure in mm, by its name; `None` where the table lacks it.
    pub fn mm(&self, name: &str) -> Option<f64> {
        self.get(name).map(|value| value.mm)
    }

    /// Whether `name` is its id or one of its aliases.
    pub fn answers_to(&self, name: &str) -> bool {
        self.id.as_str() == name || self.aliases.iter().any(|alias| alias.as_str() == name)
    }

    /// The size with the figures that go with a measure on average, by its name: to this chest this
    /// arm. `mm` stands for the size's own figure, as of someone whose chest was measured. What has
    /// no companion in `known`, and what came from a table laid over, stays.
    #[must_use]
    pub fn sized_by(&self, known: &Measures, name: &str, mm: Option<f64>) -> Size {
        let mut size = self.clone();
        let Some(mm) = mm.or_else(|| self.mm(name)) else { return size };
        for companion in known.companions(name).filter(|c| c.group == self.group) {
            let length = companion.at(mm);
            if length <= 0.0 || size.values.get(&companion.of).is_some_and(|own| own.laid_over) {
                continue;
            }
            let provenance = Provenance { source: Arc::clone(&companion.source), derived: true };
            let value = SizeValue { mm: length, provenance, laid_over: false };
            size.values.insert(companion.of.clone(), value);
        }
        size
    }
}
