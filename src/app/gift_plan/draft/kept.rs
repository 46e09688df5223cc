//! Yarn that is kept: for some gifts, for something else, or in reserve.

use std::collections::BTreeSet;

use super::super::PlanRequest;
use super::StashDraft;
use knit::gift_plan::{Kept, KeptWhy};
use knit::stash::GiftWish;

/// Takes what is kept out of what may be planned with, and tells of it.
pub(super) fn keep(
    request: &PlanRequest<'_>,
    gifts: &[&GiftWish],
    stash: &mut StashDraft,
) -> Vec<Kept> {
    let mut kept = kept_for(request, gifts, stash);
    kept.extend(reserves(request, stash));
    kept
}

fn kept_for(request: &PlanRequest<'_>, gifts: &[&GiftWish], stash: &mut StashDraft) -> Vec<Kept> {
    let mut kept = Vec::new();
    for (id, draft) in stash.ids.iter().zip(&mut stash.remnants) {
        let Some(remnant) = request.contents.remnant(id) else { continue };
        let Some(what) = &remnant.keep_for else { continue };
        let grams = f64::from(draft.usable_dg) / 10.0;
        let why = match theirs(request, gifts, what) {
            Some(own) => {
                draft.kept_for = Some(own);
                KeptWhy::For(what.clone())
            }
            None => {
                draft.usable_dg = 0;
                KeptWhy::Else(what.clone())
            }
        };
        if grams > 0.0 {
            kept.push(Kept { remnant: id.clone(), yarn: remnant.yarn.clone(), grams, why });
        }
    }
    kept
}

/// The gifts of the plan that a remnant is kept for; `None`: it is kept for no gift and nobody.
fn theirs(request: &PlanRequest<'_>, gifts: &[&GiftWish], what: &str) -> Option<BTreeSet<usize>> {
    let contents = request.contents;
    let those = |is: &dyn Fn(&GiftWish) -> bool| {
        let own = gifts.iter().enumerate().filter(|(_, gift)| is(gift));
        own.map(|(index, _)| index).collect()
    };
    if contents.gift(what).is_some() || contents.pieces(what).next().is_some() {
        return Some(those(&|gift| gift.id == what || gift.entry() == what));
    }
    contents.person(what).map(|person| those(&|gift| gift.person == person.name))
}

/// Takes the reserve of each yarn off its largest remnant, and what that lacks off the next: the
/// reserve stays in as few pieces as can be. What is kept for somebody is none of it.
fn reserves(request: &PlanRequest<'_>, stash: &mut StashDraft) -> Vec<Kept> {
    let mut kept = Vec::new();
    for yarn in request.contents.yarns.values() {
        let Some(reserve) = yarn.reserve else { continue };
        let mut lacks = super::decigrams_up(reserve.grams());
        let own = |i: &usize| {
            let remnant = &stash.remnants[*i];
            stash.groups[remnant.group].0 == yarn.id && remnant.kept_for.is_none()
        };
        let mut all: Vec<usize> = (0..stash.remnants.len()).filter(own).collect();
        all.sort_by_key(|i| std::cmp::Reverse(stash.remnants[*i].usable_dg));
        for i in all {
            let remnant = &mut stash.remnants[i];
            let taken = lacks.min(remnant.usable_dg);
            if taken == 0 {
                break;
            }
            remnant.usable_dg -= taken;
            lacks -= taken;
            kept.push(Kept {
                remnant: stash.ids[i].clone(),
                yarn: yarn.id.clone(),
                grams: f64::from(taken) / 10.0,
                why: KeptWhy::Reserve,
            });
        }
    }
    kept
}
