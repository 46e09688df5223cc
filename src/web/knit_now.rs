//! From a gift to the page at the machine: its garment in the size of whoever it is for, with the options,
//! the swatch and the yarn that a plan has chosen.

use super::state::Shared;
use app::Ask;
use knit::gift_plan::{GiftPlan, PlannedGift};
use knit::stash::{Contents, GiftState, GiftWish};

/// A way to the machine.
pub(super) struct Knit {
    /// Blank where its yarn was never swatched: at the machine the gauge would be a guess.
    pub href: String,
    /// Where it is graded.
    pub grade: String,
    /// Its pieces with their measures, and how it will look in the colours of these balls.
    pub picture: String,
    pub round: String,
    /// Who it is for, and what.
    pub what: String,
    /// Yarns and colours, a line a section.
    pub yarns: Vec<String>,
}

/// What a plan says of how a gift is knitted.
struct How<'a> {
    garment: &'a str,
    machine: &'a str,
    swatch: Option<&'a str>,
    /// Of many for nobody by name: the size as it is labelled.
    size_label: Option<&'a str>,
    options: Vec<(String, String)>,
    /// Section, remnant and grams, in the order in which they are joined.
    balls: Vec<(&'a str, &'a str, f64)>,
}

/// A gift whose yarn is set aside, or that is on the machine already. Nothing where the plan doesn't say as
/// what.
pub(super) fn of_gift(shared: &Shared, contents: &Contents, gift: &GiftWish) -> Option<Knit> {
    let standing = contents.gift_state(gift);
    if !matches!(standing, GiftState::SetAside | GiftState::OnMachine) {
        return None;
    }
    let own: Vec<_> = contents.set_aside(&gift.id).collect();
    let known = own.iter().find_map(|reservation| reservation.knitted_as.as_ref())?;
    let balls =
        own.iter().map(|own| (own.section.as_str(), own.remnant.as_str(), own.weight.grams()));
    let how = How {
        garment: &known.garment,
        machine: &known.machine,
        swatch: known.swatch.as_deref(),
        size_label: None,
        options: gift.options.clone(),
        balls: balls.collect(),
    };
    knit(shared, contents, gift, how)
}

/// A gift as a plan has it that need not be accepted yet.
pub(super) fn of_planned(
    shared: &Shared,
    contents: &Contents,
    planned: &PlannedGift,
) -> Option<Knit> {
    let gift = contents.gift(&planned.id)?;
    let balls = planned.sections.iter().flat_map(|section| {
        let chunks = section.chunks.iter();
        chunks.map(|(remnant, grams)| (section.name.as_str(), remnant.as_str(), *grams))
    });
    let how = How {
        garment: &planned.garment,
        machine: &planned.machine,
        swatch: planned.swatch.as_deref(),
        size_label: Some(&planned.size_label),
        options: gift.asked().cloned().chain(planned.scaled.clone()).collect(),
        balls: balls.collect(),
    };
    knit(shared, contents, gift, how)
}

/// What is to be knitted first of what has its yarn: what is on the machine already, then by its day, then what
/// matters most.
pub(super) fn next_gift<'a>(
    shared: &Shared,
    contents: &'a Contents,
) -> Option<(&'a GiftWish, Knit)> {
    let mut gifts: Vec<&GiftWish> = contents.gifts.iter().collect();
    gifts.sort_by_key(|gift| {
        let begun = contents.gift_state(gift) != GiftState::OnMachine;
        (begun, gift.due.is_none(), gift.due, std::cmp::Reverse(gift.priority))
    });
    let knitted = |gift| of_gift(shared, contents, gift).filter(Knit::is_swatched);
    gifts.into_iter().find_map(|gift| Some((gift, knitted(gift)?)))
}

/// What is to be knitted first of a plan.
pub(super) fn next_planned(
    shared: &Shared,
    contents: &Contents,
    plan: &GiftPlan,
) -> Option<(String, Knit)> {
    plan.gifts.iter().find_map(|planned| {
        contents.gift(&planned.id).filter(|gift| !gift.stage.is_over())?;
        let knit = of_planned(shared, contents, planned).filter(Knit::is_swatched)?;
        Some((planned.id.clone(), knit))
    })
}

impl Knit {
    fn is_swatched(&self) -> bool {
        !self.href.is_empty()
    }
}

fn knit(shared: &Shared, contents: &Contents, gift: &GiftWish, how: How<'_>) -> Option<Knit> {
    let (plugin, _) = shared.garment(how.garment).ok()?;
    let person = Some(gift.person.clone()).filter(|name| !name.is_empty());
    let sizes = shared.bench.sizes.sizes();
    let label = how.size_label;
    let of_many = || match (label, gift.piece.as_ref()?.sizes.as_slice()) {
        (Some(label), _) => sizes.iter().find(|s| s.label == label).map(|s| s.id.to_string()),
        (None, [one]) => Some(one.to_string()),
        _ => None,
    };
    let size = if person.is_some() { None } else { Some(of_many()?) };
    let mut options: Vec<(String, String)> =
        how.options.into_iter().filter(|(name, _)| plugin.takes(name)).collect();
    options.sort();
    let whom = person.clone().or_else(|| size.clone()).unwrap_or_default();
    let ask = Ask {
        garment: Some(how.garment.to_owned()),
        machine: Some(how.machine.to_owned()),
        sizes: size,
        person,
        swatch_id: how.swatch.map(str::to_owned),
        options,
        balls: how.balls.iter().filter_map(|ball| ball_of(contents, ball)).collect(),
        starts: starts_of(contents, &how.balls),
        ..Ask::default()
    };
    let query = ask.query();
    Some(Knit {
        href: how.swatch.map_or_else(String::new, |_| format!("/machine?{query}")),
        grade: format!("/grade?{query}"),
        picture: format!("/api/v1/pattern?{query}&format=svg&picture=schematic"),
        round: format!("/api/v1/pattern?{query}&format=svg&picture=round"),
        what: format!("{} for {whom}", plugin.manifest.title),
        yarns: how.balls.iter().map(|ball| told(contents, ball)).collect(),
    })
}

/// A ball as the request names it: `hat=shoreline@34g`.
fn ball_of(contents: &Contents, (section, remnant, grams): &(&str, &str, f64)) -> Option<String> {
    let yarn = &contents.remnant(remnant)?.yarn;
    Some(format!("{section}={yarn}@{grams:.1}g"))
}

/// Where the first ball of each section begins in its colours, where that is known.
fn starts_of(contents: &Contents, balls: &[(&str, &str, f64)]) -> Vec<String> {
    let mut seen: Vec<&str> = Vec::new();
    let mut starts = Vec::new();
    for (section, remnant, _) in balls {
        if seen.contains(section) {
            continue;
        }
        seen.push(section);
        let start = contents.remnant(remnant).and_then(|remnant| remnant.start);
        starts.extend(start.map(|start| format!("{section}={:.2} m", start.mm() / 1000.0)));
    }
    starts
}

fn told(contents: &Contents, (section, remnant, grams): &(&str, &str, f64)) -> String {
    let yarn = contents.remnant(remnant).and_then(|own| contents.yarns.get(&own.yarn));
    let colours = yarn.map(|yarn| {
        let families: Vec<&str> = yarn.colour_families().iter().map(|f| f.name()).collect();
        format!("{}, {}", yarn.name, families.join(", "))
    });
    format!("{section}: {grams:.1} g of {remnant} ({})", colours.unwrap_or_default())
}
