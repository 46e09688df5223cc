use std::collections::{BTreeMap, BTreeSet};

use super::{DraftOption, StashDraft};
use knit::stash::{Contents, GiftWish, KnittedAs, Reservation};
use plan::{GiftOption, Points, Section};

/// How an accepted plan has a gift knitted that is planned again.
pub(super) struct Before {
    /// `None`: the file doesn't say; then any garment with these sections may be it.
    knitted_as: Option<KnittedAs>,
    /// Who was to knit it, where several knit.
    knitter: Option<String>,
    /// Whether it was made as large as the yarn went then.
    scaled: bool,
    /// By section, the group of its yarn and the remnants it is set aside from.
    sections: BTreeMap<String, (usize, BTreeSet<usize>)>,
}

/// What staying as it was is worth, of all that a change costs, where it is other balls of the same lot.
const OTHER_BALLS: f64 = 0.9;

impl Before {
    /// `None` where nothing is set aside for the gift, or nothing that is still there.
    pub fn of(contents: &Contents, stash: &StashDraft, wish: &GiftWish) -> Option<Before> {
        let reserved: Vec<&Reservation> = contents.set_aside(&wish.id).collect();
        let mut sections: BTreeMap<String, (usize, BTreeSet<usize>)> = BTreeMap::new();
        for reservation in &reserved {
            let remnant = stash.ids.iter().position(|id| *id == reservation.remnant)?;
            let group = stash.remnants[remnant].group;
            let own = sections.entry(reservation.section.clone());
            let (first, remnants) = own.or_insert_with(|| (group, BTreeSet::new()));
            if *first != group {
                return None;
            }
            remnants.insert(remnant);
        }
        Some(Before {
            knitted_as: reserved.first()?.knitted_as.clone(),
            knitter: reserved.first()?.knitter.clone(),
            scaled: !wish.scaled.is_empty(),
            sections,
        })
    }

    /// The ways among a gift's options that leave it as it was, each worth what a change would cost: from the
    /// very balls, and from any of the same lots.
    pub fn ways(
        &self,
        stash: &StashDraft,
        options: &[(DraftOption, GiftOption)],
        change: impl Fn(f64) -> Points,
    ) -> Vec<(DraftOption, GiftOption)> {
        let mut ways = Vec::new();
        let as_before = options.iter().filter_map(|(draft, option)| {
            let sections = self.is_garment(draft).then(|| self.same_lots(draft, option))??;
            Some((draft, GiftOption { sections, ..option.clone() }))
        });
        // In a liked colour it is twice among the options: the better liked is the one.
        let mut all: Vec<(&DraftOption, GiftOption)> = as_before.collect();
        let best = all.iter().map(|(_, option)| option.pref).max();
        all.retain(|(_, option)| Some(option.pref) == best);
        for (draft, same_lots) in all {
            let draft = DraftOption { only_by: self.knitter.clone(), ..draft.clone() };
            if let Some(sections) = self.same_balls(stash, &draft, &same_lots) {
                let gain = same_lots.gain + change(1.0);
                ways.push((draft.clone(), GiftOption { gain, sections, ..same_lots.clone() }));
            }
            let gain = same_lots.gain + change(OTHER_BALLS);
            ways.push((draft, GiftOption { gain, ..same_lots }));
        }
        ways
    }

    fn is_garment(&self, draft: &DraftOption) -> bool {
        let same = |made: &KnittedAs| {
            made.garment == draft.garment
                && made.machine == draft.machine
                && made.swatch == draft.swatch
        };
        self.knitted_as.as_ref().is_none_or(same)
            // As large as the yarn goes now: that is chosen anew each time.
            && self.scaled == draft.scaled.is_some()
            && self.sections.len() == draft.sections.len()
    }

    /// Each section from the lot it was from, if all of them may be.
    fn same_lots(&self, draft: &DraftOption, option: &GiftOption) -> Option<Vec<Section>> {
        let of_section = |((name, _), section): (&(String, String), &Section)| {
            let (group, _) = self.sections.get(name)?;
            let need = section.need_dg.get(group)?;
            Some(Section { need_dg: BTreeMap::from([(*group, *need)]), ..section.clone() })
        };
        draft.sections.iter().zip(&option.sections).map(of_section).collect()
    }

    /// The same from the very balls, if they are still enough.
    fn same_balls(
        &self,
        stash: &StashDraft,
        draft: &DraftOption,
        option: &GiftOption,
    ) -> Option<Vec<Section>> {
        let of_section = |((name, _), section): (&(String, String), &Section)| {
            let (group, before) = self.sections.get(name)?;
            let may = |r: &&usize| section.only_from.as_ref().is_none_or(|all| all.contains(r));
            let own: BTreeSet<usize> = before.iter().filter(may).copied().collect();
            let there: u32 = own.iter().map(|r| stash.remnants[*r].usable_dg).sum();
            let enough = section.need_dg.get(group).is_some_and(|need| *need <= there);
            enough.then(|| Section { only_from: Some(own), ..section.clone() })
        };
        draft.sections.iter().zip(&option.sections).map(of_section).collect()
    }
}
