use std::fmt;
use std::str::FromStr;

use super::Fibre;
use units::UnitError;

/// What a yarn is spun of: fibres and their per cents of the mass, which add up to 100.
#[derive(Clone, Debug, PartialEq)]
pub struct Blend(Vec<(Fibre, f64)>);

/// Labels round to whole per cents or tenths; more than this is a slip.
const ROUNDING: f64 = 0.05;

impl Blend {
    /// Fibres with their per cents, as the label lists them.
    pub fn parts(&self) -> &[(Fibre, f64)] {
        &self.0
    }

    /// Whether any of it is of that fibre.
    pub fn has(&self, fibre: Fibre) -> bool {
        self.0.iter().any(|(own, _)| *own == fibre)
    }
}

impl FromStr for Blend {
    type Err = UnitError;

    /// Reads `75 % wool, 25 % polyamide`; a fibre alone (`cotton`) is all of it.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let mut parts: Vec<(Fibre, f64)> = Vec::new();
        let all = units::parts(text);
        let alone = all.len() < 2;
        // What is blank is a fibre that nobody knows.
        for part in if all.is_empty() { vec![""] } else { all } {
            let (percent, name) = match part.split_once('%') {
                Some((number, name)) => {
                    let percent = units::number(number).ok().filter(|p| p.is_finite());
                    let percent = percent.filter(|p| *p > 0.0 && *p <= 100.0).ok_or_else(|| {
                        UnitError::new(
                            format!("`{}` is not a per cent of a blend", number.trim()),
                            "write it like `75 % wool, 25 % polyamide`",
                        )
                    })?;
                    (percent, name)
                }
                None if alone => (100.0, part),
                None => {
                    return Err(UnitError::new(
                        format!("`{part}` has no per cent"),
                        "write it like `75 % wool, 25 % polyamide`",
                    ));
                }
            };
            let fibre: Fibre = name.parse()?;
            if parts.iter().any(|(other, _)| *other == fibre) {
                return Err(UnitError::new(
                    format!("{fibre} is named twice"),
                    "add the two per cents up",
                ));
            }
            parts.push((fibre, percent));
        }
        let sum: f64 = parts.iter().map(|(_, percent)| percent).sum();
        if (sum - 100.0).abs() > ROUNDING {
            return Err(UnitError::new(
                format!("the fibres add up to {} %", (sum * 100.0).round() / 100.0),
                "they make 100 % together: check the label",
            ));
        }
        Ok(Blend(parts))
    }
}

impl fmt::Display for Blend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, (fibre, percent)) in self.0.iter().enumerate() {
            let comma = if i > 0 { ", " } else { "" };
            write!(f, "{comma}{percent} % {fibre}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blends_read_back_and_slips_are_named() {
        let blend: Blend = "75 % wool, 25% nylon".parse().expect("sound");
        assert_eq!(blend.to_string(), "75 % wool, 25 % polyamide");
        assert_eq!("cotton".parse::<Blend>().expect("sound").to_string(), "100 % cotton");
        assert!("33.3 % wool, 33.3 % silk, 33.4 % yak".parse::<Blend>().is_ok());
        for (text, message) in [
            ("75 % wool, 20 % polyamide", "add up to 95 %"),
            ("50 % wool, 50 % wool", "named twice"),
            ("wool, 25 % silk", "no per cent"),
            ("x % wool", "not a per cent"),
            ("0 % wool, 100 % silk", "not a per cent"),
            ("100 % woll", "`woll` is not a fibre"),
            ("", "not a fibre"),
        ] {
            let error = text.parse::<Blend>().expect_err(text);
            assert!(error.message.contains(message), "{text}: {error}");
        }
    }
}
