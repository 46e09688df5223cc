//! The parts that a manifest asks for.

use std::collections::BTreeMap;

use toml::de::DeTable;

use super::names::is_garment_id;
use super::toml_table::{ManifestReader, TomlTable};

impl ManifestReader<'_> {
    /// `[parts]`: names, and the major version of each. `api` is what the manifest is written for.
    pub fn parts(&mut self, root: &TomlTable<'_>, api: u32) -> BTreeMap<String, u32> {
        let Some(table) = self.table_of(root, "parts") else { return BTreeMap::new() };
        if api < 2 {
            self.push(
                table.span.clone(),
                format!(
                    "`parts` came with script API 2, and this garment is written for API {api}"
                ),
                "set `api = 2`, and see plugins/README.md for what changes",
            );
        }
        let mut parts = BTreeMap::new();
        for (name, span, value) in table.in_order() {
            if !is_garment_id(name) {
                self.push(
                    span,
                    format!("`{name}` can't be the name of a part"),
                    "begin with a letter and use a to z, 0 to 9 and `-`, 40 at most",
                );
                continue;
            }
            match value.get_ref().as_str().and_then(|text| text.parse::<u32>().ok()) {
                Some(major) => {
                    parts.insert(name.to_owned(), major);
                }
                None => self.push(
                    value.span(),
                    format!("`{name}` must give the first figure of the part's version, as a text"),
                    format!("write `{name} = \"1\"`"),
                ),
            }
        }
        parts
    }
}

/// Names of the parts that the text of a manifest asks for, as far as it can be read: so that their files
/// can be fetched before it is judged.
pub fn parts_asked(manifest: &str) -> Vec<String> {
    let (root, _) = DeTable::parse_recoverable(manifest);
    let parts = root.get_ref().get("parts").and_then(|parts| parts.get_ref().as_table());
    let names = parts.into_iter().flat_map(|parts| parts.keys());
    names.map(|name| name.get_ref().to_string()).filter(|name| is_garment_id(name)).collect()
}

/// The first figure of a version: what two that suit each other share.
pub(crate) fn major(version: &str) -> Option<u32> {
    version.split('.').next()?.parse().ok()
}
