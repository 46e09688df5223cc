//! What a plan says of several knitters, of yarn that is kept and of what it aims at. A plan of one
//! knitter who keeps nothing has none of it.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::minutes_told::MinutesTold;
use knit::estimate::Minutes;
use knit::gift_plan::{GiftPlan, Kept, KeptWhy, LeftOut, Many, PlannedGift};
use knit::stash::Aim;

/// The machine a gift is knitted on, and by whom.
pub fn bed_of(gift: &PlannedGift) -> String {
    match &gift.knitter {
        Some(knitter) => format!("{}, by {knitter}", gift.machine_title),
        None => gift.machine_title.clone(),
    }
}

/// Who knits how many gifts, in what time, in the order in which they begin.
pub fn work_of_each(plan: &GiftPlan) -> Vec<String> {
    let line = |(knitter, gifts, minutes): (&str, usize, Minutes)| {
        let gifts = if gifts == 1 { "1 gift".to_owned() } else { format!("{gifts} gifts") };
        format!("{knitter}: {gifts}, {}", MinutesTold::of(&minutes).about())
    };
    plan.work_of_each().into_iter().map(line).collect()
}

/// What is told of several knitters and of kept yarn, each with its heading; what is empty is left out.
pub fn lists(plan: &GiftPlan) -> Vec<(&'static str, Vec<String>)> {
    let all = [
        ("Many of a kind", many(plan)),
        ("Who knits", work_of_each(plan)),
        ("Yarn that travels", travels(plan)),
        ("Yarn that is kept", kept(plan)),
    ];
    all.into_iter().filter(|(_, lines)| !lines.is_empty()).collect()
}

/// Of many of a kind how many are made in which sizes, a line each.
fn many(plan: &GiftPlan) -> Vec<String> {
    let line = |many: &Many| {
        let sizes = many.sizes.iter().map(|(size, made)| format!("{made} in {size}"));
        let sizes: Vec<String> = sizes.collect();
        let made = match many.made {
            0 => format!("{}: none of {}", many.entry, many.of),
            made => format!("{}: {made} of {}: {}", many.entry, many.of, sizes.join(", ")),
        };
        match many.before {
            0 => made,
            before => format!("{made}; {before} in hand or done before"),
        }
    };
    plan.many.iter().map(line).collect()
}

/// The name of a gift with whom it is for; of many for nobody by name just the name.
pub fn with_person(gift: &str, person: &str) -> String {
    if person.is_empty() { gift.to_owned() } else { format!("{gift} for {person}") }
}

/// The gifts left out, each with its name and whom it is for. Of many of a kind those that are left
/// out for the same reasons are told once.
pub fn left_out(plan: &GiftPlan) -> Vec<(String, &LeftOut)> {
    let mut told: Vec<(&LeftOut, usize)> = Vec::new();
    for gift in &plan.left_out {
        let like = |other: &&mut (&LeftOut, usize)| {
            let entry = entry_of(plan, &gift.id);
            entry.is_some()
                && entry == entry_of(plan, &other.0.id)
                && (&gift.reasons, &gift.ways) == (&other.0.reasons, &other.0.ways)
        };
        match told.iter_mut().find(like) {
            Some((_, more)) => *more += 1,
            None => told.push((gift, 0)),
        }
    }
    let named = |(gift, more): (&'_ LeftOut, usize)| {
        let own = with_person(&gift.id, &gift.person);
        if more == 0 { own } else { format!("{own} and {more} more like it") }
    };
    told.into_iter().map(|(gift, more)| (named((gift, more)), gift)).collect()
}

/// The entry that a gift is one of many of.
pub fn entry_of<'a>(plan: &'a GiftPlan, gift: &str) -> Option<&'a str> {
    let own = |many: &&Many| {
        let rest = gift.strip_prefix(many.entry.as_str()).and_then(|rest| rest.strip_prefix('-'));
        rest.is_some_and(|nth| nth.parse::<u32>().is_ok())
    };
    plan.many.iter().find(own).map(|many| many.entry.as_str())
}

/// What yarn goes from where to whom, a line each.
pub fn travels(plan: &GiftPlan) -> Vec<String> {
    let line = |travel: &knit::gift_plan::Travel| {
        format!(
            "{}, {:.1} g: from {} to {}, for {}",
            travel.remnant, travel.grams, travel.from, travel.to, travel.knitter
        )
    };
    plan.travels.iter().map(line).collect()
}

/// What yarn is kept, a line each.
pub fn kept(plan: &GiftPlan) -> Vec<String> {
    plan.kept.iter().map(kept_line).collect()
}

fn kept_line(kept: &Kept) -> String {
    let Kept { remnant, yarn, grams, why } = kept;
    match why {
        KeptWhy::For(whom) => format!("{remnant}, {grams:.1} g: for {whom} alone"),
        KeptWhy::Else(what) => {
            format!("{remnant}, {grams:.1} g: kept for {what}, not planned with")
        }
        KeptWhy::Reserve => {
            format!("{remnant}, {grams:.1} g: the reserve of {yarn}, not planned with")
        }
    }
}

/// What the plan aims at, where somebody said so.
pub fn aim(plan: &GiftPlan) -> Option<String> {
    let what = match plan.aim? {
        Aim::MostGifts => "as many gifts as can be, those that matter more first",
        Aim::UseUp => "as many grams used up as can be",
        Aim::FewBalls => "as few balls begun as can be",
        Aim::LeastTime => "as little time as can be",
    };
    Some(format!("Its aim: {what}."))
}

/// Keys of the plan as data, beside the others: those that have something to say.
pub(super) fn keys(plan: &GiftPlan) -> Vec<(&'static str, Value)> {
    let travels = plan.travels.iter().map(|travel| {
        json!({"remnant": travel.remnant, "grams": travel.grams, "from": travel.from,
               "to": travel.to, "knitter": travel.knitter})
    });
    let kept = plan.kept.iter().map(|kept| {
        let (key, what) = match &kept.why {
            KeptWhy::For(whom) => ("for", Value::from(whom.as_str())),
            KeptWhy::Else(what) => ("for_something_else", Value::from(what.as_str())),
            KeptWhy::Reserve => ("reserve", Value::from(true)),
        };
        json!({"remnant": kept.remnant, "yarn": kept.yarn, "grams": kept.grams, key: what})
    });
    let many = plan.many.iter().map(|many| {
        json!({"gift": many.entry, "count": many.of, "made": many.made, "before": many.before,
               "sizes": many.sizes.iter().cloned().collect::<BTreeMap<_, _>>()})
    });
    let several = plan.gifts.iter().any(|gift| gift.knitter.is_some());
    let mut keys = Vec::new();
    keys.extend(several.then(|| ("travels", travels.collect())));
    keys.extend((!plan.kept.is_empty()).then(|| ("kept", kept.collect())));
    keys.extend((!plan.many.is_empty()).then(|| ("many", many.collect())));
    keys.extend(plan.aim.map(|aim| ("aim", Value::from(aim.name()))));
    keys
}
