use diag::{Code, Diagnostic, nearest};
use units::Length;

/// One thing the knitter may choose, as `plugin.toml` declares it.
#[derive(Clone, Debug, PartialEq)]
pub struct OptionSpec {
    /// As a person types it and the script reads it.
    pub name: String,
    /// What people call it: the manifest's `title`, or the name in words.
    pub title: String,
    /// A sentence for people.
    pub help: String,
    /// What may be chosen.
    pub kind: OptionKind,
    /// `None` is "auto": the script gets nil and decides.
    pub default: Option<OptionValue>,
    /// Whether the garment grows with it: left on "auto" where yarn is weighed, it takes the largest
    /// value that the yarn is enough for.
    pub scales: bool,
}

/// What may be chosen. All bounds are included.
#[derive(Clone, Debug, PartialEq)]
pub enum OptionKind {
    /// `min`, `min + step`... up to `max`.
    Integer {
        /// The least.
        min: i64,
        /// The most.
        max: i64,
        /// 1 or more.
        step: i64,
    },
    /// A number without a unit.
    Number {
        /// The least.
        min: f64,
        /// The most.
        max: f64,
    },
    /// Typed as `-8 %`; the script gets the share, -0.08. The bounds are in per cent.
    Percent {
        /// The least, in per cent.
        min: f64,
        /// The most, in per cent.
        max: f64,
    },
    /// Typed with its unit; the script gets millimetres.
    Length {
        /// The least, in mm.
        min_mm: f64,
        /// The most, in mm.
        max_mm: f64,
    },
    /// One of some words.
    Choice {
        /// Two words at least.
        of: Vec<String>,
    },
    /// Yes or no.
    Flag,
}

/// What was chosen, within what its [`OptionKind`] allows.
#[derive(Clone, Debug, PartialEq)]
pub enum OptionValue {
    /// A whole number.
    Integer(i64),
    /// A plain number, or the share of a per cent.
    Number(f64),
    /// A length.
    Length(Length),
    /// One of the words.
    Choice(String),
    /// `true` for yes.
    Flag(bool),
}

/// As a person types it.
impl std::fmt::Display for OptionValue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            OptionValue::Integer(n) => n.fmt(f),
            OptionValue::Number(n) => n.fmt(f),
            OptionValue::Length(length) => length.fmt(f),
            OptionValue::Choice(word) => f.write_str(word),
            OptionValue::Flag(flag) => f.write_str(if *flag { "yes" } else { "no" }),
        }
    }
}

impl OptionKind {
    /// A value as a person types it for this kind: a per cent as `-8 %`.
    pub fn show(&self, value: &OptionValue) -> String {
        match (self, value) {
            (OptionKind::Percent { .. }, OptionValue::Number(share)) => {
                // Shares are typed in tenths of a per cent at the finest.
                format!("{} %", (share * 1000.0).round() / 10.0)
            }
            _ => value.to_string(),
        }
    }

    /// What may be typed, as a hint reads it: "a whole number from 2 to 24".
    pub fn describe(&self) -> String {
        match self {
            OptionKind::Integer { min, max, step: 1 } => {
                format!("a whole number from {min} to {max}")
            }
            OptionKind::Integer { min, max, step } => {
                format!("a whole number from {min} to {max} in steps of {step}")
            }
            OptionKind::Number { min, max } => format!("a number from {min} to {max}"),
            OptionKind::Percent { min, max } => format!("from {min} % to {max} %"),
            OptionKind::Length { min_mm, max_mm } => {
                let length = |mm: f64| format!("{} cm", mm / 10.0);
                format!("a length from {} to {}", length(*min_mm), length(*max_mm))
            }
            OptionKind::Choice { of } => format!("one of {}", of.join(", ")),
            OptionKind::Flag => "yes or no".to_owned(),
        }
    }

    /// Reads what a person typed.
    pub(crate) fn parse(&self, text: &str) -> Result<OptionValue, Diagnostic> {
        let text = text.trim();
        let wanted =
            || Diagnostic::error(Code::Option, format!("`{text}` is not {}", self.describe()));
        match self {
            OptionKind::Integer { min, max, step } => {
                let value: i64 = text.parse().map_err(|_| wanted())?;
                if (*min..=*max).contains(&value) && (value - min) % step == 0 {
                    Ok(OptionValue::Integer(value))
                } else {
                    Err(wanted())
                }
            }
            OptionKind::Number { min, max } => {
                let value = units::number(text).map_err(|_| wanted())?;
                if (*min..=*max).contains(&value) {
                    Ok(OptionValue::Number(value))
                } else {
                    Err(wanted())
                }
            }
            OptionKind::Percent { min, max } => {
                let number = text.strip_suffix('%').unwrap_or(text).trim();
                let value =
                    units::number(number).map_err(|_| wanted().hint("write it like `-8 %`"))?;
                if (*min..=*max).contains(&value) {
                    Ok(OptionValue::Number(value / 100.0))
                } else {
                    Err(wanted())
                }
            }
            OptionKind::Length { min_mm, max_mm } => {
                let value: Length = text.parse().map_err(|e: units::UnitError| {
                    Diagnostic::error(Code::Option, e.message).hint(e.hint)
                })?;
                if (*min_mm..=*max_mm).contains(&value.mm()) {
                    Ok(OptionValue::Length(value))
                } else {
                    Err(wanted())
                }
            }
            OptionKind::Choice { of } => {
                if of.iter().any(|word| word == text) {
                    Ok(OptionValue::Choice(text.to_owned()))
                } else {
                    Err(wanted().maybe_hint(
                        nearest(text, of.iter().map(String::as_str))
                            .map(|word| format!("did you mean `{word}`?")),
                    ))
                }
            }
            OptionKind::Flag => match text {
                "yes" | "true" => Ok(OptionValue::Flag(true)),
                "no" | "false" => Ok(OptionValue::Flag(false)),
                _ => Err(wanted()),
            },
        }
    }
}
