//! The sources of a plugin: compiled, and looked through for the line a fault lies at. Runs nothing.

mod bytes;
mod compile;
mod function;
mod key_guard;
mod module_path;
mod names;
mod sources;
mod tables;

#[cfg(test)]
pub(crate) use compile::compiled;
pub(crate) use compile::{compile, utf8};
pub(crate) use module_path::{is_module_path, is_source, part_module, shown_module, split_module};
pub(crate) use names::{ALLOWED, KEY_GUARD, OUT_OF_MEMORY, PRELUDE, REMOVED, REPLACED, chunk_of};
pub(crate) use sources::{INIT, InList, Module, Sources, Spot};
