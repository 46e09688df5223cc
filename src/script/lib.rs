//! The script host: garment scripts in, plain [`Garment`](knit::garment::Garment)s out.
//! The only user of `mlua`.
//!
//! A plugin is a folder with `plugin.toml` and `init.luau`. [`Plugin::load`] reads the manifest
//! and compiles the sources without running them; [`ScriptHost::garment`] runs `init.luau` for
//! one body at one gauge and reads what it returns. Scripts are untrusted: whatever one does,
//! the host comes back with a garment or with diagnostics, and is fit for the next plugin.
//!
//! Invariants, each with a test in `tests/it/hostile.rs`:
//!
//! - **Plain data crosses the border.** What a script returns is walked with raw access, counted,
//!   and copied into our own types; no metamethod of the script runs while we read. No `mlua`
//!   type, path or userdata is public here.
//! - **What a script sees is an allow-list** (`code::names`): whatever a new release of the
//!   language adds stays out until it is named there. Libraries, their metatables and the input
//!   are frozen.
//! - **One size can't leak into the next.** Each call gets new environments, modules and input. Code
//!   is loaded once a machine, but only clones of it are called (`sandbox::loader`); after a fault
//!   the whole machine is thrown away.
//! - **What was checked stays so.** A step is frozen by its constructor, so the action it was checked
//!   to be is taken as it is (`sandbox::kept_steps`); a step from elsewhere is checked when it is returned.
//! - **Limits can't be caught.** A deadline, the memory limit and `refuse` set a flag on the
//!   host that a `pcall` in the script does not clear (`sandbox::call_state`).
//! - **No clock, no chance, no addresses** reach a script, so the same input gives the same
//!   garment. What the machine knows by its address alone is refused as a key (`code::key_guard`), so
//!   that no walk over a table and no length has anything of chance in it.
//! - **One table describes the API** ([`schema`]): the functions, the checking of their arguments,
//!   the reference in `plugins/README.md` and the stubs in `plugins/oddments.d.luau` come from it.
//!
//! No file is read or written here: `store` hands over the bytes as a [`PluginSource`].

#![warn(missing_docs)]

#[cfg(test)]
mod bounds_test;
mod code;
mod faults;
mod garment_input;
mod garment_source;
#[cfg(test)]
mod guarded_test;
mod host;
mod limits;
mod manifest;
mod own_types;
mod parts;
mod plugin;
mod plugin_source;
mod reader;
mod reads;
pub mod reference;
mod sandbox;
#[cfg(test)]
mod sayings_test;
pub mod schema;
mod trace;
mod values;

pub use garment_input::{GarmentInput, GaugeInput, MachineInput};
pub use garment_source::GarmentSource;
pub use host::{ScriptFailure, ScriptHost};
pub use limits::{Limits, MOST_SOURCE_BYTES};
pub use manifest::{
    API_VERSION, BY_HAND, Choices, Declared, FIX, IN_TURN, Manifest, OptionKind, OptionSpec,
    OptionValue, SectionSpec, is_garment_id, own_measures, parts_asked,
};
pub use plugin::Plugin;
pub use plugin_source::PluginSource;
pub use reads::Reads;
pub use trace::Trace;
