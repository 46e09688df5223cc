use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Measure, Size, SizeId};
use diag::{Code, Diagnostic, Diagnostics};

/// How a body value is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Basis {
    /// From a size table; `derived` when its column was computed from another measure.
    Table {
        /// Where the figure was published.
        source: Arc<str>,
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
    /// A measure by its name, with how it is known; `None` where it isn't.
    pub fn get(&self, name: &str) -> Option<&BodyValue> {
        self.values.iter().find(|(measure, _)| measure.name() == name).map(|(_, value)| value)
    }

    /// The measure of that name; `None` where the body lacks it.
    pub fn measure(&self, name: &str) -> Option<&Measure> {
        self.values.keys().find(|measure| measure.name() == name)
    }

    /// A measure in mm, by its name; `None` where it isn't known.
    pub fn mm(&self, name: &str) -> Option<f64> {
        self.get(name).map(|value| value.mm)
    }

    /// `is_person`: made to measure, not a size of the table.
    ///
    /// # Errors
    /// One fault for each of `needed` that the body lacks and that nothing fills.
    pub fn require(&self, needed: &[Measure], is_person: bool) -> Result<(), Diagnostics> {
        let mut faults = Diagnostics::new();
        for measure in needed.iter().filter(|m| self.get(m.name()).is_none()) {
            let (message, hint) = if is_person {
                let what = "was not measured, and nothing that was tells it";
                (format!("the {} {what}", measure.label()), "measure it")
            } else {
                (format!("size `{}` has no {measure}", self.id), "add it to the size table")
            };
            faults.push(
                Diagnostic::error(Code::Body, message).hint(format!("{hint}: {}", measure.how())),
            );
        }
        faults.into_result(())
    }
}

impl From<&Size> for Body {
    fn from(size: &Size) -> Body {
        let values = size.values.iter().map(|(measure, value)| {
            let basis = Basis::Table {
                source: Arc::clone(&value.provenance.source),
                derived: value.provenance.derived,
            };
            (measure.clone(), BodyValue { mm: value.mm, basis })
        });
        Body { id: size.id.clone(), label: size.label.clone(), values: values.collect() }
    }
}
