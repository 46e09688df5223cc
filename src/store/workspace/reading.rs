//! What the files of a workspace have in common: ids that are claimed once, and words that point
//! from one file to another.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, de};
use toml::Spanned;

use crate::field::{Field, Reading};
use diag::{Code, Diagnostic};
use knit::stash::{ColourFamily, Date};
use units::{Mass, parse_share};

/// What a word in a file may point to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum LinkKind {
    Yarn,
    Remnant,
    Swatch,
    Machine,
    Person,
    Knitter,
    Gift,
    Garment,
    Size,
    /// A size, or the person a piece was made to measure for: a record of either is worth keeping
    /// when they are gone, so that nothing is said of one that leads nowhere.
    Wearer,
    /// A gift, a person, or anything else in words: nothing is said of one that leads nowhere.
    KeptFor,
    /// A yarn, while it is known: what was knitted in it stays so without it.
    KnittedIn,
}

impl LinkKind {
    /// In a sentence, and where such a thing is described.
    pub const fn words(self) -> (&'static str, &'static str) {
        match self {
            LinkKind::Yarn | LinkKind::KnittedIn => ("yarn", "a yarn is a file yarns/ID.toml"),
            LinkKind::Remnant => ("remnant", "remnants are in stash.toml"),
            LinkKind::Swatch => ("swatch", "a swatch is a file swatches/ID.toml"),
            LinkKind::Machine => ("machine profile", "profiles of your own are in machines.toml"),
            LinkKind::Person => ("person", "people are in people.toml"),
            LinkKind::Knitter => ("knitter", "knitters are in knitters.toml"),
            LinkKind::Gift => ("gift", "gifts are in gifts.toml"),
            LinkKind::Garment => ("garment", "see `oddments garment list`"),
            LinkKind::Size => ("size", "see `oddments chart`"),
            LinkKind::Wearer => ("size or person", "see `oddments chart`"),
            LinkKind::KeptFor => {
                ("gift or person", "gifts are in gifts.toml, people in people.toml")
            }
        }
    }
}

/// A word that points to something in another place.
#[derive(Clone, Debug)]
pub(super) struct FileLink {
    pub kind: LinkKind,
    pub id: String,
    /// Where a fault of it is told.
    pub span: Range<usize>,
    /// The text itself, in its quotes: within `span` where that is a whole list.
    pub word: Range<usize>,
    /// What can be done where it leads nowhere, beside another word.
    pub way_out: Option<String>,
}

impl FileLink {
    /// A word taken as it stands.
    pub fn to(kind: LinkKind, field: &Field<String>) -> FileLink {
        let (id, span, word) = (field.get_ref().clone(), field.span(), field.span());
        FileLink { kind, id, span, word, way_out: None }
    }

    /// A word without the blanks around it.
    fn trimmed(kind: LinkKind, field: &Field<String>) -> FileLink {
        let id = field.get_ref().trim().to_owned();
        FileLink { id, ..FileLink::to(kind, field) }
    }
}

/// The entries of a file: the sound ones, every id with its place (so that a faulty entry is not
/// missed elsewhere too), and where it points.
#[derive(Debug)]
pub(super) struct Entries<T> {
    pub sound: Vec<T>,
    pub ids: Vec<(String, Range<usize>)>,
    pub links: Vec<FileLink>,
    /// Ids that entries stand for beside their own.
    pub pieces: Vec<String>,
}

impl<T> Default for Entries<T> {
    fn default() -> Self {
        Entries { sound: Vec::new(), ids: Vec::new(), links: Vec::new(), pieces: Vec::new() }
    }
}

impl<T> Entries<T> {
    pub fn link(&mut self, kind: LinkKind, field: &Field<String>) -> String {
        let link = FileLink::trimmed(kind, field);
        let id = link.id.clone();
        self.links.push(link);
        id
    }

    /// Notes an id that must be its own, as it stands in its field.
    pub fn claim(&mut self, id: &str, field: Option<&Field<String>>) {
        self.ids.extend(field.map(|field| (id.to_owned(), field.span())));
    }
}

/// Longest id or name.
const LONGEST: usize = 80;

/// Whether a text can be an id, and the name of a file.
pub(super) fn is_id(text: &str) -> bool {
    (1..=LONGEST).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
        && !text.starts_with('-')
}

