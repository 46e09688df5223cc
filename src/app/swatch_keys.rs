//! Swatches in a request: the one table of what is said of a swatch. In JSON a row is a field of a
//! `swatch`; in a query string and in a form it comes after the structure, as in `plain.stitches`.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::key_words::{Bare, Named};
use diag::{Code, Diagnostic, Diagnostics};
use store::workspace::{Fields, Given};
use units::{Mass, UnitError, number, readings};

/// Names of a swatch's structures in query strings.
pub const STRUCTURES: [(&str, &str); 3] =
    [("plain", "plain"), ("rib", "rib 1x1"), ("rib2", "rib 2x2")];

/// Swatches of one yarn on one machine, as a swatch file holds them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SwatchAsk {
    pub name: Option<String>,
    pub machine: Option<String>,
    #[schema(example = "400 m/100 g")]
    pub yarn: String,
    #[serde(default, rename = "swatch")]
    pub swatches: Vec<SwatchEntry>,
}

/// What is read of a swatch.
struct Reading {
    name: &'static str,
    must: bool,
    whole: bool,
    /// Reads it. A number without a unit gets the one given.
    read: fn(&mut SwatchEntry, &str, &str) -> Result<(), UnitError>,
    text: fn(&SwatchEntry) -> Option<String>,
}

/// A field of a swatch as forms know it.
trait Field {
    /// Whether a swatch is none without it.
    const MUST: bool = false;
    /// Whether it is a whole number.
    const WHOLE: bool = false;
    fn read(&mut self, text: &str, bare: Bare, form_unit: &str) -> Result<(), UnitError>;
    fn text(&self) -> Option<String>;
}

impl Field for u32 {
    const MUST: bool = true;
    const WHOLE: bool = true;

    fn read(&mut self, text: &str, _: Bare, _: &str) -> Result<(), UnitError> {
        *self = count(text)?;
        Ok(())
    }

    fn text(&self) -> Option<String> {
        Some(self.to_string())
    }
}

impl Field for Option<u32> {
    const WHOLE: bool = true;

    fn read(&mut self, text: &str, _: Bare, _: &str) -> Result<(), UnitError> {
        *self = Some(count(text)?);
        Ok(())
    }

    fn text(&self) -> Option<String> {
        self.map(|count| count.to_string())
    }
}

impl Field for Option<f64> {
    fn read(&mut self, text: &str, _: Bare, _: &str) -> Result<(), UnitError> {
        *self = Some(number(text)?);
        Ok(())
    }

    fn text(&self) -> Option<String> {
        self.map(|number| number.to_string())
    }
}

impl Field for Option<String> {
    fn read(&mut self, text: &str, bare: Bare, form_unit: &str) -> Result<(), UnitError> {
        *self = Some(bare.with_unit(text, form_unit));
        Ok(())
    }

    fn text(&self) -> Option<String> {
        self.clone()
    }
}

/// Several lengths, with blanks, semicolons or commas between.
impl Field for Vec<String> {
    const MUST: bool = true;

    fn read(&mut self, text: &str, bare: Bare, form_unit: &str) -> Result<(), UnitError> {
        *self = readings(text)?.iter().map(|part| bare.with_unit(part, form_unit)).collect();
        Ok(())
    }

    fn text(&self) -> Option<String> {
        Some(self.join(", "))
    }
}

fn count(text: &str) -> Result<u32, UnitError> {
    let no_count =
        |_| UnitError::new(format!("`{text}` is no count"), "write a plain number, like 40");
    text.parse().map_err(no_count)
}

/// The structure. In a query string it stands before the point, and what is said of it after that
/// counts for nothing.
impl Field for String {
    fn read(&mut self, _: &str, _: Bare, _: &str) -> Result<(), UnitError> {
        Ok(())
    }

    fn text(&self) -> Option<String> {
        None
    }
}

