use units::Mass;

/// Yarn that an accepted plan has set aside.
#[derive(Clone, Debug, PartialEq)]
pub struct Reservation {
    /// Id of the gift.
    pub gift: String,
    /// Section of the garment.
    pub section: String,
    /// Id of the remnant.
    pub remnant: String,
    /// How much of it.
    pub weight: Mass,
    /// Who knits it, where several knit.
    pub knitter: Option<String>,
}
