use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{Entries, LinkKind, name, some_mass};
use crate::field::{Field, Reading};
use crate::shape;
use knit::stash::{KnittedAs, Reservation};

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
    /// The garment that the plan has the gift knitted as: a new plan changes it only for good reason.
    garment: Option<Field<String>>,
    /// The machine it is to be knitted on.
    machine: Option<Field<String>>,
    /// The swatch it is graded on; without one the gauge is an estimate.
    swatch: Option<Field<String>>,
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
            let knitted_as = knitted_as(entry);
            entries.sound.push(Reservation { gift, section, remnant, weight, knitted_as, knitter });
        }
    }
    entries
}

/// Known where the garment and the machine are. A garment that is gone since is no fault: then the gift
/// can't be knitted as it was planned, and a new plan says so.
fn knitted_as(entry: &ReservationToml) -> Option<KnittedAs> {
    let text =
        |field: &Option<Field<String>>| field.as_ref().map(|f| f.get_ref().trim().to_owned());
    let (garment, machine) = (text(&entry.garment)?, text(&entry.machine)?);
    Some(KnittedAs { garment, machine, swatch: text(&entry.swatch) })
}
