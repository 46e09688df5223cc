use units::{Length, Mass};

/// A ball, a cone's end, a pocketful: yarn of one kind and lot that was weighed.
#[derive(Clone, Debug, PartialEq)]
pub struct Remnant {
    /// Short name, unique in the workspace.
    pub id: String,
    /// Id of the yarn.
    pub yarn: String,
    /// What the scale says.
    pub weight: Mass,
    /// The dye lot: two lots of a shade may differ to the eye.
    pub lot: Option<String>,
    /// How far into the yarn's colour sequence the outer end is.
    pub start: Option<Length>,
    /// Where it lies, by the name of the place.
    pub place: Option<String>,
    /// The id of a gift or the name of a person that it is kept for, or anything else in words.
    pub keep_for: Option<String>,
    /// In the knitter's words.
    pub note: Option<String>,
}
