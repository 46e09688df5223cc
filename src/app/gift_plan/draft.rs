//! The instance, and what each of its numbers stands for.

use std::collections::BTreeMap;
use std::rc::Rc;

use rayon::prelude::*;

use super::setups::Setups;
use super::{PlanRequest, kept};
use crate::fitting::request_for;
use crate::scaling::Scaling;
use crate::{GiftNames, GradeRequest, Learning};
use diag::Diagnostics;
use knit::body::SizeGroup;
use knit::estimate::{Effect, Id, Minutes, Need, Piece, PieceNeed, weighing_sd};
use knit::gift_plan::PlanWarning;
use knit::size_run::{GarmentName, Made, SizeRun};
use knit::stash::{ColourFamily, Date, GarmentChoice, GiftStage, GiftWish, Person, Settings, Yarn};
use knit::yarn::SectionYarn;
use plan::{Deadline, Gift, GiftOption, Instance, Points, Remnant, Section, Weights};
use script::{OptionSpec, Plugin};

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
    /// Tex of the yarn of the swatch, which the piece below is in.
    pub tex: f64,
    /// Name and title of each section.
    pub sections: Vec<(String, String)>,
    /// The same as estimates reckon with it.
    pub piece: Piece,
    /// Of this gift: what it has in common with the others of the plan is told in them all.
    pub minutes: Minutes,
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

/// Options kept of a gift that nothing in the stash is enough for: it is told what is missing.
const KEPT_SHORT: usize = 6;
/// Lots of yarn at one gauge that a garment which scales is tried as large as.
const SCALED_LOTS: usize = 8;

impl Draft {
    pub fn of(request: &PlanRequest<'_>) -> Result<Draft, Diagnostics> {
        let contents = request.contents;
        let setups = Setups::of(contents, request.learning);
        let gifts = wished(request);
        let stash = StashDraft::of(request, &gifts);
        let mut warnings = vec![PlanWarning::Found(request.learning.warnings.clone())];
        let plugins = plugins(request, &gifts, &mut warnings);
        let unknown = unknown_names(&gifts, &plugins);
        warnings.extend(unknown.iter().map(|(gift, faults)| PlanWarning::GiftLeftOut {
            gift: (*gift).to_owned(),
            faults: faults.clone(),
        }));
        let due = days(&gifts, request.today);
        warnings.extend(overdue(&gifts, &due));
        let drawn: Vec<(DraftGift, Gift)> = gifts
            .par_iter()
            .map(|wish| {
                let unknown = unknown.get(wish.id.as_str());
                let of_gift = OfGift {
                    request,
                    setups: &setups,
                    stash: &stash,
                    plugins: &plugins,
                    wish,
                    unknown,
                };
                of_gift.draw(&due)
            })
            .collect();
        let (drafts, gifts) = drawn.into_iter().unzip();
        let deadlines =
            due.iter().map(|day| Deadline { minutes: minutes_until(request, *day) }).collect();
        Ok(Draft {
            instance: Instance {
                remnants: stash.remnants,
                gifts,
                deadlines,
                ..with_settings(&contents.settings)
            },
            gifts: drafts,
            remnants: stash.ids,
            groups: stash.groups,
            due,
            warnings,
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
    let tenths = |points: f64| Points((points * 10.0).round() as i64);
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
        },
        ..Instance::default()
    }
}

/// The remnants as the instance has them.
struct StashDraft {
    ids: Vec<String>,
    remnants: Vec<Remnant>,
    groups: Vec<(String, Option<String>)>,
    /// Groups of pinned remnants, by gift and section.
    pins: BTreeMap<(String, String), Vec<usize>>,
}

impl StashDraft {
    /// With the remnants that gifts are pinned to set apart.
    fn of(request: &PlanRequest<'_>, gifts: &[&GiftWish]) -> StashDraft {
        let mut stash = StashDraft::free(request);
        for gift in gifts {
            stash.set_pins_apart(gift);
        }
        stash
    }

