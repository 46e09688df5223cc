use std::collections::{BTreeMap, BTreeSet};

use super::super::{PlanRequest, kept};
use super::decigrams_down;
use super::kept::keep;
use super::matched::knitted_lots;
use knit::gift_plan::Kept;
use knit::stash::GiftWish;
use plan::Remnant;

/// The remnants as the instance has them.
pub(super) struct StashDraft {
    pub ids: Vec<String>,
    pub remnants: Vec<Remnant>,
    pub groups: Vec<(String, Option<String>)>,
    /// Pinned remnants, by gift and section.
    pub pins: BTreeMap<(String, String), BTreeSet<usize>>,
    /// Decigrams of a new ball, by the group that balls of its yarn would be.
    pub on_offer: BTreeMap<usize, u32>,
}

impl StashDraft {
    /// With what gifts are pinned to, and what is kept.
    ///
    /// `on_offer`: yarns that could be bought, and decigrams of a ball. New balls are of one dye lot,
    /// and not of any that is there.
    pub fn of(
        request: &PlanRequest<'_>,
        gifts: &[&GiftWish],
        on_offer: &[(String, u32)],
    ) -> (StashDraft, Vec<Kept>) {
        let mut stash = StashDraft::free(request);
        for lot in knitted_lots(request.contents, gifts) {
            if !stash.groups.contains(&lot) {
                stash.groups.push(lot);
            }
        }
        for (yarn, dg) in on_offer {
            stash.on_offer.insert(stash.groups.len(), *dg);
            stash.groups.push((yarn.clone(), None));
        }
        let kept = keep(request, gifts, &mut stash);
        for gift in gifts {
            stash.pin(gift);
        }
        (stash, kept)
    }

    fn free(request: &PlanRequest<'_>) -> StashDraft {
        let contents = request.contents;
        let mut stash = StashDraft {
            ids: Vec::new(),
            remnants: Vec::new(),
            groups: Vec::new(),
            pins: BTreeMap::new(),
            on_offer: BTreeMap::new(),
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
                ..Remnant::default()
            });
        }
        stash
    }

    /// Notes the remnants that the gift's sections alone may be knitted from. They stay in their lots, so
    /// that whoever could use them may, and one ball may be named for several sections and gifts.
    fn pin(&mut self, gift: &GiftWish) {
        for (section, ids) in &gift.pinned {
            let pinned = (0..self.ids.len()).filter(|i| ids.contains(&self.ids[*i])).collect();
            self.pins.insert((gift.id.clone(), section.clone()), pinned);
        }
    }
}
