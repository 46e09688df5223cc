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
    /// As what the plan has the gift knitted; `None` where the file doesn't say.
    pub knitted_as: Option<KnittedAs>,
    /// Who knits it, where several knit.
    pub knitter: Option<String>,
}

/// As what a gift is knitted by an accepted plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnittedAs {
    /// Id of the garment.
    pub garment: String,
    /// Id of the machine.
    pub machine: String,
    /// Id of the swatch; `None`: the gauge is an estimate.
    pub swatch: Option<String>,
}
