use super::{Blend, Care, ColourFamily, WeightClass};
use crate::colours::ColourSequence;
use units::{Mass, YarnCount};

/// A yarn as its band describes it, with what the knitter found out.
#[derive(Clone, Debug, PartialEq)]
pub struct Yarn {
    /// Short name, unique in the workspace.
    pub id: String,
    /// What the band calls it.
    pub name: String,
    /// How thick it is.
    pub count: YarnCount,
    /// What it shows, metre after metre.
    pub colours: ColourSequence,
    /// The band's word for its thickness.
    pub class: Option<WeightClass>,
    /// What it is spun of.
    pub fibres: Option<Blend>,
    /// How it may be washed.
    pub care: Option<Care>,
    /// So much of it is never planned with.
    pub reserve: Option<Mass>,
    /// Ids of the swatches knitted in it.
    pub swatches: Vec<String>,
    /// What a new ball weighs.
    pub ball: Option<Mass>,
    /// What a new ball costs, in the knitter's money.
    pub price: Option<f64>,
}

impl Yarn {
    /// What a ball is taken to weigh where nobody said (the commonest put-up).
    pub const USUAL_BALL_G: f64 = 50.0;

    /// The plain words for its colours, each once, in the order of the ball.
    pub fn colour_families(&self) -> Vec<ColourFamily> {
        let mut families = Vec::new();
        for (colour, _) in self.colours.stretches() {
            let shade = colour.shade;
            let family = ColourFamily::of_rgb(shade.red, shade.green, shade.blue);
            if !families.contains(&family) {
                families.push(family);
            }
        }
        families
    }
}
