//! Which fields each kind of entry has: the keys of its file, in the knitter's words.

use super::entry_form::{FieldSpec, OWN, Takes};
use super::state::Shared;
use knit::body::BodyPart;
use knit::stash::{Aim, ColourFamily, Contents, Fibre, WashEffort, Words};
use units::LengthUnit;

fn unit_of(contents: &Contents) -> &'static str {
    match contents.settings.units {
        LengthUnit::Cm => "cm",
        LengthUnit::In => "in",
    }
}

fn same(words: impl IntoIterator<Item = &'static str>) -> Vec<(&'static str, &'static str)> {
    words.into_iter().map(|word| (word, word)).collect()
}

fn machines(contents: &Contents) -> Vec<(String, String)> {
    contents.machines.iter().map(|own| (own.id.clone(), own.title.clone())).collect()
}

fn swatches(contents: &Contents) -> Vec<(String, String)> {
    contents.swatches.iter().map(|(id, own)| (id.clone(), own.name.clone())).collect()
}

fn garments(shared: &Shared) -> Vec<(String, String)> {
    let titled = |id: String| {
        let title = shared.garment(&id).map(|(plugin, _)| plugin.manifest.title.clone());
        (id.clone(), title.unwrap_or(id))
    };
    shared.bench.garment_ids().into_iter().map(titled).collect()
}

fn id_field(label: &str, help: &str) -> FieldSpec {
    FieldSpec::new(OWN, label, Takes::Text).help(help)
}

fn note() -> FieldSpec {
    FieldSpec::new("note", "Note", Takes::Text).help("Anything worth knowing")
}

pub(super) fn of_yarn(contents: &Contents) -> Vec<FieldSpec> {
    const BAND: &str = "More from the band";
    const BUYING: &str = "Buying, and keeping some back";
    let classes = (0..=7).map(|n: u8| (n.to_string(), n.to_string()));
    vec![
        FieldSpec::new("name", "Name", Takes::Text).help("As you would say it").like("Skerry blue"),
        FieldSpec::new("yarn", "Length by weight", Takes::Text)
            .help("As on the band; 250 tex and Nm 2/28 are read too.")
            .like("400 m/100 g")
            .required(),
        FieldSpec::new("fibres", "Fibres", Takes::Text)
            .like("75 % wool, 25 % polyamide")
            .under(BAND),
        FieldSpec::new("care", "Care", Takes::Text)
            .help("machine with its degrees, hand, or dry clean")
            .like("machine 40")
            .under(BAND),
        FieldSpec::new("class", "How thick", Takes::Choice)
            .help("The standard numbers, from 0 (finest) to 7")
            .of(classes)
            .under(BAND),
        FieldSpec::new("repeat", "At the end of the colours", Takes::Flag)
            .of([("true", "they begin again"), ("false", "they are over")])
            .under(BAND),
        FieldSpec::new("swatches", "Swatches knitted in it", Takes::Several)
            .of(swatches(contents))
            .under(BAND),
        id_field(
            "Short name",
            "Small letters, digits and hyphens: its file is called so. Left blank: as the name.",
        )
        .like("skerry-blue")
        .under(BAND),
        FieldSpec::new("ball_g", "A new ball weighs, g", Takes::Number).like("50").under(BUYING),
        FieldSpec::new("price", "A new ball costs", Takes::Number)
            .help("In your money")
            .like("4.50")
            .under(BUYING),
        FieldSpec::new("reserve_g", "Never planned with, g", Takes::Number)
            .help("So many grams of it are kept back for good.")
            .under(BUYING),
    ]
}

pub(super) fn of_remnant(contents: &Contents) -> Vec<FieldSpec> {
    const MORE: &str = "Lot, place and whom it is kept for";
    let yarns = contents.yarns.iter().map(|(id, yarn)| (id.clone(), yarn.name.clone()));
    vec![
        id_field("Short name", "Left blank: the yarn's with the next number.").like("slate-1"),
        FieldSpec::new("yarn", "Yarn", Takes::Choice).of(yarns).required(),
        FieldSpec::new("weight", "Weight, g", Takes::In("g"))
            .help("Without the cone; ounces with oz behind.")
            .like("34")
            .required(),
        FieldSpec::new("lot", "Lot", Takes::Text).help("As on the band").under(MORE),
        FieldSpec::new("start", "The colours begin at, m", Takes::In("m"))
            .help("How far into the colours the outer end is")
            .like("2.5")
            .under(MORE),
        FieldSpec::new("where", "Where it lies", Takes::Text)
            .help("The name of a place, as knitters say where they are")
            .under(MORE),
        FieldSpec::new("keep_for", "Kept for", Takes::Text)
            .help("A wish's short name or a person: only these are knitted from it. Anything else, and no plan touches it.")
            .under(MORE),
        note().under(MORE),
    ]
}

