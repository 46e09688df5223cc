//! What a plan changes of the one that was accepted.

use std::collections::{BTreeMap, BTreeSet};

use super::PlanRequest;
use knit::gift_plan::{Change, PlannedGift, SinceBefore};
use knit::stash::{Contents, GiftWish, Reservation};

/// Says of each gift what has become of it, and counts. Nothing where no gift of an accepted plan was planned
/// again. `out` are the gifts left out.
pub(super) fn tell_changes<'a>(
    request: &PlanRequest<'_>,
    gifts: &mut [PlannedGift],
    out: impl Iterator<Item = &'a str>,
) -> Option<SinceBefore> {
    let contents = request.contents;
    let was_planned = |id: &str| contents.set_aside(id).next().is_some();
    let mut since = SinceBefore {
        dropped: out.filter(|id| was_planned(id)).map(str::to_owned).collect(),
        ..SinceBefore::default()
    };
    since.gifts = since.dropped.len() + gifts.iter().filter(|gift| was_planned(&gift.id)).count();
    if since.gifts == 0 {
        return None;
    }
    since.changed = since.dropped.len();
    for gift in gifts {
        let change = change(contents, gift);
        since.changed += usize::from(change.is_change());
        since.other_balls += usize::from(change == Change::OtherBalls);
        gift.change = Some(change);
    }
    Some(since)
}

fn change(contents: &Contents, gift: &PlannedGift) -> Change {
    let before: Vec<&Reservation> = contents.set_aside(&gift.id).collect();
    let Some(first) = before.first() else { return Change::New };
    let (lots, balls) = lots_and_balls(contents, &before);
    let sections = gift.sections.iter().map(|section| {
        let own = BTreeSet::from([Some((section.yarn.as_str(), section.lot.as_deref()))]);
        (section.name.as_str(), own)
    });
    let now: BTreeMap<&str, BTreeSet<Lot<'_>>> = sections.collect();
    let taken = gift.sections.iter().flat_map(|section| {
        section.chunks.iter().map(|(remnant, _)| (section.name.as_str(), remnant.as_str()))
    });
    if first.knitted_as.as_ref().is_some_and(|made| made.garment != gift.garment)
        || !now.keys().eq(lots.keys())
    {
        Change::OtherGarment
    } else if now != lots {
        Change::OtherYarn
    } else if first
        .knitted_as
        .as_ref()
        .is_some_and(|made| made.machine != gift.machine || made.swatch != gift.swatch)
    {
        Change::OtherGauge
    } else if first.knitter.as_ref().is_some_and(|own| gift.knitter.as_ref() != Some(own)) {
        Change::OtherKnitter
    } else if contents.gift(&gift.id).and_then(grown) != gift.scaled.as_ref() {
        Change::OtherSize
    } else if taken.collect::<BTreeSet<_>>() != balls {
        Change::OtherBalls
    } else {
        Change::AsBefore
    }
}

/// Yarn and dye lot; `None` of a remnant that is gone.
type Lot<'a> = Option<(&'a str, Option<&'a str>)>;
type LotsAndBalls<'a> = (BTreeMap<&'a str, BTreeSet<Lot<'a>>>, BTreeSet<(&'a str, &'a str)>);

/// By section the lots that were set aside for it, and section by section the balls.
fn lots_and_balls<'a>(contents: &'a Contents, before: &[&'a Reservation]) -> LotsAndBalls<'a> {
    let mut lots: BTreeMap<&str, BTreeSet<Lot<'_>>> = BTreeMap::new();
    let mut balls = BTreeSet::new();
    for reserved in before {
        let remnant = contents.remnant(&reserved.remnant);
        let lot = remnant.map(|r| (r.yarn.as_str(), r.lot.as_deref()));
        lots.entry(&reserved.section).or_default().insert(lot);
        balls.insert((reserved.section.as_str(), reserved.remnant.as_str()));
    }
    (lots, balls)
}

/// The value that the accepted plan chose for the yarn there was.
fn grown(wish: &GiftWish) -> Option<&(String, String)> {
    wish.scaled.first()
}
