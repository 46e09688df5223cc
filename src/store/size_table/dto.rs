//! A size table as its file holds it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TableDto {
    #[expect(dead_code, reason = "for the reader of the file")]
    pub(super) title: Option<String>,
    #[schemars(with = "Option<String>")]
    pub(super) unit: Option<Spanned<String>>,
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, ColumnDto>")]
    pub(super) measures: BTreeMap<Spanned<String>, ColumnDto>,
    /// Lines that fill a measure nobody took from one that is known.
    #[serde(default)]
    pub(super) fill: Vec<FillGroupDto>,
    /// What goes with a measure on average, for garments whose sizes go by it.
    #[serde(default)]
    pub(super) goes_with: Vec<GoesWithDto>,
    #[serde(default, rename = "size")]
    #[schemars(with = "Vec<SizeDto>")]
    pub(super) sizes: Vec<Spanned<SizeDto>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ColumnDto {
    /// In sentences and headings; with `meaning` it makes a measure known.
    #[schemars(with = "Option<String>")]
    pub(super) title: Option<Spanned<String>>,
    /// Where the tape goes, in one line.
    #[schemars(with = "Option<String>")]
    pub(super) meaning: Option<Spanned<String>>,
    /// The part of the body: head, torso, hand, leg or foot.
    #[schemars(with = "Option<String>")]
    pub(super) part: Option<Spanned<String>>,
    /// A chart shows it unless others are asked for.
    #[serde(default)]
    pub(super) main: bool,
    /// How well it tells the age, the least number best.
    pub(super) tells: Option<u32>,
    /// The share by which babies of one age differ in it (standard deviation).
    #[schemars(with = "Option<f64>")]
    pub(super) babies_differ: Option<Spanned<f64>>,
    /// Lines that fill it.
    #[serde(default)]
    #[schemars(with = "Vec<LineDto>")]
    pub(super) fill: Vec<Spanned<LineDto>>,
    #[schemars(with = "Option<String>")]
    pub(super) source: Option<Spanned<String>>,
    #[serde(default)]
    pub(super) derived: bool,
    /// Other sources for a group or a size of the column.
    #[serde(default, rename = "for")]
    #[schemars(with = "BTreeMap<String, ProvenanceDto>")]
    pub(super) exceptions: BTreeMap<Spanned<String>, ProvenanceDto>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ProvenanceDto {
    pub(super) source: String,
    #[serde(default)]
    pub(super) derived: bool,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SizeDto {
    #[schemars(with = "Option<String>")]
    pub(super) id: Option<Spanned<String>>,
    pub(super) label: Option<String>,
    #[schemars(with = "Option<String>")]
    pub(super) group: Option<Spanned<String>>,
    #[schemars(with = "Option<f64>")]
    pub(super) age: Option<Spanned<f64>>,
    #[serde(default)]
    #[schemars(with = "Vec<String>")]
    pub(super) aliases: Vec<Spanned<String>>,
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, serde_json::Value>")]
    pub(super) body: BTreeMap<Spanned<String>, Spanned<toml::Value>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FillGroupDto {
    /// Whom the lines hold for: babies, children, adults; left out, for all.
    #[serde(default, rename = "for")]
    #[schemars(with = "Vec<String>")]
    pub(super) stages: Vec<Spanned<String>>,
    pub(super) source: Option<String>,
    #[schemars(with = "Vec<LineDto>")]
    pub(super) lines: Vec<Spanned<LineDto>>,
}

/// `of` = `times` x `from` + `plus`, in the unit of the table.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LineDto {
    #[schemars(with = "Option<String>")]
    pub(super) of: Option<Spanned<String>>,
    #[schemars(with = "String")]
    pub(super) from: Spanned<String>,
    pub(super) times: f64,
    #[serde(default)]
    pub(super) plus: f64,
    /// Standard deviation of people about the line.
    pub(super) spread: f64,
    /// The share of the variance it explains; with `mean` it is read backwards too.
    pub(super) r2: Option<f64>,
    /// The mean in the sample of what it is filled from.
    pub(super) mean: Option<f64>,
    #[serde(default, rename = "for")]
    #[schemars(with = "Vec<String>")]
    pub(super) stages: Vec<Spanned<String>>,
    pub(super) source: Option<String>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GoesWithDto {
    /// The measure that sizes go by.
    #[schemars(with = "String")]
    pub(super) measure: Spanned<String>,
    /// The group of sizes the lines hold for.
    #[serde(rename = "for")]
    #[schemars(with = "String")]
    pub(super) group: Spanned<String>,
    #[schemars(with = "String")]
    pub(super) source: Spanned<String>,
    #[schemars(with = "Vec<GoesWithLineDto>")]
    pub(super) lines: Vec<Spanned<GoesWithLineDto>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GoesWithLineDto {
    #[schemars(with = "String")]
    pub(super) of: Spanned<String>,
    pub(super) times: f64,
    #[serde(default)]
    pub(super) plus: f64,
}
