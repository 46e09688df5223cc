mod many;

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
use knit::body::SizeTable;
use knit::in_turn::InTurn;
use knit::stash::{
    GarmentChoice, GiftStage, GiftWish, KnittedIn, LoneSection, SectionSets, merged, section_sets,
};

/// What to knit for whom.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GiftsToml {
    #[serde(default)]
    gift: Vec<Field<GiftToml>>,
}

/// Something to knit for someone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct GiftToml {
    /// A name of its own: small letters, digits and hyphens.
    #[schemars(required)]
    id: Option<Field<String>>,
    /// The person's name in people.toml; left out where many are wished for.
    person: Option<Field<String>>,
    /// A garment, a list of garments to choose from, the first rather, or "anything warm".
    #[schemars(required)]
    garment: Option<Field<Words>>,
    /// Who is to knit it: a name in knitters.toml. Left out: whoever can.
    knitter: Option<Field<String>>,
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
    /// Sections that are to be of one yarn and one dye lot: ["band", "hat"]; sets of their own: ["band+hat", "cuff+palm"].
    same: Option<Field<Words>>,
    /// Sections that are each to be of another yarn: ["band", "hat"]; pairs of their own: ["band+hat", "cuff+palm"].
    contrast: Option<Field<Words>>,
    /// Gifts that are to be of one yarn and one dye lot with it, by id: their largest sections, and those that are
    /// called alike.
    #[serde(rename = "match")]
    matches: Option<Field<Words>>,
    /// Sections of one yarn may be of several dye lots. Where nothing is said they are of one.
    #[serde(default)]
    any_lot: bool,
    /// How far it has come; where nothing is said it is wished. "done" and "given up" are planned
    /// no more.
    #[schemars(extend("enum" = GiftStage::ALL.map(GiftStage::name)))]
    state: Option<Field<String>>,
    /// Of a gift that is done, its sections with the yarn they were knitted in and its dye lot, where it is known:
    /// ["kelp", "B"]; that which took most first. What is to match the gift is knitted in these.
    #[serde(default)]
    knitted_in: BTreeMap<Field<String>, Field<Words>>,
    /// A new plan leaves alone what is set aside for it.
    #[serde(default)]
    keep: bool,
    note: Option<String>,
    /// How many of them, for nobody by name: the gifts are called ID-1, ID-2 and so on.
    count: Option<Field<i64>>,
    /// Of many, the sizes they may be made in: "children", "y4..y7-8", or a list.
    sizes: Option<Field<Words>>,
    /// Of many, so many in each of the sizes; the others are of whichever the yarn is for.
    each_at_least: Option<Field<i64>>,
    /// Of many, what is so of single ones, by number.
    #[serde(default)]
    pieces: BTreeMap<Field<String>, Field<PieceToml>>,
}

/// One of many.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PieceToml {
    /// How far it has come.
    #[schemars(extend("enum" = GiftStage::ALL.map(GiftStage::name)))]
    pub state: Option<Field<String>>,
    /// As of a gift.
    #[serde(default)]
    pub knitted_in: BTreeMap<Field<String>, Field<Words>>,
    /// A new plan leaves alone what is set aside for it.
    #[serde(default)]
    pub keep: bool,
    /// Options of its own, as of a gift.
    #[serde(default)]
    pub options: BTreeMap<Field<String>, Field<Choice>>,
    #[serde(default)]
    pub scaled: BTreeMap<Field<String>, Field<Choice>>,
}

impl GiftToml {
    /// Whether it is about many.
    fn is_many(&self) -> bool {
        self.count.is_some() || self.sizes.is_some() || self.each_at_least.is_some()
    }
}

/// `sizes` are those that many may be made in.
pub(super) fn read(reading: &mut Reading<'_>, sizes: &SizeTable) -> Entries<GiftWish> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<GiftsToml>(reading) else { return entries };
    let ids: Vec<_> = parsed.gift.iter().filter_map(|g| g.get_ref().id.as_ref()).collect();
    check_unique(reading, "gifts", &ids);
    for entry in &parsed.gift {
        let told = reading.faults.iter().count();
        let table = entry.get_ref();
        let gift = gift(entry, &mut entries, reading);
        let gifts = if table.is_many() {
            many::pieces(table, entry.span(), gift, sizes, (&mut entries, reading))
        } else {
            gift.into_iter().collect()
        };
        if table.is_many() {
            // Each can be pointed to, be the entry sound or not.
            entries.pieces.extend(gifts.iter().map(|gift| gift.id.clone()));
        }
        if reading.faults.iter().count() == told {
            entries.sound.extend(gifts);
        }
    }
    // A gift of its own that is called like one of many.
    for own in parsed.gift.iter().filter_map(|gift| gift.get_ref().id.as_ref()) {
        if entries.pieces.contains(own.get_ref()) {
            let fault = format!("`{}` is one of many already", own.get_ref());
            let fault = Diagnostic::error(Code::Twice, fault).hint("rename one of them");
            reading.fault(own, fault);
        }
    }
    entries
}

