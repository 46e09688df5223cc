//! What a plan is to be good at, and gifts of one person that ought to differ.

use std::collections::BTreeMap;

use super::super::scale::Scale;
use super::DraftGift;
use knit::stash::AimWeights;
use plan::{Instance, Points};

/// Adds what the aim gains and loses: for each gram, each remnant begun, each hour.
pub(super) fn weigh(instance: &mut Instance, scale: Scale, weights: AimWeights) {
    let tenths = |points: f64| scale.points(points);
    for option in instance.gifts.iter_mut().flat_map(|gift| &mut gift.options) {
        let hours = f64::from(option.minutes) / 60.0;
        option.gain -= tenths(weights.hour * hours);
        for section in option.sections.iter_mut().filter(|_| weights.gram > 0.0) {
            for (group, need_dg) in &section.need_dg {
                let gain = tenths(weights.gram * f64::from(*need_dg) / 10.0);
                let own = section.gain.entry(*group).or_insert(Points(0));
                *own += gain;
            }
        }
    }
    for remnant in &mut instance.remnants {
        remnant.opening += tenths(weights.ball);
    }
}

/// Notes which gifts are for one person, and of which kind each option is: the garment.
pub(super) fn vary(instance: &mut Instance, drafts: &[DraftGift], people: &[&str]) {
    let mut sets: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (gift, person) in people.iter().enumerate().filter(|(_, person)| !person.is_empty()) {
        sets.entry(person).or_default().push(gift);
    }
    sets.retain(|_, gifts| gifts.len() > 1);
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for (gift, draft) in instance.gifts.iter_mut().zip(drafts) {
        for (option, drawn) in gift.options.iter_mut().zip(&draft.options) {
            let next = kinds.len();
            option.kind = *kinds.entry(&drawn.garment).or_insert(next);
        }
    }
    instance.variety = sets.into_values().collect();
}
