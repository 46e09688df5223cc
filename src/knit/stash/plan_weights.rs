/// What a plan gains and loses by; only their ratios count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanWeights {
    /// A gift, by each point of its priority.
    pub priority: f64,
    /// A colour or garment that is liked.
    pub preference: f64,
    /// Each join in a section.
    pub join: f64,
    /// Each gram of what is left over too small to be of use.
    pub drib: f64,
    /// Each gift that a new plan would knit otherwise than the accepted one.
    pub change: f64,
    /// Each remnant that is brought to another place.
    pub travel: f64,
    /// Each two gifts of one person that are of one kind, and again if they are of one yarn.
    pub alike: f64,
    /// Gained by each gram knitted; `None`: as the aim has it, as are the two below.
    pub gram: Option<f64>,
    /// Each remnant begun.
    pub ball: Option<f64>,
    /// Each hour of work.
    pub hour: Option<f64>,
}
