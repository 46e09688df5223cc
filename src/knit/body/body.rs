use std::collections::BTreeMap;

use super::{Measure, Size, SizeId};
use diag::{Code, Diagnostic, Diagnostics};

/// How a body value is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Basis {
    /// From a size table; `derived` when its column was computed from another measure.
    Table {
        /// Where the figure was published.
        source: String,
        /// Computed from another measure, not measured itself.
        derived: bool,
    },
    /// Taken with a tape.
    Measured,
    /// Estimated from other measures. `from` begins with the measure taken and goes on with
    /// those it was carried through; `sd_mm` is the spread of people about the estimate.
    Estimated {
        /// The measure taken, then those it was carried through.
        from: Vec<Measure>,
        /// Standard deviation of people about the estimate, in mm.
        sd_mm: f64,
        /// The surveys of the lines it was read off, in order.
        source: String,
    },
}

/// One measure of a body, in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyValue {
    /// The measure, in mm.
    pub mm: f64,
    /// How it is known.
    pub basis: Basis,
}

/// What a garment is graded for: a size of a table, or a person.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// The size, or an id made of a person's name.
    pub id: SizeId,
    /// What it is called on a page.
    pub label: String,
    /// What is known of it.
    pub values: BTreeMap<Measure, BodyValue>,
}

impl Body {
    /// A measure with how it is known; `None` where it isn't.
    pub fn get(&self, measure: Measure) -> Option<&BodyValue> {
        self.values.get(&measure)
    }

    /// A measure in mm; `None` where it isn't known.
    pub fn mm(&self, measure: Measure) -> Option<f64> {
        self.get(measure).map(|value| value.mm)
    }

    /// # Errors
    /// One fault for each of `needed` that the body lacks.
    pub fn require(&self, needed: &[Measure]) -> Result<(), Diagnostics> {
        let mut faults = Diagnostics::new();
        for measure in needed.iter().filter(|m| !self.values.contains_key(m)) {
            faults.push(
                Diagnostic::error(Code::Body, format!("size `{}` has no {measure}", self.id))
                    .hint(format!("add it to the size table: {}", measure.how())),
            );
        }
        faults.into_result(())
    }
}

impl From<&Size> for Body {
    fn from(size: &Size) -> Body {
        let values = size.values.iter().map(|(measure, value)| {
            let basis = Basis::Table {
                source: value.provenance.source.clone(),
                derived: value.provenance.derived,
            };
            (*measure, BodyValue { mm: value.mm, basis })
        });
        Body { id: size.id.clone(), label: size.label.clone(), values: values.collect() }
    }
}
