//! Body measures: what can be measured, the size tables, and the body a garment is graded for.
//!
//! Lengths are millimetres. A value always knows where it comes from: a table's column, a tape
//! measure, or an estimate with its spread. Measures are data: the size tables, the shipped one and a
//! workspace's, and the garments say which there are, and by which lines one is filled from another. Reading tables from text is not done here (see the
//! store), nor is anything known of garments or ease.

#[expect(clippy::module_inception, reason = "a file is named after its main type")]
mod body;
mod body_part;
mod fill;
mod made_to_measure;
mod measure;
mod measures;
mod regression;
mod size;
mod size_group;
mod size_id;
mod size_selection;
mod size_table;
mod stage;

pub use body::{Basis, Body, BodyValue};
pub use body_part::BodyPart;
pub use made_to_measure::{implausible, made_to_measure};
pub use measure::{Measure, MeasureSpec};
pub use measures::{Measures, OwnMeasure};
pub use regression::{Companion, FillRule, Fit, Regression};
pub use size::{Provenance, Size, SizeValue};
pub use size_group::SizeGroup;
pub use size_id::SizeId;
pub use size_selection::SizeSelection;
pub use size_table::SizeTable;
pub use stage::Stage;
