use std::collections::BTreeSet;

/// What a script read of its input, and the modules it loaded.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reads {
    /// Body measures, by name.
    pub measures: BTreeSet<String>,
    /// Options, by name.
    pub options: BTreeSet<String>,
    /// Structures whose gauge was read.
    pub gauges: BTreeSet<String>,
    /// Paths in the plugin's folder.
    pub modules: BTreeSet<String>,
}

impl Reads {
    /// Adds what another call read.
    pub fn join(&mut self, other: Reads) {
        self.measures.extend(other.measures);
        self.options.extend(other.options);
        self.gauges.extend(other.gauges);
        self.modules.extend(other.modules);
    }
}
