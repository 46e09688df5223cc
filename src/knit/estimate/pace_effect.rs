/// What makes work take longer or shorter than its operations: the logarithm of a factor each, but for
/// practice.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PaceEffect {
    /// The knitter, in all work.
    Knitter,
    /// A kind of garment, by its id.
    Kind(String),
    /// How much is gained by having made the kind before: minutes go with the number of it to minus this
    /// power (a power law: Wright 1936, read; the rate for this craft is practice).
    Practice,
}

impl PaceEffect {
    /// Mean and standard deviation before anything is learnt (practice; a gain of a tenth with every
    /// doubling is the power 0.152).
    pub(super) const fn prior(&self) -> (f64, f64) {
        match self {
            PaceEffect::Knitter => (0.0, 0.35),
            PaceEffect::Kind(_) => (0.0, 0.15),
            PaceEffect::Practice => (0.15, 0.06),
        }
    }
}
