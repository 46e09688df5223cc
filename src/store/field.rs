use std::borrow::Cow;
use std::ops::Deref;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Deserialize;
use toml::Spanned;

use diag::{Code, Diagnostic, Diagnostics};
use units::UnitError;

/// A value with its place in the file, for the DTOs that schemas are made of.
#[derive(Clone, Debug, Deserialize, PartialEq, Eq, PartialOrd, Ord)]
#[serde(transparent)]
pub(super) struct Field<T>(Spanned<T>);

impl<T> Deref for Field<T> {
    type Target = Spanned<T>;

    fn deref(&self) -> &Spanned<T> {
        &self.0
    }
}

/// In a schema a field is what it holds.
impl<T: JsonSchema> JsonSchema for Field<T> {
    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

/// The article of a word; what begins with "u" here is a unit.
fn a_or_an(what: &str) -> &'static str {
    if what.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" }
}

/// A file being read: its name and text for placing faults, and the faults so far.
pub(super) struct Reading<'a> {
    pub file: &'a str,
    pub text: &'a str,
    pub faults: Diagnostics,
}

impl<'a> Reading<'a> {
    pub fn new(file: &'a str, text: &'a str) -> Self {
        Reading { file, text, faults: Diagnostics::new() }
    }

    pub fn fault<T>(&mut self, field: &Spanned<T>, diagnostic: Diagnostic) {
        self.faults.push_placed(diagnostic, self.file, self.text, field.span());
    }

    /// Parses a quantity; a fault is noted and gives `None`.
    pub fn quantity<T: FromStr<Err = UnitError>>(&mut self, field: &Spanned<String>) -> Option<T> {
        match field.get_ref().parse() {
            Ok(value) => Some(value),
            Err(error) => {
                self.fault(field, error.into_diagnostic());
                None
            }
        }
    }

    /// Looks a word up in a fixed vocabulary, offering the nearest when it is not there.
    pub fn word<T>(
        &mut self,
        field: &Spanned<String>,
        what: &str,
        known: &[&'static str],
        parse: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        let word = field.get_ref();
        let found = parse(word);
        if found.is_none() {
            let near = diag::nearest(word, known.iter().copied());
            let hint = match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("use one of: {}", known.join(", ")),
            };
            self.fault(
                field,
                Diagnostic::error(Code::Word, format!("`{word}` is not {} {what}", a_or_an(what)))
                    .hint(hint),
            );
        }
        found
    }
}
