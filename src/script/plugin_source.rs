use std::collections::BTreeMap;

/// The bytes of a plugin folder, as `store` read them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PluginSource {
    /// What to show before a file name: `plugins/tam`.
    pub folder: String,
    /// By path inside the folder, with `/`.
    pub files: BTreeMap<String, Vec<u8>>,
}
