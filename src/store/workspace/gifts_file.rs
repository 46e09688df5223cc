use std::collections::BTreeMap;
use std::ops::Range;

use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{
    Choice, Entries, FileLink, LinkKind, Typed, Words, check_unique, date, id, spanned,
};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic};
use knit::stash::{GarmentChoice, GiftStage, GiftWish};

/// What to knit for whom.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GiftsToml {
    #[serde(default)]
    gift: Vec<GiftToml>,
}

/// Something to knit for someone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct GiftToml {
    /// A name of its own: small letters, digits and hyphens.
    #[schemars(required)]
    id: Option<Field<String>>,
    /// The person's name in people.toml.
    #[schemars(required)]
    person: Option<Field<String>>,
    /// A garment, a list of garments to choose from, or "anything warm".
    #[schemars(required)]
    garment: Option<Field<Words>>,
    /// From 1 (if there is yarn left) to 5 (before all else); 3 where nothing is said.
    priority: Option<Field<i64>>,
    /// The day it is wanted: "2026-12-24".
    due: Option<Field<String>>,
    /// Options of the garment, as after --set; `fix.NAME` is a number it would choose, as after --fix.
    #[serde(default)]
    options: BTreeMap<Field<String>, Field<Choice>>,
    /// What a plan wrote into the options, as large as the yarn went: the next one may choose it anew.
    #[serde(default)]
    scaled: BTreeMap<Field<String>, Field<Choice>>,
    /// A plan without it is no plan.
    #[serde(default)]
    must: bool,
    /// Sections with the remnants they are to be knitted from.
    #[serde(default)]
    pinned: BTreeMap<Field<String>, Field<Words>>,
    /// Sections that are to be of one yarn and one dye lot: ["band", "hat"].
    same: Option<Field<Words>>,
    /// Sections that are each to be of another yarn: ["band", "hat"].
    contrast: Option<Field<Words>>,
    /// Sections of one yarn may be of several dye lots. Where nothing is said they are of one.
    #[serde(default)]
    any_lot: bool,
    /// How far it has come; where nothing is said it is wished. "done" and "given up" are planned
    /// no more.
    #[schemars(extend("enum" = GiftStage::ALL.map(GiftStage::name)))]
    state: Option<Field<String>>,
    /// A new plan leaves alone what is set aside for it.
    #[serde(default)]
    keep: bool,
    note: Option<String>,
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<GiftWish> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<GiftsToml>(reading) else { return entries };
    let ids: Vec<_> = parsed.gift.iter().filter_map(|g| g.id.as_ref()).collect();
    check_unique(reading, "gifts", &ids);
    for entry in &parsed.gift {
        let told = reading.faults.iter().count();
        let gift = gift(entry, &mut entries, reading);
        if reading.faults.iter().count() == told {
            entries.sound.extend(gift);
        }
    }
    entries
}

