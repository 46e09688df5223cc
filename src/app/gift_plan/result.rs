//! From the solver's indices back to gifts, people and remnants.

use std::collections::BTreeMap;

use super::{Draft, PlanRequest};
use diag::{Code, Diagnostic};
use knit::reserve::Grams;
use plan::{Chunk, Outcome, Plan, Reason, Unmet, UnmetReason, explain};
use report::{GiftPlan, LeftOut, PlannedGift, PlannedSection, RemnantLeft, Way};

/// The solver's plan in the words of the workspace.
pub(super) fn gift_plan(
    request: &PlanRequest<'_>,
    draft: &Draft,
    outcome: Outcome,
    stopped: bool,
) -> GiftPlan {
    let contents = request.contents;
    let mut gifts = Vec::new();
    let mut left_out = Vec::new();
    let mut taken: BTreeMap<usize, u32> = BTreeMap::new();
    let mut waste_m: BTreeMap<String, f64> = BTreeMap::new();
    let telling = Telling { request, draft, plan: &outcome.plan };
    for (index, (drawn, made)) in draft.gifts.iter().zip(&outcome.plan.gifts).enumerate() {
        let Some(wish) = contents.gift(&drawn.id) else { continue };
        let Some(made) = made else {
            let (reasons, ways) = telling.left_out(index);
            left_out.push(LeftOut {
                id: wish.id.clone(),
                person: wish.person.clone(),
                priority: wish.priority,
                due: wish.due,
                reasons,
                ways,
            });
            continue;
        };
        let option = &drawn.options[made.option];
        *waste_m.entry(option.machine_title.clone()).or_default() += option.waste_m;
        let sections = option.sections.iter().zip(&made.sections).map(|(section, chunks)| {
            for chunk in chunks {
                *taken.entry(chunk.remnant).or_default() += chunk.dg;
            }
            planned(request, draft, option.tex, section, chunks)
        });
        gifts.push(PlannedGift {
            id: wish.id.clone(),
            person: wish.person.clone(),
            priority: wish.priority,
            due: wish.due,
            garment: option.garment.clone(),
            title: option.title.clone(),
            size_label: option.size_label.clone(),
            machine: option.machine.clone(),
            machine_title: option.machine_title.clone(),
            swatch: option.swatch.clone(),
            minutes: option.minutes,
            done_after: 0.0,
            sections: sections.collect(),
            cautions: option.cautions.clone(),
        });
    }
    gifts.sort_by(|a, b| {
        let day = |gift: &PlannedGift| (gift.due.is_none(), gift.due);
        day(a).cmp(&day(b)).then(b.priority.cmp(&a.priority)).then(a.id.cmp(&b.id))
    });
    let mut done = 0.0;
    for gift in &mut gifts {
        done += gift.minutes;
        gift.done_after = done;
    }
    let remnants = draft
        .remnants
        .iter()
        .zip(&draft.instance.remnants)
        .enumerate()
        .map(|(i, (id, remnant))| {
            let used = taken.get(&i).copied().unwrap_or(0);
            let left = remnant.usable_dg.saturating_sub(used);
            RemnantLeft {
                id: id.clone(),
                yarn: draft.groups[remnant.group].0.clone(),
                had_g: f64::from(remnant.usable_dg) / 10.0,
                left_g: f64::from(left) / 10.0,
                drib: used > 0 && left > 0 && left <= draft.instance.drib_dg,
            }
        })
        .collect();
    let mut diagnostics = draft.warnings.clone();
    diagnostics.extend(outcome.unmet.iter().filter_map(|unmet| told(draft, *unmet)));
    GiftPlan {
        gifts,
        left_out,
        remnants,
        waste_m,
        objective: outcome.objective,
        bound: outcome.bound,
        gap: outcome.gap,
        proven: outcome.proven,
        work_done: outcome.work_done,
        diagnostics,
        stopped,
    }
}

/// A gift that must be made and is not.
fn told(draft: &Draft, unmet: Unmet) -> Option<Diagnostic> {
    let (message, hint) = match unmet.why {
        UnmetReason::NotEvenAlone => (
            "has to be made, and can't be",
            "no option of it can be knitted from this stash in time, even alone",
        ),
        UnmetReason::NotBesideOthers => (
            "has to be made, and can't be beside the others",
            "allow it more options or a later day, or let another go",
        ),
        UnmetReason::NotFound => (
            "has to be made, and no way was found",
            "allow more work, more options or a later day, or let another go",
        ),
    };
    let gift = draft.gifts.get(unmet.gift)?;
    Some(
        Diagnostic::error(Code::PlanMust, message)
            .hint(hint)
            .context(format!("gift `{}`", gift.id))
            .hint("`oddments plan --explain` says what is missing"),
    )
}

/// Puts the solver's reasons into words.
struct Telling<'a> {
    request: &'a PlanRequest<'a>,
    draft: &'a Draft,
    plan: &'a Plan,
}

/// Reasons told of one gift, and gifts named in one.
const MOST_REASONS: usize = 5;
const MOST_NAMED: usize = 4;

