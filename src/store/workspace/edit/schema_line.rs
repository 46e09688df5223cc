//! The line of a new file that names its schema.

use crate::workspace::folder::SETTINGS;

/// The first line of a new file: the convention by which editors find a schema.
pub(crate) fn header(path: &str) -> String {
    let up = if path.contains('/') { "../" } else { "./" };
    match schema_name(path) {
        Some(name) => format!("#:schema {up}.oddments/schemas/{name}.json\n"),
        None => String::new(),
    }
}

/// Which schema a file of the workspace follows.
fn schema_name(path: &str) -> Option<&str> {
    match path.split_once('/') {
        Some(("yarns", _)) => Some("yarn"),
        Some(("swatches", _)) => Some("swatch"),
        Some(("size-tables", _)) => Some("size-table"),
        Some(_) => None,
        None if path == SETTINGS => Some("oddments"),
        None => path.strip_suffix(".toml"),
    }
}
