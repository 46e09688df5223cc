use crate::swatch::SwatchSet;
use diag::Diagnostics;

/// Swatches of one yarn on one machine, as the knitter keeps them together.
#[derive(Clone, Debug)]
pub struct NamedSwatches {
    /// What the knitter calls them.
    pub name: String,
    /// Id of the machine profile they were knitted on, where that is known.
    pub machine: Option<String>,
    /// The gauges they give.
    pub set: SwatchSet,
    /// What is odd about them, though they can be used.
    pub warnings: Diagnostics,
}
