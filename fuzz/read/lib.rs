//! What is fuzzed: a function for each target, handed one input. `tests/it/fuzzed.rs` hands them the seeds at each
//! run of the tests, so that they are built there and true.

pub mod http;
pub mod manifest;
pub mod script;
pub mod steps;
pub mod toml;
pub mod units;
