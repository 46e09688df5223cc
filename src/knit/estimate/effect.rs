use super::Id;
use crate::program::Structure;

/// What makes yarn in a stitch differ from the model's: each is the logarithm of a factor, around nought
/// until something is learnt of it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// The knitter, in all yarns and fabrics.
    Knitter,
    /// A fabric, over all yarns.
    Fabric(Structure),
    /// The yarn named, in all fabrics.
    Yarn(Id),
    /// A fabric in the yarn named.
    YarnFabric(Id, Structure),
    /// The gauge that the model's loop was taken from, by its id.
    Gauge(Id),
}

/// What a fabric may miss by beyond what plain does, as a share (practice).
pub const fn fabric_spread(fabric: Structure) -> f64 {
    match fabric {
        Structure::Plain => 0.0,
        Structure::Circular => 0.03,
        Structure::Rib1x1 | Structure::Rib2x2 => 0.10,
    }
}

impl Effect {
    /// Standard deviation before anything is learnt. Common practice, no source; chosen so that plain in a
    /// new yarn comes to 0.067, the spread of the loop's constant and of the label's metres together, and
    /// a rib to 0.120. `None`: a gauge's, which depends on the gauge.
    pub const fn spread(&self) -> Option<f64> {
        Some(match self {
            Effect::Knitter => 0.05,
            Effect::Fabric(fabric) => fabric_spread(*fabric),
            Effect::Yarn(_) => 0.04,
            Effect::YarnFabric(..) => 0.02,
            Effect::Gauge(_) => return None,
        })
    }
}
