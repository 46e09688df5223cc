use crate::program::Structure;

/// What a section of a finished piece is made of, as the bed counted it.
#[derive(Clone, Debug, PartialEq)]
pub struct KnittedSection {
    /// As the garment names it.
    pub name: String,
    /// Stitches of each fabric, over all yarns of the section.
    pub stitches: Vec<(Structure, u64)>,
    /// Yarn in ends, seams and sewing, in metres.
    pub sewing_m: f64,
}
