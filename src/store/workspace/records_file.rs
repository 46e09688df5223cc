use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use schemars::JsonSchema;
use serde::Deserialize;

use super::gifts_file::{check_turns, in_order, options};
use super::reading::{Choice, Entries, LinkKind, date, spanned};
use super::sure_toml::SureToml;
use crate::field::{Field, Reading};
use crate::said_number::said;
use crate::shape;
use diag::{Code, Diagnostic};
use knit::operation::Operation;
use knit::program::Structure;
use knit::stash::{FinishedPiece, KnittedSection, WeighedSection};
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
    /// By section: how many stitches of each fabric it has, as they were counted when it was recorded. What
    /// has none is knitted again for what it should have weighed.
    #[serde(default)]
    stitches: BTreeMap<Field<String>, Numbers>,
    /// By section: metres of yarn in ends, seams and sewing.
    #[serde(default)]
    sewing_m: Numbers,
    /// By fabric: the yarn in a stitch by the gauge it was knitted to, in mm.
    #[serde(default)]
    loop_mm: Numbers,
    /// Minutes of work on the sections weighed, at the machine and off it.
    minutes: Option<Field<f64>>,
    /// By section that the minutes are of: what was done in it, and how often. What has none is knitted again.
    #[serde(default)]
    work: BTreeMap<Field<String>, Numbers>,
    /// The day it was done: "2026-03-01".
    date: Option<Field<String>>,
    note: Option<String>,
    /// What the records of one piece have in common.
    piece: Option<String>,
    /// It is right, however odd it looks: estimates learn from it all the same. Of a list only what it names:
    /// ["grams"], ["minutes"].
    #[serde(default)]
    sure: SureToml,
}

/// A number each, by name.
type Numbers = BTreeMap<Field<String>, Field<f64>>;

/// The yarn before and after a section was knitted: "50 g", "38 g".
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SectionToml {
    #[schemars(required)]
    before: Option<Field<String>>,
    #[schemars(required)]
    after: Option<Field<String>>,
}

/// The pieces, each with the line that it begins in.
pub(super) fn read(reading: &mut Reading<'_>) -> Entries<(FinishedPiece, u32)> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<RecordsToml>(reading) else { return entries };
    let (mut line, mut from) = (1, 0);
    for entry in &parsed.record {
        // From one to the next: a file is not counted through from its start for each of a thousand.
        let at = entry.span().start.max(from);
        line += reading.text.get(from..at).map_or(0, |text| text.matches('\n').count()) as u32;
        from = at;
        let told = reading.faults.iter().count();
        let record = record(entry.get_ref(), &mut entries, reading);
        if reading.faults.iter().count() == told {
            entries.sound.extend(record.map(|record| (record, line)));
        }
    }
    entries
}

fn record(
    entry: &RecordToml,
    entries: &mut Entries<(FinishedPiece, u32)>,
    reading: &mut Reading<'_>,
) -> Option<FinishedPiece> {
    let mut link =
        |kind, field: &Option<Field<String>>| field.as_ref().map(|field| entries.link(kind, field));
    let garment = link(LinkKind::Garment, &entry.garment);
    let yarn = link(LinkKind::Yarn, &entry.yarn);
    let machine = link(LinkKind::Machine, &entry.machine);
    let swatch = link(LinkKind::Swatch, &entry.swatch);
    let size = link(LinkKind::Wearer, &entry.size);
    check_turns(&entry.options, reading);
    let sections = in_order(&entry.sections)
        .into_iter()
        .filter_map(|(name, field)| section(name, field, reading))
        .collect();
    let known = Known { stitches: &entry.stitches, sewing_m: &entry.sewing_m };
    Some(FinishedPiece {
        knitted: known.read(reading),
        loop_mm: numbers(&entry.loop_mm, &LOOP_MM, reading)
            .into_iter()
            .filter_map(|(fabric, mm)| Some((fabric_of(fabric, reading)?, mm)))
            .collect(),
        work: work(&entry.work, reading),
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
        sure: entry.sure.read(reading),
    })
}

/// What a number may be, and what it is in words.
type Bounds = (RangeInclusive<f64>, &'static str);

const STITCHES: Bounds = (1.0..=1.0e9, "stitches of a section are a whole number above nothing");
const SEWING_M: Bounds = (0.0..=1.0e5, "give the metres of ends, seams and sewing");
const LOOP_MM: Bounds = (0.5..=500.0, "give the yarn in a stitch in mm");
const WORK: Bounds = (0.0..=1.0e9, "give how often it was done");

/// In the order in which they stand, each within its bounds.
fn numbers<'n>(
    all: &'n Numbers,
    (range, hint): &Bounds,
    reading: &mut Reading<'_>,
) -> Vec<(&'n Field<String>, f64)> {
    let mut found = Vec::new();
    for (name, field) in all {
        let number = *field.get_ref();
        if range.contains(&number) {
            found.push((name, number));
        } else {
            let fault = format!("{} can't be so", said(number));
            reading.fault(field, Diagnostic::error(Code::Range, fault).hint(*hint));
        }
    }
    found.sort_by_key(|(name, _)| name.span().start);
    found
}

fn fabric_of(field: &Field<String>, reading: &mut Reading<'_>) -> Option<Structure> {
    let names = Structure::ALL.map(Structure::name);
    reading.word(field, "fabric", &names, Structure::parse)
}

/// What was counted when the piece was recorded.
struct Known<'t> {
    stitches: &'t BTreeMap<Field<String>, Numbers>,
    sewing_m: &'t Numbers,
}

impl Known<'_> {
    fn read(&self, reading: &mut Reading<'_>) -> Vec<KnittedSection> {
        let sewing = numbers(self.sewing_m, &SEWING_M, reading);
        let of_section = |(name, counts): (&Field<String>, &Numbers)| KnittedSection {
            name: name.get_ref().clone(),
            stitches: numbers(counts, &STITCHES, reading)
                .into_iter()
                .filter_map(|(field, count)| Some((fabric_of(field, reading)?, count as u64)))
                .collect(),
            sewing_m: sewing
                .iter()
                .find(|(own, _)| own.get_ref() == name.get_ref())
                .map_or(0.0, |(_, metres)| *metres),
        };
        self.stitches.iter().map(of_section).collect()
    }
}

fn work(
    all: &BTreeMap<Field<String>, Numbers>,
    reading: &mut Reading<'_>,
) -> Vec<(String, Vec<(Operation, f64)>)> {
    let names = Operation::ALL.map(Operation::name);
    let of_section = |(name, counts): (&Field<String>, &Numbers)| {
        let counts = numbers(counts, &WORK, reading);
        let named = counts.into_iter().filter_map(|(field, times)| {
            Some((reading.word(field, "operation", &names, Operation::named)?, times))
        });
        (name.get_ref().clone(), named.collect())
    };
    all.iter().map(of_section).collect()
}

fn minutes(reading: &mut Reading<'_>, field: &Field<f64>) -> Option<f64> {
    let minutes = *field.get_ref();
    if FinishedPiece::MINUTES.contains(&minutes) {
        return Some(minutes);
    }
    let fault = Diagnostic::error(Code::Range, format!("{} minutes can't be so", said(minutes)))
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
