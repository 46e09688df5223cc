use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{Entries, LinkKind, check_unique, id, name, some_mass};
use crate::field::{Field, Reading};
use crate::shape;
use knit::stash::Remnant;

/// The remnants of a stash.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StashToml {
    #[serde(default)]
    remnant: Vec<RemnantToml>,
}

/// A ball, a cone's end, a pocketful of one yarn.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RemnantToml {
    /// A name of its own: small letters, digits and hyphens.
    #[schemars(required)]
    id: Option<Field<String>>,
    /// The yarn: the name of its file in yarns, without .toml.
    #[schemars(required)]
    yarn: Option<Field<String>>,
    /// What it weighs, without the cone: "34 g".
    #[schemars(required)]
    weight: Option<Field<String>>,
    /// The dye lot on the band.
    lot: Option<String>,
    /// How far into the colour sequence the outer end is: "2.5 m".
    start: Option<Field<String>>,
    /// Where it lies: the name of a place, as knitters say where they are.
    #[serde(rename = "where")]
    place: Option<Field<String>>,
    /// A gift's id or a person's name: only these are knitted from it. Anything else, and no plan
    /// touches it.
    keep_for: Option<Field<String>>,
    note: Option<String>,
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<Remnant> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<StashToml>(reading) else { return entries };
    let ids: Vec<_> = parsed.remnant.iter().filter_map(|r| r.id.as_ref()).collect();
    check_unique(reading, "remnants", &ids);
    for entry in parsed.remnant {
        let own = id(reading, entry.id.as_ref());
        let yarn = entry.yarn.as_ref().map(|yarn| entries.link(LinkKind::Yarn, yarn));
        let weight = entry.weight.as_ref().and_then(|field| some_mass(reading, field));
        let start = entry.start.as_ref().map(|field| reading.quantity(field));
        let place = entry.place.as_ref().and_then(|field| name(reading, Some(field)));
        let keep_for = entry.keep_for.as_ref().and_then(|field| name(reading, Some(field)));
        if let (Some(_), Some(field)) = (&keep_for, &entry.keep_for) {
            entries.link(LinkKind::KeptFor, field);
        }
        if let Some(own) = &own {
            entries.claim(own, entry.id.as_ref());
        }
        if let (Some(id), Some(yarn), Some(weight)) = (own, yarn, weight)
            && start != Some(None)
        {
            entries.sound.push(Remnant {
                id,
                yarn,
                weight,
                lot: entry.lot,
                start: start.flatten(),
                place,
                keep_for,
                note: entry.note,
            });
        }
    }
    entries
}
