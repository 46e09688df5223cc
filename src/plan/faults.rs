use std::fmt;

use diag::{Diagnostic, Diagnostics};

/// All that was found wrong, as data, in the order it was found. Each fault is put into words only
/// when it is turned into a diagnostic.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults<F>(Vec<F>);

impl<F> Faults<F> {
    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The faults, one by one.
    pub fn iter(&self) -> std::slice::Iter<'_, F> {
        self.0.iter()
    }

    /// Nothing, or all faults as an error.
    ///
    /// # Errors
    /// The faults themselves, if there are any.
    pub fn into_result(self) -> Result<(), Faults<F>> {
        if self.is_empty() { Ok(()) } else { Err(self) }
    }

    pub(super) fn push(&mut self, fault: F) {
        self.0.push(fault);
    }
}

impl<F> Default for Faults<F> {
    fn default() -> Self {
        Faults(Vec::new())
    }
}

impl<F> FromIterator<F> for Faults<F> {
    fn from_iter<I: IntoIterator<Item = F>>(faults: I) -> Self {
        Faults(faults.into_iter().collect())
    }
}

impl<F> IntoIterator for Faults<F> {
    type Item = F;
    type IntoIter = std::vec::IntoIter<F>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl<F: Into<Diagnostic>> From<Faults<F>> for Diagnostics {
    fn from(faults: Faults<F>) -> Diagnostics {
        let mut told = Diagnostics::new();
        told.extend(faults.into_iter().map(Into::into));
        told
    }
}

impl<F: Clone + Into<Diagnostic>> fmt::Display for Faults<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Diagnostics::from(self.clone()).fmt(f)
    }
}

impl<F: Clone + fmt::Debug + Into<Diagnostic>> std::error::Error for Faults<F> {}
