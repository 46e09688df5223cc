use std::fmt;
use std::str::FromStr;

use units::UnitError;

/// How a yarn may be washed, as on its care label. The degrees are those of the wash tub of
/// ISO 3758 (from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Care {
    /// In the machine, at most at so many degrees Celsius.
    Machine(u8),
    /// By hand.
    Hand,
    /// Not with water.
    DryClean,
}

const DEGREES: [u8; 6] = [30, 40, 50, 60, 70, 95];

impl Care {
    /// What that asks of whoever washes it.
    pub const fn effort(self) -> WashEffort {
        match self {
            Care::Machine(_) => WashEffort::Machine,
            Care::Hand => WashEffort::Hand,
            Care::DryClean => WashEffort::DryClean,
        }
    }
}

/// What washing asks of whoever does it, least first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WashEffort {
    /// Put it in.
    Machine,
    /// By hand.
    Hand,
    /// Take it away.
    DryClean,
}

impl WashEffort {
    /// All three, least first.
    pub const ALL: [WashEffort; 3] = [WashEffort::Machine, WashEffort::Hand, WashEffort::DryClean];

    /// The word in files.
    pub const fn name(self) -> &'static str {
        match self {
            WashEffort::Machine => "machine",
            WashEffort::Hand => "hand",
            WashEffort::DryClean => "dry clean",
        }
    }

    /// The effort of that [`name`](Self::name), exactly.
    pub fn parse(text: &str) -> Option<WashEffort> {
        WashEffort::ALL.into_iter().find(|effort| effort.name() == text)
    }
}

impl FromStr for Care {
    type Err = UnitError;

    /// Reads `machine 40`, `hand`, `dry clean`.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let words: Vec<&str> = text.split_whitespace().collect();
        match words.as_slice() {
            ["hand"] => Ok(Care::Hand),
            ["dry", "clean"] => Ok(Care::DryClean),
            ["machine", degrees] => {
                let degrees = degrees.trim_end_matches("°C").trim_end_matches('°');
                match degrees.parse().ok().filter(|d| DEGREES.contains(d)) {
                    Some(degrees) => Ok(Care::Machine(degrees)),
                    None => Err(UnitError::new(
                        format!("no care label says {degrees} degrees"),
                        "the wash tub stands at 30, 40, 50, 60, 70 or 95",
                    )),
                }
            }
            _ => Err(UnitError::new(
                format!("`{text}` is not a way to wash"),
                "write `machine 40` (or 30, 60 ...), `hand` or `dry clean`",
            )),
        }
    }
}

impl fmt::Display for Care {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Care::Machine(degrees) => write!(f, "machine {degrees}"),
            other => f.write_str(other.effort().name()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_read_back() {
        for text in ["machine 30", "machine 95", "hand", "dry clean"] {
            assert_eq!(text.parse::<Care>().expect(text).to_string(), text);
        }
        assert_eq!("machine  40°C".parse(), Ok(Care::Machine(40)));
        for bad in ["machine", "machine 45", "machine 300", "cold", ""] {
            assert!(bad.parse::<Care>().is_err(), "{bad}");
        }
        assert!(WashEffort::Machine < WashEffort::Hand);
    }
}
