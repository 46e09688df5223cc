use diag::Place;

/// What a script showed its author in one call of `trace`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trace {
    /// Where it was called.
    pub place: Option<Place>,
    /// The values, as messages show them.
    pub text: String,
}
