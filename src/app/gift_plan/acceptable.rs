use diag::Diagnostics;
use knit::gift_plan::{GiftPlan, PlannedGift};
use knit::stash::{Contents, GiftStage};
use report::gift_words;

/// Gifts that are no longer what the plan was made for: what it would set aside is not for them.
pub(super) fn gifts_changed(contents: &Contents, plan: &GiftPlan, again: bool) -> Diagnostics {
    let mut faults = Diagnostics::new();
    for gift in &plan.gifts {
        let what = changed(contents, gift, again);
        faults.extend(what.map(|what| gift_words::gift_changed(&gift.id, &what)));
    }
    faults
}

fn changed(contents: &Contents, planned: &PlannedGift, again: bool) -> Option<String> {
    let Some(wish) = contents.gift(&planned.id) else { return Some("was removed".to_owned()) };
    if wish.stage != GiftStage::Wished {
        return Some(format!("is {}", wish.stage.name()));
    }
    if contents.set_aside(&wish.id).next().is_some() && (!again || wish.keep) {
        return Some("has had its yarn set aside".to_owned());
    }
    if wish.person != planned.person {
        return Some(format!("is for {}, no longer for {},", wish.person, planned.person));
    }
    let may = wish.garment.allows(&planned.garment);
    (!may).then(|| format!("may no longer be a {}", planned.garment))
}
