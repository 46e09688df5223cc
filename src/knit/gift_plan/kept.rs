/// Yarn of a remnant that a plan leaves alone, or gives to some alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// Id of the remnant.
    pub remnant: String,
    /// Id of its yarn.
    pub yarn: String,
    /// How much of it, in grams.
    pub grams: f64,
    /// Why.
    pub why: KeptWhy,
}

/// Why yarn is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeptWhy {
    /// For a gift, by id, or for a person's gifts: only these may be knitted from it.
    For(String),
    /// For something else, in the knitter's words: it is not planned with at all.
    Else(String),
    /// So much of the yarn is never planned with.
    Reserve,
}