/// Makes [`SwatchEntry`] and the table of what is read of it of the same rows: a field as JSON has
/// it, and what a number without a unit is given.
macro_rules! readings {
    (
        $(#[$outer:meta])*
        $( { $(#[$meta:meta])* $field:ident : $type:ty } $bare:expr; )*
    ) => {
        $(#[$outer])*
        pub struct SwatchEntry {
            $( $(#[$meta])* pub $field: $type, )*
        }

        const READINGS: &[Reading] = &[$(
            Reading {
                name: stringify!($field),
                must: <$type as Field>::MUST,
                whole: <$type as Field>::WHOLE,
                read: |entry, text, form_unit| entry.$field.read(text, $bare, form_unit),
                text: |entry| Field::text(&entry.$field),
            }
        ),*];
    };
}

readings! {
    /// One swatch and its readings.
    #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
    #[serde(deny_unknown_fields)]

    { #[schema(example = "plain")] structure: String } Bare::Stays;
    {
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schema(example = "washed")]
        state: Option<String>
    } Bare::Stays;
    { #[serde(skip_serializing_if = "Option::is_none")] dial: Option<f64> } Bare::Stays;
    { #[schema(example = 40)] stitches: u32 } Bare::Stays;
    { #[schema(example = json!(["13.4 cm", "13.5 cm", "13.4 cm"]))] widths: Vec<String> } Bare::OfForm;
    { #[schema(example = 60)] rows: u32 } Bare::Stays;
    { #[schema(example = json!(["14.2 cm", "14.3 cm", "14.3 cm"]))] heights: Vec<String> } Bare::OfForm;
    { #[serde(skip_serializing_if = "Option::is_none")] weight: Option<String> } Bare::Of("g");
    { #[serde(skip_serializing_if = "Option::is_none")] weighed_stitches: Option<u32> } Bare::Stays;
    { #[serde(skip_serializing_if = "Option::is_none")] weighed_rows: Option<u32> } Bare::Stays;
    { #[serde(skip_serializing_if = "Option::is_none")] scale_step: Option<String> } Bare::Of("g");
}

/// A key like `plain.stitches`: which of the structures, and what is read of it.
pub(super) fn reading_of(key: &str) -> Option<(usize, &str)> {
    let (prefix, field) = key.split_once('.')?;
    let at = STRUCTURES.iter().position(|(short, _)| *short == prefix)?;
    READINGS.iter().any(|reading| reading.name == field).then_some((at, field))
}

impl SwatchAsk {
    /// The same, weighed on a scale of that step where nothing else is said.
    #[must_use]
    pub(super) fn weighed_on(&self, step: Mass) -> SwatchAsk {
        let mut own = self.clone();
        for entry in own.swatches.iter_mut().filter(|entry| entry.weight.is_some()) {
            entry.scale_step.get_or_insert_with(|| step.to_string());
        }
        own
    }

    /// As the text of a swatch file, which is what the store reads.
    ///
    /// # Errors
    /// More swatches or readings than anyone takes.
    pub fn text(&self) -> Result<String, Diagnostic> {
        /// Of the fabrics that have a gauge of their own: plain, rib 1x1, rib 2x2.
        const MOST_SWATCHES: usize = 3;
        const MOST_READINGS: usize = 60;
        let many = |s: &SwatchEntry| s.widths.len().max(s.heights.len()) > MOST_READINGS;
        if self.swatches.len() > MOST_SWATCHES || self.swatches.iter().any(many) {
            return Err(Diagnostic::error(
                Code::Swatch,
                "more swatches or readings than one takes",
            )
            .hint(format!("a swatch a structure, and {MOST_READINGS} readings at most")));
        }
        toml::to_string(self)
            .map_err(|error| Diagnostic::error(Code::Swatch, format!("can't take it: {error}")))
    }

    /// As a file of swatches has it: its keys, and those of each `[[swatch]]`.
    ///
    /// # Errors
    /// As [`text`](Self::text).
    pub fn fields(&self) -> Result<(Fields, Vec<Fields>), Diagnostic> {
        self.text()?;
        let text = |key: &str, text: Option<&String>| Some((key.to_owned(), Given::text(text?)));
        let top = [
            text("name", self.name.as_ref()),
            text("machine", self.machine.as_ref()),
            text("yarn", Some(&self.yarn).filter(|yarn| !yarn.is_empty())),
        ];
        let each = self.swatches.iter().map(SwatchEntry::fields);
        Ok((top.into_iter().flatten().collect(), each.collect()))
    }

    /// All readings by their keys: what a swatch must have first.
    pub(super) fn readings(&self) -> Named {
        let mut pairs = Named::new();
        for entry in &self.swatches {
            let Some((short, _)) = STRUCTURES.iter().find(|(_, long)| *long == entry.structure)
            else {
                continue;
            };
            let of = |reading: &Reading| {
                Some((format!("{short}.{}", reading.name), (reading.text)(entry)?))
            };
            pairs.extend(READINGS.iter().filter(|reading| reading.must).filter_map(of));
            pairs.extend(READINGS.iter().filter(|reading| !reading.must).filter_map(of));
        }
        pairs
    }
}

impl SwatchEntry {
    /// Its keys as a file has them.
    fn fields(&self) -> Fields {
        let whole = |count: u32| Some(Given::Whole(count.into()));
        let text = |text: &Option<String>| text.as_ref().map(Given::text);
        let all = [
            ("structure", Some(Given::text(&self.structure))),
            ("state", text(&self.state)),
            ("dial", self.dial.map(Given::Number)),
            ("stitches", whole(self.stitches)),
            ("widths", Some(Given::Texts(self.widths.clone()))),
            ("rows", whole(self.rows)),
            ("heights", Some(Given::Texts(self.heights.clone()))),
            ("weight", text(&self.weight)),
            ("weighed_stitches", self.weighed_stitches.and_then(whole)),
            ("weighed_rows", self.weighed_rows.and_then(whole)),
            ("scale_step", text(&self.scale_step)),
        ];
        all.into_iter().filter_map(|(key, given)| Some((key.to_owned(), given?))).collect()
    }

    /// A swatch from the fields of a form; the first counts that is said of one.
    pub(super) fn of_fields(
        structure: &str,
        fields: &[(String, String)],
        form_unit: &str,
        faults: &mut Diagnostics,
    ) -> SwatchEntry {
        let mut entry = SwatchEntry { structure: structure.to_owned(), ..SwatchEntry::default() };
        let (whole, other): (Vec<&Reading>, Vec<_>) = READINGS.iter().partition(|r| r.whole);
        // What is wrong with counts is told first.
        for reading in whole.into_iter().chain(other) {
            let Some((_, text)) = fields.iter().find(|(name, _)| name == reading.name) else {
                continue;
            };
            match (reading.read)(&mut entry, text, form_unit) {
                Ok(()) => {}
                Err(fault) if fault.code == Code::Doubtful => {
                    let of = format!("{}, {structure} swatch", reading.name.replace('_', " "));
                    faults.push(fault.into_diagnostic().context(of));
                }
                Err(_) => faults.push(no_number(structure, reading.name, text)),
            }
        }
        entry
    }
}

fn no_number(structure: &str, name: &str, text: &str) -> Diagnostic {
    let name = name.replace('_', " ");
    Diagnostic::error(Code::Count, format!("`{text}` is not a number ({name}, {structure} swatch)"))
        .hint("write a plain number, like 40")
}
