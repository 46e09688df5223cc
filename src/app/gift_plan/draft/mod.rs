//! The instance, and what each of its numbers stands for.

mod aims;
mod before;
mod excluded;
mod held;
mod hours;
mod kept;
mod many;
mod matched;
mod of_gift;
mod stash_draft;
mod who;

pub use held::HeldGift;
pub use hours::Hours;
use of_gift::OfGift;
use stash_draft::StashDraft;
pub use who::Who;

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::PlanRequest;
use super::scale::{Extent, Scale};
use super::setups::Setups;
use crate::{GiftNames, Learning};
use diag::Diagnostics;
use knit::estimate::{Minutes, Piece, PieceNeed};
use knit::gift_plan::{Excluded, Kept, PlanWarning};
use knit::stash::{Date, GiftStage, GiftWish, Settings, Yarn};
use plan::{Deadline, Gift, Instance, Weights};
use script::Plugin;

/// An instance and its key.
#[derive(Clone, Debug)]
pub struct Draft {
    pub instance: Instance,
    /// One for each gift of the instance, in its order.
    pub gifts: Vec<DraftGift>,
    /// For each remnant of the instance, the id in the stash.
    pub remnants: Vec<String>,
    /// For each group, the id of its yarn and the dye lot.
    pub groups: Vec<(String, Option<String>)>,
    /// The groups that new balls would be of.
    pub on_offer: Vec<usize>,
    /// What the deadlines stand for.
    pub hours: Hours,
    /// What the knitter's points are in the instance.
    pub scale: Scale,
    pub warnings: Vec<PlanWarning>,
    pub who: Who,
    pub kept: Vec<Kept>,
    /// By match, the gifts that have yarn already and bind it.
    pub matched: BTreeMap<usize, Vec<String>>,
}

#[derive(Clone, Debug)]
pub struct DraftGift {
    pub id: String,
    /// One for each option of the instance's gift.
    pub options: Vec<DraftOption>,
    /// Garments that can't be made for this person at all, each reason once.
    pub refusals: Vec<Refusal>,
    /// Yarns of the stash that won't do, and why.
    pub excluded: Vec<Excluded>,
    /// What it names that none of its garments has, in words: it has no options then.
    pub unknown: Vec<String>,
    /// Titles of the machines that it could be knitted on if somebody had them.
    pub nobody_has: Vec<String>,
}

/// Why a garment is no option.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    pub garment: String,
    pub reason: String,
}

/// A garment in a person's size at one gauge.
#[derive(Clone, Debug)]
pub struct DraftOption {
    pub garment: String,
    pub title: String,
    pub size_label: String,
    /// The gauge it is graded at, of [`Setups::all`].
    pub setup: usize,
    /// Id of the swatch; `None`: the gauge is estimated.
    pub swatch: Option<String>,
    pub machine: String,
    pub machine_title: String,
    /// Who knits it, by number.
    pub knitter: usize,
    /// Tex of the yarn of the swatch, which the piece below is in.
    pub tex: f64,
    /// Name and title of each section.
    pub sections: Vec<(String, String)>,
    /// The same as estimates reckon with it.
    pub piece: Piece,
    /// Of this gift: what it has in common with the others of the plan is told in them all.
    pub minutes: Minutes,
    /// By the operations of the garment alone, before anything is known of who knits.
    pub work_minutes: f64,
    pub waste_m: f64,
    pub cautions: Vec<String>,
    /// The option that the garment grows with and its value here, where the yarn chose it.
    pub scaled: Option<(String, String)>,
    /// The one who alone may knit it, where several do and it is to stay as it was.
    pub only_by: Option<String>,
}

impl DraftOption {
    /// What it takes, section by section, in a yarn of the stash.
    pub fn needs_in(&self, learning: &Learning, yarn: &Yarn) -> PieceNeed {
        let (id, times) = (learning.yarn_id(&yarn.id), yarn.count.tex() / self.tex);
        learning.learnt.need(&self.piece.in_yarn(&id, times))
    }
}

impl Draft {
    pub fn of(request: &PlanRequest<'_>) -> Result<Draft, Diagnostics> {
        Draft::with_offers(request, &[])
    }

