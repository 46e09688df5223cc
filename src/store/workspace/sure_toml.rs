use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, de};

use crate::field::{Field, Reading};
use knit::stash::Sure;

/// What a knitter is sure of: `true`, or a list of what.
#[derive(Debug)]
pub(super) enum SureToml {
    All(bool),
    Some(Vec<Field<String>>),
}

impl Default for SureToml {
    fn default() -> Self {
        SureToml::All(false)
    }
}

impl SureToml {
    pub fn read(&self, reading: &mut Reading<'_>) -> Sure {
        match self {
            SureToml::All(true) => Sure::ALL,
            SureToml::All(false) => Sure::default(),
            SureToml::Some(fields) => {
                let mut named = |field: &Field<String>| {
                    reading.word(field, "part of a record", &Sure::NAMES, Sure::named)
                };
                fields.iter().filter_map(&mut named).fold(Sure::default(), Sure::or)
            }
        }
    }
}

impl<'de> Deserialize<'de> for SureToml {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl<'de> de::Visitor<'de> for Visitor {
            type Value = SureToml;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("true, false or a list such as [\"grams\"]")
            }
            fn visit_bool<E: de::Error>(self, all: bool) -> Result<SureToml, E> {
                Ok(SureToml::All(all))
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<SureToml, A::Error> {
                let mut all = Vec::new();
                while let Some(text) = seq.next_element()? {
                    all.push(text);
                }
                Ok(SureToml::Some(all))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for SureToml {
    fn schema_name() -> Cow<'static, str> {
        "Sure".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "anyOf": [
            { "type": "boolean" },
            { "type": "array", "items": { "type": "string", "enum": Sure::NAMES } }
        ] })
    }
}
