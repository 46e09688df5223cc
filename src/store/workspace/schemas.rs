//! JSON Schemas of the files, made from the same types that read them, so that an editor
//! completes and checks as this program does.

use schemars::Schema;

use super::gifts_file::GiftsToml;
use super::knitters_file::KnittersToml;
use super::people_file;
use super::plan_file::PlanToml;
use super::records_file::RecordsToml;
use super::settings_file::SettingsToml;
use super::stash_file::StashToml;
use crate::machine::MachinesToml;
use crate::shape::schema_of;
use crate::size_table::TableDto;
use crate::swatch::SwatchesToml;
use crate::times::TimesToml;
use crate::yarn::YarnToml;

type Make = fn() -> Schema;

const SCHEMAS: [(&str, Make); 12] = [
    ("oddments", schema_of::<SettingsToml>),
    ("yarn", schema_of::<YarnToml>),
    ("stash", schema_of::<StashToml>),
    ("swatch", schema_of::<SwatchesToml>),
    ("people", people_file::schema_for_editors),
    ("knitters", schema_of::<KnittersToml>),
    ("gifts", schema_of::<GiftsToml>),
    ("machines", schema_of::<MachinesToml>),
    ("size-table", schema_of::<TableDto>),
    ("records", schema_of::<RecordsToml>),
    ("plan", schema_of::<PlanToml>),
    ("times", schema_of::<TimesToml>),
];

/// The kinds of file that have a schema.
pub fn schema_names() -> Vec<&'static str> {
    SCHEMAS.iter().map(|(name, _)| *name).collect()
}

/// A schema as JSON text; `None` where there is no such kind of file.
pub fn schema(name: &str) -> Option<String> {
    let (name, make) = SCHEMAS.iter().find(|(own, _)| *own == name)?;
    let mut schema = make();
    schema.insert("title".into(), format!("oddments: {name}").into());
    let mut text = serde_json::to_string_pretty(&schema).expect("plain data");
    text.push('\n');
    Some(text)
}
