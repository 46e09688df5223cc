use std::fmt;
use std::str::FromStr;

use super::{UnitError, deserialize_from_text, number, sane};

/// A length in millimetres, from nothing to 100 km (a mill's worth of yarn).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Length(f64);

/// The unit that lengths are printed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum LengthUnit {
    /// Centimetres, and metres of yarn.
    #[default]
    Cm,
    /// Inches, and yards of yarn.
    In,
}

impl LengthUnit {
    /// How many millimetres it is, exactly.
    pub const fn mm(self) -> f64 {
        match self {
            LengthUnit::Cm => 10.0,
            LengthUnit::In => 25.4,
        }
    }

    /// The sign behind a number.
    pub const fn symbol(self) -> &'static str {
        match self {
            LengthUnit::Cm => "cm",
            LengthUnit::In => "in",
        }
    }

    /// Yarn is told by the metre or by the yard.
    pub const fn long_symbol(self) -> &'static str {
        match self {
            LengthUnit::Cm => "m",
            LengthUnit::In => "yd",
        }
    }

    /// Metres as [`long_symbol`](Self::long_symbol)s.
    pub const fn long(self, metres: f64) -> f64 {
        match self {
            LengthUnit::Cm => metres,
            LengthUnit::In => metres / 0.9144,
        }
    }

    /// What a gauge is told over: 10 cm or 4 in, its words and its millimetres.
    pub const fn gauge_over(self) -> (&'static str, f64) {
        match self {
            LengthUnit::Cm => ("10 cm", 100.0),
            LengthUnit::In => ("4 in", 101.6),
        }
    }

    /// The bare number, for table cells whose heading carries the unit: one decimal in cm, the
    /// nearest quarter in inches (eighth below 4 in).
    pub fn cell(self, mm: f64) -> String {
        match self {
            LengthUnit::Cm => number::fixed(mm / 10.0, 1),
            LengthUnit::In => {
                // Quarters; eighths where a quarter would be coarse.
                let parts = if mm.abs() < 4.0 * 25.4 { 8.0 } else { 4.0 };
                number::plain((mm / 25.4 * parts).round() / parts, 3)
            }
        }
    }

    /// With the unit behind it: "51.3 cm", "20.25 in".
    pub fn show(self, mm: f64) -> String {
        format!("{} {}", self.cell(mm), self.symbol())
    }
}

impl Length {
    const MOST_MM: f64 = 1.0e8;

    /// # Errors
    /// When `mm` is not a number, negative or above 100 km.
    pub fn from_mm(mm: f64) -> Result<Self, UnitError> {
        sane("a length", mm, Self::MOST_MM, "mm").map(Length)
    }

    /// The length in millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }
}

impl FromStr for Length {
    type Err = UnitError;

    /// Reads `56 cm`, `560mm`, `22 in`, `10 1/2 in`, `0.56 m`. A bare number is refused: the
    /// unit is what goes wrong most often.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let (value, unit) = number::leading_number(text)?;
        let factor = match unit.to_lowercase().as_str() {
            "mm" => 1.0,
            "cm" => 10.0,
            "m" => 1000.0,
            "in" | "inch" | "inches" | "\"" => 25.4,
            "" => {
                return Err(UnitError::new(
                    format!("`{}` has no unit", text.trim()),
                    format!("say which: `{0} cm` or `{0} in`", text.trim()),
                ));
            }
            other => {
                return Err(UnitError::new(
                    format!("`{other}` is not a unit of length"),
                    "use mm, cm, m or in",
                ));
            }
        };
        Length::from_mm(value * factor)
    }
}

/// In centimetres, exact enough to read back to the same tenth of a millimetre.
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} cm", number::plain(self.0 / 10.0, 2))
    }
}

deserialize_from_text!(Length, "a length such as \"56 cm\" or \"22 in\"");
