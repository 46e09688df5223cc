//! The virtual machine a script runs in: what it can reach, what it can't, and what ends it.

mod call_state;
mod decide;
mod decided;
mod dispatch;
mod edges;
mod functions;
mod guards;
mod input_tables;
mod kept_steps;
mod loader;
mod machine;
mod plain_find;
mod prelude;
mod registry;
mod require;
mod search;
mod shaping;
mod spans;
mod stack;
mod stopwatch;
mod trace;

pub(crate) use call_state::{CallState, Halt};
pub(crate) use guards::{panic_text, unlimited};
pub(crate) use input_tables::input_table;
pub(crate) use kept_steps::{KeptStep, KeptSteps};
pub(crate) use machine::Sandbox;
pub(crate) use stopwatch::Stopwatch;
