/// A remnant, or a part of it, that is brought to whoever knits from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Travel {
    /// Id of the remnant.
    pub remnant: String,
    /// What the gifts of this knitter take of it, in grams.
    pub grams: f64,
    /// Where it lies.
    pub from: String,
    /// Where the knitter is.
    pub to: String,
    /// Who knits from it.
    pub knitter: String,
}
