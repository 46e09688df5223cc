//! What the parts of a document are set with.

use super::ink::{Element, Role};
use super::pages::Setting;

/// Sets a document's parts one after another.
pub(super) struct PageSetter<'a> {
    /// Width of what a page holds.
    pub width: f64,
    pub set: Setting<'a>,
}

impl PageSetter<'_> {
    pub(super) fn element(&mut self, role: Role, parent: Option<usize>) -> usize {
        self.set.elements.push(Element { role, parent });
        self.set.elements.len() - 1
    }
}
