use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use super::gifts_file::{in_order, options};
use super::reading::{Choice, Entries, LinkKind, date, spanned};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic};
use knit::stash::{FinishedPiece, WeighedSection};
use units::Mass;

/// Pieces that were knitted and weighed.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RecordsToml {
    #[serde(default)]
    record: Vec<Field<RecordToml>>,
}

/// A finished piece: what estimates learn from.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RecordToml {
    /// Id of the garment.
    #[schemars(required)]
    garment: Option<Field<String>>,
    /// A size of the table, or the name of the person it was made to measure for.
    #[schemars(required)]
    size: Option<Field<String>>,
    #[serde(default)]
    options: BTreeMap<Field<String>, Field<Choice>>,
    /// Id of the yarn.
    #[schemars(required)]
    yarn: Option<Field<String>>,
    /// Id of the machine profile.
    machine: Option<Field<String>>,
    /// Id of the swatch it was graded on.
    swatch: Option<Field<String>>,
    /// By section: the yarn on the scale before and after.
    #[serde(default)]
    #[schemars(required)]
    sections: BTreeMap<Field<String>, Field<SectionToml>>,
    /// Minutes of work on it, at the machine and off it.
    minutes: Option<Field<f64>>,
    /// The day it was done: "2026-03-01".
    date: Option<Field<String>>,
    note: Option<String>,
    /// What the records of one piece have in common.
    piece: Option<String>,
    /// It is right, however odd it looks: estimates learn from it all the same.
    #[serde(default)]
    sure: bool,
}

/// The yarn before and after a section was knitted: "50 g", "38 g".
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SectionToml {
    #[schemars(required)]
    before: Option<Field<String>>,
    #[schemars(required)]
    after: Option<Field<String>>,
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<FinishedPiece> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<RecordsToml>(reading) else { return entries };
    for entry in &parsed.record {
        let told = reading.faults.iter().count();
        let record = record(entry.get_ref(), &mut entries, reading);
        if reading.faults.iter().count() == told {
            entries.sound.extend(record);
        }
    }
    entries
}

fn record(
    entry: &RecordToml,
    entries: &mut Entries<FinishedPiece>,
    reading: &mut Reading<'_>,
) -> Option<FinishedPiece> {
    let mut link =
        |kind, field: &Option<Field<String>>| field.as_ref().map(|field| entries.link(kind, field));
    let garment = link(LinkKind::Garment, &entry.garment);
    let yarn = link(LinkKind::Yarn, &entry.yarn);
    let machine = link(LinkKind::Machine, &entry.machine);
    let swatch = link(LinkKind::Swatch, &entry.swatch);
    let size = link(LinkKind::Wearer, &entry.size);
    let sections = in_order(&entry.sections)
        .into_iter()
        .filter_map(|(name, field)| section(name, field, reading))
        .collect();
    Some(FinishedPiece {
        garment: garment?,
        size: size?,
        options: options(&entry.options),
        yarn: yarn?,
        machine,
        swatch,
        sections,
        minutes: entry.minutes.as_ref().and_then(|field| minutes(reading, field)),
        date: entry.date.as_ref().and_then(|field| date(reading, field)),
        note: entry.note.clone(),
        piece: entry.piece.clone(),
        sure: entry.sure,
    })
}

fn minutes(reading: &mut Reading<'_>, field: &Field<f64>) -> Option<f64> {
    let minutes = *field.get_ref();
    if FinishedPiece::MINUTES.contains(&minutes) {
        return Some(minutes);
    }
    let fault = Diagnostic::error(Code::Range, format!("{minutes} minutes can't be so"))
        .hint(FinishedPiece::MINUTES_HINT);
    reading.fault(field, fault);
    None
}

fn section(
    name: &str,
    field: &Field<SectionToml>,
    reading: &mut Reading<'_>,
) -> Option<WeighedSection> {
    let table = field.get_ref();
    let before: Option<Mass> = table.before.as_ref().and_then(|f| reading.quantity(f));
    let after: Option<Mass> = table.after.as_ref().and_then(|f| reading.quantity(f));
    let (before, after) = (before?, after?);
    if before.grams() <= after.grams() {
        let at = table.after.as_ref().map_or(field.span(), |f| f.span());
        let fault = Diagnostic::error(Code::NoYarnUsed, format!("the {name} took no yarn at all"))
            .hint("before is what was on the scale at the start, after what was left");
        reading.fault(&spanned(at), fault);
        return None;
    }
    Some(WeighedSection { name: name.to_owned(), before, after })
}
