//! A plan in the words of the workspace: gifts, people, remnants. Built by the app layer, written out by
//! the page, the rows and the data.

use std::collections::BTreeMap;

use crate::diag::Diagnostics;
use crate::knit::reserve::Grams;
use crate::knit::stash::Date;
use crate::plan::Points;

/// What is made for whom, of what; what is left; what is left out and why.
#[derive(Clone, Debug)]
pub struct GiftPlan {
    /// In the order of work: by due date, then by priority.
    pub gifts: Vec<PlannedGift>,
    pub left_out: Vec<LeftOut>,
    /// Every remnant of the stash, in its order.
    pub remnants: Vec<RemnantLeft>,
    /// Waste yarn for all gifts together, in metres, by machine title.
    pub waste_m: BTreeMap<String, f64>,
    pub objective: Points,
    pub bound: Points,
    pub gap: f64,
    pub proven: bool,
    pub work_done: u64,
    /// Gifts that must be made and can't be, garments that don't load.
    pub diagnostics: Diagnostics,
    /// Ended by hand before its limit.
    pub stopped: bool,
}

#[derive(Clone, Debug)]
pub struct PlannedGift {
    pub id: String,
    pub person: String,
    pub priority: u8,
    pub due: Option<Date>,
    pub garment: String,
    pub title: String,
    pub size_label: String,
    pub machine: String,
    pub machine_title: String,
    /// Id of the swatch it is graded on; `None`: the gauge is an estimate.
    pub swatch: Option<String>,
    pub minutes: f64,
    /// Minutes at the machine when it is done, the gifts before it included.
    pub done_after: f64,
    pub sections: Vec<PlannedSection>,
    pub cautions: Vec<String>,
}

#[derive(Clone, Debug)]
pub struct PlannedSection {
    pub name: String,
    pub title: String,
    pub yarn: String,
    pub yarn_name: String,
    pub lot: Option<String>,
    /// Remnants and grams to set aside, in the order in which they are joined.
    pub chunks: Vec<(String, f64)>,
    /// What the section is expected to take.
    pub need: Grams,
    /// The chance that what is set aside runs out.
    pub chance: f64,
}

#[derive(Clone, Debug)]
pub struct LeftOut {
    pub id: String,
    pub person: String,
    pub priority: u8,
    pub due: Option<Date>,
    /// Why, in plain words, the weightiest first.
    pub reasons: Vec<String>,
    /// Ways to let it in, best first.
    pub ways: Vec<Way>,
}

/// What would let a gift in.
#[derive(Clone, Debug)]
pub struct Way {
    /// Yarn to add, in one piece: id, name and grams. `None`: it is enough that others go.
    pub add: Option<(String, String, f64)>,
    /// What it would be knitted as.
    pub title: String,
    pub size_label: String,
    /// Gifts that would go for it, by id.
    pub displaced: Vec<String>,
}

#[derive(Clone, Debug)]
pub struct RemnantLeft {
    pub id: String,
    pub yarn: String,
    pub had_g: f64,
    pub left_g: f64,
    /// Too little left to be of use.
    pub drib: bool,
}
