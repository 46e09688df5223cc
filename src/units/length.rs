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

    /// The bare number as it is printed, for cells whose heading carries the unit: one decimal in cm;
    /// in inches quarters, below 4 in eighths, where a quarter would be coarse: "20 1/4". This is the one
    /// rule by which lengths are rounded for print.
    pub fn cell(self, mm: f64) -> String {
        match self {
            LengthUnit::Cm => number::fixed(mm / 10.0, 1),
            LengthUnit::In => mixed_number(mm),
        }
    }

    /// With the unit behind it: "51.3 cm", "20 1/4 in".
    pub fn show(self, mm: f64) -> String {
        format!("{} {}", self.cell(mm), self.symbol())
    }
}

/// Inches as pattern books print them: "9 1/4", "3/8", "12".
fn mixed_number(mm: f64) -> String {
    let parts: u64 = if mm.abs() < 4.0 * 25.4 { 8 } else { 4 };
    let all = (mm.abs() / 25.4 * parts as f64).round() as u64;
    let sign = if mm < 0.0 && all > 0 { "-" } else { "" };
    let (whole, mut above, mut below) = (all / parts, all % parts, parts);
    while above > 0 && above.is_multiple_of(2) {
        (above, below) = (above / 2, below / 2);
    }
    match (whole, above) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, above) => format!("{sign}{above}/{below}"),
        (whole, above) => format!("{sign}{whole} {above}/{below}"),
    }
}

/// What is printed as inches, for programs: "9 1/4" is "9.25". Any other text stays as it is.
pub fn decimal_inches(printed: &str) -> String {
    let bare = printed.strip_prefix('-').unwrap_or(printed);
    let (whole, part) = match bare.rsplit_once(' ') {
        Some((whole, part)) => (whole, part),
        None => ("0", bare),
    };
    let value = part.split_once('/').and_then(|(above, below)| {
        let (above, below) = (above.parse::<u8>().ok()?, below.parse::<u8>().ok()?);
        let whole = whole.parse::<u32>().ok()?;
        matches!(below, 2 | 4 | 8).then(|| f64::from(whole) + f64::from(above) / f64::from(below))
    });
    let sign = if bare.len() < printed.len() { "-" } else { "" };
    value.map_or_else(|| printed.to_owned(), |value| format!("{sign}{}", number::plain(value, 3)))
}

/// The same text with the fractions of inches set as one sign each: "9 1/4" is "9¼".
pub fn set_fractions(text: &str) -> String {
    const SIGNS: [(&str, &str); 7] = [
        ("1/2", "½"),
        ("1/4", "¼"),
        ("3/4", "¾"),
        ("1/8", "⅛"),
        ("3/8", "⅜"),
        ("5/8", "⅝"),
        ("7/8", "⅞"),
    ];
    if !text.contains('/') {
        return text.to_owned();
    }
    let mut set = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('/') {
        let stands = at.checked_sub(1).zip(rest.get(at.saturating_sub(1)..at + 2));
        let sign = stands.and_then(|(from, part)| {
            let alone = !rest[..from]
                .ends_with(|c: char| c.is_ascii_digit() || c == '/' || c == '.')
                && !rest[at + 2..].starts_with(|c: char| c.is_ascii_digit() || c == '/');
            let known = SIGNS.iter().find(|(plain, _)| *plain == part);
            known.filter(|_| alone).map(|(_, sign)| (from, *sign))
        });
        match sign {
            Some((from, sign)) => {
                let before = &rest[..from];
                let whole = before.strip_suffix(' ').filter(|whole| ends_in_number(whole));
                set.push_str(whole.unwrap_or(before));
                set.push_str(sign);
                rest = &rest[at + 2..];
            }
            None => {
                set.push_str(&rest[..=at]);
                rest = &rest[at + 1..];
            }
        }
    }
    set.push_str(rest);
    set
}

fn ends_in_number(text: &str) -> bool {
    text.ends_with(|c: char| c.is_ascii_digit())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inches_are_printed_in_quarters_and_eighths() {
        for (inches, printed) in [
            (9.25, "9 1/4"),
            (9.2, "9 1/4"),
            (20.0, "20"),
            (3.125, "3 1/8"),
            (0.5, "1/2"),
            (0.02, "0"),
            (-0.02, "0"),
            (-2.75, "-2 3/4"),
            (3.99, "4"),
            (4.6, "4 1/2"),
        ] {
            assert_eq!(LengthUnit::In.cell(inches * 25.4), printed, "{inches}");
        }
        assert_eq!(LengthUnit::Cm.cell(92.5), "9.2");
        assert_eq!(LengthUnit::In.show(235.0), "9 1/4 in");
    }

    #[test]
    fn fractions_are_read_as_scales_and_phones_write_them() {
        let inches = |text: &str| text.parse::<Length>().map(|length| length.mm() / 25.4);
        for (text, read) in [
            ("1 1/2 in", 1.5),
            ("1½ in", 1.5),
            ("1 ½ in", 1.5),
            ("½in", 0.5),
            ("10⅜ in", 10.375),
            ("2⅔ in", 2.0 + 2.0 / 3.0),
        ] {
            assert!(inches(text).is_ok_and(|own| (own - read).abs() < 1e-9), "{text}");
        }
        for wrong in ["1.5½ in", "½½ in", "1½", "-½ in"] {
            assert!(inches(wrong).is_err(), "{wrong}");
        }
        assert_eq!(crate::readings("10½ in 10¾ in").expect("two").len(), 2);
        assert_eq!(crate::with_unit("1½", "oz"), "1½ oz");
    }

    #[test]
    fn what_is_printed_reads_back() {
        for eighths in 0..400 {
            let inches = f64::from(eighths) / 8.0;
            let printed = LengthUnit::In.cell(inches * 25.4);
            let told: f64 = decimal_inches(&printed).parse().expect("a number");
            let coarse = if inches < 4.0 { 1e-9 } else { 0.126 };
            assert!((told - inches).abs() < coarse, "{inches}: {printed}");
            let read: Length = format!("{printed} in").parse().expect("a length");
            assert!((read.mm() - told * 25.4).abs() < 1e-6, "{printed}");
        }
        for other in ["5-6 y", "1/3", "a 1/4", "12.5", "-", "2024/12"] {
            assert_eq!(decimal_inches(other), other);
        }
    }

    #[test]
    fn fractions_become_one_sign() {
        for (plain, set) in [
            ("9 1/4 (9 1/2, 10) in", "9¼ (9½, 10) in"),
            ("3/8", "⅜"),
            ("size 1/4 in", "size ¼ in"),
            ("400 m/100 g", "400 m/100 g"),
            ("11/4, 1/40, 1/4/2, 0.1/4", "11/4, 1/40, 1/4/2, 0.1/4"),
            ("é/4 1/8", "é/4⅛"),
        ] {
            assert_eq!(set_fractions(plain), set);
        }
    }
}
