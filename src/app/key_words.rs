//! Words that both tables of keys are written in: what is said of a name, and what a bare number means.

/// Names and what was said of each, as typed.
pub type Named = Vec<(String, String)>;

/// What a number without a unit is given, since forms ask for numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bare {
    Stays,
    /// The unit of the form it stands in.
    OfForm,
    Of(&'static str),
}

impl Bare {
    pub fn with_unit(self, text: &str, form: &str) -> String {
        let unit = match self {
            Bare::Stays => return text.to_owned(),
            Bare::OfForm => form,
            Bare::Of(unit) => unit,
        };
        units::with_unit(text, unit)
    }
}
