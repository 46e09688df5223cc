use std::collections::BTreeMap;

use knit::body::OwnMeasure;
use knit::program::Structure;

use super::option::OptionSpec;

/// The newest script API this build speaks; older ones run as they did. Raised when a script that
/// ran before might not run after.
pub const API_VERSION: u32 = 2;

/// `plugin.toml`, checked: what a garment is called, what it needs and what may be chosen. Read
/// before any code of the plugin runs. Of a part, `part.toml`: what its sample needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Manifest {
    /// Lower-case letters, digits and `-`: what a person types.
    pub id: String,
    /// For people.
    pub title: String,
    /// Of the garment, as `1.0.0`.
    pub version: String,
    /// The script API it is written for, from 1 to [`API_VERSION`].
    pub api: u32,
    /// One sentence for people.
    pub summary: String,
    /// Body measures the script may read; none for a thing that no one wears, graded once.
    pub measures: Vec<String>,
    /// The one of them that orders a run of sizes.
    pub measure: String,
    /// The measure that sizes go by: other measures of a size are what goes with it on average,
    /// where the size table says so. [`measure`](Self::measure) where the file names none.
    pub sized_by: String,
    /// Body measures that the garment makes known, in the order of the file.
    pub own_measures: Vec<OwnMeasure>,
    /// Structures the script needs a gauge for.
    pub structures: Vec<Structure>,
    /// Whether a person needs two.
    pub pair: bool,
    /// Counts that never fall as the measure grows.
    pub grows: Vec<String>,
    /// Sections in which several remnants of one yarn may be joined without spoiling it.
    pub joinable: Vec<String>,
    /// In the order of the file.
    pub options: Vec<OptionSpec>,
    /// Yarn sections, in the order of the file.
    pub sections: Vec<SectionSpec>,
    /// Parts that are required, and the major version of each.
    pub parts: BTreeMap<String, u32>,
}

/// A part of the garment whose yarn is counted on its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionSpec {
    /// As the script writes it: letters, digits and `_`.
    pub name: String,
    /// For people.
    pub title: String,
}

impl Manifest {
    /// The option that the garment grows with, where it has one.
    pub fn scaling(&self) -> Option<&OptionSpec> {
        self.options.iter().find(|option| option.scales)
    }

    /// The title of a yarn section, or its name when the manifest has none.
    pub fn section_title<'a>(&'a self, name: &'a str) -> &'a str {
        self.sections.iter().find(|s| s.name == name).map_or(name, |s| &s.title)
    }
}