fn gift(
    entry: &GiftToml,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) -> Option<GiftWish> {
    let own = id(reading, entry.id.as_ref());
    if let Some(own) = &own {
        entries.claim(own, entry.id.as_ref());
    }
    let person = entry.person.as_ref().map(|field| entries.link(LinkKind::Person, field));
    let garment = entry.garment.as_ref().and_then(|field| garments(field, entries, reading));
    let mut priority = GiftWish::MIDDLE_PRIORITY;
    if let Some(field) = &entry.priority {
        match u8::try_from(*field.get_ref()).ok().filter(|p| (1..=5).contains(p)) {
            Some(given) => priority = given,
            None => {
                let fault = format!("a priority of {}", field.get_ref());
                let fault = Diagnostic::error(Code::Priority, fault)
                    .hint("1 is if there is yarn left, 5 before all else");
                reading.fault(field, fault);
            }
        }
    }
    let same = entry.same.as_ref().map_or_else(Vec::new, |field| sections(reading, field));
    let contrast = entry.contrast.as_ref().map_or_else(Vec::new, |field| sections(reading, field));
    if let Some(field) = &entry.contrast {
        let both: Vec<&String> = contrast.iter().filter(|name| same.contains(name)).collect();
        if let [a, b, ..] = both.as_slice() {
            let fault = format!("{a} and {b} are to be the same and to differ");
            let fault =
                Diagnostic::error(Code::Contrary, fault).hint("take one of them out of a list");
            reading.fault(field, fault);
        }
    }
    let stages = GiftStage::ALL.map(GiftStage::name);
    let stage = entry.state.as_ref();
    let stage =
        stage.map(|field| reading.word(field, "state of a gift", &stages, GiftStage::parse));
    let due = entry.due.as_ref().and_then(|field| date(reading, field));
    Some(GiftWish {
        id: own?,
        person: person?,
        garment: garment?,
        priority,
        due,
        options: options(&entry.options),
        scaled: options(&entry.scaled),
        must: entry.must,
        pinned: in_order(&entry.pinned)
            .into_iter()
            .map(|(section, field)| {
                let before = entries.links.len();
                let remnants: Vec<String> = link_all(entries, LinkKind::Remnant, field);
                for link in &mut entries.links[before..] {
                    link.way_out = entry.id.as_ref().map(|own| {
                        let id = own.get_ref();
                        format!("`oddments gifts change {id} --pin {section}=` lets it have any")
                    });
                }
                (section.to_owned(), remnants)
            })
            .collect(),
        same,
        contrast,
        any_lot: entry.any_lot,
        stage: stage.flatten().unwrap_or_default(),
        keep: entry.keep,
        note: entry.note.clone(),
    })
}

/// Names of sections, two at least: of one alone there is nothing to say.
fn sections(reading: &mut Reading<'_>, field: &Field<Words>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for name in field.get_ref().texts() {
        if !name.is_empty() && !names.iter().any(|known| known == name) {
            names.push(name.to_owned());
        }
    }
    if names.len() == 1 {
        let fault =
            Diagnostic::error(Code::Range, "it takes two sections to be the same or to differ")
                .hint("name two sections of the garment, or take the key out");
        reading.fault(field, fault);
    }
    names
}

fn garments(
    field: &Field<Words>,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) -> Option<GarmentChoice> {
    let words = field.get_ref().texts();
    if words.contains(&GarmentChoice::ANY) {
        return Some(GarmentChoice::Any);
    }
    if words.is_empty() {
        let fault = Diagnostic::error(Code::GarmentUnnamed, "no garment is named")
            .hint("name one, list some, or write \"anything warm\"");
        reading.fault(&spanned(field.span()), fault);
        return None;
    }
    Some(GarmentChoice::OneOf(link_all(entries, LinkKind::Garment, field)))
}

fn link_all(entries: &mut Entries<GiftWish>, kind: LinkKind, field: &Field<Words>) -> Vec<String> {
    let words: Vec<Range<usize>> = match field.get_ref() {
        Words::One(_) => vec![field.span()],
        Words::Many(all) => all.iter().map(|word| word.span()).collect(),
    };
    let ids: Vec<String> = field.get_ref().texts().into_iter().map(str::to_owned).collect();
    let links = ids.iter().zip(words);
    entries.links.extend(links.map(|(id, word)| FileLink {
        kind,
        id: id.clone(),
        span: field.span(),
        word,
        way_out: None,
    }));
    ids
}

/// In the order of the file.
pub(super) fn in_order<T>(map: &BTreeMap<Field<String>, Field<T>>) -> Vec<(&str, &Field<T>)> {
    let mut all: Vec<_> = map.iter().collect();
    all.sort_by_key(|(key, _)| key.span().start);
    all.into_iter().map(|(key, value)| (key.get_ref().as_str(), value)).collect()
}

pub(super) fn options(map: &BTreeMap<Field<String>, Field<Choice>>) -> Vec<(String, String)> {
    let chosen = |(name, field): (&str, &Field<Choice>)| match field.get_ref() {
        Choice::One(Typed(text)) => vec![(name.to_owned(), text.clone())],
        Choice::Table(inner) => {
            let all =
                inner.iter().map(|(key, Typed(text))| (format!("{name}.{key}"), text.clone()));
            all.collect()
        }
    };
    in_order(map).into_iter().flat_map(chosen).collect()
}
