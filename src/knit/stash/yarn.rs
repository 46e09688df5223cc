use super::{Blend, Care, ColourFamily, WeightClass};
use crate::colours::ColourSequence;
use units::YarnCount;

/// A yarn as its band describes it, with what the knitter found out.
#[derive(Clone, Debug, PartialEq)]
pub struct Yarn {
    pub id: String,
    pub name: String,
    pub count: YarnCount,
    pub colours: ColourSequence,
    pub class: Option<WeightClass>,
    pub fibres: Option<Blend>,
    pub care: Option<Care>,
    /// Ids of the swatches knitted in it.
    pub swatches: Vec<String>,
}

impl Yarn {
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