    fn free(request: &PlanRequest<'_>) -> StashDraft {
        let contents = request.contents;
        let mut stash = StashDraft {
            ids: Vec::new(),
            remnants: Vec::new(),
            groups: Vec::new(),
            pins: BTreeMap::new(),
        };
        // What is set aside for gifts that are planned again is free.
        let mut reserved: BTreeMap<&str, f64> = BTreeMap::new();
        for reservation in kept(contents, request.again) {
            *reserved.entry(&reservation.remnant).or_default() += reservation.weight.grams();
        }
        for remnant in &contents.remnants {
            let lot = (remnant.yarn.clone(), remnant.lot.clone());
            let group = stash.groups.iter().position(|g| *g == lot).unwrap_or_else(|| {
                stash.groups.push(lot);
                stash.groups.len() - 1
            });
            let left = remnant.weight.grams() - reserved.get(remnant.id.as_str()).unwrap_or(&0.0);
            stash.ids.push(remnant.id.clone());
            stash.remnants.push(Remnant {
                group,
                usable_dg: decigrams_down(left),
                mass_dg: decigrams_down(remnant.weight.grams()),
            });
        }
        stash
    }

    /// Gives each remnant that the gift is pinned to a group of its own, which that gift's section
    /// alone need choose from; whoever could use its lot may still use it.
    fn set_pins_apart(&mut self, gift: &GiftWish) {
        for (section, ids) in &gift.pinned {
            let mut groups = Vec::new();
            let pinned: Vec<usize> =
                (0..self.ids.len()).filter(|i| ids.contains(&self.ids[*i])).collect();
            let mut by_lot: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for i in pinned {
                by_lot.entry(self.remnants[i].group).or_default().push(i);
            }
            for (lot, members) in by_lot {
                self.groups.push(self.groups[lot].clone());
                let group = self.groups.len() - 1;
                for i in members {
                    self.remnants[i].group = group;
                }
                groups.push(group);
            }
            self.pins.insert((gift.id.clone(), section.clone()), groups);
        }
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

/// Minutes at the machine until a day, without limit where the settings name no hours.
fn minutes_until(request: &PlanRequest<'_>, day: Date) -> u64 {
    const NO_LIMIT: u64 = 60 * 24 * 365 * 100;
    let days = f64::from((day - request.today).get_days().max(0));
    match request.contents.settings.hours_a_week {
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

/// One gift being drawn up.
struct OfGift<'a> {
    request: &'a PlanRequest<'a>,
    setups: &'a Setups,
    stash: &'a StashDraft,
    plugins: &'a BTreeMap<String, Plugin>,
    wish: &'a GiftWish,
    /// What it names that none of its garments has.
    unknown: Option<&'a Diagnostics>,
}

impl OfGift<'_> {
    fn draw(&self, due: &[Date]) -> (DraftGift, Gift) {
        let mut options: Vec<(DraftOption, GiftOption)> = Vec::new();
        let mut refusals: Vec<Refusal> = Vec::new();
        let person = self.request.contents.person(&self.wish.person);
        if let Some(person) = person.filter(|_| self.unknown.is_none()) {
            for (id, plugin) in self.plugins.iter().filter(|(id, plugin)| self.may_be(id, plugin)) {
                for setup in 0..self.setups.all.len() {
                    match self.option(person, plugin, setup) {
                        Ok(drawn) => options.extend(drawn),
                        Err(reason) => {
                            let refusal = Refusal { garment: id.clone(), reason };
                            if !refusals.contains(&refusal) {
                                refusals.push(refusal);
                            }
                        }
                    }
                }
            }
        }
        let options = self.thinned(options);
        let (drafts, options) = options.into_iter().unzip();
        let gift = Gift {
            priority: i64::from(self.wish.priority),
            must: self.wish.must,
            pinned: None,
            due: self.wish.due.and_then(|day| due.iter().position(|d| *d == day)),
            options,
        };
        let unknown = self.unknown.into_iter().flat_map(|faults| faults.iter());
        let unknown = unknown.map(|fault| fault.message.clone()).collect();
        (DraftGift { id: self.wish.id.clone(), options: drafts, refusals, unknown }, gift)
    }

    /// Whether the gift may be this: "anything warm" is something to wear.
    fn may_be(&self, id: &str, plugin: &Plugin) -> bool {
        let worn = !plugin.manifest.measures.is_empty();
        self.wish.garment.allows(id) && (worn || self.wish.garment != GarmentChoice::Any)
    }

    /// The garment at one gauge, once for any yarn that suits and once for liked colours alone.
    fn option(
        &self,
        person: &Person,
        plugin: &Plugin,
        setup: usize,
    ) -> Result<Vec<(DraftOption, GiftOption)>, String> {
        let can_wear = |yarn: &Yarn, group: Option<SizeGroup>| {
            person.objections(group, yarn.fibres.as_ref(), yarn.care).is_empty()
        };
        let group = self.request.contents.group_of(person);
        let mut lots = self.lots(setup);
        lots.retain(|(_, yarn)| {
            can_wear(yarn, group)
                && !yarn.colour_families().iter().any(|c| person.avoids_colours.contains(c))
        });
        if lots.is_empty() {
            return Ok(Vec::new());
        }
        let run = self.grade(person, plugin, setup, None)?;
        let Some((size, made)) = run.good().next() else {
            return Err(run.refusals().first_message());
        };
        // Who is known by measures alone may turn out to wear a baby's size.
        lots.retain(|(_, yarn)| can_wear(yarn, Some(size.group)));
        if lots.is_empty() {
            return Ok(Vec::new());
        }
        let draft = self.drafted(&run.garment, &size.body.label, made, setup);
        let mut drawn = self.with_likings(&draft, (person, plugin), &lots, 0);
        if let Some(spec) = self.free_to_scale(plugin) {
            drawn.extend(self.as_large_as_it_goes((person, plugin), spec, setup, lots));
        }
        Ok(drawn)
    }

    /// The garment in any yarn that suits, and in yarn of a colour that the person likes.
    fn with_likings(
        &self,
        draft: &DraftOption,
        (person, plugin): (&Person, &Plugin),
        lots: &[(usize, &Yarn)],
        more: i64,
    ) -> Vec<(DraftOption, GiftOption)> {
        let pref = more + i64::from(person.likes_garments.contains(&draft.garment));
        let mut drawn = vec![(draft.clone(), self.instance_option(draft, plugin, lots, pref))];
        let in_liked: Vec<(usize, &Yarn)> =
            lots.iter().filter(|(_, yarn)| liked(person, yarn)).copied().collect();
        if !in_liked.is_empty() {
            let option = self.instance_option(draft, plugin, &in_liked, pref + 1);
            drawn.push((draft.clone(), option));
        }
        drawn
    }

    /// The option that the garment grows with, unless the knitter fixes it.
    fn free_to_scale<'p>(&self, plugin: &'p Plugin) -> Option<&'p OptionSpec> {
        let fixed = |spec: &&OptionSpec| {
            let mut own = self.wish.asked().filter(|(name, _)| *name == spec.name);
            own.any(|(_, value)| value.trim() != "auto")
        };
        plugin.manifest.scaling().filter(|spec| !fixed(spec))
    }

