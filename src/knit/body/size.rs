use std::collections::BTreeMap;

use super::{Measure, SizeGroup, SizeId};

/// Where a figure comes from: the published source, and whether it was computed from another
/// measure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// The publication, as the table names it.
    pub source: String,
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
    /// A measure in mm; `None` where the table lacks it.
    pub fn mm(&self, measure: Measure) -> Option<f64> {
        self.values.get(&measure).map(|value| value.mm)
    }

    /// Whether `name` is its id or one of its aliases.
    pub fn answers_to(&self, name: &str) -> bool {
        self.id.as_str() == name || self.aliases.iter().any(|alias| alias.as_str() == name)
    }
}
