//! A plan of gifts in the terms of a workspace: what is made for whom, of which remnants, what is
//! left, what is left out and why.
//!
//! Data without a sentence. It stands on this floor because it speaks of people, garments and
//! remnants, which the solver beside it must not know, and because both sides of it can see it from
//! here: the use cases fill it in, the pages put it into words.

mod change;
mod kept;
mod left_out;
mod made;
mod many;
mod out_of_time;
mod shopping_list;
mod travel;
mod warning;
mod week;

pub use change::{Change, SinceBefore};
pub use kept::{Kept, KeptWhy};
pub use left_out::{Excluded, ExcludedYarn, Hindrance, LeftOut, NotMade, Way, YarnRule, YarnToAdd};
pub use made::{PlannedGift, PlannedSection};
pub use many::Many;
pub use out_of_time::OutOfTime;
pub use shopping_list::{ShoppingFor, ShoppingList, Sparing, ToBuy};
pub use travel::Travel;
pub use warning::{PlanWarning, UnmetGift, UnmetWhy};
pub use week::{PlanWeek, WeekWork};

use std::collections::BTreeMap;

use crate::estimate::Minutes;
use crate::stash::Aim;

/// What is made for whom, of what; what is left; what is left out and why.
#[derive(Clone, Debug)]
pub struct GiftPlan {
    /// The number of the state of the workspace that it was made on.
    pub made_on: u64,
    /// In the order of work: by due date, then by priority.
    pub gifts: Vec<PlannedGift>,
    /// Gifts that are not made.
    pub left_out: Vec<LeftOut>,
    /// Yarn that is brought from one place to another, where several knit.
    pub travels: Vec<Travel>,
    /// Yarn that is not planned with, or not for all.
    pub kept: Vec<Kept>,
    /// Many of a kind, in the order of the file.
    pub many: Vec<Many>,
    /// What it is to be good at, where somebody said so.
    pub aim: Option<Aim>,
    /// Every remnant of the stash, in its order.
    pub remnants: Vec<RemnantLeft>,
    /// Waste yarn for all gifts together, in metres, by machine title.
    pub waste_m: BTreeMap<String, f64>,
    /// How good it is.
    pub worth: PlanWorth,
    /// Work that the solver did, in its own units.
    pub work_done: u64,
    /// Ended by hand before its limit.
    pub stopped: bool,
    /// What was noticed on the way: garments that don't load, days that are past.
    pub warnings: Vec<PlanWarning>,
    /// Gifts that must be made and are not.
    pub unmet: Vec<UnmetGift>,
    /// What can't be done by its day for want of hours, and what would help.
    pub out_of_time: Vec<OutOfTime>,
    /// What has changed since the accepted plan, where gifts of one were planned again.
    pub since: Option<SinceBefore>,
}

/// What a plan is worth and how much better one could be, in points. Points come in tenths, which
/// a double holds near enough to tell each from the next.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlanWorth {
    /// What this plan is worth.
    pub objective: f64,
    /// No plan is worth more.
    pub bound: f64,
    /// Bound less worth, as a share of the worth.
    pub gap: f64,
    /// Whether it is sure that there is no better plan.
    pub proven: bool,
}

/// What is left of a remnant.
#[derive(Clone, Debug, PartialEq)]
pub struct RemnantLeft {
    /// Its id in the stash.
    pub id: String,
    /// Id of its yarn.
    pub yarn: String,
    /// What may be planned with, in grams.
    pub had_g: f64,
    /// What the plan leaves of that, in grams.
    pub left_g: f64,
    /// Too little left to be of use.
    pub drib: bool,
}

/// Metres of waste yarn below which a machine needs no mention.
const LEAST_WASTE_M: f64 = 0.5;

impl GiftPlan {
    /// Each caution once, with the numbers of the gifts it is about, from 1.
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

    /// Of each who knits, where several do, how many gifts they make and in what time, in the order in
    /// which they begin.
    pub fn work_of_each(&self) -> Vec<(&str, usize, Minutes)> {
        let mut all: Vec<(&str, usize, Minutes)> = Vec::new();
        for gift in &self.gifts {
            let Some(knitter) = gift.knitter.as_deref() else { continue };
            match all.iter_mut().find(|(name, ..)| *name == knitter) {
                Some((_, gifts, minutes)) => {
                    *gifts += 1;
                    *minutes = minutes.plus(&gift.minutes);
                }
                None => all.push((knitter, 1, gift.minutes.clone())),
            }
        }
        all
    }

    /// Waste yarn worth telling of, in metres, by machine.
    pub fn waste(&self) -> impl Iterator<Item = (&str, f64)> {
        let told = self.waste_m.iter().filter(|(_, metres)| **metres >= LEAST_WASTE_M);
        told.map(|(machine, metres)| (machine.as_str(), *metres))
    }
}
