//! Keys of query strings: what a route reads of one is what its description says of it.

use utoipa::IntoParams;
use utoipa::openapi::Required;
use utoipa::openapi::path::{Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{ObjectBuilder, Type};

use app::{RequestKey, pairs};
use diag::{Code, Diagnostic, Diagnostics};

/// What is told of a key. A blank `doc` tells nothing beside its name.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    pub name: &'static str,
    pub doc: &'static str,
    pub example: Option<&'static str>,
    pub required: bool,
}

impl Told {
    pub fn parameter(self) -> Parameter {
        ParameterBuilder::new()
            .name(self.name)
            .parameter_in(ParameterIn::Query)
            .description(Some(self.doc).filter(|doc| !doc.is_empty()))
            .required(if self.required { Required::True } else { Required::False })
            .schema(Some(ObjectBuilder::new().schema_type(Type::String)))
            .example(self.example.map(Into::into))
            .build()
    }
}

/// A key that a route reads for itself.
pub struct QueryKey<T: 'static> {
    pub told: Told,
    /// What it does to what is asked for.
    pub put: fn(&mut T, &str) -> Result<(), Diagnostic>,
}

impl<T> QueryKey<T> {
    pub const fn new(
        name: &'static str,
        doc: &'static str,
        put: fn(&mut T, &str) -> Result<(), Diagnostic>,
    ) -> Self {
        QueryKey { told: Told { name, doc, example: None, required: false }, put }
    }

    pub const fn example(mut self, example: &'static str) -> Self {
        self.told.example = Some(example);
        self
    }

    /// The key of that name, if it is one of them.
    pub fn find<'k>(keys: &'k [Self], name: &str) -> Option<&'k Self> {
        keys.iter().find(|key| key.told.name == name)
    }

    /// Reads a whole query string. `hint` says which keys there are.
    pub fn read(
        keys: &[Self],
        query: Option<&str>,
        hint: &str,
        asked: &mut T,
    ) -> Result<(), Diagnostics> {
        for (key, value) in pairs(query.unwrap_or_default())? {
            let known = QueryKey::find(keys, &key).ok_or_else(|| nothing_to_ask_for(&key, hint))?;
            (known.put)(asked, &value)?;
        }
        Ok(())
    }

    pub fn parameters(keys: &[Self]) -> Vec<Parameter> {
        keys.iter().map(|key| key.told.parameter()).collect()
    }
}

pub fn nothing_to_ask_for(key: &str, hint: &str) -> Diagnostic {
    Diagnostic::error(Code::UnknownKey, format!("`{key}` is nothing to ask for")).hint(hint)
}

/// The keys of a request.
///
/// Beside these: `o.NAME` for an option, `fix.NAME` for a number to fix, `m.NAME` for a body measure, and for the swatch of one's own
/// `yarn` and what is read of it, like `plain.stitches` (`rib.` for rib 1x1, `rib2.` for rib 2x2).
pub struct AskQuery;

impl IntoParams for AskQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let told = |key: &RequestKey| {
            let RequestKey { name, doc, example, required, .. } = *key;
            Told { name, doc, example, required }.parameter()
        };
        RequestKey::told().map(told).collect()
    }
}
