use std::collections::BTreeMap;

use super::{Measure, SizeGroup, SizeId};

/// Where a figure comes from: the published source, and whether it was computed from another
/// measure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    pub source: String,
    pub derived: bool,
}

/// One figure of a size, in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeValue {
    pub mm: f64,
    pub provenance: Provenance,
}

/// A row of a size table. `age_years` is the mean age where the size has one.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    pub id: SizeId,
    pub label: String,
    pub group: SizeGroup,
    pub age_years: Option<f64>,
    pub aliases: Vec<SizeId>,
    pub values: BTreeMap<Measure, SizeValue>,
}

impl Size {
    pub fn mm(&self, measure: Measure) -> Option<f64> {
        self.values.get(&measure).map(|value| value.mm)
    }

    pub fn answers_to(&self, name: &str) -> bool {
        self.id.as_str() == name || self.aliases.iter().any(|alias| alias.as_str() == name)
    }
}
