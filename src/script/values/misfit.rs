use mlua::Value;

use diag::{Code, Diagnostic};

use super::show::describe;
use crate::schema::FieldSpec;

/// What is wrong with one value, to be put behind its name: "must be a needle, not 3".
pub(crate) struct Misfit {
    pub code: Code,
    pub message: String,
    pub hint: Option<String>,
}

/// A fault of a table or a call.
pub(crate) struct FieldFault {
    /// The field it is about, as the script writes it; empty where it is about none. Whoever knows the
    /// sources looks for it there.
    pub field: String,
    pub fault: Diagnostic,
}

impl Misfit {
    pub fn new(code: Code, message: String) -> Misfit {
        Misfit { code, message, hint: None }
    }

    pub fn wanted(wanted: &str, value: &Value) -> Misfit {
        Misfit::new(Code::ScriptWrongType, format!("must be {wanted}, not {}", describe(value)))
    }

    pub fn hint(mut self, hint: impl Into<String>) -> Misfit {
        self.hint = Some(hint.into());
        self
    }

    /// With what the field is for as the hint, when there is no better one.
    pub fn of(self, field: &FieldSpec, what: &str) -> FieldFault {
        let doc = format!("`{}`: {}", field.name, field.doc);
        let hint = self.hint.clone().unwrap_or(doc);
        FieldFault { field: field.name.to_owned(), fault: self.hint(hint).at(field.name, what) }
    }

    pub fn at(self, name: &str, what: &str) -> Diagnostic {
        Diagnostic::error(self.code, format!("`{name}` of {what} {}", self.message))
            .maybe_hint(self.hint)
    }
}
