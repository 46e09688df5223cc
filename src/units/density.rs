use std::fmt;
use std::str::FromStr;

use super::{UnitError, deserialize_from_text, number};

/// Stitches or rows per 10 cm.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct PerTen(f64);

impl PerTen {
    /// The least that is taken.
    pub const LEAST: f64 = 4.0;
    /// The most that is taken.
    pub const MOST: f64 = 120.0;

    /// # Errors
    /// When `value` is outside 4 to 120 per 10 cm: ropes and microscopes.
    pub fn new(value: f64) -> Result<Self, UnitError> {
        if (Self::LEAST..=Self::MOST).contains(&value) {
            Ok(PerTen(value))
        } else {
            Err(UnitError::new(
                format!(
                    "{} per 10 cm is no gauge a knitting machine makes",
                    number::plain(value, 2)
                ),
                "machines make about 8 to 60 stitches and 10 to 80 rows per 10 cm: check the unit",
            ))
        }
    }

    /// Stitches or rows to 10 cm.
    pub const fn per_10_cm(self) -> f64 {
        self.0
    }

    /// Stitches or rows to a millimetre.
    pub const fn per_mm(self) -> f64 {
        self.0 / 100.0
    }

    /// Millimetres one stitch or row takes.
    pub const fn pitch_mm(self) -> f64 {
        100.0 / self.0
    }
}

impl FromStr for PerTen {
    type Err = UnitError;

    /// Reads `28 per 10 cm`, `28/10cm`, `7 per in`, `28 sts / 4 in`.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let cannot = || {
            UnitError::new(
                format!("`{}` is not a gauge", text.trim()),
                "write it like `28 per 10 cm` or `28 per 4 in`",
            )
        };
        let lower = text.trim().to_lowercase();
        let (many, over) =
            lower.split_once(" per ").or_else(|| lower.split_once('/')).ok_or_else(cannot)?;
        let (many, what) = number::leading_number(many)?;
        if !matches!(what, "" | "st" | "sts" | "stitches" | "row" | "rows" | "r") {
            return Err(cannot());
        }
        let over = over.trim();
        let over_mm = if over.starts_with(|c: char| c.is_ascii_digit()) {
            over.parse::<super::Length>()?.mm()
        } else {
            format!("1 {over}").parse::<super::Length>()?.mm()
        };
        if over_mm <= 0.0 {
            return Err(cannot());
        }
        PerTen::new(many * 100.0 / over_mm)
    }
}

/// "28 per 10 cm", to a hundredth.
impl fmt::Display for PerTen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} per 10 cm", number::plain(self.0, 2))
    }
}

deserialize_from_text!(PerTen, "a gauge such as \"28 per 10 cm\"");
