use std::path::Path;

use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, Reading};
use super::shape;
use diag::{Code, Diagnostic, Diagnostics};
use knit::colours::{Colour, ColourSequence, Shade};
use knit::stash::{WeightClass, Yarn};
use units::{Length, Mass, YarnCount};

/// A yarn: its count, its colours from the outer end of the ball inwards, its band.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct YarnToml {
    name: Option<String>,
    /// The count: "400 m/100 g", "250 tex", "Nm 2/28".
    #[schemars(required)]
    yarn: Option<Field<String>>,
    /// How thick, by the standard numbers from 0 to 7.
    class: Option<Field<i64>>,
    /// "75 % wool, 25 % polyamide".
    fibres: Option<Field<String>>,
    /// "machine 40", "hand" or "dry clean".
    care: Option<Field<String>>,
    /// Whether the colours begin again at the end.
    #[serde(default = "yes")]
    repeat: bool,
    /// So many grams of it are never planned with: 50.
    reserve_g: Option<Field<f64>>,
    /// Swatches knitted in it: names of files in swatches, without .toml.
    #[serde(default)]
    swatches: Vec<Field<String>>,
    /// What a new ball weighs, in grams: for lists of what to buy.
    ball_g: Option<Field<f64>>,
    /// What a new ball costs, in your money.
    price: Option<Field<f64>>,
    #[schemars(required)]
    colour: Option<Field<Vec<ColourToml>>>,
}

/// A stretch of one colour.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ColourToml {
    #[schemars(required)]
    name: Option<Field<String>>,
    /// "#rrggbb".
    #[schemars(required)]
    shade: Option<Field<String>>,
    /// How long it is: "6 m". Left out in a yarn of one colour.
    length: Option<Field<String>>,
}

fn yes() -> bool {
    true
}

/// Reads a yarn file: its count, and a `[[colour]]` table a stretch of colour. The yarn's id is
/// the file's name.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_yarn(file: &str, text: &str) -> Result<Yarn, Diagnostics> {
    let mut reading = Reading::new(file, text);
    let (yarn, _) = read_yarn(&mut reading);
    match yarn {
        Some(yarn) if !reading.faults.has_errors() => Ok(yarn),
        _ => Err(reading.faults),
    }
}

/// The yarn, and where its swatches are named.
pub(super) fn read_yarn(reading: &mut Reading<'_>) -> (Option<Yarn>, Vec<Field<String>>) {
    let Some(parsed) = shape::read::<YarnToml>(reading) else { return (None, Vec::new()) };
    let told = reading.faults.iter().count();
    let count = parsed.yarn.as_ref().and_then(|field| reading.quantity::<YarnCount>(field));
    let class = parsed.class.as_ref().and_then(|field| {
        let class = u8::try_from(*field.get_ref()).ok().and_then(WeightClass::new);
        if class.is_none() {
            let fault = format!("{} is not a weight class", field.get_ref());
            let fault = Diagnostic::error(Code::Class, fault)
                .hint("the standard classes go from 0 (finest) to 7 (thickest)");
            reading.fault(field, fault);
        }
        class
    });
    let fibres = parsed.fibres.as_ref().and_then(|field| reading.quantity(field));
    let care = parsed.care.as_ref().and_then(|field| reading.quantity(field));
    let reserve = parsed.reserve_g.as_ref().and_then(|field| kept_back(reading, field));
    let colours = parsed.colour.as_ref().and_then(|field| sequence(field, parsed.repeat, reading));
    let ball = parsed.ball_g.as_ref().and_then(|field| {
        let grams = *field.get_ref();
        let ball = (1.0..=5000.0).contains(&grams).then(|| Mass::from_grams(grams).ok()).flatten();
        if ball.is_none() {
            let fault = Diagnostic::error(Code::Mass, format!("a ball of {grams} g"))
                .hint("ball_g is what a new ball weighs, from 1 to 5000 grams");
            reading.fault(field, fault);
        }
        ball
    });
    let price = parsed.price.as_ref().and_then(|field| {
        let price = *field.get_ref();
        let sound = (0.01..=100_000.0).contains(&price);
        if !sound {
            let fault = Diagnostic::error(Code::Price, format!("a ball for {price}"))
                .hint("price is what a new ball costs, from 0.01 to 100000");
            reading.fault(field, fault);
        }
        sound.then_some(price)
    });
    let stem = Path::new(reading.file).file_stem().and_then(|stem| stem.to_str());
    let id = stem.unwrap_or_default().to_owned();
    let name = parsed.name.filter(|n| !n.trim().is_empty());
    let yarn = count.zip(colours).map(|(count, colours)| Yarn {
        name: name.unwrap_or_else(|| id.clone()),
        id,
        count,
        colours,
        class,
        fibres,
        care,
        reserve,
        swatches: parsed.swatches.iter().map(|field| field.get_ref().clone()).collect(),
        ball,
        price,
    });
    let sound = reading.faults.iter().count() == told;
    (yarn.filter(|_| sound), parsed.swatches)
}

