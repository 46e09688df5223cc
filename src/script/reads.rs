use std::collections::BTreeSet;

use super::trace::Trace;

/// What a script read of its input, the modules it loaded, and what it showed its author.
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
    /// Parts that were required, by name.
    pub parts: BTreeSet<String>,
    /// What the script showed with `trace`, in order.
    pub traces: Vec<Trace>,
}

impl Reads {
    /// Adds what another call read. What it showed is of that call alone, and left out.
    pub fn join(&mut self, other: Reads) {
        self.measures.extend(other.measures);
        self.options.extend(other.options);
        self.gauges.extend(other.gauges);
        self.modules.extend(other.modules);
        self.parts.extend(other.parts);
    }
}
