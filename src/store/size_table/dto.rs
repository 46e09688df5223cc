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
    #[serde(default, rename = "size")]
    #[schemars(with = "Vec<SizeDto>")]
    pub(super) sizes: Vec<Spanned<SizeDto>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ColumnDto {
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
