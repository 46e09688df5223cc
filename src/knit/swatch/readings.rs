use crate::program::Structure;
use units::Mass;

/// What had been done to the fabric when it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FabricState {
    /// Fresh off the bed.
    AsKnitted,
    /// Left to itself for a while, not washed.
    Rested,
    /// Washed and dried.
    Washed,
}

impl FabricState {
    /// All three, in the order in which they come about.
    pub const ALL: [FabricState; 3] =
        [FabricState::AsKnitted, FabricState::Rested, FabricState::Washed];

    /// The words in files.
    pub const fn name(self) -> &'static str {
        match self {
            FabricState::AsKnitted => "as knitted",
            FabricState::Rested => "rested",
            FabricState::Washed => "washed",
        }
    }

    /// The state of that [`name`](Self::name), exactly.
    pub fn parse(text: &str) -> Option<FabricState> {
        FabricState::ALL.into_iter().find(|s| s.name() == text)
    }
}

/// So many stitches or rows over so many millimetres, measured a few times.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    /// Stitches or rows counted each time.
    pub count: u32,
    /// What they measured, in mm, each time.
    pub over_mm: Vec<f64>,
}

/// A swatch as it was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Swatch {
    /// The fabric it is of.
    pub structure: Structure,
    /// What had been done to it.
    pub state: FabricState,
    /// The dial it was knitted at, where noted.
    pub dial: Option<f64>,
    /// Along a row.
    pub stitches: Readings,
    /// Up a column.
    pub rows: Readings,
    /// Its weight, where it was weighed.
    pub weighed: Option<Weighed>,
}

/// The whole swatch on the scale: its mass, and how many stitches it is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighed {
    /// The whole swatch, in grams.
    pub mass: Mass,
    /// Its stitches, all rows together.
    pub stitches: u64,
    /// The scale's smallest step in grams.
    pub scale_step_g: f64,
    /// The knitter stands by the weight, however odd it looks.
    pub sure: bool,
}
