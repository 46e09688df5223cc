use schemars::JsonSchema;
use serde::Deserialize;

use super::reading::{Entries, LinkKind, check_unique, colours, name, spanned};
use crate::field::{Field, Reading};
use crate::shape;
use diag::{Code, Diagnostic};
use knit::body::{Measure, SizeId};
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
    head_girth: Option<Field<String>>,
    hand_girth: Option<Field<String>>,
    hand_length: Option<Field<String>>,
    palm_length: Option<Field<String>>,
    thumb_crotch: Option<Field<String>>,
    thumb_length: Option<Field<String>>,
    fist_girth: Option<Field<String>>,
    wrist_girth: Option<Field<String>>,
    foot_length: Option<Field<String>>,
    foot_girth: Option<Field<String>>,
    heel_ankle_girth: Option<Field<String>>,
    ankle_girth: Option<Field<String>>,
    minimum_leg_girth: Option<Field<String>>,
    calf_girth: Option<Field<String>>,
    lower_thigh_girth: Option<Field<String>>,
    knee_height: Option<Field<String>>,
    stature: Option<Field<String>>,
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

impl PersonToml {
    fn measures(&self) -> [(Measure, &Option<Field<String>>); Measure::ALL.len()] {
        [
            (Measure::HeadGirth, &self.head_girth),
            (Measure::HandGirth, &self.hand_girth),
            (Measure::HandLength, &self.hand_length),
            (Measure::PalmLength, &self.palm_length),
            (Measure::ThumbCrotch, &self.thumb_crotch),
            (Measure::ThumbLength, &self.thumb_length),
            (Measure::FistGirth, &self.fist_girth),
            (Measure::WristGirth, &self.wrist_girth),
            (Measure::FootLength, &self.foot_length),
            (Measure::FootGirth, &self.foot_girth),
            (Measure::HeelAnkleGirth, &self.heel_ankle_girth),
            (Measure::AnkleGirth, &self.ankle_girth),
            (Measure::MinimumLegGirth, &self.minimum_leg_girth),
            (Measure::CalfGirth, &self.calf_girth),
            (Measure::LowerThighGirth, &self.lower_thigh_girth),
            (Measure::KneeHeight, &self.knee_height),
            (Measure::Stature, &self.stature),
        ]
    }
}

pub(super) fn read(reading: &mut Reading<'_>) -> Entries<Person> {
    let mut entries = Entries::default();
    let Some(parsed) = shape::read::<PeopleToml>(reading) else { return entries };
    let names: Vec<_> = parsed.person.iter().filter_map(|p| p.get_ref().name.as_ref()).collect();
    check_unique(reading, "people called", &names);
    for entry in &parsed.person {
        let told = reading.faults.iter().count();
        let person = person(entry, &mut entries, reading);
        // A person with a fault of their own is known, but not to be reckoned with.
        if reading.faults.iter().count() == told {
            entries.sound.extend(person);
        }
    }
    entries
}

fn person(
    entry: &Field<PersonToml>,
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
    for (measure, field) in table.measures() {
        let length = field.as_ref().and_then(|field| reading.quantity::<Length>(field));
        measures.extend(length.map(|length| (measure, length)));
    }
    if table.size.is_none() && table.measures().iter().all(|(_, field)| field.is_none()) {
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
        let schema = shape::schema_of::<PeopleToml>();
        let person = &schema.as_value()["properties"]["person"]["items"]["properties"];
        for measure in Measure::ALL {
            assert_eq!(person[measure.name()]["type"], "string", "{measure}");
        }
    }
}
