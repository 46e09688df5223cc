use std::collections::{BTreeMap, BTreeSet};

use super::Change;
use crate::estimate::{Minutes, Need};
use crate::stash::Date;

/// A gift that is made, and how.
#[derive(Clone, Debug)]
pub struct PlannedGift {
    /// Its id in the workspace.
    pub id: String,
    /// Name of the person it is for.
    pub person: String,
    /// As wished; more matters more.
    pub priority: u8,
    /// The day it is wanted by.
    pub due: Option<Date>,
    /// Id of the garment.
    pub garment: String,
    /// The garment's title.
    pub title: String,
    /// The size it is made in, as labelled.
    pub size_label: String,
    /// The option that the garment grows with and its value, where the yarn chose it: accepting the plan
    /// fixes it.
    pub scaled: Option<(String, String)>,
    /// Id of the machine.
    pub machine: String,
    /// The machine's title.
    pub machine_title: String,
    /// Name of whoever knits it, where several knit.
    pub knitter: Option<String>,
    /// Id of the swatch it is graded on; `None`: the gauge is an estimate.
    pub swatch: Option<String>,
    /// Minutes at the machine and of finishing.
    pub minutes: Minutes,
    /// Minutes of work when it is done, the gifts that its knitter makes before it included.
    pub done_after: Minutes,
    /// The chance, 0 to 1, that it is done too late, where it is due and the settings name hours.
    pub late: Option<f64>,
    /// What each part is knitted from.
    pub sections: Vec<PlannedSection>,
    /// What could hurt its wearer, in the garment's or the engine's words.
    pub cautions: Vec<String>,
    /// What has become of it since the accepted plan, where gifts of one were planned again.
    pub change: Option<Change>,
}

impl PlannedGift {
    /// What is to be minded where remnants are joined of which nobody knows whether they are of one dye lot
    /// (common practice, no source).
    const LOTS_UNKNOWN: &str = "Dye lots: of remnants of this yarn none is noted. Compare them in daylight before \
        you join them: two lots of a shade may differ to the eye.";

    /// The same with what is to be minded of its yarn.
    #[must_use]
    pub fn with_yarn_minded(mut self) -> PlannedGift {
        let mut unknown: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for section in self.sections.iter().filter(|section| section.lot.is_none()) {
            let remnants = section.chunks.iter().map(|(remnant, _)| remnant.as_str());
            unknown.entry(&section.yarn).or_default().extend(remnants);
        }
        if unknown.values().any(|remnants| remnants.len() > 1) {
            self.cautions.push(PlannedGift::LOTS_UNKNOWN.to_owned());
        }
        self
    }

    /// The size as people read it: "Women M, length 126 cm".
    pub fn size_told(&self) -> String {
        match &self.scaled {
            Some((name, value)) => {
                format!("{}, {} {value}", self.size_label, name.replace('_', " "))
            }
            None => self.size_label.clone(),
        }
    }
}

/// A part of a garment and the yarn it is knitted from.
#[derive(Clone, Debug)]
pub struct PlannedSection {
    /// Its name in the garment.
    pub name: String,
    /// Its title.
    pub title: String,
    /// Id of the yarn.
    pub yarn: String,
    /// The yarn's name.
    pub yarn_name: String,
    /// The dye lot, where it is known.
    pub lot: Option<String>,
    /// Remnants and grams to set aside, in the order in which they are joined.
    pub chunks: Vec<(String, f64)>,
    /// What the section is expected to take.
    pub need: Need,
    /// The chance that what is set aside runs out, 0 to 1.
    pub chance: f64,
}
