use std::fmt;
use std::str::FromStr;

use units::UnitError;

/// How thick a yarn is on the knitter's scale from 0 to 7: the numbers of the Craft Yarn
/// Council's standard yarn weight system (craftyarncouncil.com/standards, numbers only). A rough
/// word; what is computed with is the yarn's count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WeightClass(u8);

impl WeightClass {
    /// The thickest class.
    pub const MOST: u8 = 7;

    /// `None` above [`MOST`](Self::MOST).
    pub const fn new(number: u8) -> Option<WeightClass> {
        if number <= WeightClass::MOST { Some(WeightClass(number)) } else { None }
    }

    /// From 0, the finest.
    pub const fn number(self) -> u8 {
        self.0
    }
}

impl FromStr for WeightClass {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        text.trim().parse().ok().and_then(WeightClass::new).ok_or_else(|| {
            UnitError::new(
                format!("`{text}` is not a weight class"),
                "the standard classes go from 0 (finest) to 7 (thickest)",
            )
        })
    }
}

impl fmt::Display for WeightClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}
