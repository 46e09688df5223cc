use std::borrow::Cow;
use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema};
use serde::Deserialize;
use serde_json::{Value, json};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::reading::{Entries, LinkKind, check_unique, colours, name, spanned};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic, Severity};
use knit::body::{Measures, SizeId, SizeTable, implausible};
use knit::stash::{Person, WashEffort};
use units::Length;

/// The people to knit for.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PeopleToml {
    #[serde(default)]
    person: Vec<Field<PersonToml>>,
}

/// Someone to knit for, by a size of the table, by measures that were taken ("56 cm"), or both.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct PersonToml {
    /// How gifts speak of them.
    #[schemars(required)]
    name: Option<Field<String>>,
    /// A size of the table, such as "women-m".
    size: Option<Field<String>>,
    /// The measures that were taken: each its own key beside these, whichever are known.
    #[serde(default)]
    #[schemars(skip)]
    measures: BTreeMap<Field<String>, Field<String>>,
    likes: Option<LikesToml>,
    avoid: Option<AvoidToml>,
    /// The most trouble they take over washing: "machine", "hand" or "dry clean".
    wash: Option<Field<String>>,
    note: Option<String>,
}

/// What they are glad of.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LikesToml {
    /// Plain words: red, blue, grey ...
    #[serde(default)]
    colours: Vec<Field<String>>,
    /// Ids of garments.
    #[serde(default)]
    garments: Vec<Field<String>>,
}

/// What they can't or won't wear.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct AvoidToml {
    /// Fibres such as "mohair".
    #[serde(default)]
    fibres: Vec<Field<String>>,
    #[serde(default)]
    colours: Vec<Field<String>>,
}

/// The schema of the file with a key for each measure.
pub(super) fn schema(known: &Measures) -> Schema {
    let mut schema = shape::schema_of::<PeopleToml>();
    if let Some(person) = schema.pointer_mut(PERSON).and_then(Value::as_object_mut) {
        let keys = known.iter().map(|measure| {
            let key = json!({ "type": "string", "description": measure.how() });
            (measure.name().to_owned(), key)
        });
        if let Some(properties) = person.get_mut("properties").and_then(Value::as_object_mut) {
            properties.extend(keys);
        }
    }
    schema
}

/// The schema for editors, which can't know the measures of one's own size tables and garments: any
/// key with a `_` in it may be one.
pub(super) fn schema_for_editors() -> Schema {
    let known = crate::embedded::shipped_measures().unwrap_or_default();
    let mut schema = schema(&known);
    if let Some(person) = schema.pointer_mut(PERSON).and_then(Value::as_object_mut) {
        let own = json!({
            "type": "string",
            "description": "A measure that a size table of yours or a garment makes known",
        });
        person.insert("patternProperties".into(), json!({ "^[a-z][a-z0-9]*(_[a-z0-9]+)+$": own }));
    }
    schema
}

const PERSON: &str = "/properties/person/items";

/// The keys of each person that are measures, put together under the key the DTO has for them.
fn move_measures(known: &Measures, root: &mut DeTable<'_>) {
    let Some(people) = root.get_mut("person") else { return };
    let DeValue::Array(people) = people.get_mut() else { return };
    for person in people.iter_mut() {
        let DeValue::Table(person) = person.get_mut() else { continue };
        let mut taken = DeTable::new();
        for measure in known.iter() {
            if let Some((key, length)) = person.remove_entry(measure.name()) {
                taken.insert(key, length);
            }
        }
        person.insert(
            Spanned::new(0..0, Cow::Borrowed("measures")),
            Spanned::new(0..0, DeValue::Table(taken)),
        );
    }
}

