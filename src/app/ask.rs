//! What a program asks to have graded: one shape for the command line's batch and for the server.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::Person;
use diag::{Code, Diagnostic, Diagnostics};
use knit::body::Measure;
use units::{Length, LengthUnit};

/// What to grade.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Ask {
    /// A garment's id.
    #[schema(example = "tam")]
    pub garment: Option<String>,
    /// A machine profile's id; left out: the swatch's own, or standard.
    #[schema(example = "standard")]
    pub machine: Option<String>,
    /// A list (`m3-6,y4`), a range (`y4..women-l`), a group or `all`.
    #[schema(example = "y4..women-m")]
    pub sizes: Option<String>,
    /// `cm` or `in`; data is in millimetres whatever it says.
    #[schema(example = "cm")]
    pub units: Option<String>,
    /// Options of the garment, as one would type them.
    #[serde(default)]
    #[schema(value_type = BTreeMap<String, String>, example = json!({"ease": "-8 %"}))]
    pub options: BTreeMap<String, Value>,
    /// Made to measure: body measures with their units.
    #[serde(default)]
    #[schema(example = json!({"head_girth": "58 cm"}))]
    pub measures: BTreeMap<String, String>,
    /// Whom the measures are of.
    pub name: Option<String>,
    /// The knitter's own swatches; left out: the demo swatch of the machine.
    pub swatch: Option<SwatchAsk>,
    /// Or a swatch of the workspace, by its id.
    pub swatch_id: Option<String>,
    /// How the answer is written out.
    pub format: Option<String>,
    /// Which picture, as `svg`: `schematic`, `rows` or `stripes`.
    pub picture: Option<String>,
    /// What a sheet is printed on: `a4` or `letter`.
    pub paper: Option<String>,
    /// Balls for the picture of the stripes, in the order in which they are joined:
    /// `[SECTION=]YARN[@WEIGHT]`, a yarn of the workspace or of the demo.
    #[serde(default)]
    #[schema(example = json!(["shoreline@34g"]))]
    pub balls: Vec<String>,
    /// Where in its colours a first ball begins: `[SECTION=]LENGTH`.
    #[serde(default)]
    #[schema(example = json!(["2.5 m"]))]
    pub starts: Vec<String>,
    /// Match the second of a pair to the first.
    #[serde(default)]
    pub matched: bool,
}

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

/// One swatch and its readings.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SwatchEntry {
    #[schema(example = "plain")]
    pub structure: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "washed")]
    pub state: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dial: Option<f64>,
    #[schema(example = 40)]
    pub stitches: u32,
    #[schema(example = json!(["13.4 cm", "13.5 cm", "13.4 cm"]))]
    pub widths: Vec<String>,
    #[schema(example = 60)]
    pub rows: u32,
    #[schema(example = json!(["14.2 cm", "14.3 cm", "14.3 cm"]))]
    pub heights: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weight: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weighed_stitches: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weighed_rows: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale_step: Option<String>,
}

impl Ask {
    /// The garment asked for.
    ///
    /// # Errors
    /// None is, or what could only be a path.
    pub fn garment(&self) -> Result<&str, Diagnostic> {
        match self.garment.as_deref() {
            Some(id) if id.contains(['/', '\\', '.', '\0']) => Err(Diagnostic::error(
                Code::NoGarment,
                "garments are asked for by id, not by folder",
            )
            .hint("`oddments garment list` shows them, and so does /api/v1/garments")),
            Some(id) => Ok(id),
            None => Err(Diagnostic::error(Code::NoGarment, "no garment is asked for")
                .hint("say which: garment=tam")),
        }
    }

    /// # Errors
    /// Another unit.
    pub fn unit(&self) -> Result<LengthUnit, Diagnostic> {
        match self.units.as_deref() {
            None | Some("cm") => Ok(LengthUnit::Cm),
            Some("in") => Ok(LengthUnit::In),
            Some(_) => Err(Diagnostic::error(Code::Units, "that is no unit of length to print in")
                .hint("units are cm or in")),
        }
    }

    pub fn typed_options(&self) -> Vec<(String, String)> {
        self.options.iter().map(|(name, value)| (name.clone(), typed(value))).collect()
    }

    /// Whom to make to measure for, if anyone.
    ///
    /// # Errors
    /// Unknown measures, and lengths that are none.
    pub fn person(&self) -> Result<Option<Person>, Diagnostics> {
        if self.measures.is_empty() {
            return Ok(None);
        }
        let mut faults = Diagnostics::new();
        let mut measures = Vec::new();
        for (name, value) in &self.measures {
            let measure = name.parse::<Measure>().map_err(|fault| faults.push(fault)).ok();
            let length = value.parse::<Length>().map_err(|e| faults.push(e.into_diagnostic())).ok();
            measures.extend(measure.zip(length));
        }
        let name = self.name.clone().unwrap_or_else(|| "Made to measure".to_owned());
        faults.into_result(Some(Person { name, measures }))
    }
}

impl SwatchAsk {
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
}

/// An option's value as one would type it.
fn typed(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        other => other.to_string(),
    }
}
