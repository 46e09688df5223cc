//! From the solver's indices back to gifts, people and remnants.

use std::collections::BTreeMap;

use super::draft::{DraftGift, DraftOption};
use super::{Draft, PlanRequest};
use knit::estimate::{Minutes, OnScale};
use knit::gift_plan::{
    GiftPlan, Hindrance, LeftOut, NotMade, PlanWorth, PlannedGift, PlannedSection, RemnantLeft,
    UnmetGift, UnmetWhy, Way, YarnToAdd,
};
use knit::stash::{Date, GiftWish};
use plan::{Chunk, Made, Outcome, Plan, Reason, Remedy, Unmet, UnmetReason, explain};

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
            gifts.push(back.made(wish, option, made));
        } else {
            left_out.push(back.left_out(wish, index));
        }
    }
    in_order_of_work(&mut gifts, &draft.due);
    back.tell_late(&mut gifts);
    GiftPlan {
        made_on: request.number,
        gifts,
        left_out,
        remnants: back.remnants(),
        waste_m,
        worth: PlanWorth {
            objective: outcome.objective.as_f64(),
            bound: outcome.bound.as_f64(),
            gap: outcome.gap,
            proven: outcome.proven,
        },
        work_done: outcome.work_done,
        stopped,
        warnings: draft.warnings.clone(),
        unmet: outcome.unmet.iter().filter_map(|unmet| back.unmet(*unmet)).collect(),
    }
}

/// By due date, then by priority; says of each gift when it is done. Those whose day is past come after those
/// that can still be in time, as the solver reckoned: before them they would make the others late too.
fn in_order_of_work(gifts: &mut [PlannedGift], to_come: &[Date]) {
    gifts.sort_by(|a, b| {
        let day = |gift: &PlannedGift| {
            let in_time = gift.due.is_some_and(|day| to_come.contains(&day));
            (!in_time, gift.due.is_none(), gift.due)
        };
        day(a).cmp(&day(b)).then(b.priority.cmp(&a.priority)).then(a.id.cmp(&b.id))
    });
    let mut done = Minutes::none();
    for gift in gifts {
        done = done.plus(&gift.minutes);
        gift.done_after = done.clone();
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
        if self.request.contents.settings.hours_a_week.is_none() {
            return;
        }
        for gift in gifts {
            let nth = gift.due.and_then(|due| self.draft.due.iter().position(|day| *day == due));
            let deadline = nth.and_then(|nth| self.draft.instance.deadlines.get(nth));
            gift.late =
                deadline.map(|until| gift.done_after.chance_longer(until.minutes[0] as f64));
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
            swatch: option.swatch.clone(),
            minutes: option.minutes.clone(),
            done_after: Minutes::none(),
            late: None,
            sections: sections.map(|(s, chunks)| self.section(option, s, chunks)).collect(),
            cautions: option.cautions.clone(),
        }
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
        if drawn.options.is_empty() && drawn.unknown.is_empty() {
            reasons.push(NotMade::NoYarnSuits);
        }
        if self.request.explain {
            // The plan is the solver's own: it passes the checks that `explain` makes first.
            if let Ok(told) = explain(&self.draft.instance, self.plan, gift) {
                reasons.extend(told.obstacles.iter().map(|obstacle| {
                    let option = &drawn.options[obstacle.option];
                    let by = self.hindrance(option, &obstacle.reason);
                    NotMade::Hindered { title: option.title.clone(), by }
                }));
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

    fn hindrance(&self, option: &DraftOption, reason: &Reason) -> Hindrance {
        let part = |section: usize| match option.sections.as_slice() {
            [_] => None,
            sections => Some(sections[section].1.clone()),
        };
        match reason {
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
            Reason::NotTogether { by, alone } => {
                Hindrance::NotTogether { to: self.ids(by), alone: *alone }
            }
            Reason::NoHours { deadline, minutes, spare, .. } => Hindrance::NoHours {
                minutes: f64::from(*minutes),
                spare: *spare as f64,
                until: self.draft.due[*deadline],
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

fn in_grams(decigrams: u32) -> f64 {
    f64::from(decigrams) / 10.0
}