fn gift(
    field: &Field<GiftToml>,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) -> Option<GiftWish> {
    let entry = field.get_ref();
    let own = id(reading, entry.id.as_ref());
    check_turns(&entry.options, reading);
    if let Some(own) = &own {
        entries.claim(own, entry.id.as_ref());
    }
    let person = entry.person.as_ref().map(|field| entries.link(LinkKind::Person, field));
    if person.is_none() && !entry.is_many() {
        let fault = Diagnostic::error(Code::Missing, "there is no `person`").hint(
            "add a line `person = ...`; many for nobody by name have `count` and `sizes` instead",
        );
        let start = field.span().start;
        reading.fault(&spanned(start..start), fault);
        return None;
    }
    let garment = entry.garment.as_ref().and_then(|field| garments(field, entries, reading));
    let knitter = entry.knitter.as_ref().map(|field| entries.link(LinkKind::Knitter, field));
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
    let same = merged(same);
    if let Some(field) = &entry.contrast {
        let pairs = contrast.iter().flat_map(|apart| same.iter().map(move |one| (apart, one)));
        let both = pairs.map(|(apart, one)| apart.iter().filter(|n| one.contains(n)).collect());
        let mut both = both.filter(|both: &Vec<&String>| both.len() > 1);
        if let Some([a, b, ..]) = both.next().as_deref() {
            let fault = format!("{a} and {b} are to be the same and to differ");
            let fault =
                Diagnostic::error(Code::Contrary, fault).hint("take one of them out of a list");
            reading.fault(field, fault);
        }
    }
    let matches = matches(entry, entries, reading);
    let stages = GiftStage::ALL.map(GiftStage::name);
    let stage = entry.state.as_ref();
    let stage =
        stage.map(|field| reading.word(field, "state of a gift", &stages, GiftStage::parse));
    let due = entry.due.as_ref().and_then(|field| date(reading, field));
    Some(GiftWish {
        id: own?,
        person: person.unwrap_or_default(),
        garment: garment?,
        knitter,
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
        matches,
        any_lot: entry.any_lot,
        stage: stage.flatten().unwrap_or_default(),
        knitted_in: knitted_in(&entry.knitted_in, entries, reading),
        keep: entry.keep,
        piece: None,
        note: entry.note.clone(),
    })
}

/// Names of sections, two at least in each set: of one alone there is nothing to say.
fn sections(reading: &mut Reading<'_>, field: &Field<Words>) -> SectionSets {
    section_sets(field.get_ref().texts()).unwrap_or_else(|LoneSection| {
        let fault =
            Diagnostic::error(Code::Range, "it takes two sections to be the same or to differ")
                .hint("name two sections of the garment, or take the key out");
        reading.fault(field, fault);
        SectionSets::new()
    })
}

/// What sections were knitted in.
pub(super) fn knitted_in(
    map: &BTreeMap<Field<String>, Field<Words>>,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) -> Vec<KnittedIn> {
    let mut all = Vec::new();
    for (section, field) in in_order(map) {
        let texts = field.get_ref().texts();
        let said = texts.iter().all(|text| !text.is_empty());
        let ([yarn] | [yarn, _], true) = (texts.as_slice(), said) else {
            let fault = "this can't be a yarn and its dye lot";
            let hint =
                "write it like `[\"kelp\", \"B\"]`; the yarn alone where the lot isn't known";
            reading.fault(field, Diagnostic::error(Code::Range, fault).hint(hint));
            continue;
        };
        let word = match field.get_ref() {
            Words::One(_) => field.span(),
            Words::Many(all) => all[0].span(),
        };
        let (id, span) = ((*yarn).to_owned(), field.span());
        let kind = LinkKind::KnittedIn;
        entries.links.push(FileLink { kind, id, span, word, way_out: None });
        all.push(KnittedIn {
            section: section.to_owned(),
            yarn: (*yarn).to_owned(),
            lot: texts.get(1).map(|lot| (*lot).to_owned()),
        });
    }
    all
}

/// The gifts that it is to match.
fn matches(
    entry: &GiftToml,
    entries: &mut Entries<GiftWish>,
    reading: &mut Reading<'_>,
) -> Vec<String> {
    let Some(field) = &entry.matches else { return Vec::new() };
    let before = entries.links.len();
    let ids = link_all(entries, LinkKind::Gift, field);
    let own = entry.id.as_ref().map(|own| own.get_ref().trim());
    for link in &mut entries.links[before..] {
        let way = |own| format!("`oddments gifts change {own} --match ''` lets it be of any yarn");
        link.way_out = own.map(way);
    }
    // Many match each other where they name their own entry.
    if !entry.is_many() && ids.iter().any(|id| Some(id.as_str()) == own) {
        let fault = Diagnostic::error(Code::Contrary, "a gift can't be made to match itself")
            .hint("name another gift, or take it out");
        reading.fault(field, fault);
    }
    ids
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

/// Balls in turn are a list of rows, whatever the garment: what is none is told at its line.
pub(super) fn check_turns(map: &BTreeMap<Field<String>, Field<Choice>>, reading: &mut Reading<'_>) {
    for (name, field) in map {
        let name = name.get_ref();
        let turns: Vec<(&str, &str)> = match field.get_ref() {
            Choice::One(Typed(text)) => name
                .strip_prefix(IN_TURN)
                .map(|section| (section, text.as_str()))
                .into_iter()
                .collect(),
            Choice::Table(inner) if IN_TURN.strip_suffix('.') == Some(name) => inner
                .iter()
                .map(|(section, Typed(text))| (section.as_str(), text.as_str()))
                .collect(),
            Choice::Table(_) => Vec::new(),
        };
        for fault in
            turns.into_iter().filter_map(|(section, text)| InTurn::parse(section, text).err())
        {
            reading.fault(field, fault);
        }
    }
}

/// What the name of such a choice begins with.
const IN_TURN: &str = "in_turn.";

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
