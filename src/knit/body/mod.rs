//! Body measures: what can be measured, the size tables, and the body a garment is graded for.
//!
//! Lengths are millimetres. A value always knows where it comes from: a table's column, a tape
//! measure, or an estimate with its spread. Reading tables from text is not done here (see the
//! store), nor is anything known of garments or ease.

#[expect(clippy::module_inception, reason = "a file is named after its main type")]
mod body;
mod made_to_measure;
mod measure;
mod regression;
mod size;
mod size_group;
mod size_id;
mod size_selection;
mod size_table;

pub use body::{Basis, Body, BodyValue};
pub use made_to_measure::made_to_measure;
pub use measure::Measure;
pub use regression::{Regression, regressions_adult, regressions_child};
pub use size::{Provenance, Size, SizeValue};
pub use size_group::SizeGroup;
pub use size_id::SizeId;
pub use size_selection::SizeSelection;
pub use size_table::SizeTable;