    /// The garment as large as each lot of yarn goes, lot by lot, and as large as half of it goes. A gift
    /// that can be nothing else would rather have it all; the smaller one, and the size that the garment
    /// has by itself, stay options: its yarn may be wanted for others.
    fn as_large_as_it_goes(
        &self,
        (person, plugin): (&Person, &Plugin),
        spec: &OptionSpec,
        setup: usize,
        lots: Vec<(usize, &Yarn)>,
    ) -> Vec<(DraftOption, GiftOption)> {
        let alone = matches!(&self.wish.garment, GarmentChoice::OneOf(ids) if ids.len() == 1);
        let mut scaling = Scaling::new(spec, |typed| {
            let run = self.grade(person, plugin, setup, Some((&spec.name, typed))).ok()?;
            let (size, made) = run.good().next()?;
            let draft = self.drafted(&run.garment, &size.body.label, made, setup);
            Some(DraftOption { scaled: Some((spec.name.clone(), typed.to_owned())), ..draft })
        });
        // By value and liking, the lots that it is made from.
        let mut by_size: BTreeMap<(usize, i64), Vec<(usize, &Yarn)>> = BTreeMap::new();
        for lot in self.most_yarn_first(lots) {
            for parts in [1, 2] {
                let enough = |draft: &DraftOption| {
                    let option = self.instance_option(draft, plugin, &[lot], 0);
                    self.lacks(&option) == 0 && self.takes_no_more(&option, lot.0, parts)
                };
                if let Some(nth) = scaling.largest(enough) {
                    let more = i64::from(alone && parts == 1);
                    by_size.entry((nth, more)).or_default().push(lot);
                }
            }
        }
        let mut drawn = Vec::new();
        for ((nth, more), lots) in by_size {
            if let Some((_, draft)) = scaling.at(nth) {
                drawn.extend(self.with_likings(draft, (person, plugin), &lots, more));
            }
        }
        drawn
    }

