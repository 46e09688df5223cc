use std::path::Path;

use schemars::JsonSchema;
use serde::Deserialize;

use super::field::{Field, Reading};
use super::shape;
use diag::{Code, Diagnostic, Diagnostics, Place};
use knit::program::Structure;
use knit::stash::NamedSwatches;
use knit::swatch::{FabricState, Readings, Swatch, SwatchSet, Weighed};
use units::{Length, Mass, YarnCount};

/// Swatches of one yarn on one machine.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SwatchesToml {
    name: Option<String>,
    /// The machine profile they were knitted on.
    machine: Option<Field<String>>,
    /// The count: "400 m/100 g", "250 tex", "Nm 2/28".
    #[schemars(required)]
    yarn: Option<Field<String>>,
    #[serde(default)]
    swatch: Vec<SwatchToml>,
}

/// A swatch of one structure: what was counted, and the readings of the tape over it.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SwatchToml {
    #[schemars(required)]
    structure: Option<Field<String>>,
    state: Option<Field<String>>,
    dial: Option<Field<f64>>,
    #[schemars(required)]
    stitches: Option<u32>,
    #[schemars(required)]
    widths: Option<Vec<Field<String>>>,
    #[schemars(required)]
    rows: Option<u32>,
    #[schemars(required)]
    heights: Option<Vec<Field<String>>>,
    weight: Option<Field<String>>,
    /// Stitches and rows of the whole piece that was weighed.
    weighed_stitches: Option<u32>,
    weighed_rows: Option<u32>,
    scale_step: Option<Field<String>>,
    /// The weight is right, however odd it looks.
    #[serde(default)]
    sure: bool,
}

/// Reads a swatch file: yarn, machine, and a `[[swatch]]` table a structure with its readings.
///
/// # Errors
/// All faults of the file, each at its place.
pub fn parse_swatches(file: &str, text: &str) -> Result<NamedSwatches, Diagnostics> {
    let mut reading = Reading::new(file, text);
    let (found, _) = read_swatches(&mut reading);
    match found {
        Some(found) if !reading.faults.has_errors() => Ok(found),
        _ => Err(reading.faults),
    }
}

/// The swatches, and where their machine is named.
pub(super) fn read_swatches(
    reading: &mut Reading<'_>,
) -> (Option<NamedSwatches>, Option<Field<String>>) {
    let Some(parsed) = shape::read::<SwatchesToml>(reading) else { return (None, None) };
    let told = reading.faults.has_errors();
    let file = reading.file;
    let yarn = parsed.yarn.as_ref().and_then(|f| reading.quantity::<YarnCount>(f));
    let swatches: Vec<Option<Swatch>> =
        parsed.swatch.iter().map(|entry| swatch(entry, reading)).collect();
    let stem = Path::new(file).file_stem().and_then(|stem| stem.to_str()).unwrap_or(file);
    let name = parsed.name.filter(|n| !n.trim().is_empty()).unwrap_or_else(|| stem.to_owned());
    let (Some(yarn), Some(swatches)) = (yarn, swatches.into_iter().collect::<Option<Vec<_>>>())
    else {
        return (None, parsed.machine);
    };
    if told || reading.faults.has_errors() {
        return (None, parsed.machine);
    }
    let (entries, text) = (&parsed.swatch, reading.text);
    // Where none is, the file's first line has to do.
    let place = |swatch: usize| {
        let structure = entries.get(swatch).and_then(|entry| entry.structure.as_ref());
        let span = structure.map_or(0..0, |field| field.span());
        Some(Place::from_span(file, text, span))
    };
    match SwatchSet::read(yarn, name.clone(), &swatches, place) {
        Ok((set, warnings)) => {
            let machine = parsed.machine.as_ref().map(|field| field.get_ref().clone());
            let warnings = warnings.with_context(file);
            (Some(NamedSwatches { name, machine, set, warnings }), parsed.machine)
        }
        Err(faults) => {
            reading.faults.extend(faults.with_context(file));
            (None, parsed.machine)
        }
    }
}

fn swatch(entry: &SwatchToml, reading: &mut Reading<'_>) -> Option<Swatch> {
    let structures: Vec<&'static str> = Structure::ALL.iter().map(|s| s.name()).collect();
    let states: Vec<&'static str> = FabricState::ALL.iter().map(|s| s.name()).collect();
    let structure = entry.structure.as_ref();
    let structure =
        structure.and_then(|f| reading.word(f, "structure", &structures, Structure::parse));
    let state = match &entry.state {
        Some(field) => reading.word(field, "state", &states, FabricState::parse),
        None => Some(FabricState::Rested),
    };
    if let Some(dial) = &entry.dial
        && !(0.0..=20.0).contains(dial.get_ref())
    {
        reading.fault(
            dial,
            Diagnostic::error(Code::Dial, format!("no tension dial goes to {}", dial.get_ref()))
                .hint("dials run from 0 to 10, in thirds"),
        );
    }
    let mut lengths = |fields: &Option<Vec<Field<String>>>| -> Option<Vec<f64>> {
        let all: Vec<Option<f64>> = fields
            .as_ref()?
            .iter()
            .map(|f| reading.quantity::<Length>(f).map(Length::mm))
            .collect();
        all.into_iter().collect()
    };
    let widths = lengths(&entry.widths);
    let heights = lengths(&entry.heights);
    let weighed = match &entry.weight {
        None => {
            if let Some(structure) = &entry.structure
                && (entry.weighed_stitches.is_some() || entry.weighed_rows.is_some())
            {
                reading.fault(
                    structure,
                    Diagnostic::error(
                        Code::Weighed,
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
        stitches: Readings { count: entry.stitches?, over_mm: widths? },
        rows: Readings { count: entry.rows?, over_mm: heights? },
        weighed,
    })
}

fn weighed(
    entry: &SwatchToml,
    weight: &Field<String>,
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
            Diagnostic::error(Code::Weighed, "a weight without the size of the piece that was weighed")
                .hint("add weighed_stitches and weighed_rows: the cast-on and the rows of the whole swatch"),
        );
        return None;
    };
    let mass = mass?;
    if mass.grams() <= 0.0 {
        reading.fault(
            weight,
            Diagnostic::error(Code::Weighed, "a swatch that weighs nothing")
                .hint("weigh a larger swatch or use a finer scale"),
        );
        return None;
    }
    Some(Weighed {
        mass,
        stitches: u64::from(stitches) * u64::from(rows),
        scale_step_g: step?,
        sure: entry.sure,
    })
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

    #[test]
    fn what_the_gauge_makes_impossible_is_told_at_its_swatch() {
        let plain = "[[swatch]]\nstructure = \"plain\"\nstitches = 40\nwidths = [\"14 cm\"]\nrows = 60\nheights = [\"15 cm\"]\n";
        let lines = |text: &str| -> Vec<(&'static str, Option<usize>)> {
            let faults = parse_swatches("s.toml", text).expect_err("a fault");
            faults.iter().map(|f| (f.code.as_str(), f.place.as_ref().map(|p| p.line))).collect()
        };
        let yarn = "yarn = \"250 tex\"\n";
        let rib = plain.replace("plain", "rib 1x1").replace("40", "400");
        assert_eq!(lines(&format!("{yarn}{plain}{rib}")), [("gauge", Some(9))]);
        assert_eq!(lines(&format!("{yarn}{plain}{plain}")), [("swatch-twice", Some(9))]);
        let none = plain.replace("14 cm", "0 cm");
        assert_eq!(lines(&format!("{yarn}{none}")), [("no-width", Some(3))]);
        assert_eq!(lines(yarn), [("no-plain-swatch", Some(1))]);
    }
}
