use serde::Deserialize;
use toml::Spanned;

use super::field::Reading;
use crate::diag::{Diagnostic, Diagnostics, toml_text};
use crate::knit::program::Structure;
use crate::knit::swatch::{Readings, State, Swatch, SwatchSet, Weighed};
use crate::units::{Length, Mass, YarnCount};

/// Swatches of one yarn on one machine, as a file holds them.
#[derive(Clone, Debug)]
pub struct SwatchFile {
    pub name: String,
    /// Id of the machine profile they were knitted on, where the file says so.
    pub machine: Option<String>,
    pub set: SwatchSet,
    pub warnings: Diagnostics,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SwatchesToml {
    name: Option<String>,
    machine: Option<String>,
    yarn: Spanned<String>,
    #[serde(default)]
    swatch: Vec<SwatchToml>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SwatchToml {
    structure: Spanned<String>,
    state: Option<Spanned<String>>,
    dial: Option<Spanned<f64>>,
    stitches: u32,
    widths: Vec<Spanned<String>>,
    rows: u32,
    heights: Vec<Spanned<String>>,
    weight: Option<Spanned<String>>,
    /// Stitches and rows of the whole piece that was weighed.
    weighed_stitches: Option<u32>,
    weighed_rows: Option<u32>,
    scale_step: Option<Spanned<String>>,
}

/// Reads a swatch file: yarn, machine, and a `[[swatch]]` table a structure with its readings.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_swatches(file: &str, text: &str) -> Result<SwatchFile, Diagnostics> {
    let parsed: SwatchesToml = toml_text::parse(file, text)?;
    let mut reading = Reading::new(file, text);
    let yarn = reading.quantity::<YarnCount>(&parsed.yarn);
    let swatches: Vec<Option<Swatch>> =
        parsed.swatch.iter().map(|entry| swatch(entry, &mut reading)).collect();
    let name = parsed.name.filter(|n| !n.trim().is_empty()).unwrap_or_else(|| file.to_owned());
    let (Some(yarn), Some(swatches)) = (yarn, swatches.into_iter().collect::<Option<Vec<_>>>())
    else {
        return Err(reading.faults);
    };
    if reading.faults.has_errors() {
        return Err(reading.faults);
    }
    let (set, warnings) =
        SwatchSet::new(yarn, name.clone(), &swatches).map_err(|f| f.with_context(file))?;
    Ok(SwatchFile { name, machine: parsed.machine, set, warnings: warnings.with_context(file) })
}

fn swatch(entry: &SwatchToml, reading: &mut Reading<'_>) -> Option<Swatch> {
    let structures: Vec<&'static str> = Structure::ALL.iter().map(|s| s.name()).collect();
    let states: Vec<&'static str> = State::ALL.iter().map(|s| s.name()).collect();
    let structure = reading.word(&entry.structure, "structure", &structures, Structure::parse);
    let state = match &entry.state {
        Some(field) => reading.word(field, "state", &states, State::parse),
        None => Some(State::Rested),
    };
    if let Some(dial) = &entry.dial
        && !(0.0..=20.0).contains(dial.get_ref())
    {
        reading.fault(
            dial,
            Diagnostic::error("dial", format!("no tension dial goes to {}", dial.get_ref()))
                .hint("dials run from 0 to 10, in thirds"),
        );
    }
    let mut lengths = |fields: &[Spanned<String>]| -> Option<Vec<f64>> {
        let all: Vec<Option<f64>> =
            fields.iter().map(|f| reading.quantity::<Length>(f).map(Length::mm)).collect();
        all.into_iter().collect()
    };
    let widths = lengths(&entry.widths);
    let heights = lengths(&entry.heights);
    let weighed = match &entry.weight {
        None => {
            if entry.weighed_stitches.is_some() || entry.weighed_rows.is_some() {
                reading.fault(
                    &entry.structure,
                    Diagnostic::error(
                        "weighed",
                        "weighed_stitches and weighed_rows without a weight",
                    )
                    .hint("add weight = \"...\", or leave them out"),
                );
            }
            None
        }
        Some(field) => weighed(entry, field, reading),
    };
    Some(Swatch {
        structure: structure?,
        state: state?,
        dial: entry.dial.as_ref().map(|d| *d.get_ref()),
        stitches: Readings { count: entry.stitches, over_mm: widths? },
        rows: Readings { count: entry.rows, over_mm: heights? },
        weighed,
    })
}

fn weighed(
    entry: &SwatchToml,
    weight: &Spanned<String>,
    reading: &mut Reading<'_>,
) -> Option<Weighed> {
    let mass = reading.quantity::<Mass>(weight);
    // A kitchen scale shows whole grams unless the file says otherwise.
    let step = match &entry.scale_step {
        Some(field) => reading.quantity::<Mass>(field).map(Mass::grams),
        None => Some(1.0),
    };
    let (Some(stitches), Some(rows)) = (entry.weighed_stitches, entry.weighed_rows) else {
        reading.fault(
            weight,
            Diagnostic::error("weighed", "a weight without the size of the piece that was weighed")
                .hint("add weighed_stitches and weighed_rows: the cast-on and the rows of the whole swatch"),
        );
        return None;
    };
    let mass = mass?;
    if mass.grams() <= 0.0 {
        reading.fault(
            weight,
            Diagnostic::error("weighed", "a swatch that weighs nothing")
                .hint("weigh a larger swatch or use a finer scale"),
        );
        return None;
    }
    Some(Weighed { mass, stitches: u64::from(stitches) * u64::from(rows), scale_step_g: step? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fault_of_a_file_is_reported_at_its_place() {
        let text = "yarn = \"400 m\"\n\n[[swatch]]\nstructure = \"ribb 1x1\"\nstitches = 40\n\
                    widths = [\"14 cm\", \"-3 cm\"]\nrows = 60\nheights = [\"15\"]\nweight = \"9 g\"\n";
        let faults = parse_swatches("s.toml", text).expect_err("faults");
        let places: Vec<_> = faults
            .iter()
            .map(|f| f.place.as_ref().map(|p| (p.line, p.column)).expect("placed"))
            .collect();
        assert_eq!(places, [(1, 8), (4, 13), (6, 20), (8, 12), (9, 10)]);
        assert!(faults.iter().all(|f| !f.hints.is_empty()), "{faults}");
    }
}
