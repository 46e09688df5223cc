use std::collections::BTreeMap;

use super::plugin_source::PluginSource;

/// The files of a garment, and of the parts it is made with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GarmentSource {
    /// Its own folder: a garment's, or a part's, which is then loaded as the garment of its sample.
    pub own: PluginSource,
    /// The folders of parts, by name: those that it asks for, those that these ask for, and so on.
    /// What is asked for and not here is not at hand.
    pub parts: BTreeMap<String, PluginSource>,
    /// Names of all parts at hand, so that a misspelt one can be put right.
    pub known_parts: Vec<String>,
}

impl From<PluginSource> for GarmentSource {
    fn from(own: PluginSource) -> GarmentSource {
        GarmentSource { own, ..GarmentSource::default() }
    }
}
