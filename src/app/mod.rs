//! The use cases, shared by every way in: grade a garment, chart sizes, list garments. Knows
//! neither a terminal nor a browser; gives values, not text.

mod grade;
mod workbench;

pub use grade::{GradeRequest, Person};
pub use workbench::{Workbench, WorkbenchSources};