    /// The lots that a garment is made as large as, those with most yarn first.
    fn most_yarn_first<'y>(&self, mut lots: Vec<(usize, &'y Yarn)>) -> Vec<(usize, &'y Yarn)> {
        lots.sort_by_key(|(group, _)| std::cmp::Reverse(self.in_group(*group)));
        lots.truncate(SCALED_LOTS);
        lots
    }

    /// Decigrams of a group that are free.
    fn in_group(&self, group: usize) -> u64 {
        let own = self.stash.remnants.iter().filter(|remnant| remnant.group == group);
        own.map(|remnant| u64::from(remnant.usable_dg)).sum()
    }

    /// Whether all sections together take no more than one of so many equal parts of what a group has.
    fn takes_no_more(&self, option: &GiftOption, group: usize, parts: u64) -> bool {
        let needs = option.sections.iter().filter_map(|section| section.need_dg.get(&group));
        parts * needs.map(|dg| u64::from(*dg)).sum::<u64>() <= self.in_group(group)
    }

    /// The groups of the stash whose yarn is knitted at a gauge, and their yarns.
    fn lots(&self, setup: usize) -> Vec<(usize, &Yarn)> {
        let yarns = &self.request.contents.yarns;
        let groups = self.stash.groups.iter().enumerate();
        groups
            .filter_map(|(group, (yarn, _))| Some((group, yarns.get(yarn)?)))
            .filter(|(_, yarn)| self.setups.suits(yarn, setup))
            .collect()
    }

    fn drafted(
        &self,
        garment: &GarmentName,
        size_label: &str,
        made: &Made,
        setup: usize,
    ) -> DraftOption {
        let gauge = &self.setups.all[setup];
        let yarn = &made.graded.yarn;
        let titled = |s: &SectionYarn| (s.name.clone(), garment.section_title(&s.name).to_owned());
        DraftOption {
            garment: garment.id.clone(),
            title: garment.title.clone(),
            size_label: size_label.to_owned(),
            swatch: gauge.swatch.clone(),
            machine: gauge.machine.id.clone(),
            machine_title: gauge.machine.title.clone(),
            tex: gauge.file.set.yarn.tex(),
            sections: yarn.sections.iter().map(titled).collect(),
            piece: Piece { id: self.wish.id.as_str().into(), ..yarn.piece.clone() },
            minutes: self.request.bench.working.minutes(
                &self.wish.id,
                &garment.id,
                made.graded.work_minutes,
            ),
            waste_m: yarn.waste_metres,
            cautions: made.cautions.clone(),
            scaled: None,
        }
    }

    /// `scaled`: an option and its value, in place of what the gift says of it.
    fn grade(
        &self,
        person: &Person,
        plugin: &Plugin,
        setup: usize,
        scaled: Option<(&str, &str)>,
    ) -> Result<SizeRun, String> {
        let gauge = &self.setups.all[setup];
        let contents = self.request.contents;
        let request = request_for(contents, person, plugin, &gauge.machine, &gauge.file);
        // An option that another garment has is none of this one's business.
        let asked = self.wish.asked().filter(|(name, _)| plugin.takes(name));
        let asked =
            asked.filter(|(name, _)| scaled.is_none_or(|(other, _)| other != name)).cloned();
        let scaled = scaled.map(|(name, value)| (name.to_owned(), value.to_owned()));
        let options = asked.chain(scaled).collect();
        self.request
            .bench
            .grade(&GradeRequest { options, ..request })
            .map_err(|faults| faults.first_message())
    }

    fn instance_option(
        &self,
        draft: &DraftOption,
        plugin: &Plugin,
        lots: &[(usize, &Yarn)],
        pref: i64,
    ) -> GiftOption {
        let share = draft.sections.len().max(1) as f64;
        let needs = self.decigrams(draft, lots, share);
        let sections = draft
            .sections
            .iter()
            .enumerate()
            .map(|(index, (name, _))| {
                let pinned = self.stash.pins.get(&(self.wish.id.clone(), name.clone()));
                let need_dg = lots
                    .iter()
                    .filter(|(group, _)| pinned.is_none_or(|groups| groups.contains(group)))
                    .map(|(group, yarn)| (*group, needs[yarn.id.as_str()][index]))
                    .collect();
                Section {
                    joinable: plugin.manifest.joinable.contains(name),
                    need_dg,
                    same_as: None,
                    differs_from: None,
                }
            })
            .collect();
        GiftOption { pref, minutes: draft.minutes.mean().ceil() as u32, sections }
    }

    /// What to set aside of each yarn, section by section. Yarns of one thickness of which nothing was
    /// learnt take the same.
    fn decigrams<'y>(
        &self,
        draft: &DraftOption,
        lots: &[(usize, &'y Yarn)],
        share: f64,
    ) -> BTreeMap<&'y str, Rc<[u32]>> {
        let learning = self.request.learning;
        let mut alike: BTreeMap<(Option<Id>, u64), Rc<[u32]>> = BTreeMap::new();
        let mut of_yarn = BTreeMap::new();
        for (_, yarn) in lots {
            let id = learning.yarn_id(&yarn.id);
            let known = (learning.learnt.seen(&Effect::Yarn(id.clone())) != (0, 0)).then_some(id);
            let needs = alike.entry((known, yarn.count.tex().to_bits())).or_insert_with(|| {
                let needs = draft.needs_in(learning, yarn).sections;
                needs.iter().map(|(_, n)| decigrams_up(self.to_have(n, share)).max(1)).collect()
            });
            of_yarn.insert(yarn.id.as_str(), needs.clone());
        }
        of_yarn
    }

    /// What to set aside for a section, the chance shared out over the sections.
    fn to_have(&self, need: &Need, sections: f64) -> f64 {
        let settings = &self.request.contents.settings;
        let scale_sd = weighing_sd(settings.scale_step.grams());
        settings.reserve.of_each(sections).to_have(need, scale_sd)
    }

    /// Leaves out what the whole stash is not enough for; where nothing else is there, keeps the
    /// options that lack least.
    fn thinned(&self, options: Vec<(DraftOption, GiftOption)>) -> Vec<(DraftOption, GiftOption)> {
        let mut lacking: Vec<(u64, usize)> =
            options.iter().enumerate().map(|(i, (_, option))| (self.lacks(option), i)).collect();
        let enough = lacking.iter().any(|(lacks, _)| *lacks == 0);
        if enough {
            lacking.retain(|(lacks, _)| *lacks == 0);
        } else {
            lacking.sort_unstable();
            lacking.truncate(KEPT_SHORT);
            lacking.sort_unstable_by_key(|(_, i)| *i);
        }
        let keep: Vec<usize> = lacking.into_iter().map(|(_, i)| i).collect();
        options
            .into_iter()
            .enumerate()
            .filter(|(i, _)| keep.binary_search(i).is_ok())
            .map(|(_, option)| option)
            .collect()
    }

    /// Decigrams that the sections lack, each looked at alone.
    fn lacks(&self, option: &GiftOption) -> u64 {
        let joins = self.request.contents.settings.most_joins as usize + 1;
        let of_section = |section: &Section| {
            let short = |(group, need): (&usize, &u32)| {
                let mut there: Vec<u32> = self
                    .stash
                    .remnants
                    .iter()
                    .filter(|r| r.group == *group)
                    .map(|r| r.usable_dg)
                    .collect();
                there.sort_unstable_by(|a, b| b.cmp(a));
                let most = if section.joinable { joins } else { 1 };
                let have: u64 = there.iter().take(most).map(|dg| u64::from(*dg)).sum();
                u64::from(*need).saturating_sub(have)
            };
            section.need_dg.iter().map(short).min().unwrap_or(u64::from(u32::MAX))
        };
        option.sections.iter().map(of_section).sum()
    }
}

/// Whether a colour of the yarn is one the person likes.
fn liked(person: &Person, yarn: &Yarn) -> bool {
    let families: Vec<ColourFamily> = yarn.colour_families();
    families.iter().any(|family| person.likes_colours.contains(family))
}
