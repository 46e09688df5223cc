use std::fmt;
use std::str::FromStr;

use super::{UnitError, deserialize_from_text, number, sane};

/// A mass in grams, up to a tonne.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Mass(f64);

impl Mass {
    /// # Errors
    /// When `grams` is not a number, negative or above a tonne.
    pub fn from_grams(grams: f64) -> Result<Self, UnitError> {
        sane("a mass", grams, 1.0e6, "g").map(Mass)
    }

    /// The mass in grams.
    pub const fn grams(self) -> f64 {
        self.0
    }
}

impl FromStr for Mass {
    type Err = UnitError;

    /// Reads `78 g`, `1.2 kg`, `2 3/4 oz`.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let (value, unit) = number::leading_number(text)?;
        let factor = match unit.to_lowercase().as_str() {
            "g" | "gram" | "grams" => 1.0,
            "kg" => 1000.0,
            // The international avoirdupois ounce, exact.
            "oz" | "ounce" | "ounces" => 28.349_523_125,
            "" => {
                return Err(UnitError::new(
                    format!("`{}` has no unit", text.trim()),
                    format!("say which: `{0} g` or `{0} oz`", text.trim()),
                ));
            }
            other => {
                return Err(UnitError::new(
                    format!("`{other}` is not a unit of mass"),
                    "use g, kg or oz",
                ));
            }
        };
        Mass::from_grams(value * factor)
    }
}

/// In grams, to a hundredth.
impl fmt::Display for Mass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} g", number::plain(self.0, 2))
    }
}

deserialize_from_text!(Mass, "a mass such as \"78 g\" or \"2 oz\"");
