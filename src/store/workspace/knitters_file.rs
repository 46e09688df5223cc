use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{Entries, LinkKind, check_unique, name};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic};
use knit::stash::Knitter;

/// Who knits. Without the file, or with nobody in it, whoever keeps the workspace knits all.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct KnittersToml {
    #[serde(default)]
    knitter: Vec<KnitterToml>,
}

/// Someone who knits.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct KnitterToml {
    /// What they are called: gifts name their knitter so.
    #[schemars(required)]
    name: Option<Field<String>>,
    /// The machines they have: fine, standard, mid, bulky, or those of machines.toml. Left out: any.
    #[serde(default)]
    machines: Vec<Field<String>>,
    /// Hours a week at the machine; left out: as in the settings.
    hours_a_week: Option<Field<f64>>,
    /// Where they are: the name of a place, as remnants say where they lie.
    #[serde(rename = "where")]
    place: Option<Field<String>>,
    note: Option<String>,
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<Knitter> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<KnittersToml>(reading) else { return entries };
    let names: Vec<_> = parsed.knitter.iter().filter_map(|k| k.name.as_ref()).collect();
    check_unique(reading, "knitters called", &names);
    for entry in &parsed.knitter {
        let told = reading.faults.iter().count();
        let knitter = knitter(entry, &mut entries, reading);
        if reading.faults.iter().count() == told {
            entries.sound.extend(knitter);
        }
    }
    entries
}

fn knitter(
    entry: &KnitterToml,
    entries: &mut Entries<Knitter>,
    reading: &mut Reading<'_>,
) -> Option<Knitter> {
    let own = name(reading, entry.name.as_ref());
    if let Some(own) = &own {
        entries.claim(own, entry.name.as_ref());
    }
    let machines =
        entry.machines.iter().map(|field| entries.link(LinkKind::Machine, field)).collect();
    let hours_a_week = entry.hours_a_week.as_ref().and_then(|field| hours(reading, field));
    let place = entry.place.as_ref().and_then(|field| name(reading, Some(field)));
    Some(Knitter { name: own?, machines, hours_a_week, place, note: entry.note.clone() })
}

fn hours(reading: &mut Reading<'_>, field: &Field<f64>) -> Option<f64> {
    const MOST: f64 = 168.0;
    let hours = *field.get_ref();
    if (0.0..=MOST).contains(&hours) {
        return Some(hours);
    }
    let fault = Diagnostic::error(Code::Range, format!("{hours} is out of range"))
        .hint(format!("give a number from 0, for who can't just now, to {MOST}"));
    reading.fault(field, fault);
    None
}