/// `known` are the measures that may be given; what is far from any of `sizes` is warned of.
pub(super) fn read(
    reading: &mut Reading<'_>,
    known: &Measures,
    sizes: &SizeTable,
) -> Entries<Person> {
    let mut entries = Entries::default();
    let parsed: Option<PeopleToml> =
        shape::read_open(&schema(known), reading, |root| move_measures(known, root));
    let Some(parsed) = parsed else { return entries };
    let names: Vec<_> = parsed.person.iter().filter_map(|p| p.get_ref().name.as_ref()).collect();
    check_unique(reading, "people called", &names);
    for entry in &parsed.person {
        let told = reading.faults.iter().count();
        let person = person(entry, known, &mut entries, reading);
        // A person with a fault of their own is known, but not to be reckoned with.
        if reading.faults.iter().count() == told
            && let Some(person) = person
        {
            doubt(entry, &person, sizes, reading);
            entries.sound.push(person);
        }
    }
    entries
}

/// A slip of the tape or of its unit is told while the knitter remembers: it is refused only where
/// something is knitted by it.
fn doubt(entry: &Field<PersonToml>, person: &Person, sizes: &SizeTable, reading: &mut Reading<'_>) {
    for (measure, length) in &person.measures {
        let fields = entry.get_ref().measures.iter();
        let field = fields.clone().find(|(key, _)| key.get_ref() == measure.name());
        if let (Some(fault), Some((_, field))) = (implausible(sizes, measure, length.mm()), field) {
            reading.fault(field, Diagnostic { severity: Severity::Warning, ..fault });
        }
    }
}

fn person(
    entry: &Field<PersonToml>,
    known: &Measures,
    entries: &mut Entries<Person>,
    reading: &mut Reading<'_>,
) -> Option<Person> {
    let table = entry.get_ref();
    let name = name(reading, table.name.as_ref());
    if let Some(name) = &name {
        entries.claim(name, table.name.as_ref());
    }
    let size = table.size.as_ref().map(|field| entries.link(LinkKind::Size, field));
    let mut measures = Vec::new();
    for measure in known.iter() {
        let field = table.measures.iter().find(|(key, _)| key.get_ref() == measure.name());
        let length = field.and_then(|(_, field)| reading.quantity::<Length>(field));
        measures.extend(length.map(|length| (measure.clone(), length)));
    }
    if table.size.is_none() && table.measures.is_empty() {
        let fault = Diagnostic::error(Code::NoSize, "nothing says how large this person is").hint(
            "add a size, such as `size = \"women-m\"`, or a measure, `head_girth = \"56 cm\"`",
        );
        let at = table.name.as_ref().map_or(entry.span(), |name| name.span());
        reading.fault(&spanned(at), fault);
    }
    let (mut likes_colours, mut likes_garments) = (Vec::new(), Vec::new());
    if let Some(likes) = &table.likes {
        likes_colours = colours(reading, &likes.colours);
        likes_garments =
            likes.garments.iter().map(|field| entries.link(LinkKind::Garment, field)).collect();
    }
    let (mut avoids_fibres, mut avoids_colours) = (Vec::new(), Vec::new());
    if let Some(avoid) = &table.avoid {
        avoids_fibres = avoid.fibres.iter().filter_map(|field| reading.quantity(field)).collect();
        avoids_colours = colours(reading, &avoid.colours);
        for (field, colour) in avoid.colours.iter().zip(&avoids_colours) {
            if likes_colours.contains(colour) {
                let fault = format!("{} is liked and avoided", colour.name());
                let fault =
                    Diagnostic::error(Code::Contrary, fault).hint("take it out of one of them");
                reading.fault(field, fault);
            }
        }
    }
    let efforts = WashEffort::ALL.map(WashEffort::name);
    let wash = table.wash.as_ref();
    let wash = wash.map(|field| reading.word(field, "way to wash", &efforts, WashEffort::parse));
    Some(Person {
        name: name?,
        size: size.and_then(|size| size.parse::<SizeId>().ok()),
        measures,
        likes_colours,
        likes_garments,
        avoids_fibres,
        avoids_colours,
        wash: wash.flatten(),
        note: table.note.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_body_measure_is_a_key() {
        let known = crate::embedded::shipped_measures().expect("sound");
        let schema = schema(&known);
        let person = &schema.as_value()["properties"]["person"]["items"]["properties"];
        assert!(person["measures"].is_null(), "the key of the DTO is none of the file");
        for measure in known.iter() {
            assert_eq!(person[measure.name()]["type"], "string", "{measure}");
        }
    }
}