    /// With what yarns on offer would do, and decigrams of a ball of each. No ball is laid out yet.
    pub fn with_offers(
        request: &PlanRequest<'_>,
        on_offer: &[(String, u32)],
    ) -> Result<Draft, Diagnostics> {
        let contents = request.contents;
        let setups = Setups::of(contents, request.learning, |yarn| {
            contents.remnants.iter().any(|r| r.yarn == yarn.id)
                || on_offer.iter().any(|(id, _)| *id == yarn.id)
        });
        let gifts = wished(request);
        let mut who = Who::of(contents);
        let (mut stash, kept) = StashDraft::of(request, &gifts, on_offer);
        who.put_in_places(contents, &mut stash);
        let mut warnings = vec![PlanWarning::Found(request.learning.warnings.clone())];
        let held = held::held(contents, &gifts);
        let all: Vec<&GiftWish> = gifts.iter().chain(&held).copied().collect();
        let plugins = plugins(request, &all, &mut warnings);
        let unknown = unknown_names(&gifts, &plugins);
        warnings.extend(unknown.iter().map(|(gift, faults)| PlanWarning::GiftLeftOut {
            gift: (*gift).to_owned(),
            faults: faults.clone(),
        }));
        let due = days(&all, request.today);
        let rules = with_settings(&contents.settings, whole_balls(contents, &stash));
        let weighed = &contents.settings.weights;
        let aim = request.aim().unwrap_or_default().weighed(weighed);
        let scale = Scale::of(weighed, &aim, extent(&gifts, &stash, &rules));
        warnings.extend(overdue(&gifts, &due, request.today));
        let (setups, stash_of, plugins) = (&setups, &stash, &plugins);
        let of_gift = |nth, wish| OfGift {
            request,
            setups,
            stash: stash_of,
            rules: &rules,
            plugins,
            wish,
            scale,
            nth,
            unknown: unknown.get(wish.id.as_str()),
        };
        let draw = |nth: usize| of_gift(nth, gifts[nth]).draw(&due);
        let drawn = many::drawn(request, scale, &gifts, draw);
        let people: Vec<&str> = gifts.iter().map(|wish| wish.person.as_str()).collect();
        let shared = gifts.iter().zip(drawn).map(|(wish, drawn)| who.share_out(wish, drawn));
        let (drafts, mut drawn): (Vec<DraftGift>, Vec<Gift>) = shared.unzip();
        let held = held.par_iter().filter_map(|wish| {
            let minutes = of_gift(usize::MAX, *wish).work_left()?;
            let slot = held::slot(wish, &due, request.today);
            let knitter = held::knitter(contents, &who, wish);
            Some(HeldGift { id: wish.id.clone(), due: wish.due, minutes, slot, knitter })
        });
        let held: Vec<HeldGift> = held.collect();
        let hours = Hours::of(request, &who, due, held);
        hours.place_overdue(&gifts, &mut drawn);
        let deadlines = hours.free.iter().map(|free| Deadline { minutes: free.clone() }).collect();
        let mut instance = Instance {
            yarn_of: yarn_of(&stash.groups),
            remnants: stash.remnants,
            gifts: drawn,
            deadlines,
            travel: who.travel(scale.points(contents.settings.weights.travel)),
            weights: weights(&contents.settings, scale),
            ..rules.clone()
        };
        aims::vary(&mut instance, &drafts, &people);
        aims::weigh(&mut instance, scale, aim);
        let matched = matched::number(contents, &gifts, &drafts, &stash.groups, &mut instance);
        Ok(Draft {
            instance,
            scale,
            gifts: drafts,
            remnants: stash.ids,
            groups: stash.groups,
            on_offer: stash.on_offer.into_keys().collect(),
            hours,
            warnings,
            who,
            kept,
            matched,
        })
    }
}

/// The gifts to plan: those still wished for that no accepted plan has set yarn aside for; with
/// `again`, those too whose yarn is not kept fast.
fn wished<'a>(request: &PlanRequest<'a>) -> Vec<&'a GiftWish> {
    let contents = request.contents;
    let planned = |gift: &&GiftWish| {
        let reserved = contents.set_aside(&gift.id).next().is_some();
        gift.stage == GiftStage::Wished && !(reserved && (!request.again || gift.keep))
    };
    contents.gifts.iter().filter(planned).collect()
}

/// By gift, options and sections that none of its garments has: something else would be knitted than
/// was asked for.
fn unknown_names<'a>(
    gifts: &[&'a GiftWish],
    plugins: &BTreeMap<String, Plugin>,
) -> BTreeMap<&'a str, Diagnostics> {
    let of_gift = |gift: &&'a GiftWish| {
        let at_hand = plugins.iter().map(|(id, plugin)| (id.as_str(), plugin));
        let faults = GiftNames::from(*gift).faults(at_hand);
        faults.has_errors().then_some((gift.id.as_str(), faults))
    };
    gifts.iter().filter_map(of_gift).collect()
}

fn overdue(gifts: &[&GiftWish], due: &[Date], today: Date) -> Vec<PlanWarning> {
    let past = |gift: &&GiftWish| {
        let day = gift.due.filter(|day| !due.contains(day))?;
        Some(PlanWarning::Overdue { gift: gift.id.clone(), due: day, today: day == today })
    };
    gifts.iter().filter_map(past).collect()
}

