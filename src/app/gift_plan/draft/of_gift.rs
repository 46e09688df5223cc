use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use super::super::PlanRequest;
use super::super::scale::Scale;
use super::super::setups::Setups;
use super::before::Before;
use super::excluded::ExcludedYarns;
use super::{DraftGift, DraftOption, Refusal, StashDraft, decigrams_up};
use crate::GradeRequest;
use crate::fitting::request_for;
use crate::scaling::Scaling;
use diag::Diagnostics;
use knit::body::SizeGroup;
use knit::estimate::{Effect, Id, Need, Piece, weighing_sd};
use knit::gift_plan::YarnRule;
use knit::size_run::{GarmentName, Made, SizeRun};
use knit::stash::{ColourFamily, Date, GarmentChoice, GiftWish, Person, Yarn};
use knit::yarn::SectionYarn;
use plan::{Gift, GiftOption, Instance, Remnant, Section};
use script::{OptionSpec, Plugin};

/// Options kept of a gift that nothing in the stash is enough for: it is told what is missing.
const KEPT_SHORT: usize = 6;
/// Lots of yarn at one gauge that a garment which scales is tried as large as.
const SCALED_LOTS: usize = 8;
/// New balls that it is tried as large as.
const NEW_BALLS: [u64; 4] = [1, 2, 4, 8];

/// One gift being drawn up.
pub(super) struct OfGift<'a> {
    pub request: &'a PlanRequest<'a>,
    pub setups: &'a Setups,
    /// An instance of nothing with what the settings say of joins and ends, and of whole balls.
    pub rules: &'a Instance,
    pub stash: &'a StashDraft,
    pub plugins: &'a BTreeMap<String, Plugin>,
    pub wish: &'a GiftWish,
    pub scale: Scale,
    /// Which of the gifts it is.
    pub nth: usize,
    /// What it names that none of its garments has.
    pub unknown: Option<&'a Diagnostics>,
}

