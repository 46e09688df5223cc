//! Who knits what: each option once for each knitter who has its machine.

use super::super::PlanRequest;
use super::{DraftGift, DraftOption, StashDraft};
use knit::stash::{Contents, GiftWish, Knitter, same_place};
use plan::{Gift, GiftOption, Points};

/// Those who knit, in the order of the file.
#[derive(Clone, Debug, Default)]
pub struct Who {
    knitters: Vec<Knitter>,
    /// Where remnants lie; the first is nowhere that anybody named.
    places: Vec<Option<String>>,
}

impl Who {
    pub(super) fn of(contents: &Contents) -> Who {
        Who { knitters: contents.knitters.clone(), places: vec![None] }
    }

    /// The knitter of that number; `None` where one knits all.
    pub fn knitter(&self, index: usize) -> Option<&Knitter> {
        self.knitters.get(index)
    }

    /// The number of the knitter of that name; the first where one knits all.
    pub fn number(&self, name: Option<&str>) -> usize {
        let own = |knitter: &Knitter| Some(knitter.name.as_str()) == name;
        self.knitters.iter().position(own).unwrap_or_default()
    }

    /// Hours a week of the knitter of that number; `None`: without limit.
    pub fn hours_a_week(&self, request: &PlanRequest<'_>, index: usize) -> Option<f64> {
        let own = self.knitters.get(index).and_then(|knitter| knitter.hours_a_week);
        own.or(request.contents.settings.hours_a_week)
    }

    /// Something for each knitter, and once where one knits all.
    pub fn each<T>(&self, of: impl FnMut(usize) -> T) -> Vec<T> {
        (0..self.knitters.len().max(1)).map(of).collect()
    }

    /// The options of a gift once for each who can knit them: those whom the gift doesn't rule out,
    /// who have the machine, and who have any time at all.
    pub(super) fn share_out(
        &self,
        wish: &GiftWish,
        (mut draft, mut gift): (DraftGift, Gift),
    ) -> (DraftGift, Gift) {
        if self.knitters.is_empty() {
            return (draft, gift);
        }
        let mut shared: Vec<(DraftOption, GiftOption)> = Vec::new();
        for (drawn, option) in draft.options.into_iter().zip(gift.options) {
            let before = shared.len();
            shared.extend(self.able(wish, &drawn).map(|knitter| {
                let option = GiftOption { knitter, ..option.clone() };
                (DraftOption { knitter, ..drawn.clone() }, option)
            }));
            if shared.len() == before && !draft.nobody_has.contains(&drawn.machine_title) {
                draft.nobody_has.push(drawn.machine_title);
            }
        }
        (draft.options, gift.options) = shared.into_iter().unzip();
        (draft, gift)
    }

    fn able<'a>(
        &'a self,
        wish: &'a GiftWish,
        drawn: &'a DraftOption,
    ) -> impl Iterator<Item = usize> + 'a {
        let may = move |knitter: &Knitter| {
            wish.knitter.as_ref().is_none_or(|own| *own == knitter.name)
                && drawn.only_by.as_ref().is_none_or(|own| *own == knitter.name)
                && knitter.has(&drawn.machine)
                && knitter.hours_a_week != Some(0.0)
        };
        self.knitters.iter().enumerate().filter(move |(_, k)| may(k)).map(|(index, _)| index)
    }

    /// Notes where each remnant lies.
    pub(super) fn put_in_places(&mut self, contents: &Contents, stash: &mut StashDraft) {
        if self.knitters.is_empty() {
            return;
        }
        for (id, remnant) in stash.ids.iter().zip(&mut stash.remnants) {
            let Some(place) = contents.remnant(id).and_then(|own| own.place.as_ref()) else {
                continue;
            };
            let same = |own: &Option<String>| own.as_ref().is_some_and(|o| same_place(o, place));
            remnant.place = self.places.iter().position(same).unwrap_or_else(|| {
                self.places.push(Some(place.clone()));
                self.places.len() - 1
            });
        }
    }

    /// Where a remnant lies and where its knitter is, if it has to be brought there.
    pub fn way(&self, knitter: usize, place: usize) -> Option<(&str, &str)> {
        let to = self.knitters.get(knitter)?.place.as_deref()?;
        let from = self.places.get(place)?.as_deref()?;
        (!same_place(from, to)).then_some((from, to))
    }

    /// By knitter and place, what it costs to bring a remnant.
    pub(super) fn travel(&self, cost: Points) -> Vec<Vec<Points>> {
        let of_knitter = |knitter: usize| {
            let places = 0..self.places.len();
            let cost = |place| if self.way(knitter, place).is_some() { cost } else { Points(0) };
            places.map(cost).collect()
        };
        (0..self.knitters.len()).map(of_knitter).collect()
    }
}
