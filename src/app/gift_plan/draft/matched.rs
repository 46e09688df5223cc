//! Gifts that are to match: the sections of each that take most come from one lot, and so do those that
//! are called alike.

use std::collections::{BTreeMap, BTreeSet};

use super::DraftGift;
use knit::stash::{Contents, GiftWish};
use plan::{GiftOption, Instance};

/// A part that gifts of a match have in common: the one that takes most, or one by its name.
type Part<'a> = Option<&'a str>;

/// A yarn by its id, and a dye lot of it.
type Lot = (String, Option<String>);

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

/// The set of a gift that is to match another, or to be matched.
fn set_of(contents: &Contents, sets: &[usize], id: &str) -> Option<usize> {
    let own = sets[contents.gifts.iter().position(|gift| gift.id == id)?];
    (sets.iter().filter(|other| **other == own).count() > 1).then_some(own)
}

/// Numbers what is to match in the instance. Gives the gifts that have yarn already, or were knitted, by the
/// number of the match that they bind.
pub(super) fn number(
    contents: &Contents,
    planned: &[&GiftWish],
    drafts: &[DraftGift],
    groups: &[Lot],
    instance: &mut Instance,
) -> BTreeMap<usize, Vec<String>> {
    let mut held: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    if contents.gifts.iter().all(|gift| gift.matches.is_empty()) {
        return held;
    }
    let sets = sets(contents);
    let mut numbers: BTreeMap<(usize, Part<'_>), usize> = BTreeMap::new();
    let mut number = |set: usize, part| {
        let next = numbers.len();
        *numbers.entry((set, part)).or_insert(next)
    };
    for (draft, gift) in drafts.iter().zip(&mut instance.gifts) {
        let Some(set) = set_of(contents, &sets, &draft.id) else { continue };
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
        let Some(set) = set_of(contents, &sets, &gift.id) else { continue };
        for (part, lot) in parts_set_aside(contents, &gift.id).into_iter().chain(knitted(gift)) {
            let Some(group) = groups.iter().position(|own| *own == lot) else { continue };
            let own = number(set, part);
            if *instance.match_group.entry(own).or_insert(group) == group {
                held.entry(own).or_default().push(gift.id.clone());
            }
        }
    }
    held
}

/// What the parts of a gift that is done were knitted in.
fn knitted(gift: &GiftWish) -> impl Iterator<Item = (Part<'_>, Lot)> {
    gift.knitted_in.iter().enumerate().map(|(nth, own)| {
        ((nth > 0).then_some(own.section.as_str()), (own.yarn.clone(), own.lot.clone()))
    })
}

/// The lots that gifts were knitted in which one of those planned is to match: there may be none left.
pub(super) fn knitted_lots(contents: &Contents, planned: &[&GiftWish]) -> Vec<Lot> {
    let done = || contents.gifts.iter().filter(|gift| !gift.knitted_in.is_empty());
    if done().next().is_none() || contents.gifts.iter().all(|gift| gift.matches.is_empty()) {
        return Vec::new();
    }
    let sets = sets(contents);
    let wanted: BTreeSet<usize> =
        planned.iter().filter_map(|gift| set_of(contents, &sets, &gift.id)).collect();
    let done = done()
        .filter(|gift| set_of(contents, &sets, &gift.id).is_some_and(|set| wanted.contains(&set)));
    let lots = done.flat_map(|gift| knitted(gift).map(|(_, lot)| lot));
    lots.filter(|(yarn, _)| contents.yarns.contains_key(yarn)).collect()
}

/// The section that takes most.
fn most_of(option: &GiftOption) -> Option<usize> {
    let need = |s: &usize| option.sections[*s].need_dg.values().max();
    (0..option.sections.len()).rev().max_by_key(need)
}

/// What is set aside for a gift, part by part, and what each is of.
fn parts_set_aside<'a>(contents: &'a Contents, gift: &'a str) -> Vec<(Part<'a>, Lot)> {
    let mut sections: Vec<(&str, f64, &str)> = Vec::new();
    for own in contents.set_aside(gift) {
        match sections.iter_mut().find(|(name, ..)| *name == own.section) {
            Some((_, grams, _)) => *grams += own.weight.grams(),
            None => sections.push((&own.section, own.weight.grams(), &own.remnant)),
        }
    }
    let most = sections.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(name, ..)| *name);
    let part = |(name, _, remnant): (&'a str, f64, &'a str)| {
        let remnant = contents.remnant(remnant)?;
        let lot = (remnant.yarn.clone(), remnant.lot.clone());
        Some(((Some(name) != most).then_some(name), lot))
    };
    sections.into_iter().filter_map(part).collect()
}
