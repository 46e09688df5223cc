use super::{OfGift, Who};
use crate::CountedPiece;
use knit::estimate::Minutes;
use knit::stash::{Contents, Date, GiftStage, GiftWish, KnittedAs};
use script::Plugin;

/// A gift that is not planned and takes hours all the same: it is on the machine, or its yarn stays set aside.
#[derive(Clone, Debug)]
pub struct HeldGift {
    pub id: String,
    pub due: Option<Date>,
    /// What is left of its work.
    pub minutes: Minutes,
    /// The deadline it counts by; `None`: it takes what the others leave.
    pub slot: Option<usize>,
    /// Who knits it.
    pub knitter: usize,
}

/// The gifts that are not planned and take hours.
pub(super) fn held<'a>(contents: &'a Contents, planned: &[&GiftWish]) -> Vec<&'a GiftWish> {
    let takes_hours = |gift: &&GiftWish| {
        !gift.stage.is_over()
            && !planned.iter().any(|other| other.id == gift.id)
            && (gift.stage == GiftStage::OnMachine || contents.set_aside(&gift.id).next().is_some())
    };
    contents.gifts.iter().filter(takes_hours).collect()
}

/// What is begun is finished first where no day says otherwise, and so is what is late already; the others count
/// by their days.
pub(super) fn slot(wish: &GiftWish, due: &[Date], today: Date) -> Option<usize> {
    match wish.due {
        Some(day) if day > today => due.iter().position(|d| *d == day),
        Some(_) => (!due.is_empty()).then_some(0),
        None => (wish.stage == GiftStage::OnMachine && !due.is_empty()).then_some(0),
    }
}

/// Who knits it: as the accepted plan has it, or as the gift says.
pub(super) fn knitter(contents: &Contents, who: &Who, wish: &GiftWish) -> usize {
    let planned = contents.set_aside(&wish.id).find_map(|reserved| reserved.knitter.as_deref());
    who.number(planned.or(wish.knitter.as_deref()))
}

impl OfGift<'_> {
    /// What is left of the work on a gift that is held, with what was ticked at the machine taken off. `None`:
    /// it can't be graded any more.
    pub fn work_left(&self) -> Option<Minutes> {
        let contents = self.request.contents;
        let made = contents.set_aside(&self.wish.id).find_map(|r| r.knitted_as.as_ref());
        let whole = self.whole_work(made).or_else(|| self.whole_work(None))?;
        if self.wish.stage != GiftStage::OnMachine {
            return Some(whole.1);
        }
        let (garment, minutes) = whole;
        let options: Vec<(String, String)> = self.wish.options.clone();
        let piece = CountedPiece { garment: &garment, size: &self.wish.person, options: &options };
        Some(minutes.times(piece.share_left(contents, self.request.places)))
    }

    /// The garment that it is, or the first that it may be, and what it takes.
    fn whole_work(&self, made: Option<&KnittedAs>) -> Option<(String, Minutes)> {
        let person = self.request.contents.person(&self.wish.person)?;
        let scaled = self.wish.scaled.iter().find(|own| self.wish.options.contains(own));
        let scaled = scaled.map(|(name, value)| (name.as_str(), value.as_str()));
        let is_it = |id: &str, plugin: &Plugin| {
            self.may_be(id, plugin) && made.is_none_or(|made| made.garment == id)
        };
        let garments = self.plugins.iter().filter(|(id, plugin)| is_it(id, plugin));
        let setups = (0..self.setups.all.len()).filter(|nth| {
            let setup = &self.setups.all[*nth];
            made.is_none_or(|m| m.machine == setup.machine.id && m.swatch == setup.swatch)
        });
        let setups: Vec<usize> = setups.collect();
        let mut found = garments.flat_map(|(_, plugin)| {
            setups.iter().filter_map(|setup| {
                let own = scaled.filter(|(name, _)| plugin.takes(name));
                let run = self.grade(person, plugin, *setup, own).ok()?;
                let (size, made) = run.good().next()?;
                let draft = self.drafted(&run.garment, &size.body.label, made, *setup);
                self.has_sections(&draft.sections).then_some((draft.garment, draft.minutes))
            })
        });
        found.next()
    }

    /// Whether a garment has all the sections that yarn is set aside for.
    fn has_sections(&self, sections: &[(String, String)]) -> bool {
        let mut reserved = self.request.contents.set_aside(&self.wish.id);
        reserved.all(|r| sections.iter().any(|(name, _)| *name == r.section))
    }
}
