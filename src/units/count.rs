use std::fmt;
use std::str::FromStr;

use super::{Length, Mass, UnitError, deserialize_from_text, number};

/// How fine a yarn is, in tex: grams per kilometre of the finished (plied) yarn.
///
/// Factors between count systems: ISO 1144 (metric, denier, decitex) and the definitions of
/// the English cotton hank (840 yd/lb) and worsted hank (560 yd/lb).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct YarnCount(f64);

/// Grams per kilometre of a yarn that has one 840 yd hank in a pound.
const COTTON_TEX: f64 = 453_592.37 / (840.0 * 0.9144);
/// The same for the 560 yd worsted hank.
const WORSTED_TEX: f64 = 453_592.37 / (560.0 * 0.9144);

impl YarnCount {
    const LEAST_TEX: f64 = 1.0;
    const MOST_TEX: f64 = 20_000.0;

    /// # Errors
    /// When `tex` is outside 1 to 20,000: finer than a sewing thread, thicker than a rope.
    pub fn from_tex(tex: f64) -> Result<Self, UnitError> {
        if (Self::LEAST_TEX..=Self::MOST_TEX).contains(&tex) {
            Ok(YarnCount(tex))
        } else {
            Err(UnitError::new(
                format!("a yarn count of {tex} tex is no knitting yarn"),
                "4-ply yarn is about 250 tex (400 m/100 g): check the unit",
            ))
        }
    }

    /// Grams per kilometre.
    pub const fn tex(self) -> f64 {
        self.0
    }

    /// Metres in 100 g, as yarn bands say it.
    pub fn metres_per_100_g(self) -> f64 {
        100_000.0 / self.0
    }

    /// The mass in grams of `mm` of this yarn.
    pub fn grams_of(self, mm: f64) -> f64 {
        mm * self.0 / 1.0e6
    }

    /// A single yarn of worsted count `number`: so many hanks of 560 yd in a pound.
    ///
    /// # Errors
    /// As [`from_tex`](Self::from_tex).
    pub fn from_worsted(number: f64) -> Result<Self, UnitError> {
        YarnCount::from_tex(WORSTED_TEX / number)
    }

    /// How far two thicknesses are apart, as a factor of at least 1.
    pub fn apart(self, other: YarnCount) -> f64 {
        if self.0 > other.0 { self.0 / other.0 } else { other.0 / self.0 }
    }

    /// Whether they knit to one gauge: they differ by 12 % at most (common practice: balls of
    /// one class differ so much among themselves).
    pub fn knits_like(self, other: YarnCount) -> bool {
        const SAME_THICKNESS: f64 = 1.12;
        self.apart(other) <= SAME_THICKNESS
    }

    /// The length in mm that `grams` of this yarn runs to.
    pub fn mm_in(self, grams: f64) -> f64 {
        grams * 1.0e6 / self.0
    }
}

/// `2/24` is two ends of count 24: twice as thick as a single 24. `24` alone is one end.
/// Metric counts are written either way round, so the smaller number is taken as the plies.
fn ends_and_number(text: &str) -> Option<(f64, f64)> {
    match text.split_once('/') {
        None => number::number(text).ok().map(|n| (1.0, n)),
        Some((a, b)) => {
            let a = number::number(a).ok()?;
            let b = number::number(b).ok()?;
            Some((a.min(b), a.max(b)))
        }
    }
    .filter(|(ends, number)| *ends > 0.0 && *number > 0.0 && number.is_finite())
}

impl FromStr for YarnCount {
    type Err = UnitError;

    /// Reads `250 tex`, `2500 dtex`, `2250 den`, `Nm 2/28`, `20 NeC`, `2/24 NeW`,
    /// `400 m/100 g`, `437 yd/100 g`, `230 yd/50 g`.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let text = text.trim();
        let cannot = || {
            UnitError::new(
                format!("`{text}` is not a yarn count"),
                "write it like `400 m/100 g`, `250 tex`, `Nm 2/28`, `20 NeC` or `2/24 NeW`",
            )
        };
        let lower = text.to_lowercase();
        if let Some((length, mass)) = lower.split_once('/')
            && mass.trim_end().ends_with(|c: char| c.is_alphabetic())
            && length.trim_end().ends_with(|c: char| c.is_alphabetic())
        {
            let length = length.trim();
            // Yards are for yarn only: nobody measures a body or a swatch in them.
            let yards = ["yards", "yard", "yds", "yd"].iter().find_map(|y| length.strip_suffix(y));
            let mm = match yards {
                Some(yards) => match number::leading_number(yards)? {
                    (yards, "") => yards * 914.4,
                    _ => return Err(cannot()),
                },
                None => length.parse::<Length>()?.mm(),
            };
            if mm <= 0.0 {
                return Err(cannot());
            }
            let mass = if mass.trim().starts_with(|c: char| c.is_ascii_digit()) {
                mass.parse::<Mass>()?
            } else {
                format!("1 {}", mass.trim()).parse::<Mass>()?
            };
            return YarnCount::from_tex(mass.grams() / (mm / 1.0e6));
        }
        for (system, tex_of) in SYSTEMS {
            let number = lower
                .strip_suffix(system)
                .filter(|rest| rest.ends_with(|c: char| c.is_ascii_digit() || c == ' '))
                .or_else(|| lower.strip_prefix(system));
            if let Some(number) = number {
                let (ends, number) = ends_and_number(number.trim()).ok_or_else(cannot)?;
                return YarnCount::from_tex(tex_of(ends, number));
            }
        }
        Err(cannot())
    }
}

type ToTex = fn(f64, f64) -> f64;

/// Longest names first, so that `dtex` is not read as `tex`.
const SYSTEMS: [(&str, ToTex); 7] = [
    ("dtex", |ends, n| ends * n / 10.0),
    ("tex", |ends, n| ends * n),
    ("denier", |ends, n| ends * n / 9.0),
    ("den", |ends, n| ends * n / 9.0),
    ("nec", |ends, n| ends * COTTON_TEX / n),
    ("new", |ends, n| ends * WORSTED_TEX / n),
    ("nm", |ends, n| ends * 1000.0 / n),
];

/// In tex, to a hundredth.
impl fmt::Display for YarnCount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} tex", number::plain(self.0, 2))
    }
}

deserialize_from_text!(YarnCount, "a yarn count such as \"400 m/100 g\" or \"2/24 NeW\"");
