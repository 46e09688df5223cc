//! A figure of a body, bare or with its unit.

use units::{Length, UnitError};

/// Millimetres of a figure; a bare number is in the table's unit.
pub(super) fn length(value: &toml::Value, unit: Option<f64>) -> Result<f64, UnitError> {
    let refuse = |message: String, hint: &str| Err(UnitError::new(message, hint));
    let bare = match value {
        toml::Value::String(text) => return positive(text.parse::<Length>()?),
        toml::Value::Integer(number) => *number as f64,
        toml::Value::Float(number) => *number,
        other => {
            return refuse(
                format!("a {} is no length", other.type_str()),
                "write a number or a text like \"56 cm\"",
            );
        }
    };
    match unit {
        Some(unit) => positive(Length::from_mm(bare * unit)?),
        None => refuse(
            format!("{bare} has no unit"),
            "add `unit = \"mm\"` at the top of the table, or write a text like \"56 cm\"",
        ),
    }
}

fn positive(length: Length) -> Result<f64, UnitError> {
    if length.mm() > 0.0 {
        Ok(length.mm())
    } else {
        Err(UnitError::new(
            "a body measure can't be nothing",
            "leave the measure out if it isn't known",
        ))
    }
}
