//! Gifts that are to match: the sections of each that take most come from one lot, and so do those that
//! are called alike.

use std::collections::BTreeMap;

use super::DraftGift;
use knit::stash::{Contents, GiftWish};
use plan::{GiftOption, Instance};

/// A part that gifts of a match have in common: the one that takes most, or one by its name.
type Part<'a> = Option<&'a str>;

/// By gift of the workspace, the first of those that it is to match, itself among them. What one matches that
/// another matches, they all match, whatever has become of it.
fn sets(contents: &Contents) -> Vec<usize> {
    let gifts = &contents.gifts;
    let mut first: Vec<usize> = (0..gifts.len()).collect();
    for (g, gift) in gifts.iter().enumerate() {
        for name in &gift.matches {
            let named = |other: &GiftWish| other.id == *name || other.entry() == name;
            let others = (0..gifts.len()).filter(|other| named(&gifts[*other]));
            for other in others.collect::<Vec<_>>() {
                let (one, two) = (first[g].min(first[other]), first[g].max(first[other]));
                first.iter_mut().filter(|own| **own == two).for_each(|own| *own = one);
            }
        }
    }
    first
}

/// Numbers what is to match in the instance. Gives the gifts that have yarn already, by the number of the
/// match that they bind.
pub(super) fn number(
    contents: &Contents,
    planned: &[&GiftWish],
    drafts: &[DraftGift],
    remnants: &[String],
    instance: &mut Instance,
) -> BTreeMap<usize, Vec<String>> {
    let mut held: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    if contents.gifts.iter().all(|gift| gift.matches.is_empty()) {
        return held;
    }
    let sets = sets(contents);
    let set_of = |id: &str| {
        let own = sets[contents.gifts.iter().position(|gift| gift.id == id)?];
        (sets.iter().filter(|other| **other == own).count() > 1).then_some(own)
    };
    let mut numbers: BTreeMap<(usize, Part<'_>), usize> = BTreeMap::new();
    let mut number = |set: usize, part| {
        let next = numbers.len();
        *numbers.entry((set, part)).or_insert(next)
    };
    for (draft, gift) in drafts.iter().zip(&mut instance.gifts) {
        let Some(set) = set_of(&draft.id) else { continue };
        for (drawn, option) in draft.options.iter().zip(&mut gift.options) {
            let most = most_of(option);
            for (s, section) in option.sections.iter_mut().enumerate() {
                let name = (Some(s) != most).then_some(drawn.sections[s].0.as_str());
                section.matched = Some(number(set, name));
            }
        }
    }
    let has_yarn = |gift: &&GiftWish| planned.iter().all(|own| own.id != gift.id);
    for gift in contents.gifts.iter().filter(has_yarn) {
        let Some(set) = set_of(&gift.id) else { continue };
        for (part, remnant) in parts_set_aside(contents, &gift.id) {
            let Some(r) = remnants.iter().position(|id| id == remnant) else { continue };
            let own = number(set, part);
            let bound = instance.match_group.entry(own).or_insert(instance.remnants[r].group);
            if *bound == instance.remnants[r].group {
                held.entry(own).or_default().push(gift.id.clone());
            }
        }
    }
    held
}

/// The section that takes most.
fn most_of(option: &GiftOption) -> Option<usize> {
    let need = |s: &usize| option.sections[*s].need_dg.values().max();
    (0..option.sections.len()).rev().max_by_key(need)
}

/// What is set aside for a gift, part by part, and a remnant of each.
fn parts_set_aside<'a>(contents: &'a Contents, gift: &'a str) -> Vec<(Part<'a>, &'a str)> {
    let mut sections: Vec<(&str, f64, &str)> = Vec::new();
    for own in contents.set_aside(gift) {
        match sections.iter_mut().find(|(name, ..)| *name == own.section) {
            Some((_, grams, _)) => *grams += own.weight.grams(),
            None => sections.push((&own.section, own.weight.grams(), &own.remnant)),
        }
    }
    let most = sections.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(name, ..)| *name);
    let part = |(name, _, remnant): (&'a str, f64, &'a str)| {
        ((Some(name) != most).then_some(name), remnant)
    };
    sections.into_iter().map(part).collect()
}
