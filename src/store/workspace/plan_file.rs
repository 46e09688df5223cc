use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{Entries, LinkKind, name, some_mass};
use crate::field::{Field, Reading};
use crate::shape;
use knit::stash::Reservation;

/// The plan that was accepted: yarn set aside.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PlanToml {
    #[serde(default)]
    reservation: Vec<ReservationToml>,
}

/// So much of a remnant for a section of a gift.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ReservationToml {
    /// Id of the gift.
    #[schemars(required)]
    gift: Option<Field<String>>,
    /// Section of the garment.
    #[schemars(required)]
    section: Option<Field<String>>,
    /// Id of the remnant.
    #[schemars(required)]
    remnant: Option<Field<String>>,
    /// "12.5 g".
    #[schemars(required)]
    weight: Option<Field<String>>,
    /// Who knits it: a name in knitters.toml.
    knitter: Option<Field<String>>,
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<Reservation> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<PlanToml>(reading) else { return entries };
    for entry in &parsed.reservation {
        let before = entries.links.len();
        let gift = entry.gift.as_ref().map(|field| entries.link(LinkKind::Gift, field));
        let remnant = entry.remnant.as_ref().map(|field| entries.link(LinkKind::Remnant, field));
        let knitter = entry.knitter.as_ref().map(|field| entries.link(LinkKind::Knitter, field));
        // A gift or a remnant that was taken out by hand leaves its yarn set aside.
        for link in &mut entries.links[before..] {
            link.way_out = gift.as_ref().map(|gift| {
                format!("`oddments gifts free {gift}` frees what is set aside for that gift")
            });
        }
        let section = name(reading, entry.section.as_ref());
        let weight = entry.weight.as_ref().and_then(|field| some_mass(reading, field));
        if let (Some(gift), Some(section), Some(remnant), Some(weight)) =
            (gift, section, remnant, weight)
        {
            entries.sound.push(Reservation { gift, section, remnant, weight, knitter });
        }
    }
    entries
}
