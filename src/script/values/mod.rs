//! Values of a script, checked against the [schema](crate::schema) and copied into our own types. Raw
//! access only: no metamethod of the script runs from here.

mod asked;
mod check;
mod checked;
mod edge;
mod fields;
mod listed;
mod lists;
mod misfit;
mod raised;
mod scalar;
mod show;
mod step_action;

pub(crate) use asked::{NAME_HINT, is_decision_name};
pub(crate) use checked::{AskedDecision, Rounding, SearchRange};
pub(crate) use edge::{edge_in, edge_of, stretch_of};
pub(crate) use fields::{CheckedFields, newer, raw_fields, read, read_arguments, read_raw};
pub(crate) use listed::listed;
pub(crate) use lists::{items, stray_key};
pub(crate) use misfit::FieldFault;
pub(crate) use raised::{Raised, raise, raise_one};
pub(crate) use show::{What, clip, describe, key_name, number, worded};
pub(crate) use step_action::step_action;
