use knit::stash::Words;
use units::LengthUnit;

/// How a pattern is printed for people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PrintLook {
    pub unit: LengthUnit,
    pub words: Words,
    /// Every size a pattern of its own, whatever they share.
    pub each: bool,
    /// Without the garment in the round on a sheet.
    pub flat: bool,
}

impl PrintLook {
    /// In a unit, the usual words, sizes told together.
    pub const fn new(unit: LengthUnit) -> PrintLook {
        PrintLook { unit, words: Words::Usual, each: false, flat: false }
    }
}
