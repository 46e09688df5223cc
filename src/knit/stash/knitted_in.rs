/// What a section of a gift that is done was knitted in: who is to match it is bound by it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnittedIn {
    /// Section of the garment.
    pub section: String,
    /// Id of the yarn.
    pub yarn: String,
    /// The dye lot, where it is known.
    pub lot: Option<String>,
}
