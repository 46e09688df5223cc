use axum::extract::Form;
use axum::extract::rejection::FormRejection;

use super::problem::{Answer, Problem};
use super::reply::fingerprint;
use super::rests::mark_of;
use app::Pairs;
use diag::{Code, Diagnostic};
use store::workspace::{Basis, ChangeMark, EntryName, Fields, Given};
use units::with_unit;

/// What a form was sent with, to be shown again where it could not be done.
#[derive(Clone, Default)]
pub(super) struct Posted(pub Pairs);

impl Posted {
    /// A form that was sent, from the page of that name.
    pub fn read(form: Result<Form<Pairs>, FormRejection>, page: &str) -> Answer<Posted> {
        let pairs = form.map(|Form(pairs)| pairs).map_err(|rejection| {
            let fault = Diagnostic::error(Code::Form, "the form can't be read")
                .hint(format!("send it from the page of {page}"));
            Problem::new(rejection.status(), fault)
        })?;
        Ok(Posted(pairs))
    }

    pub fn get(&self, key: &str) -> &str {
        self.0.iter().find(|(k, _)| k == key).map_or("", |(_, v)| v.trim())
    }

    /// A field that is filled in.
    pub fn given(&self, key: &str) -> Option<String> {
        Some(self.get(key).to_owned()).filter(|text| !text.is_empty())
    }

    /// Whether a form has that field, filled in or not.
    pub fn has(&self, key: &str) -> bool {
        self.0.iter().any(|(own, _)| own == key)
    }

    /// What was typed into a field of a form; nothing where another form was sent.
    pub fn typed(&self, what: &str, key: &str) -> &str {
        if self.get("what") == what { self.get(key) } else { "" }
    }

    pub fn chosen(&self, what: &str, key: &str, value: &str) -> bool {
        self.typed(what, key) == value
    }

    /// A key for every field that is filled in.
    pub fn fields(&self, keys: &[&str]) -> Fields {
        keys.iter()
            .map(|key| ((*key).to_owned(), self.get(key)))
            .filter(|(_, value)| !value.is_empty())
            .map(|(key, value)| (key, Given::text(value)))
            .collect()
    }

    /// The change in a field.
    pub fn mark(&self, key: &str) -> Result<Option<ChangeMark>, Diagnostic> {
        match self.get(key) {
            "" => Ok(None),
            text => mark_of(text).map(Some),
        }
    }

    /// The form's one-time key: the page's, and all that the form says, so that two forms of one
    /// page are two.
    pub fn once(&self) -> Option<String> {
        let page = self.get("once");
        (!page.is_empty()).then(|| fingerprint(format!("form {:?}", self.0).as_bytes(), 32))
    }

    /// What the form rests on: the state that its page showed, and its entry as it was then.
    pub fn basis(&self, entry: Option<EntryName>) -> Result<Basis, Diagnostic> {
        let mut basis = Basis { seen: self.mark("seen")?, ..Basis::once(self.once()) };
        let tag = Some(self.get("tag")).filter(|tag| !tag.is_empty());
        if let (Some(entry), Some(tag)) = (entry, tag) {
            basis.entries.insert(entry, Some(tag.to_owned()));
        }
        for (key, tag) in &self.0 {
            if let Some(name) = key.strip_prefix("tag.").and_then(EntryName::read) {
                basis.entries.insert(name, Some(tag.trim().to_owned()));
            }
        }
        Ok(basis)
    }
}

/// A weight as it is typed at the scale: a bare number is grams.
pub(super) fn grams_typed(text: &str) -> String {
    with_unit(text.trim(), "g")
}