/// Tells ids that are taken already. Sorted, so that ten thousand cost no more than they must.
pub(super) fn check_unique(reading: &mut Reading<'_>, what: &str, fields: &[&Field<String>]) {
    let mut seen = std::collections::BTreeMap::new();
    for field in fields {
        let id = field.get_ref().trim().to_lowercase();
        if let Some(first) = seen.insert(id, field.span()) {
            let line = reading.text[..first.start].matches('\n').count() + 1;
            let fault = Diagnostic::error(
                Code::Twice,
                format!("there are two {what} `{}`", field.get_ref().trim()),
            )
            .hint(format!("the first is in line {line}: rename one of them"));
            reading.fault(field, fault);
        }
    }
}

pub(super) fn id(reading: &mut Reading<'_>, field: Option<&Field<String>>) -> Option<String> {
    let field = field?;
    if is_id(field.get_ref()) {
        return Some(field.get_ref().clone());
    }
    let fault = Diagnostic::error(Code::Id, format!("`{}` can't be an id", field.get_ref()))
        .hint("use small letters, digits and `-`, such as `skerry-blue-2`");
    reading.fault(field, fault);
    None
}

/// A name as people write it, in one line.
pub(super) fn name(reading: &mut Reading<'_>, field: Option<&Field<String>>) -> Option<String> {
    let field = field?;
    let name = field.get_ref().trim();
    if !is_name(name) {
        let fault = Diagnostic::error(Code::Name, "this can't be a name").hint(NAMES);
        reading.fault(field, fault);
        return None;
    }
    Some(name.to_owned())
}

/// Whether a text, without the blanks around it, can be a name.
pub(super) fn is_name(text: &str) -> bool {
    (1..=LONGEST).contains(&text.chars().count())
        && !text.contains(diag::is_control)
        && !text.contains('\n')
}

/// What a name is.
pub(super) const NAMES: &str = "write one to eighty letters in one line";

/// An ISO 8601 day.
pub(super) fn date(reading: &mut Reading<'_>, field: &Field<String>) -> Option<Date> {
    let found = parse_date(field.get_ref());
    if found.is_none() {
        let fault = Diagnostic::error(Code::Date, format!("`{}` is not a day", field.get_ref()))
            .hint("write year, month and day like `2026-12-24`");
        reading.fault(field, fault);
    }
    found
}

pub(super) fn parse_date(text: &str) -> Option<Date> {
    // The library takes more than a day (a time, a zone): only the plain form is ours.
    if text.len() != 10 {
        return None;
    }
    text.parse().ok().filter(|day: &Date| day.year() > 0)
}

/// The day in UTC by the machine's clock.
#[allow(clippy::disallowed_methods, reason = "whoever names no day means today")]
pub(super) fn today() -> Date {
    jiff::tz::Offset::UTC.to_datetime(jiff::Timestamp::now()).date()
}

pub(super) fn colours(reading: &mut Reading<'_>, fields: &[Field<String>]) -> Vec<ColourFamily> {
    let names = ColourFamily::ALL.map(ColourFamily::name);
    fields
        .iter()
        .filter_map(|field| reading.word(field, "colour", &names, ColourFamily::parse))
        .collect()
}

/// A mass above nothing.
pub(super) fn some_mass(reading: &mut Reading<'_>, field: &Field<String>) -> Option<Mass> {
    let mass: Mass = reading.quantity(field)?;
    if mass.grams() > 0.0 {
        return Some(mass);
    }
    let fault = Diagnostic::error(Code::Mass, "nothing weighs nothing")
        .hint("give the weight in grams, or take the entry out");
    reading.fault(field, fault);
    None
}

/// A share as people write it: `5 %`, or a part of one such as `0.05`.
pub(super) fn share(reading: &mut Reading<'_>, field: &Field<String>, most: f64) -> Option<f64> {
    let text = field.get_ref().trim();
    let found = parse_share(text).filter(|share| (0.0..=most).contains(share));
    if found.is_none() {
        let fault =
            Diagnostic::error(Code::Share, format!("`{text}` is not a share from 0 to {most}"))
                .hint("write it like `5 %`");
        reading.fault(field, fault);
    }
    found
}

pub(super) fn spanned(span: Range<usize>) -> Spanned<()> {
    Spanned::new(span, ())
}

