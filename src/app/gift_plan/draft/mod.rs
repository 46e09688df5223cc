//! The instance, and what each of its numbers stands for.

mod aims;
mod kept;
mod many;
mod of_gift;
mod stash_draft;
mod who;

use of_gift::OfGift;
use stash_draft::StashDraft;
use who::Who;

use std::collections::BTreeMap;

use super::PlanRequest;
use super::setups::Setups;
use crate::{GiftNames, Learning};
use diag::Diagnostics;
use knit::estimate::{Minutes, Piece, PieceNeed};
use knit::gift_plan::{Kept, PlanWarning};
use knit::stash::{Date, GiftStage, GiftWish, Settings, Yarn};
use plan::{Deadline, Instance, Points, Weights};
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
    /// The days the deadlines stand for.
    pub due: Vec<Date>,
    pub warnings: Vec<PlanWarning>,
    pub who: Who,
    pub kept: Vec<Kept>,
}

#[derive(Clone, Debug)]
pub struct DraftGift {
    pub id: String,
    /// One for each option of the instance's gift.
    pub options: Vec<DraftOption>,
    /// Garments that can't be made for this person at all, each reason once.
    pub refusals: Vec<Refusal>,
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
        let contents = request.contents;
        let setups = Setups::of(contents, request.learning);
        let gifts = wished(request);
        let mut who = Who::of(contents);
        let (mut stash, kept) = StashDraft::of(request, &gifts);
        who.put_in_places(contents, &mut stash);
        let mut warnings = vec![PlanWarning::Found(request.learning.warnings.clone())];
        let plugins = plugins(request, &gifts, &mut warnings);
        let unknown = unknown_names(&gifts, &plugins);
        warnings.extend(unknown.iter().map(|(gift, faults)| PlanWarning::GiftLeftOut {
            gift: (*gift).to_owned(),
            faults: faults.clone(),
        }));
        let due = days(&gifts, request.today);
        warnings.extend(overdue(&gifts, &due));
        let (setups, stash_of, plugins) = (&setups, &stash, &plugins);
        let drawn = many::drawn(request.bench, contents.settings.weights.priority, &gifts, |nth| {
            let wish = gifts[nth];
            let unknown = unknown.get(wish.id.as_str());
            OfGift { request, setups, stash: stash_of, plugins, wish, nth, unknown }.draw(&due)
        });
        let people: Vec<&str> = gifts.iter().map(|wish| wish.person.as_str()).collect();
        let shared = gifts.iter().zip(drawn).map(|(wish, drawn)| who.share_out(wish, drawn));
        let (drafts, gifts): (Vec<_>, Vec<_>) = shared.unzip();
        let deadlines = due
            .iter()
            .map(|day| Deadline {
                minutes: who
                    .each(|own| minutes_until(request, who.hours_a_week(request, own), *day)),
            })
            .collect();
        let weights = contents.settings.weights;
        let mut instance = Instance {
            remnants: stash.remnants,
            gifts,
            deadlines,
            travel: who.travel(points(weights.travel)),
            ..with_settings(&contents.settings)
        };
        aims::vary(&mut instance, &drafts, &people);
        aims::weigh(&mut instance, request.aim().unwrap_or_default().weighed(&weights));
        Ok(Draft {
            instance,
            gifts: drafts,
            remnants: stash.ids,
            groups: stash.groups,
            due,
            warnings,
            who,
            kept,
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

fn overdue(gifts: &[&GiftWish], due: &[Date]) -> Vec<PlanWarning> {
    let past = |gift: &&GiftWish| {
        let day = gift.due.filter(|day| !due.contains(day))?;
        Some(PlanWarning::Overdue { gift: gift.id.clone(), due: day })
    };
    gifts.iter().filter_map(past).collect()
}

/// An instance of nothing with what the settings say of joins, ends and weights.
fn with_settings(settings: &Settings) -> Instance {
    let weights = settings.weights;
    let tenths = points;
    Instance {
        min_chunk_dg: decigrams_up(settings.least_useful.grams()).max(1),
        max_join: (settings.most_joins as usize + 1).clamp(1, Instance::MOST_JOINED),
        drib_dg: decigrams_down(settings.drib_limit.grams()),
        weights: Weights {
            priority: tenths(weights.priority),
            pref: tenths(weights.preference),
            join: tenths(weights.join),
            // The weight is a gram's.
            drib: tenths(weights.drib / 10.0),
            alike: tenths(weights.alike),
        },
        ..Instance::default()
    }
}

fn points(points: f64) -> Points {
    Points((points * 10.0).round() as i64)
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
