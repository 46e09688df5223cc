use super::{Likely, Standing};

/// A record as a whole, against what all the others make of it.
#[derive(Clone, Debug, PartialEq)]
pub struct HeldAgainst {
    /// Id of the record.
    pub record: String,
    /// Grams on the scale, over all its sections.
    pub taken: f64,
    /// What was expected on that scale from everything but this record: 19 of 20 such lie within. `None`
    /// where it makes no sense.
    pub expected: Option<Likely>,
    /// What became of it.
    pub standing: Standing,
}

impl HeldAgainst {
    /// By how much more it took than expected, as a share.
    pub fn differs(&self) -> Option<f64> {
        self.expected.map(|expected| self.taken / expected.middle - 1.0)
    }
}