/// One word or a list of words, each of a list with its place.
#[derive(Clone, Debug)]
pub(super) enum Words {
    One(String),
    Many(Vec<Field<String>>),
}

impl Words {
    /// The words without the blanks around them.
    pub fn texts(&self) -> Vec<&str> {
        match self {
            Words::One(text) => vec![text.trim()],
            Words::Many(all) => all.iter().map(|field| field.get_ref().trim()).collect(),
        }
    }
}

impl<'de> Deserialize<'de> for Words {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl<'de> de::Visitor<'de> for Visitor {
            type Value = Words;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a text or a list of texts")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Words, E> {
                Ok(Words::One(text.to_owned()))
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Words, A::Error> {
                let mut all = Vec::new();
                while let Some(text) = seq.next_element()? {
                    all.push(text);
                }
                Ok(Words::Many(all))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for Words {
    fn schema_name() -> Cow<'static, str> {
        "Words".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "anyOf": [
            { "type": "string" },
            { "type": "array", "items": { "type": "string" } }
        ] })
    }
}

/// A value as it would be typed after `--set NAME=`.
#[derive(Clone, Debug)]
pub(super) struct Typed(pub String);

impl<'de> Deserialize<'de> for Typed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl de::Visitor<'_> for Visitor {
            type Value = Typed;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a text, a number, true or false")
            }
            fn visit_str<E>(self, text: &str) -> Result<Typed, E> {
                Ok(Typed(text.to_owned()))
            }
            fn visit_i64<E>(self, number: i64) -> Result<Typed, E> {
                Ok(Typed(number.to_string()))
            }
            fn visit_f64<E>(self, number: f64) -> Result<Typed, E> {
                Ok(Typed(number.to_string()))
            }
            fn visit_bool<E>(self, flag: bool) -> Result<Typed, E> {
                Ok(Typed(flag.to_string()))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

/// An option, or the table of numbers that are fixed.
pub(super) enum Choice {
    One(Typed),
    Table(BTreeMap<String, Typed>),
}

impl<'de> Deserialize<'de> for Choice {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl<'de> de::Visitor<'de> for Visitor {
            type Value = Choice;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a text, a number, true or false")
            }
            fn visit_str<E>(self, text: &str) -> Result<Choice, E> {
                Ok(Choice::One(Typed(text.to_owned())))
            }
            fn visit_i64<E>(self, number: i64) -> Result<Choice, E> {
                Ok(Choice::One(Typed(number.to_string())))
            }
            fn visit_f64<E>(self, number: f64) -> Result<Choice, E> {
                Ok(Choice::One(Typed(number.to_string())))
            }
            fn visit_bool<E>(self, flag: bool) -> Result<Choice, E> {
                Ok(Choice::One(Typed(flag.to_string())))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, mut map: A) -> Result<Choice, A::Error> {
                let mut all = BTreeMap::new();
                while let Some((name, value)) = map.next_entry()? {
                    all.insert(name, value);
                }
                Ok(Choice::Table(all))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for Choice {
    fn schema_name() -> Cow<'static, str> {
        "Choice".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let typed = Typed::json_schema(generator);
        json_schema!({
            "anyOf": [typed, { "type": "object", "additionalProperties": { "type": ["integer", "string"] } }]
        })
    }
}

impl JsonSchema for Typed {
    fn schema_name() -> Cow<'static, str> {
        "OptionValue".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "integer", "number", "boolean"] })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_day_is_a_day() {
        assert_eq!(parse_date("2026-12-24").map(|d| d.to_string()), Some("2026-12-24".into()));
        assert_eq!(parse_date("0987-06-05").map(|d| d.to_string()), Some("0987-06-05".into()));
        for bad in [
            "2026-02-30",
            "1900-02-29",
            "0000-01-01",
            "24.12.2026",
            "2026-12-24T10:00",
            "20261224",
            "",
        ] {
            assert_eq!(parse_date(bad), None, "{bad}");
        }
    }

    #[test]
    fn ids_are_names_of_files() {
        assert!(is_id("skerry-blue-2"));
        for bad in ["", "-x", "Blue", "a b", "../x", "a/b", "a.b", "é"] {
            assert!(!is_id(bad), "{bad}");
        }
    }
}