pub(super) fn of_person(shared: &Shared, contents: &Contents) -> Vec<FieldSpec> {
    const LIKES: &str = "Likes";
    const AVOIDS: &str = "Avoids";
    let sizes = contents.sizes.sizes().iter().map(|size| (size.id.to_string(), size.label.clone()));
    let colours = || same(ColourFamily::ALL.map(ColourFamily::name));
    let mut specs = vec![
        FieldSpec::new(OWN, "Name", Takes::Text).required(),
        FieldSpec::new("size", "Size", Takes::Choice)
            .help("Or measures below; both are best.")
            .of(sizes),
        FieldSpec::new("wash", "Washes by", Takes::Choice)
            .help("The most trouble they take over washing")
            .of(same(WashEffort::ALL.map(WashEffort::name))),
        note(),
    ];
    let unit = unit_of(contents);
    specs.extend(contents.measures.iter().map(|measure| {
        FieldSpec::new(
            measure.name(),
            format!("{}, {unit}", capital(measure.label())),
            Takes::In(unit),
        )
        .help(measure.how())
        .under(measured(measure.spec().part))
    }));
    specs.extend([
        FieldSpec::new("colours", "Colours they like", Takes::Several)
            .within("likes")
            .of(colours())
            .under(LIKES),
        FieldSpec::new("garments", "Garments they like", Takes::Several)
            .within("likes")
            .of(garments(shared))
            .under(LIKES),
        FieldSpec::new("colours", "Colours they don't want", Takes::Several)
            .within("avoid")
            .of(colours())
            .under(AVOIDS),
        FieldSpec::new("fibres", "Fibres they can't wear", Takes::Several)
            .within("avoid")
            .of(same(Fibre::all().map(Fibre::name)))
            .under(AVOIDS),
    ]);
    specs
}

/// The heading of a person's measures.
const fn measured(part: Option<BodyPart>) -> &'static str {
    match part {
        Some(BodyPart::Head) => "Measured: head",
        Some(BodyPart::Torso) => "Measured: torso and arms",
        Some(BodyPart::Hand) => "Measured: hand",
        Some(BodyPart::Leg) => "Measured: leg",
        Some(BodyPart::Foot) => "Measured: foot",
        None => "Measured: other",
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

pub(super) fn of_knitter(contents: &Contents) -> Vec<FieldSpec> {
    vec![
        FieldSpec::new(OWN, "Name", Takes::Text).required(),
        FieldSpec::new("machines", "Machines they have", Takes::Several)
            .help("None chosen: any")
            .of(machines(contents)),
        FieldSpec::new("hours_a_week", "Hours a week", Takes::Number)
            .help("Left blank: as in the settings; 0: they can't just now")
            .like("6"),
        FieldSpec::new("where", "Where they are", Takes::Text)
            .help("The name of a place, as remnants say where they lie"),
        note(),
    ]
}

pub(super) fn of_settings(contents: &Contents) -> Vec<FieldSpec> {
    const PLANS: &str = "Plans";
    let mut specs = vec![
        FieldSpec::new("units", "Lengths in", Takes::Choice)
            .of([("cm", "centimetres"), ("in", "inches")]),
        FieldSpec::new("words", "Words of the trade", Takes::Choice).of(Words::NAMES.map(|name| {
            let told = match name {
                "american" => "American: bind off, gauge",
                "british" => "British: cast off, tension",
                _ => "The usual ones: cast off, gauge",
            };
            (name, told)
        })),
        FieldSpec::new("machine", "Your machine", Takes::Choice).of(machines(contents)),
        FieldSpec::new("swatch", "The usual swatch", Takes::Choice)
            .help("Graded on where none is named")
            .of(swatches(contents)),
        FieldSpec::new("scale_step", "What the scale shows, g", Takes::In("g")).like("1"),
        FieldSpec::new("hours_a_week", "Hours a week at the machine", Takes::Number)
            .like("5")
            .under(PLANS),
        FieldSpec::new("aim", "What plans are good at", Takes::Choice)
            .of(same(Aim::ALL.map(Aim::name)))
            .under(PLANS),
        FieldSpec::new("risk", "Chance of running out that is taken", Takes::Text)
            .help("Not with a reserve")
            .like("5 %")
            .under(PLANS),
        FieldSpec::new("reserve", "Or a share kept back of every need", Takes::Text)
            .like("5 %")
            .under(PLANS),
        FieldSpec::new("most_joins", "Joins taken in a section", Takes::Whole)
            .like("2")
            .under(PLANS),
        FieldSpec::new("least_useful", "The least that is of use, g", Takes::In("g"))
            .like("5")
            .under(PLANS),
        FieldSpec::new("drib_limit", "A rest below this is a drib, g", Takes::In("g"))
            .like("8")
            .under(PLANS),
    ];
    specs.extend(weights());
    specs
}

fn weights() -> [FieldSpec; 10] {
    const WEIGHTS: &str = "What a plan gains and loses by";
    [
        ("priority", "A gift, by each point of priority", "1000"),
        ("preference", "A colour or garment that is liked", "20"),
        ("join", "Each join in a section", "3"),
        ("drib", "Each drib left over", "1"),
        ("change", "Each gift knitted otherwise than accepted", "30"),
        ("travel", "Each remnant brought to another place", "5"),
        ("alike", "Two gifts of one kind for one person", "5"),
        ("gram", "Gained by each gram knitted", "as the aim has it"),
        ("ball", "Each remnant begun", "as the aim has it"),
        ("hour", "Each hour of work", "as the aim has it"),
    ]
    .map(|(key, label, like)| {
        FieldSpec::new(key, label, Takes::Number).within("weights").like(like).under(WEIGHTS)
    })
}
