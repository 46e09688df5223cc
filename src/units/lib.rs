//! Lengths, masses, yarn counts and gauges: newtypes over one unit each (mm, g, tex, per 10 cm),
//! parsed once at the edge of the program and printed in the unit the reader asked for.
//!
//! A value of one of these types is always finite, never negative and never absurd: the only
//! ways in are the parsers and the `new` functions, which check. Nothing here knows what is
//! being measured.

#![warn(missing_docs)]

mod count;
mod density;
mod length;
mod mass;
mod number;

pub use count::YarnCount;
pub use density::PerTen;
pub use length::{Length, LengthUnit, decimal_inches, set_fractions};
pub use mass::Mass;
pub use number::{number, parse_number, parse_share, parts, readings, with_unit};

use diag::Code;
use thiserror::Error;

/// Why a text or a number is not a quantity. The message names the text; `hint` says what to
/// write instead.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{message}")]
pub struct UnitError {
    /// What is wrong, naming the text or the number.
    pub message: String,
    /// What to write instead.
    pub hint: String,
    /// What kind of fault it is.
    pub code: Code,
}

impl UnitError {
    /// With a message and a hint.
    pub fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        UnitError { message: message.into(), hint: hint.into(), code: Code::Unit }
    }

    /// Of what can be read in more ways than one.
    pub fn doubtful(message: impl Into<String>, hint: impl Into<String>) -> Self {
        UnitError { code: Code::Doubtful, ..UnitError::new(message, hint) }
    }

    /// As a diagnostic with no place, for the caller to place.
    pub fn into_diagnostic(self) -> diag::Diagnostic {
        diag::Diagnostic::error(self.code, self.message).hint(self.hint)
    }
}

/// Checks that `value` lies in `0..=most`; `what` and `unit` name it in the message.
fn sane(what: &str, value: f64, most: f64, unit: &str) -> Result<f64, UnitError> {
    if value.is_nan() {
        return Err(UnitError::new(format!("{what} is not a number"), "give a plain number"));
    }
    if value < 0.0 {
        return Err(UnitError::new(
            format!("{what} can't be negative ({value} {unit})"),
            "leave the minus sign out",
        ));
    }
    if value > most {
        return Err(UnitError::new(
            format!("{what} of {value} {unit} is beyond anything knitted"),
            format!("the most taken is {most} {unit}: check the unit"),
        ));
    }
    Ok(value)
}

/// Implements `Deserialize` for a newtype through its `FromStr`, so that TOML and JSON carry
/// the same texts a person types.
macro_rules! deserialize_from_text {
    ($type:ty, $expecting:literal) => {
        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                struct Visitor;
                impl serde::de::Visitor<'_> for Visitor {
                    type Value = $type;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str($expecting)
                    }
                    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<$type, E> {
                        text.parse::<$type>()
                            .map_err(|e| E::custom(format!("{}: {}", e.message, e.hint)))
                    }
                }
                deserializer.deserialize_str(Visitor)
            }
        }
    };
}
pub(crate) use deserialize_from_text;
