//! What a record is to the gift that it was: its end.

use super::RecordRequest;
use super::chain::Chain;
use crate::gift_life::{GiftDeed, free_gifts, knitted_in};
use crate::unknown;
use diag::{Diagnostic, Diagnostics};
use knit::record::GiftEnded;
use knit::stash::{Contents, GiftWish};
use report::gift_words;
use store::workspace::{Edit, List};

/// The gift of that id, to be ended.
pub(super) fn gift_of<'c>(contents: &'c Contents, id: &str) -> Result<&'c GiftWish, Diagnostic> {
    let Some(gift) = contents.gift(id) else {
        let known = contents.gifts.iter().map(|gift| gift.id.as_str());
        return Err(unknown("gift", id, known, "gifts"));
    };
    if gift.stage.is_over() { Err(gift_words::gift_over(gift)) } else { Ok(gift) }
}

/// Balls that would go while others wait for them.
pub(super) fn balls_in_use(contents: &Contents, chain: &Chain, gift: Option<&str>) -> Diagnostics {
    let mut faults = Diagnostics::new();
    for id in chain.used_up() {
        faults.extend(gift_words::remnant_in_use(id, contents, gift, "the ball is used up: "));
    }
    faults
}

/// What the piece was, where that is not what the gift asks for.
pub(super) fn doubts(contents: &Contents, gift: &GiftWish, request: &RecordRequest) -> Diagnostics {
    let mut doubts = Diagnostics::new();
    if !gift.garment.allows(&request.garment) {
        let what = format!("is not to be a {}", request.garment);
        doubts.push(gift_words::other_gift(gift, &what));
    }
    let size = request.size.trim();
    let own = contents.person(&gift.person).and_then(|person| person.size.as_ref());
    if contents.person(size).is_some() {
        if size != gift.person {
            let what = format!("is for {}, and this was made for {size}", gift.person);
            doubts.push(gift_words::other_gift(gift, &what));
        }
    } else if let Some(own) = own.filter(|own| own.as_str() != size) {
        let what = format!("is for {}, whose size is {own}, and this is {size}", gift.person);
        doubts.push(gift_words::other_gift(gift, &what));
    }
    let weighed = |section: &str| request.used.iter().any(|(own, _, _)| own == section);
    for reserved in contents.set_aside(&gift.id).filter(|own| !weighed(&own.section)) {
        doubts.push(gift_words::not_weighed(reserved));
    }
    doubts
}

/// What is free of the gift's yarn once it is knitted.
pub(super) fn ended(contents: &Contents, gift: &GiftWish, chain: &Chain) -> GiftEnded {
    let mut freed: Vec<(String, f64)> = Vec::new();
    for reserved in contents.set_aside(&gift.id) {
        match freed.iter_mut().find(|(id, _)| *id == reserved.remnant) {
            Some((_, grams)) => *grams += reserved.weight.grams(),
            None => freed.push((reserved.remnant.clone(), reserved.weight.grams())),
        }
    }
    for (id, grams) in &mut freed {
        *grams -= chain.took_of(id);
    }
    let planned = !freed.is_empty();
    // Below a scale's step there is nothing to speak of.
    freed.retain(|(_, grams)| *grams >= 0.05);
    GiftEnded { gift: gift.id.clone(), freed, planned }
}

pub(super) fn edits(contents: &Contents, gift: &GiftWish, chain: &Chain) -> Vec<Edit> {
    let mut fields = GiftDeed::Done.fields();
    // What was weighed; of a section that was not, what was set aside.
    let weighed = |section: &str| chain.links.iter().any(|link| link.section == section);
    let aside = contents.set_aside(&gift.id).filter(|own| !weighed(&own.section));
    let aside = aside.map(|own| (own.section.as_str(), own.remnant.as_str(), own.weight.grams()));
    let links = chain.links.iter();
    let parts = links.map(|link| (link.section.as_str(), link.remnant.as_str(), link.took_g()));
    fields.extend(knitted_in(contents, gift, GiftDeed::Done, parts.chain(aside)));
    let done = Edit::Change { list: List::Gifts, key: gift.id.clone(), fields };
    let reserved = contents.set_aside(&gift.id).next().map(|_| gift.id.clone());
    [done].into_iter().chain(free_gifts(reserved.into_iter().collect())).collect()
}
