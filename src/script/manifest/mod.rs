//! `plugin.toml`, checked: what a garment is called, what it needs and what may be chosen. Knows
//! nothing of scripts.

mod choices;
mod declared;
mod kind;
#[allow(clippy::module_inception, reason = "the file is named after its type")]
mod manifest;
mod names;
mod option;
mod option_reader;
mod own_measures;
mod parse;
mod parts;
mod reader;
mod rungs;
mod toml_table;

pub use choices::{BY_HAND, Choices, FIX, IN_TURN};
pub use declared::Declared;
pub use manifest::{API_VERSION, Manifest, SectionSpec};
pub use names::is_garment_id;
pub use option::{OptionKind, OptionSpec, OptionValue};
pub use own_measures::own_measures;
pub use parts::parts_asked;
pub(crate) use {kind::ManifestKind, parts::major};
