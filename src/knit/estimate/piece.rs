use super::{Effect, Id, Need};
use crate::program::Structure;

/// Stitches of one fabric in one yarn.
#[derive(Clone, Debug, PartialEq, PartialOrd)]
pub struct Stitches {
    /// Id of the yarn.
    pub yarn: Id,
    /// The fabric they make.
    pub fabric: Structure,
    /// Id of the gauge that the model's loop was taken from: the swatch it is or was knitted to. Two that
    /// name the same one are off by the same.
    pub gauge: Id,
    /// What that gauge may be off by, from [`gauge_spread`](super::gauge_spread).
    pub gauge_spread: f64,
    /// Their grams by the model: stitches, times the loop, times the yarn's grams to a metre.
    pub grams: f64,
}

impl Stitches {
    /// What they depend on, with the spread of each before anything is learnt; each counts once.
    pub(super) fn effects(&self) -> Vec<(Effect, f64)> {
        let known = [
            Effect::Knitter,
            Effect::Fabric(self.fabric),
            Effect::Yarn(self.yarn.clone()),
            Effect::YarnFabric(self.yarn.clone(), self.fabric),
        ];
        let known = known.into_iter().filter_map(|effect| effect.spread().map(|sd| (effect, sd)));
        let gauge = (Effect::Gauge(self.gauge.clone()), self.gauge_spread);
        known.chain([gauge]).filter(|(_, sd)| *sd > 0.0).collect()
    }
}

/// A piece that is to be knitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Names it; no two pieces of one plan have the same.
    pub id: Id,
    /// Its yarn sections.
    pub sections: Vec<PieceSection>,
}

impl Piece {
    /// The same knitted to the same gauge in another yarn, so many times as heavy to the metre.
    pub fn in_yarn(&self, yarn: &Id, times: f64) -> Piece {
        let mut piece = self.clone();
        for section in &mut piece.sections {
            section.other_g *= times;
            for stitches in &mut section.stitches {
                stitches.yarn = yarn.clone();
                stitches.grams *= times;
            }
        }
        piece
    }
}

/// One yarn section of it.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceSection {
    /// As the garment names it.
    pub name: Id,
    /// What is knitted, by fabric and yarn.
    pub stitches: Vec<Stitches>,
    /// Grams in ends, seams and sewing.
    pub other_g: f64,
}

/// What a piece takes.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceNeed {
    /// Section by section.
    pub sections: Vec<(Id, Need)>,
    /// All of them together.
    pub whole: Need,
}
