use serde::Deserialize;
use toml::Spanned;

use super::field::Reading;
use crate::diag::{Diagnostics, toml_text};
use crate::knit::colours::{Colour, ColourSequence, Shade};
use crate::units::{Length, YarnCount};

/// A yarn as a file describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct YarnFile {
    pub name: String,
    pub count: YarnCount,
    pub colours: ColourSequence,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct YarnToml {
    name: Option<String>,
    yarn: Spanned<String>,
    /// Whether the colours begin again at the end.
    #[serde(default = "yes")]
    repeat: bool,
    colour: Spanned<Vec<ColourToml>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ColourToml {
    name: String,
    shade: Spanned<String>,
    /// Left out in a yarn of one colour.
    length: Option<Spanned<String>>,
}

fn yes() -> bool {
    true
}

/// Reads a yarn file: its count, and a `[[colour]]` table a stretch of colour.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_yarn(file: &str, text: &str) -> Result<YarnFile, Diagnostics> {
    let parsed: YarnToml = toml_text::parse(file, text)?;
    let mut reading = Reading::new(file, text);
    let count = reading.quantity::<YarnCount>(&parsed.yarn);
    let single = parsed.colour.get_ref().len() == 1;
    let stretches: Vec<Option<(Colour, f64)>> = parsed
        .colour
        .get_ref()
        .iter()
        .map(|entry| {
            let shade = entry.shade.get_ref().parse::<Shade>();
            let shade = shade.map_err(|fault| reading.fault(&entry.shade, fault)).ok();
            let mm = match &entry.length {
                Some(field) => reading.quantity::<Length>(field).map(Length::mm),
                None if single => Some(1000.0),
                None => {
                    reading.fault(&entry.shade, missing_length(&entry.name));
                    None
                }
            };
            Some((Colour { name: entry.name.trim().to_owned(), shade: shade? }, mm?))
        })
        .collect();
    let stretches: Option<Vec<_>> = stretches.into_iter().collect();
    let sequence = stretches.and_then(|stretches| {
        ColourSequence::new(stretches, parsed.repeat)
            .map_err(|fault| reading.fault(&parsed.colour, fault))
            .ok()
    });
    let name = parsed.name.filter(|n| !n.trim().is_empty()).unwrap_or_else(|| file.to_owned());
    match (count, sequence) {
        (Some(count), Some(colours)) if !reading.faults.has_errors() => {
            Ok(YarnFile { name, count, colours })
        }
        _ => Err(reading.faults),
    }
}

fn missing_length(name: &str) -> crate::diag::Diagnostic {
    crate::diag::Diagnostic::error("colour-length", format!("how long is the stretch of {name}?"))
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
        assert_eq!(yarn.name, "y.toml");
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
