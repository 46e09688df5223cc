//! From an error value of the virtual machine to a diagnostic at file:line.

mod explain;
mod sayings;

pub(crate) use explain::{explain, explain_error, memory_fault};
#[cfg(test)]
pub(crate) use sayings::SAYINGS;
