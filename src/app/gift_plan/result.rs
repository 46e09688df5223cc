//! From the solver's indices back to gifts, people and remnants.

use std::collections::BTreeMap;

use super::changes::tell_changes;
use super::draft::{DraftGift, DraftOption, Hours, Who};
use super::out_of_time::out_of_time;
use super::{Draft, PlanRequest};
use knit::estimate::{Minutes, OnScale};
use knit::gift_plan::{
    GiftPlan, Hindrance, LeftOut, Many, NotMade, PlanWorth, PlannedGift, PlannedSection,
    RemnantLeft, Travel, UnmetGift, UnmetWhy, Way, YarnToAdd,
};
use knit::stash::{GiftStage, GiftWish};
use plan::{Chunk, Made, Obstacle, Outcome, Plan, Reason, Remedy, Unmet, UnmetReason, explain};

/// The solver's plan in the terms of the workspace.
pub(super) fn gift_plan(
    request: &PlanRequest<'_>,
    draft: &Draft,
    outcome: &Outcome,
    stopped: bool,
) -> GiftPlan {
    let back = Back { request, draft, plan: &outcome.plan };
    let mut gifts = Vec::new();
    let mut left_out = Vec::new();
    let mut waste_m: BTreeMap<String, f64> = BTreeMap::new();
    for (index, (drawn, made)) in draft.gifts.iter().zip(&outcome.plan.gifts).enumerate() {
        let Some(wish) = request.contents.gift(&drawn.id) else { continue };
        if let Some(made) = made {
            let option = &drawn.options[made.option];
            *waste_m.entry(option.machine_title.clone()).or_default() += option.waste_m;
            let slot = draft.instance.gifts[index].due;
            gifts.push((slot, back.made(wish, option, made)));
        } else {
            left_out.push(back.left_out(wish, index));
        }
    }
    let mut gifts = in_order_of_work(gifts, &draft.hours, &draft.who);
    back.tell_late(&mut gifts);
    let out = left_out.iter().map(|gift: &LeftOut| gift.id.as_str());
    let since = tell_changes(request, &mut gifts, out);
    GiftPlan {
        made_on: request.number,
        gifts,
        left_out,
        travels: back.travels(),
        kept: draft.kept.clone(),
        many: back.many(),
        aim: request.aim(),
        remnants: back.remnants(),
        waste_m,
        worth: PlanWorth {
            objective: draft.scale.told(outcome.objective),
            bound: draft.scale.told(outcome.bound),
            gap: outcome.gap,
            proven: outcome.proven,
        },
        work_done: outcome.work_done,
        stopped,
        warnings: draft.warnings.clone(),
        out_of_time: out_of_time(request, draft, &outcome.plan),
        unmet: outcome.unmet.iter().filter_map(|unmet| back.unmet(*unmet)).collect(),
        since,
    }
}

/// By the deadline they count by, then by day and priority; says of each gift when it is done. A gift whose day is
/// past stands where it can be done first of all. What is held has its place among them, and takes its hours.
fn in_order_of_work(
    gifts: Vec<(Option<usize>, PlannedGift)>,
    hours: &Hours,
    who: &Who,
) -> Vec<PlannedGift> {
    let mut gifts = gifts;
    gifts.sort_by(|(a_slot, a), (b_slot, b)| {
        let day =
            |slot: Option<usize>, gift: &PlannedGift| (last(slot), gift.due.is_none(), gift.due);
        let by_priority = b.priority.cmp(&a.priority).then(by_number(&a.id).cmp(&by_number(&b.id)));
        day(*a_slot, a).cmp(&day(*b_slot, b)).then(by_priority)
    });
    // Each knitter goes through their own, one after the other.
    let mut queues: BTreeMap<usize, Queue<'_>> = BTreeMap::new();
    let mut in_order = Vec::new();
    for (slot, mut gift) in gifts {
        let knitter = who.number(gift.knitter.as_deref());
        let own = queues.entry(knitter).or_insert_with(|| Queue::of(hours, knitter));
        own.work_until(slot);
        own.done = own.done.plus(&gift.minutes);
        gift.done_after = own.done.clone();
        in_order.push(gift);
    }
    in_order
}

/// An id so that pieces of one entry follow each other by their numbers: `hats-2` before `hats-10`.
fn by_number(id: &str) -> (&str, u64, &str) {
    let numbered =
        id.rsplit_once('-').and_then(|(entry, number)| Some((entry, number.parse().ok()?)));
    numbered.map_or((id, 0, id), |(entry, number)| (entry, number, id))
}

