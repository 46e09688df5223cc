//! Files: the only place that touches the disk. Reads what a user may write (size tables,
//! swatches, machine profiles, plugin folders) into domain types, with every fault at
//! file:line:column, and carries the embedded defaults. Nothing here knits or prints.

mod case;
mod embedded;
mod field;
mod files;
mod locking;
mod machine;
mod new_garment;
mod place;
mod place_folder;
mod plugin_folder;
mod renames;
mod said_number;
mod shape;
mod size_table;
mod swatch;
mod times;
mod worked;
pub mod workspace;
mod yarn;

pub use case::{CaseFile, parse_case};
pub use embedded::{
    default_machines, default_size_table, default_times, demo_swatch, demo_yarn, demo_yarn_ids,
    is_shipped_plugin, parse_size_table, shipped_part, shipped_part_names, shipped_plugin,
    shipped_plugin_ids,
};
pub use files::{is_same_file, make_folder, open_file, read_text, write_output};
pub use machine::parse_machines;
pub use new_garment::{new_garment_files, write_new_folder};
pub use place::{Place, is_place_id};
pub use place_folder::{PlaceFolder, ReadPlaces};
pub use plugin_folder::{
    is_part, is_plugin, part_folders_in, plugin_folders_in, read_plugin_folder,
};
pub use size_table::parse_size_table_over;
pub use swatch::parse_swatches;
pub use times::parse_times;
pub use worked::{Worked, now_s};
pub use yarn::parse_yarn;
