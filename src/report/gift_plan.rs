//! A plan in the words of the workspace: gifts, people, remnants. Built by the app layer, written out by
//! the page, the rows and the data.

use std::collections::BTreeMap;

use super::grid::Grid;
use diag::Diagnostics;
use knit::reserve::Grams;
use knit::stash::Date;
use plan::Points;

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

impl GiftPlan {
    /// Each caution once, with the numbers of the gifts it is about.
    pub fn cautions(&self) -> Vec<(&str, Vec<usize>)> {
        let mut all: Vec<(&str, Vec<usize>)> = Vec::new();
        for (nth, gift) in self.gifts.iter().enumerate() {
            for caution in &gift.cautions {
                match all.iter_mut().find(|(told, _)| told == caution) {
                    Some((_, gifts)) => gifts.push(nth + 1),
                    None => all.push((caution, vec![nth + 1])),
                }
            }
        }
        all
    }

    /// What the plan is worth, and how much better one could be.
    pub fn goodness(&self) -> String {
        let worth = format!("It is worth {} points", self.objective);
        if self.proven {
            return format!("{worth}, and no plan is worth more.");
        }
        let end = if self.stopped { " It was stopped before its limit." } else { "" };
        format!(
            "{worth}; no plan is worth more than {} ({:.2} % more).{end}",
            self.bound,
            self.gap * 100.0
        )
    }
}

impl GiftPlan {
    /// What is left of each remnant used, and how many are not touched.
    pub fn remnants_left(&self) -> (Grid, usize) {
        let headings = ["Remnant", "Yarn", "Had g", "Left g", ""].map(str::to_owned).to_vec();
        let mut grid = Grid::new("", headings);
        for remnant in self.remnants.iter().filter(|remnant| remnant.left_g < remnant.had_g) {
            grid.rows.push(vec![
                remnant.id.clone(),
                remnant.yarn.clone(),
                format!("{:.1}", remnant.had_g),
                format!("{:.1}", remnant.left_g),
                if remnant.drib { "a drib" } else { "" }.to_owned(),
            ]);
        }
        let rest = self.remnants.len() - grid.rows.len();
        (grid, rest)
    }

    /// Waste yarn worth telling of, in metres, by machine.
    pub fn waste(&self) -> impl Iterator<Item = (&str, f64)> {
        let told = self.waste_m.iter().filter(|(_, metres)| **metres >= 0.5);
        told.map(|(machine, metres)| (machine.as_str(), *metres))
    }
}

impl PlannedGift {
    /// Said of a gift whose yarn nobody swatched.
    pub const UNSWATCHED: &'static str =
        "No swatch of such yarn: the gauge is an estimate. Swatch first.";

    /// What each section takes from where, a line each.
    pub fn takes(&self) -> Vec<String> {
        let alone = self.sections.len() == 1;
        let line = |section: &PlannedSection| {
            let lot = section.lot.as_ref().map_or(String::new(), |lot| format!(", lot {lot}"));
            let takes: Vec<String> = section
                .chunks
                .iter()
                .map(|(remnant, grams)| format!("{grams:.1} g of {remnant}"))
                .collect();
            let whole = if alone { String::new() } else { format!("{}: ", section.title) };
            format!(
                "{whole}{} ({}{lot}); takes about {:.0} g, runs out {} in a hundred",
                takes.join(", then "),
                section.yarn_name,
                section.need.mean,
                section.runs_out()
            )
        };
        self.sections.iter().map(line).collect()
    }

    /// Time at the machine, and how much has gone by when it is done.
    pub fn hours(&self) -> (String, String) {
        let hours = |minutes: f64| format!("{:.1} h", minutes / 60.0);
        (hours(self.minutes), hours(self.done_after))
    }
}

impl LeftOut {
    /// The ways in, those that only add yarn for one garment in one line.
    pub fn ways_in(&self) -> Vec<String> {
        let mut lines: Vec<(String, Vec<String>)> = Vec::new();
        for way in &self.ways {
            let what = format!("{}, {}", way.title.to_lowercase(), way.size_label);
            let goes = if way.displaced.len() == 1 { "goes" } else { "go" };
            let yarn =
                way.add.as_ref().map(|(_, yarn, grams)| format!("{:.0} g of {yarn}", grams.ceil()));
            let line = match (yarn, way.displaced.as_slice()) {
                (None, gone) => {
                    (format!("{what} can be made if {} {goes}", listed(gone)), Vec::new())
                }
                (Some(yarn), []) => (format!("for {what}, one more piece of yarn: "), vec![yarn]),
                (Some(yarn), gone) => {
                    (format!("for {what}, {yarn} more, if {} {goes}", listed(gone)), Vec::new())
                }
            };
            match lines.iter_mut().find(|(start, yarns)| *start == line.0 && !yarns.is_empty()) {
                Some((_, yarns)) => yarns.extend(line.1),
                None => lines.push(line),
            }
        }
        lines.into_iter().map(|(start, yarns)| format!("{start}{}", yarns.join(", or "))).collect()
    }
}

impl PlannedSection {
    /// The chance of running out, as so many times in a hundred.
    fn runs_out(&self) -> String {
        match self.chance * 100.0 {
            p if p < 0.5 => "less than once".to_owned(),
            p if p < 1.5 => "once".to_owned(),
            p => format!("{p:.0} times"),
        }
    }
}

fn listed(names: &[String]) -> String {
    match names {
        [] => "none".to_owned(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