/// What is never planned with, in grams.
fn kept_back(reading: &mut Reading<'_>, field: &Field<f64>) -> Option<Mass> {
    const MOST: f64 = 100_000.0;
    let grams = *field.get_ref();
    let mass = Mass::from_grams(grams).ok().filter(|_| (0.0..=MOST).contains(&grams));
    if mass.is_none() {
        let fault = Diagnostic::error(Code::Range, format!("{grams} is out of range"))
            .hint(format!("give grams from 0 to {MOST}"));
        reading.fault(field, fault);
    }
    mass
}

fn sequence(
    field: &Field<Vec<ColourToml>>,
    repeat: bool,
    reading: &mut Reading<'_>,
) -> Option<ColourSequence> {
    let single = field.get_ref().len() == 1;
    let stretches: Vec<Option<(Colour, f64)>> = field
        .get_ref()
        .iter()
        .map(|entry| {
            let (name, at) = (entry.name.as_ref()?.get_ref().trim(), entry.shade.as_ref()?);
            let shade = at.get_ref().parse::<Shade>();
            let shade = shade.map_err(|fault| reading.fault(at, fault)).ok();
            let mm = match &entry.length {
                Some(field) => reading.quantity::<Length>(field).map(Length::mm),
                None if single => Some(1000.0),
                None => {
                    reading.fault(at, missing_length(name));
                    None
                }
            };
            Some((Colour { name: name.to_owned(), shade: shade? }, mm?))
        })
        .collect();
    let stretches: Option<Vec<_>> = stretches.into_iter().collect();
    ColourSequence::new(stretches?, repeat).map_err(|fault| reading.fault(field, fault)).ok()
}

fn missing_length(name: &str) -> Diagnostic {
    Diagnostic::error(Code::ColourLength, format!("how long is the stretch of {name}?"))
        .hint("add length = \"...\": wind the yarn off and measure from change to change")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_yarn_is_read_and_its_faults_are_placed() {
        let text = "yarn = \"400 m/100 g\"\n[[colour]]\nname = \"kelp\"\nshade = \"#335544\"\n";
        let yarn = parse_yarn("y.toml", text).expect("sound");
        assert!(yarn.colours.is_plain());
        assert_eq!(yarn.name, "y", "without a name it goes by its id");
        let text = "yarn = \"400 m\"\n[[colour]]\nname = \"kelp\"\nshade = \"335544\"\nlength = \"2\"\n\
                    [[colour]]\nname = \"foam\"\nshade = \"#ffffff\"\n";
        let faults = parse_yarn("y.toml", text).expect_err("faults");
        let places: Vec<_> = faults
            .iter()
            .map(|f| f.place.as_ref().map(|p| (p.line, p.column)).expect("placed"))
            .collect();
        assert_eq!(places, [(1, 8), (4, 9), (5, 10), (8, 9)]);
        assert!(faults.iter().all(|f| !f.hints.is_empty()), "{faults}");
    }
}