/// What has no deadline comes last.
fn last(slot: Option<usize>) -> usize {
    slot.unwrap_or(usize::MAX)
}

/// What one knitter does, one after the other: what is held, in its place among what is planned.
struct Queue<'a> {
    /// Deadline and minutes, the first one last.
    held: Vec<(usize, &'a Minutes)>,
    done: Minutes,
}

impl<'a> Queue<'a> {
    fn of(hours: &'a Hours, knitter: usize) -> Queue<'a> {
        let own = hours.held.iter().filter(|held| held.knitter == knitter);
        let mut held: Vec<_> = own.map(|held| (last(held.slot), &held.minutes)).collect();
        held.sort_by_key(|(slot, _)| *slot);
        held.reverse();
        Queue { held, done: Minutes::none() }
    }

    /// Does what is held and counts by a deadline, or by an earlier one.
    fn work_until(&mut self, slot: Option<usize>) {
        while let Some((_, minutes)) = self.held.pop_if(|(own, _)| *own <= last(slot)) {
            self.done = self.done.plus(minutes);
        }
    }
}

/// The way back from indices to names.
struct Back<'a> {
    request: &'a PlanRequest<'a>,
    draft: &'a Draft,
    plan: &'a Plan,
}

impl Back<'_> {
    /// The solver holds averages against the hours there are: what chance that leaves.
    fn tell_late(&self, gifts: &mut [PlannedGift]) {
        let Hours { due, until, .. } = &self.draft.hours;
        for gift in gifts {
            let knitter = self.draft.who.number(gift.knitter.as_deref());
            if self.draft.who.hours_a_week(self.request, knitter).is_none() {
                continue;
            }
            let nth = gift.due.and_then(|day| due.iter().position(|other| *other == day));
            gift.late = nth.map(|nth| gift.done_after.chance_longer(until[nth][knitter] as f64));
        }
    }

    fn made(&self, wish: &GiftWish, option: &DraftOption, made: &Made) -> PlannedGift {
        let sections = made.sections.iter().enumerate();
        PlannedGift {
            id: wish.id.clone(),
            person: wish.person.clone(),
            priority: wish.priority,
            due: wish.due,
            garment: option.garment.clone(),
            title: option.title.clone(),
            size_label: option.size_label.clone(),
            scaled: option.scaled.clone(),
            machine: option.machine.clone(),
            machine_title: option.machine_title.clone(),
            knitter: self.draft.who.knitter(option.knitter).map(|own| own.name.clone()),
            swatch: option.swatch.clone(),
            minutes: option.minutes.clone(),
            done_after: Minutes::none(),
            late: None,
            sections: sections.map(|(s, chunks)| self.section(option, s, chunks)).collect(),
            cautions: option.cautions.clone(),
            change: None,
        }
        .with_yarn_minded()
    }

    fn section(&self, option: &DraftOption, index: usize, chunks: &[Chunk]) -> PlannedSection {
        let draft = self.draft;
        let first = chunks.first();
        let group = first.map_or(0, |chunk| draft.instance.remnants[chunk.remnant].group);
        let (yarn_id, lot) = &draft.groups[group];
        let yarn = self.request.contents.yarns.get(yarn_id);
        let needs = match yarn {
            Some(yarn) => option.needs_in(self.request.learning, yarn),
            None => self.request.learning.learnt.need(&option.piece),
        };
        let (name, title) = &option.sections[index];
        let need = needs.sections[index].1.clone();
        let set_aside: u32 = chunks.iter().map(|chunk| chunk.dg).sum();
        let step = self.request.contents.settings.scale_step.grams();
        let have = OnScale::weighed(in_grams(set_aside), step);
        PlannedSection {
            name: name.clone(),
            title: title.clone(),
            yarn: yarn_id.clone(),
            yarn_name: yarn.map_or_else(|| yarn_id.clone(), |yarn| yarn.name.clone()),
            lot: lot.clone(),
            chunks: chunks
                .iter()
                .map(|chunk| (draft.remnants[chunk.remnant].clone(), in_grams(chunk.dg)))
                .collect(),
            chance: need.chance_short(have),
            need,
        }
    }

    /// How many of each kind that many are wished for of are made, and in which sizes.
    fn many(&self) -> Vec<Many> {
        let mut all: Vec<Many> = Vec::new();
        for wish in &self.request.contents.gifts {
            let Some(piece) = &wish.piece else { continue };
            if all.last().is_none_or(|many| many.entry != piece.entry) {
                all.push(Many {
                    entry: piece.entry.clone(),
                    of: piece.of,
                    made: 0,
                    before: 0,
                    sizes: Vec::new(),
                });
            }
            let Some(many) = all.last_mut() else { continue };
            match self.draft.gifts.iter().position(|gift| gift.id == wish.id) {
                Some(nth) => {
                    if let Some(made) = &self.plan.gifts[nth] {
                        many.made += 1;
                        let size = &self.draft.gifts[nth].options[made.option].size_label;
                        match many.sizes.iter_mut().find(|(own, _)| own == size) {
                            Some((_, made)) => *made += 1,
                            None => many.sizes.push((size.clone(), 1)),
                        }
                    }
                }
                None => many.before += usize::from(wish.stage != GiftStage::GivenUp),
            }
        }
        let sizes = self.request.contents.sizes.sizes();
        let place = |label: &str| sizes.iter().position(|size| size.label == label);
        for many in &mut all {
            many.sizes.sort_by_key(|(label, _)| place(label));
        }
        all
    }

    /// What is brought to whom, in the order of the stash.
    fn travels(&self) -> Vec<Travel> {
        let mut taken: BTreeMap<(usize, usize), u32> = BTreeMap::new();
        for (gift, made) in self.plan.gifts.iter().enumerate() {
            let Some(made) = made else { continue };
            let knitter = self.draft.gifts[gift].options[made.option].knitter;
            for chunk in made.sections.iter().flatten() {
                *taken.entry((chunk.remnant, knitter)).or_default() += chunk.dg;
            }
        }
        let brought = |((remnant, knitter), dg): ((usize, usize), u32)| {
            let place = self.draft.instance.remnants[remnant].place;
            let (from, to) = self.draft.who.way(knitter, place)?;
            Some(Travel {
                remnant: self.draft.remnants[remnant].clone(),
                grams: in_grams(dg),
                from: from.to_owned(),
                to: to.to_owned(),
                knitter: self.draft.who.knitter(knitter)?.name.clone(),
            })
        };
        taken.into_iter().filter_map(brought).collect()
    }

    /// What the plan leaves of each remnant.
    fn remnants(&self) -> Vec<RemnantLeft> {
        let mut taken = vec![0; self.draft.remnants.len()];
        for chunk in self.plan.gifts.iter().flatten().flat_map(|m| m.sections.iter().flatten()) {
            taken[chunk.remnant] += chunk.dg;
        }
        let instance = &self.draft.instance;
        let remnants = self.draft.remnants.iter().zip(&instance.remnants).zip(taken);
        remnants
            .map(|((id, remnant), used)| {
                let left = remnant.usable_dg.saturating_sub(used);
                RemnantLeft {
                    id: id.clone(),
                    yarn: self.draft.groups[remnant.group].0.clone(),
                    had_g: in_grams(remnant.usable_dg),
                    left_g: in_grams(left),
                    drib: used > 0 && left > 0 && left <= instance.drib_dg,
                }
            })
            .collect()
    }

    fn unmet(&self, unmet: Unmet) -> Option<UnmetGift> {
        let drawn = self.draft.gifts.get(unmet.gift)?;
        let gift = drawn.id.clone();
        let why = match unmet.why {
            _ if !drawn.unknown.is_empty() => UnmetWhy::LeftOut,
            UnmetReason::NotEvenAlone => UnmetWhy::NotEvenAlone,
            UnmetReason::NotBesideOthers => UnmetWhy::NotBesideOthers,
            UnmetReason::NotFound => UnmetWhy::NotFound,
        };
        Some(UnmetGift { gift, why })
    }

    fn left_out(&self, wish: &GiftWish, gift: usize) -> LeftOut {
        let drawn = &self.draft.gifts[gift];
        let mut reasons = Vec::new();
        let mut ways = Vec::new();
        reasons.extend(drawn.unknown.iter().cloned().map(NotMade::Unknown));
        reasons.extend(drawn.nobody_has.iter().map(|machine| NotMade::NoKnitter {
            machine: machine.clone(),
            knitter: wish.knitter.clone(),
        }));
        if drawn.options.is_empty() && drawn.unknown.is_empty() && drawn.nobody_has.is_empty() {
            reasons.push(NotMade::NoYarnSuits);
        }
        if self.request.explain {
            // The plan is the solver's own: it passes the checks that `explain` makes first.
            if let Ok(told) = explain(&self.draft.instance, self.plan, gift) {
                let hindered = told.obstacles.iter().map(|obstacle| {
                    let option = &drawn.options[obstacle.option];
                    let by = self.hindrance(gift, obstacle);
                    NotMade::Hindered { title: option.title.clone(), by }
                });
                let mut hindered: Vec<NotMade> = hindered.collect();
                // At another gauge the yarn to match never suits: that says nothing where it does at one.
                if hindered.iter().any(|reason| !is_unsuited(reason)) {
                    hindered.retain(|reason| !is_unsuited(reason));
                }
                reasons.extend(hindered);
                ways = told.remedies.iter().map(|remedy| self.way(drawn, remedy)).collect();
            }
            let hopeless = |garment: &str| drawn.options.iter().all(|o| o.garment != garment);
            let refusals = drawn.refusals.iter().filter(|refusal| hopeless(&refusal.garment));
            reasons.extend(refusals.map(|refusal| NotMade::Refused {
                garment: refusal.garment.clone(),
                reason: refusal.reason.clone(),
            }));
        }
        LeftOut {
            id: wish.id.clone(),
            person: wish.person.clone(),
            priority: wish.priority,
            due: wish.due,
            reasons,
            excluded: drawn.excluded.clone(),
            ways,
        }
    }

    fn hindrance(&self, gift: usize, obstacle: &Obstacle) -> Hindrance {
        let option = &self.draft.gifts[gift].options[obstacle.option];
        let part = |section: usize| match option.sections.as_slice() {
            [_] => None,
            sections => Some(sections[section].1.clone()),
        };
        match &obstacle.reason {
            Reason::NoYarn { section, .. } => Hindrance::NoYarn { section: part(*section) },
            Reason::TooLittle { section, group, need_dg, most_dg } => {
                let (_, yarn, lot) = self.yarn(*group);
                Hindrance::TooLittle {
                    section: part(*section),
                    need_g: in_grams(*need_dg),
                    yarn,
                    lot,
                    most_g: in_grams(*most_dg),
                }
            }
            Reason::Taken { section, by, alone, .. } => {
                Hindrance::Taken { section: part(*section), to: self.ids(by), alone: *alone }
            }
            Reason::Unmatched { section, group, by } => {
                let own = &self.draft.instance.gifts[gift].options[obstacle.option];
                let own = &own.sections[*section];
                let held = own.matched.and_then(|number| self.draft.matched.get(&number));
                let (_, yarn, lot) = self.yarn(*group);
                Hindrance::Unmatched {
                    section: part(*section),
                    with: held.filter(|_| by.is_empty()).cloned().unwrap_or_else(|| self.ids(by)),
                    yarn,
                    lot,
                    suits: own.need_dg.contains_key(group),
                }
            }
            Reason::NotTogether { by, alone } => {
                Hindrance::NotTogether { to: self.ids(by), alone: *alone }
            }
            Reason::NoHours { deadline, minutes, spare, .. } => Hindrance::NoHours {
                minutes: f64::from(*minutes),
                spare: *spare as f64,
                until: self.draft.hours.due[*deadline],
            },
            Reason::Pinned => Hindrance::Pinned,
            Reason::NotWorthIt => Hindrance::NotWorthIt,
        }
    }

    fn way(&self, drawn: &DraftGift, remedy: &Remedy) -> Way {
        let option = &drawn.options[remedy.option];
        let add = remedy.add.map(|(group, dg)| {
            let (yarn, name, lot) = self.yarn(group);
            YarnToAdd { yarn, name, lot, grams: in_grams(dg) }
        });
        Way {
            add,
            title: option.title.clone(),
            size_label: option.size_label.clone(),
            displaced: self.ids(&remedy.displaced),
            changed: self.ids(&remedy.changed),
            change: remedy.change.as_f64(),
        }
    }

    fn ids(&self, gifts: &[usize]) -> Vec<String> {
        gifts.iter().map(|gift| self.draft.gifts[*gift].id.clone()).collect()
    }

    /// Id, name and dye lot of a group's yarn.
    fn yarn(&self, group: usize) -> (String, String, Option<String>) {
        let (id, lot) = &self.draft.groups[group];
        let yarn = self.request.contents.yarns.get(id);
        let name = yarn.map_or(id.as_str(), |yarn| yarn.name.as_str());
        (id.clone(), name.to_owned(), lot.clone())
    }
}

fn is_unsuited(reason: &NotMade) -> bool {
    matches!(reason, NotMade::Hindered { by: Hindrance::Unmatched { suits: false, .. }, .. })
}

fn in_grams(decigrams: u32) -> f64 {
    f64::from(decigrams) / 10.0
}
