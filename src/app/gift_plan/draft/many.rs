//! Many of a kind are drawn once for each size that they are bound to: drawing is knitting.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::super::PlanRequest;
use super::super::scale::Scale;
use super::DraftGift;
use crate::Workbench;
use knit::body::SizeId;
use knit::stash::GiftWish;
use plan::Gift;

/// What a piece beyond so many of each size is worth less, as a share of its priority: with it one that
/// is bound to a size is given up for no two of the others. A choice of ours.
const BEYOND: f64 = 2.0 / 3.0;

/// Whether it is one of many of which so many of each size are wanted first, and none of those.
fn is_beyond(gifts: &[&GiftWish], wish: &GiftWish) -> bool {
    let bound = |other: &&&GiftWish| {
        other.piece.as_ref().is_some_and(|p| p.entry == wish.entry() && p.sizes.len() == 1)
    };
    wish.piece.as_ref().is_some_and(|piece| piece.sizes.len() > 1)
        && gifts.iter().any(|other| bound(&other))
}

/// Every gift drawn, those that are like another as that one.
pub(super) fn drawn(
    request: &PlanRequest<'_>,
    scale: Scale,
    gifts: &[&GiftWish],
    draw: impl Fn(usize) -> (DraftGift, Gift) + Sync,
) -> Vec<(DraftGift, Gift)> {
    let like = first_like(request, gifts);
    let firsts: Vec<usize> = (0..gifts.len()).filter(|nth| like[*nth] == *nth).collect();
    let firsts: BTreeMap<usize, (DraftGift, Gift)> =
        firsts.into_par_iter().map(|nth| (nth, draw(nth))).collect();
    let priority = request.contents.settings.weights.priority;
    let own = |(nth, wish): (usize, &&GiftWish)| {
        let (draft, mut gift) = firsts[&like[nth]].clone();
        if is_beyond(gifts, wish) {
            let less = scale.points(priority * f64::from(wish.priority) * BEYOND);
            gift.options.iter_mut().for_each(|option| option.gain -= less);
        }
        let draft = if like[nth] == nth { draft } else { as_own(request.bench, wish, draft) };
        (draft, gift)
    };
    gifts.iter().enumerate().map(own).collect()
}

/// For each gift, which of them is drawn for it: itself, or the first piece like it.
fn first_like(request: &PlanRequest<'_>, gifts: &[&GiftWish]) -> Vec<usize> {
    let mut first: BTreeMap<(&str, &[SizeId]), usize> = BTreeMap::new();
    let mut like = Vec::new();
    let planned = |gift: &GiftWish| request.contents.set_aside(&gift.id).next().is_some();
    for (nth, gift) in gifts.iter().enumerate() {
        like.push(match &gift.piece {
            // A piece with options of its own, or with a way it was to be knitted, is like no other.
            Some(piece) if gift.scaled.is_empty() && !planned(gift) => {
                *first.entry((&piece.entry, &piece.sizes)).or_insert(nth)
            }
            _ => nth,
        });
    }
    like
}

/// The drawing of another piece as that of this one.
fn as_own(bench: &Workbench, wish: &GiftWish, like: DraftGift) -> DraftGift {
    let mut own = DraftGift { id: wish.id.clone(), ..like };
    for option in &mut own.options {
        option.piece.id = wish.id.as_str().into();
        option.minutes = bench.working.minutes(&wish.id, &option.garment, option.work_minutes);
    }
    own
}
