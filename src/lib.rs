//! `oddments` sizes knitted garments for hand-operated flat-bed knitting machines.
//!
//! One idea carries the whole crate: a garment is a *program* for a needle bed, and the engine
//! knits it on a virtual bed before the knitter does. Every count, size, gram and line of the
//! pattern is read off that one run.
//!
//! Layers, top to bottom; imports go downwards only (`tests/it/layering.rs` enforces it):
//!
//! - [`cli`]    arguments and terminal output
//! - [`web`]    pages and an interface over HTTP; neither of the two knows the other
//! - [`app`]    the use cases: grade, chart, list garments
//! - [`report`] results to text: tables, CSV, JSON, the written pattern
//! - [`store`]  files: the only user of `std::fs`
//! - [`script`] the script host: the only user of `mlua`
//! - [`plan`]   gifts and stash: the model and its solver, pure
//! - [`knit`]   the domain, pure: body, swatch, machine, program, bed, grading
//! - [`units`]  lengths, masses, yarn counts, gauges
//! - [`diag`]   diagnostics: what went wrong, where, and what to do about it

pub mod app;
pub mod cli;
pub mod diag;
pub mod knit;
pub mod plan;
pub mod report;
pub mod script;
pub mod store;
pub mod units;
pub mod web;
