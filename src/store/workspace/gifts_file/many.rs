//! Many of a kind: one entry of the file, a gift for each piece.

use std::ops::Range;

use super::{Entries, GiftToml, PieceToml, knitted_in, options, spanned};
use crate::field::Reading;
use diag::{Code, Diagnostic};
use knit::body::{SizeId, SizeSelection, SizeTable};
use knit::stash::{GiftPiece, GiftStage, GiftWish};

/// The gifts that an entry stands for: first so many of each size, then those that may be of any.
pub(super) fn pieces(
    entry: &GiftToml,
    span: Range<usize>,
    gift: Option<GiftWish>,
    table: &SizeTable,
    (entries, reading): (&mut Entries<GiftWish>, &mut Reading<'_>),
) -> Vec<GiftWish> {
    for_nobody(entry, reading);
    let count = count(entry, span.clone(), reading);
    let sizes = sizes(entry, span, table, reading);
    let (Some(gift), Some(count), Some(sizes)) = (gift, count, sizes) else { return Vec::new() };
    let each = each(entry, count, sizes.len(), reading);
    let mut gifts: Vec<GiftWish> = (1..=count)
        .map(|nth| {
            let of_one = sizes.get(((nth - 1) / each.max(1)) as usize).filter(|_| each > 0);
            let sizes = of_one.map_or_else(|| sizes.clone(), |size| vec![size.clone()]);
            let piece = GiftPiece { entry: gift.id.clone(), nth, of: count, sizes };
            GiftWish { id: GiftPiece::id(&gift.id, nth), piece: Some(piece), ..gift.clone() }
        })
        .collect();
    for (number, piece) in &entry.pieces {
        match number.get_ref().parse::<usize>().ok().and_then(|n| gifts.get_mut(n.checked_sub(1)?))
        {
            Some(gift) => say_of_one(gift, piece.get_ref(), entries, reading),
            None => {
                let fault = format!("there is no piece {} of {count}", number.get_ref());
                let fault = Diagnostic::error(Code::Range, fault)
                    .hint(format!("they are numbered from 1 to {count}"));
                reading.fault(number, fault);
            }
        }
    }
    gifts
}

/// What is so of one piece alone.
fn say_of_one(
    gift: &mut GiftWish,
    piece: &PieceToml,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) {
    if let Some(field) = &piece.state {
        let stages = GiftStage::ALL.map(GiftStage::name);
        let stage = reading.word(field, "state of a gift", &stages, GiftStage::parse);
        gift.stage = stage.unwrap_or_default();
    }
    if !piece.knitted_in.is_empty() {
        gift.knitted_in = knitted_in(&piece.knitted_in, entries, reading);
    }
    gift.keep |= piece.keep;
    let own = options(&piece.options);
    gift.options.retain(|(name, _)| own.iter().all(|(other, _)| other != name));
    gift.options.extend(own);
    gift.scaled.extend(options(&piece.scaled));
}

fn for_nobody(entry: &GiftToml, reading: &mut Reading<'_>) {
    if let Some(person) = &entry.person {
        let fault = Diagnostic::error(Code::Contrary, "many of a kind are for nobody by name")
            .hint("take `person` out, or `count`, `sizes` and `each_at_least`");
        reading.fault(person, fault);
    }
    if let Some((section, _)) = entry.pinned.iter().next() {
        let fault = Diagnostic::error(Code::Contrary, "many of a kind are pinned to no remnant")
            .hint("keep the remnant for them instead: `keep_for` in stash.toml");
        reading.fault(section, fault);
    }
}

fn count(entry: &GiftToml, span: Range<usize>, reading: &mut Reading<'_>) -> Option<u32> {
    let Some(field) = &entry.count else {
        return missing("count", "how many there are to be: `count = 40`", span, reading);
    };
    let most = GiftPiece::MOST;
    let count = u32::try_from(*field.get_ref()).ok().filter(|count| (1..=most).contains(count));
    if count.is_none() {
        let fault = Diagnostic::error(Code::Range, format!("{} is out of range", field.get_ref()))
            .hint(format!("give a number from 1 to {most}"));
        reading.fault(field, fault);
    }
    count
}

fn sizes(
    entry: &GiftToml,
    span: Range<usize>,
    table: &SizeTable,
    reading: &mut Reading<'_>,
) -> Option<Vec<SizeId>> {
    let Some(field) = &entry.sizes else {
        let how = "which sizes they may be: `sizes = \"children\"`, or a list";
        return missing("sizes", how, span, reading);
    };
    match SizeSelection::parse(&field.get_ref().texts().join(","), table) {
        Ok(chosen) => Some(chosen.ids().to_vec()),
        Err(faults) => {
            faults.into_iter().for_each(|fault| reading.fault(field, fault));
            None
        }
    }
}

/// How many of each size; 0: of none in particular.
fn each(entry: &GiftToml, count: u32, sizes: usize, reading: &mut Reading<'_>) -> u32 {
    let Some(field) = &entry.each_at_least else { return 0 };
    let most = count / u32::try_from(sizes.max(1)).unwrap_or(u32::MAX);
    let each = u32::try_from(*field.get_ref()).ok().filter(|each| *each <= most);
    if each.is_none() {
        let fault = format!("{} of each of {sizes} sizes are not in {count}", field.get_ref());
        let fault = Diagnostic::error(Code::Contrary, fault)
            .hint(format!("at most {most} of each; or raise `count`, or name fewer sizes"));
        reading.fault(field, fault);
    }
    each.unwrap_or_default()
}

fn missing<T>(key: &str, how: &str, span: Range<usize>, reading: &mut Reading<'_>) -> Option<T> {
    let fault = Diagnostic::error(Code::Missing, format!("there is no `{key}`"))
        .hint(format!("many of a kind say {how}"));
    reading.fault(&spanned(span.start..span.start), fault);
    None
}