/// An instance of nothing with what the settings say of joins and ends.
fn with_settings(settings: &Settings, ball_dg: BTreeMap<usize, u32>) -> Instance {
    Instance {
        ball_dg,
        min_chunk_dg: decigrams_up(settings.least_useful.grams()).max(1),
        max_join: (settings.most_joins as usize + 1).clamp(1, Instance::MOST_JOINED),
        drib_dg: decigrams_down(settings.drib_limit.grams()),
        ..Instance::default()
    }
}

/// By group, what a whole ball weighs. Where nobody said, the usual ball, or one as heavy as the heaviest
/// remnant there is: that was a ball or part of one.
fn whole_balls(contents: &store::workspace::Contents, stash: &StashDraft) -> BTreeMap<usize, u32> {
    let of_group = |group: usize| {
        if let Some(dg) = stash.on_offer.get(&group) {
            return Some(*dg);
        }
        let yarn = contents.yarns.get(&stash.groups[group].0)?;
        let own = stash.remnants.iter().filter(|remnant| remnant.group == group);
        let heaviest = own.map(|remnant| remnant.usable_dg).max().unwrap_or(0);
        let usual = decigrams_down(Yarn::USUAL_BALL_G).max(heaviest);
        Some(yarn.ball.map_or(usual, |ball| decigrams_down(ball.grams())))
    };
    (0..stash.groups.len()).filter_map(|group| Some((group, of_group(group)?))).collect()
}

fn weights(settings: &Settings, scale: Scale) -> Weights {
    let weights = settings.weights;
    Weights {
        priority: scale.points(weights.priority),
        pref: scale.points(weights.preference),
        join: scale.points(weights.join),
        // The weight is a gram's.
        drib: scale.points(weights.drib / 10.0),
        alike: scale.points(weights.alike),
    }
}

/// By group, the first group of its yarn: the others are further lots of it.
fn yarn_of(groups: &[(String, Option<String>)]) -> BTreeMap<usize, usize> {
    let first = |yarn: &str| groups.iter().position(|(other, _)| other == yarn);
    let all = groups.iter().enumerate();
    all.filter_map(|(group, (yarn, _))| Some((group, first(yarn)?))).collect()
}

/// Sections of one garment are fewer than this.
const MOST_SECTIONS: usize = 24;

fn extent(gifts: &[&GiftWish], stash: &StashDraft, rules: &Instance) -> Extent {
    Extent {
        gifts: gifts.len(),
        musts: gifts.iter().filter(|gift| gift.must).count(),
        remnants: stash.remnants.len(),
        joins: MOST_SECTIONS * rules.most_in_any(),
        drib_dg: rules.drib_dg,
    }
}

/// The garments that some gift may be, loaded once.
fn plugins(
    request: &PlanRequest<'_>,
    gifts: &[&GiftWish],
    warnings: &mut Vec<PlanWarning>,
) -> BTreeMap<String, Plugin> {
    let ids: Vec<String> = request
        .bench
        .garment_ids()
        .into_iter()
        .filter(|id| gifts.iter().any(|gift| gift.garment.allows(id)))
        .collect();
    let mut plugins = BTreeMap::new();
    for id in ids {
        match request.bench.garment(&id) {
            Ok(plugin) => {
                plugins.insert(id, plugin);
            }
            Err(faults) => warnings.push(PlanWarning::GarmentLeftOut { garment: id, faults }),
        }
    }
    plugins
}

/// The days that are still to come.
fn days(gifts: &[&GiftWish], today: Date) -> Vec<Date> {
    let mut days: Vec<Date> =
        gifts.iter().filter_map(|gift| gift.due).filter(|day| *day > today).collect();
    days.sort_unstable();
    days.dedup();
    days
}

/// Minutes at the machine until a day, without limit where nothing names hours.
fn minutes_until(request: &PlanRequest<'_>, hours_a_week: Option<f64>, day: Date) -> u64 {
    const NO_LIMIT: u64 = 60 * 24 * 365 * 100;
    let days = f64::from((day - request.today).get_days().max(0));
    match hours_a_week {
        Some(hours) => (hours * 60.0 * days / 7.0).floor().clamp(0.0, NO_LIMIT as f64) as u64,
        None => NO_LIMIT,
    }
}

fn decigrams_up(grams: f64) -> u32 {
    (grams * 10.0 - 1e-6).ceil().clamp(0.0, f64::from(Instance::HEAVIEST_DG)) as u32
}

fn decigrams_down(grams: f64) -> u32 {
    (grams * 10.0 + 1e-6).floor().clamp(0.0, f64::from(Instance::HEAVIEST_DG)) as u32
}