impl Telling<'_> {
    fn left_out(&self, gift: usize) -> (Vec<String>, Vec<Way>) {
        let drawn = &self.draft.gifts[gift];
        let mut reasons: Vec<String> = Vec::new();
        if drawn.options.is_empty() {
            reasons
                .push("no yarn in the stash suits: thickness, fibres, colours, washing".to_owned());
        }
        let mut ways = Vec::new();
        if self.request.explain {
            // The plan is the solver's own: it passes the checks that `explain` makes first.
            if let Ok(told) = explain(&self.draft.instance, self.plan, gift) {
                // The same garment in another yarn is hindered by the same gifts, more or fewer.
                let mut by_garment: Vec<(&str, String)> = Vec::new();
                for obstacle in &told.obstacles {
                    let title = drawn.options[obstacle.option].title.as_str();
                    let reason = self.reason(gift, obstacle.option, &obstacle.reason);
                    match by_garment.iter_mut().find(|(garment, _)| *garment == title) {
                        Some((_, longest)) if longest.len() < reason.len() => *longest = reason,
                        Some(_) => {}
                        None => by_garment.push((title, reason)),
                    }
                }
                reasons.extend(by_garment.into_iter().map(|(_, reason)| reason));
                ways = told
                    .remedies
                    .iter()
                    .map(|remedy| {
                        let option = &drawn.options[remedy.option];
                        Way {
                            add: remedy.add.map(|(group, dg)| {
                                let id = &self.draft.groups[group].0;
                                (id.clone(), self.yarn(group), f64::from(dg) / 10.0)
                            }),
                            title: option.title.clone(),
                            size_label: option.size_label.clone(),
                            displaced: self.ids(&remedy.displaced),
                        }
                    })
                    .collect();
            }
            reasons.truncate(MOST_REASONS);
            let hopeless = |garment: &str| drawn.options.iter().all(|o| o.garment != garment);
            let refusals = drawn.refusals.iter().filter(|refusal| hopeless(&refusal.garment));
            reasons.extend(refusals.take(2).map(|refusal| {
                format!("{} can't be knitted: {}", refusal.garment, refusal.reason)
            }));
        }
        (reasons, ways)
    }

    fn reason(&self, gift: usize, option: usize, reason: &Reason) -> String {
        let option = &self.draft.gifts[gift].options[option];
        let title = &option.title;
        let part = |section: usize| match option.sections.as_slice() {
            [_] => title.clone(),
            sections => format!("{title}, {}", sections[section].1.to_lowercase()),
        };
        let by = |gifts: &[usize]| match self.ids(gifts).as_slice() {
            ids if ids.len() > MOST_NAMED => {
                let more = ids.len() - MOST_NAMED;
                format!("{} and {more} more gifts", ids[..MOST_NAMED].join(", "))
            }
            ids => ids.join(", "),
        };
        let hours = |minutes: f64| format!("{:.1} h", minutes / 60.0);
        match reason {
            Reason::NoYarn { section, .. } => {
                format!("{}: no yarn in the stash suits", part(*section))
            }
            Reason::TooLittle { section, group, need_dg, most_dg } => format!(
                "{}: it takes {:.1} g of {}, and the most in hand is {:.1} g",
                part(*section),
                f64::from(*need_dg) / 10.0,
                self.yarn(*group),
                f64::from(*most_dg) / 10.0
            ),
            Reason::Taken { section, by: gifts, .. } => {
                format!("{}: the yarn goes to {}", part(*section), by(gifts))
            }
            Reason::NotTogether { by: gifts } => {
                format!("{title}: not all its yarn is left; it goes to {}", by(gifts))
            }
            Reason::NoHours { deadline, minutes, spare, .. } => format!(
                "{title}: takes {}, and {} are left until {}",
                hours(f64::from(*minutes)),
                hours(*spare as f64),
                self.draft.due[*deadline]
            ),
            Reason::Pinned => format!("{title}: the gift is pinned to something else"),
            Reason::NotWorthIt => format!("{title}: it would cost more than it is worth"),
        }
    }

    fn ids(&self, gifts: &[usize]) -> Vec<String> {
        gifts.iter().map(|gift| self.draft.gifts[*gift].id.clone()).collect()
    }

    fn yarn(&self, group: usize) -> String {
        let (id, lot) = &self.draft.groups[group];
        let yarn = self.request.contents.yarns.get(id);
        let name = yarn.map_or(id.as_str(), |yarn| yarn.name.as_str());
        lot.as_ref().map_or_else(|| name.to_owned(), |lot| format!("{name}, lot {lot}"))
    }
}

fn planned(
    request: &PlanRequest<'_>,
    draft: &Draft,
    tex: f64,
    (name, title, grams): &(String, String, Grams),
    chunks: &[Chunk],
) -> PlannedSection {
    let group = chunks.first().map_or(0, |chunk| draft.instance.remnants[chunk.remnant].group);
    let (yarn_id, lot) = &draft.groups[group];
    let yarn = request.contents.yarns.get(yarn_id);
    let factor = yarn.map_or(1.0, |yarn| yarn.count.tex() / tex);
    let need = grams.times(factor);
    let set_aside: u32 = chunks.iter().map(|chunk| chunk.dg).sum();
    let step = request.contents.settings.scale_step.grams();
    let have = Grams::weighed(f64::from(set_aside) / 10.0, step);
    PlannedSection {
        name: name.clone(),
        title: title.clone(),
        yarn: yarn_id.clone(),
        yarn_name: yarn.map_or_else(|| yarn_id.clone(), |yarn| yarn.name.clone()),
        lot: lot.clone(),
        chunks: chunks
            .iter()
            .map(|chunk| (draft.remnants[chunk.remnant].clone(), f64::from(chunk.dg) / 10.0))
            .collect(),
        need,
        chance: need.chance_short(have),
    }
}