impl OfGift<'_> {
    pub fn draw(&self, due: &[Date]) -> (DraftGift, Gift) {
        let mut options: Vec<(DraftOption, GiftOption)> = Vec::new();
        let mut refusals: Vec<Refusal> = Vec::new();
        let mut excluded = ExcludedYarns::default();
        for person in &self.wearers() {
            for (id, plugin) in self.plugins.iter().filter(|(id, plugin)| self.may_be(id, plugin)) {
                for setup in 0..self.setups.all.len() {
                    match self.option(person, plugin, setup, &mut excluded) {
                        Ok(drawn) => options.extend(drawn),
                        Err(reason) => {
                            for yarn in self.yarns_at(setup) {
                                let (garment, reason) = (id.clone(), reason.clone());
                                excluded.add(YarnRule::Refused { garment, reason }, yarn);
                            }
                            let refusal = Refusal { garment: id.clone(), reason };
                            if !refusals.contains(&refusal) {
                                refusals.push(refusal);
                            }
                        }
                    }
                }
            }
        }
        self.add_excluded(&options, &mut excluded);
        let mut options = self.thinned(options);
        if let Some(before) = Before::of(self.request.contents, self.stash, self.wish) {
            let change = self.request.contents.settings.weights.change;
            let ways = before.ways(self.stash, &options, |share| self.scale.points(change * share));
            options.extend(ways.into_iter().filter(|(_, way)| self.lacks(way) == 0));
        }
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
        let id = self.wish.id.clone();
        let excluded = excluded.told();
        let nobody_has = Vec::new();
        (DraftGift { id, options: drafts, refusals, excluded, unknown, nobody_has }, gift)
    }

    /// Who may wear it: the person it is for, or of many for nobody by name whoever has one of its sizes.
    fn wearers(&self) -> Vec<Person> {
        if self.unknown.is_some() {
            return Vec::new();
        }
        match &self.wish.piece {
            Some(piece) => piece.sizes.iter().cloned().map(Person::of_size).collect(),
            None => self.request.contents.person(&self.wish.person).cloned().into_iter().collect(),
        }
    }

    /// The yarns of the stash whose own gauge a setup is.
    fn yarns_at(&self, setup: usize) -> impl Iterator<Item = &Yarn> {
        let own = move |yarn: &&Yarn| self.setups.of_yarn.get(&yarn.id) == Some(&setup);
        self.lots(setup).into_iter().map(|(_, yarn)| yarn).filter(own)
    }

    /// What the options drawn up are short of, and yarns that no bed takes.
    fn add_excluded(&self, options: &[(DraftOption, GiftOption)], excluded: &mut ExcludedYarns) {
        if !self.request.explain {
            return;
        }
        let yarns = &self.request.contents.yarns;
        let yarn_of = |group: usize| {
            let (yarn, lot) = &self.stash.groups[group];
            Some((yarns.get(yarn)?, lot.clone()))
        };
        excluded.short(options, yarn_of, |group, joinable, need| {
            u32::try_from(self.most((group, need), joinable, None)).unwrap_or(u32::MAX)
        });
        for (yarn, _) in &self.stash.groups {
            if let Some(yarn) = yarns.get(yarn)
                && !self.setups.of_yarn.contains_key(&yarn.id)
            {
                excluded.add(YarnRule::NoBed, yarn);
            }
        }
    }

    /// The rules of the person that exclude a yarn.
    fn objections(&self, person: &Person, group: Option<SizeGroup>, yarn: &Yarn) -> Vec<YarnRule> {
        let worn = person.objections(group, yarn.fibres.as_ref(), yarn.care);
        let colours = yarn.colour_families();
        let avoided = person.avoids_colours.iter().filter(|colour| colours.contains(colour));
        let avoided =
            avoided.map(|colour| YarnRule::Colour { person: person.name.clone(), colour: *colour });
        worn.into_iter().map(YarnRule::Objection).chain(avoided).collect()
    }

    /// Whether the gift may be this: "anything warm" is something to wear.
    pub(super) fn may_be(&self, id: &str, plugin: &Plugin) -> bool {
        let worn = !plugin.manifest.measures.is_empty();
        self.wish.garment.allows(id) && (worn || self.wish.garment != GarmentChoice::Any)
    }

    /// The garment at one gauge, once for any yarn that suits and once for liked colours alone.
    fn option(
        &self,
        person: &Person,
        plugin: &Plugin,
        setup: usize,
        excluded: &mut ExcludedYarns,
    ) -> Result<Vec<(DraftOption, GiftOption)>, String> {
        let mut can_wear = |yarn: &Yarn, group: Option<SizeGroup>| {
            let rules = self.objections(person, group, yarn);
            let none = rules.is_empty();
            rules.into_iter().for_each(|rule| excluded.add(rule, yarn));
            none
        };
        let group = self.request.contents.group_of(person);
        let mut lots = self.lots(setup);
        lots.retain(|(_, yarn)| can_wear(yarn, group));
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
            drawn.extend(self.as_large_as_it_goes((person, plugin), spec, &draft, lots));
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

    /// The garment as large as each lot of yarn goes, lot by lot, and as large as half of it goes. Of new balls
    /// it is as large as those go that it takes by itself, for nobody buys yarn for half a scarf; where it
    /// can't be that large, as so many of them go. A gift that can be nothing else would rather have it all; the
    /// smaller one, and the size that the garment has by itself, stay options: its yarn may be wanted for
    /// others.
    fn as_large_as_it_goes(
        &self,
        (person, plugin): (&Person, &Plugin),
        spec: &OptionSpec,
        by_itself: &DraftOption,
        lots: Vec<(usize, &Yarn)>,
    ) -> Vec<(DraftOption, GiftOption)> {
        let setup = by_itself.setup;
        let alone = matches!(&self.wish.garment, GarmentChoice::OneOf(ids) if ids.len() == 1);
        let mut scaling = Scaling::new(spec, |typed| {
            let run = self.grade(person, plugin, setup, Some((&spec.name, typed))).ok()?;
            let (size, made) = run.good().next()?;
            let draft = self.drafted(&run.garment, &size.body.label, made, setup);
            Some(DraftOption { scaled: Some((spec.name.clone(), typed.to_owned())), ..draft })
        });
        // By value and liking, the lots that it is made from.
        let mut by_size: BTreeMap<(usize, i64), Vec<(usize, &Yarn)>> = BTreeMap::new();
        let enough = |draft: &DraftOption, lot: (usize, &Yarn), most: u64| {
            let option = self.instance_option(draft, plugin, &[lot], 0);
            self.lacks(&option) == 0 && taken(&option, lot.0) <= most
        };
        let before = self.grown_before(spec);
        for lot in self.most_yarn_first(lots) {
            let own = self.instance_option(by_itself, plugin, &[lot], 0);
            for (most, whole) in self.shares(lot.0, &own) {
                if let Some(nth) = scaling.largest(|draft| enough(draft, lot, most)) {
                    let lots = by_size.entry((nth, i64::from(alone && whole))).or_default();
                    if lots.iter().all(|(group, _)| *group != lot.0) {
                        lots.push(lot);
                    }
                }
            }
            // As large as it was planned before, so that it may stay so.
            if let Some(nth) = before
                && by_size.iter().all(|((own, _), lots)| {
                    *own != nth || lots.iter().all(|(group, _)| *group != lot.0)
                })
                && scaling
                    .at(nth)
                    .is_some_and(|(_, draft)| enough(draft, lot, self.in_group(lot.0)))
            {
                by_size.entry((nth, 0)).or_default().push(lot);
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

    /// The rung that an accepted plan chose.
    fn grown_before(&self, spec: &OptionSpec) -> Option<usize> {
        let mut own = self.wish.scaled.iter().filter(|(name, _)| *name == spec.name);
        let value = &own.next()?.1;
        (0..spec.rungs()).find(|nth| spec.rung(*nth) == *value)
    }

    /// The lots that a garment is made as large as, those with most yarn first; of those that new balls would
    /// be, as many again.
    fn most_yarn_first<'y>(&self, lots: Vec<(usize, &'y Yarn)>) -> Vec<(usize, &'y Yarn)> {
        let is_new = |(group, _): &(usize, &Yarn)| self.stash.on_offer.contains_key(group);
        let (mut new, mut lots): (Vec<_>, Vec<_>) = lots.into_iter().partition(is_new);
        lots.sort_by_key(|(group, _)| std::cmp::Reverse(self.in_group(*group)));
        lots.truncate(SCALED_LOTS);
        new.truncate(SCALED_LOTS);
        lots.extend(new);
        lots
    }

    /// Decigrams of a lot that a garment may be as large as, and whether that is all there is to have: all of it,
    /// or half; of new balls as many as it takes by itself, or where it can't be that large, so many of them.
    fn shares(&self, group: usize, by_itself: &GiftOption) -> Vec<(u64, bool)> {
        let Some(ball) = self.stash.on_offer.get(&group).map(|dg| u64::from(*dg)) else {
            let all = self.in_group(group);
            return vec![(all, true), (all / 2, false)];
        };
        if self.lacks(by_itself) == 0 {
            return vec![(taken(by_itself, group).div_ceil(ball) * ball, true)];
        }
        NEW_BALLS.map(|count| (count * ball, true)).into_iter().chain([(ball / 2, false)]).collect()
    }

    /// Decigrams of a group that are free.
    fn in_group(&self, group: usize) -> u64 {
        let own = self.free().map(|(_, remnant)| remnant).filter(|r| r.group == group);
        own.map(|remnant| u64::from(remnant.usable_dg)).sum()
    }

    /// The remnants that are not kept for others.
    fn free(&self) -> impl Iterator<Item = (usize, &Remnant)> {
        let may = |of: &BTreeSet<usize>| of.contains(&self.nth);
        let all = self.stash.remnants.iter().enumerate();
        all.filter(move |(_, r)| r.kept_for.as_ref().is_none_or(may))
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

    pub(super) fn drafted(
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
            setup,
            swatch: gauge.swatch.clone(),
            machine: gauge.machine.id.clone(),
            machine_title: gauge.machine.title.clone(),
            knitter: 0,
            tex: gauge.file.set.yarn.tex(),
            sections: yarn.sections.iter().map(titled).collect(),
            piece: Piece { id: self.wish.id.as_str().into(), ..yarn.piece.clone() },
            minutes: self.request.bench.working.minutes(
                &self.wish.id,
                &garment.id,
                made.graded.work_minutes,
            ),
            work_minutes: made.graded.work_minutes,
            waste_m: yarn.waste_metres,
            cautions: made.cautions.clone(),
            scaled: None,
            only_by: None,
        }
    }

    /// `scaled`: an option and its value, in place of what the gift says of it.
    pub(super) fn grade(
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
        // The numbers are those of the swatch of the yarn that most of it is knitted in: other sections may
        // be of any yarn that knits like it.
        let most = needs.values().next();
        let most = most.and_then(|own| own.iter().enumerate().max_by_key(|(_, dg)| **dg));
        let most = most.map(|(index, _)| index);
        let at_its_own = |index: usize, yarn: &Yarn| {
            most != Some(index) || self.setups.of_yarn.get(&yarn.id) == Some(&draft.setup)
        };
        let sections = draft
            .sections
            .iter()
            .enumerate()
            .map(|(index, (name, _))| {
                let pinned = self.stash.pins.get(&(self.wish.id.clone(), name.clone()));
                let may = |group: &usize| {
                    let mut own = pinned.into_iter().flatten();
                    pinned.is_none() || own.any(|r| self.stash.remnants[*r].group == *group)
                };
                let need_dg = lots
                    .iter()
                    .filter(|(group, yarn)| may(group) && at_its_own(index, yarn))
                    .map(|(group, yarn)| (*group, needs[yarn.id.as_str()][index]))
                    .collect();
                Section {
                    joinable: plugin.manifest.joinable.contains(name),
                    need_dg,
                    only_from: pinned.cloned(),
                    ..Section::default()
                }
            })
            .collect();
        let (same, contrasts, one_lot) = self.pairs(draft);
        let mut sections: Vec<Section> = sections;
        for (first, other) in same {
            sections[other].same_as = Some(first);
        }
        GiftOption {
            contrasts,
            one_lot,
            pref,
            rank: self.wish.garment.place(&draft.garment),
            minutes: draft.minutes.mean().ceil() as u32,
            sections,
            ..GiftOption::default()
        }
    }

    /// Pairs of sections that are to be of one yarn and lot, of two, and of one lot where they are of one yarn.
    /// Remnants that are named for two sections are the knitter's own choice.
    fn pairs(&self, draft: &DraftOption) -> (Pairs, Pairs, Pairs) {
        let nth = |name: &String| draft.sections.iter().position(|(own, _)| own == name);
        let named = |names: &Vec<String>| names.iter().filter_map(nth).collect::<Vec<usize>>();
        let to_first = |set: Vec<usize>| {
            let first = set.first().copied();
            first
                .into_iter()
                .flat_map(move |first| set.clone().into_iter().skip(1).map(move |o| (first, o)))
        };
        let same = self.wish.same.iter().map(named).flat_map(to_first).collect();
        let contrasts: Pairs =
            self.wish.contrast.iter().flat_map(|set| pairs_of(&named(set))).collect();
        let all: Vec<usize> = (0..draft.sections.len()).collect();
        let is_pinned =
            |s: usize| self.wish.pinned.iter().any(|(name, _)| *name == draft.sections[s].0);
        // Another lot of the same yarn is no contrast.
        let mut one_lot = if self.wish.any_lot { contrasts.clone() } else { pairs_of(&all) };
        one_lot.retain(|(a, b)| !(is_pinned(*a) && is_pinned(*b)));
        (same, contrasts, one_lot)
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
        let of_section = |section: &Section| {
            let short = |(group, need): (&usize, &u32)| {
                let only = section.only_from.as_ref();
                u64::from(*need).saturating_sub(self.most((*group, *need), section.joinable, only))
            };
            section.need_dg.iter().map(short).min().unwrap_or(u64::from(u32::MAX))
        };
        option.sections.iter().map(of_section).sum()
    }

    /// The most decigrams of a group that a section which needs so much could have, which may be bound to some remnants.
    fn most(
        &self,
        (group, need): (usize, u32),
        joinable: bool,
        only: Option<&BTreeSet<usize>>,
    ) -> u64 {
        let joins = self.rules.most_joined(group, need);
        if let Some(ball) = self.stash.on_offer.get(&group) {
            return u64::from(*ball) * if joinable { joins as u64 } else { 1 };
        }
        let may = |r: &usize| only.is_none_or(|own| own.contains(r));
        let own = self.free().filter(|(r, remnant)| remnant.group == group && may(r));
        let mut there: Vec<u32> = own.map(|(_, remnant)| remnant.usable_dg).collect();
        there.sort_unstable_by(|a, b| b.cmp(a));
        let most = if joinable { joins } else { 1 };
        there.iter().take(most).map(|dg| u64::from(*dg)).sum()
    }
}

/// What all sections together take of a group.
fn taken(option: &GiftOption, group: usize) -> u64 {
    let needs = option.sections.iter().filter_map(|section| section.need_dg.get(&group));
    needs.map(|dg| u64::from(*dg)).sum()
}

/// Each two of some sections.
type Pairs = Vec<(usize, usize)>;

fn pairs_of(sections: &[usize]) -> Pairs {
    let rest = |nth: usize| sections[nth + 1..].iter().copied();
    let all = sections.iter().enumerate();
    all.flat_map(|(nth, a)| rest(nth).map(|b| (*a, b))).collect()
}

/// Whether a colour of the yarn is one the person likes.
fn liked(person: &Person, yarn: &Yarn) -> bool {
    let families: Vec<ColourFamily> = yarn.colour_families();
    families.iter().any(|family| person.likes_colours.contains(family))
}
