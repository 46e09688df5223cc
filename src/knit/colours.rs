//! The colours along a yarn: what a self-striping ball shows, metre after metre.

use std::fmt;
use std::str::FromStr;

use diag::{Code, Diagnostic};

/// A colour on a screen or in print: sRGB, 8 bits a channel (IEC 61966-2-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shade {
    /// Its red, 0 to 255.
    pub red: u8,
    /// Its green, 0 to 255.
    pub green: u8,
    /// Its blue, 0 to 255.
    pub blue: u8,
}

impl Shade {
    /// Relative luminance, 0 to 1 (W3C, WCAG 2.2, "relative luminance").
    pub fn luminance(self) -> f64 {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(self.red) + 0.7152 * linear(self.green) + 0.0722 * linear(self.blue)
    }

    /// Contrast ratio, 1 to 21 (WCAG 2.2, "contrast ratio").
    pub fn contrast(self, other: Shade) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

impl fmt::Display for Shade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}

impl FromStr for Shade {
    type Err = Diagnostic;

    /// Reads `#rrggbb`.
    fn from_str(text: &str) -> Result<Shade, Diagnostic> {
        let wrong = || {
            Diagnostic::error(Code::Shade, format!("`{text}` is not a colour"))
                .hint("write red, green and blue as six hexadecimal digits, like \"#1f4e5f\"")
        };
        let digits = text.trim().strip_prefix('#').ok_or_else(wrong)?;
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let channel = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).map_err(|_| wrong());
        Ok(Shade { red: channel(0)?, green: channel(2)?, blue: channel(4)? })
    }
}

/// A colour of a yarn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Colour {
    /// What the knitter calls it.
    pub name: String,
    /// How it is shown.
    pub shade: Shade,
}

/// The colours of a yarn from the outer end of the ball inwards.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourSequence {
    /// Each with its length in mm; never empty, lengths above nought.
    stretches: Vec<(Colour, f64)>,
    /// Whether the sequence begins again at its end.
    repeat: bool,
}

/// The most stretches a sequence may have, and the shortest, in mm: a stitch or so.
pub const MOST_STRETCHES: usize = 500;
/// The shortest stretch, in mm; see [`MOST_STRETCHES`].
pub const SHORTEST_MM: f64 = 10.0;

impl ColourSequence {
    /// # Errors
    /// An empty sequence, one of more than [`MOST_STRETCHES`], or a stretch under [`SHORTEST_MM`].
    pub fn new(stretches: Vec<(Colour, f64)>, repeat: bool) -> Result<Self, Diagnostic> {
        if stretches.is_empty() {
            return Err(Diagnostic::error(Code::NoColours, "a colour sequence without a colour")
                .hint("give at least one colour with its length"));
        }
        if stretches.len() > MOST_STRETCHES {
            return Err(Diagnostic::error(
                Code::TooManyColours,
                format!("{} stretches of colour; {MOST_STRETCHES} are the most", stretches.len()),
            )
            .hint("give one repeat of the sequence, with repeat = true"));
        }
        if let Some((colour, _)) = stretches.iter().find(|(_, mm)| mm.is_nan() || *mm < SHORTEST_MM)
        {
            return Err(Diagnostic::error(
                Code::ShortColour,
                format!("the stretch of {} is shorter than a stitch", colour.name),
            )
            .hint("measure it along the yarn: lengths are of yarn, not of fabric"));
        }
        Ok(ColourSequence { stretches, repeat })
    }

    /// A yarn of one colour.
    pub fn plain(colour: Colour) -> Self {
        ColourSequence { stretches: vec![(colour, 1000.0)], repeat: true }
    }

    /// Each colour with its length in mm, from the outer end of the ball inwards.
    pub fn stretches(&self) -> &[(Colour, f64)] {
        &self.stretches
    }

    /// Whether the sequence begins again at its end.
    pub fn repeats(&self) -> bool {
        self.repeat
    }

    /// One colour from end to end.
    pub fn is_plain(&self) -> bool {
        self.stretches.iter().all(|(colour, _)| *colour == self.stretches[0].0) && self.repeat
    }

    /// Length of the sequence once through, in mm.
    pub fn length_mm(&self) -> f64 {
        self.stretches.iter().map(|(_, mm)| mm).sum()
    }

    /// Calls `each` with every stretch of one colour between two places in the yarn: its index and
    /// its length in mm. `None` stands for yarn beyond the end of a sequence that doesn't repeat.
    pub fn walk(&self, from_mm: f64, to_mm: f64, mut each: impl FnMut(Option<usize>, f64)) {
        let length = self.length_mm();
        let mut at = from_mm.max(0.0);
        let mut lap = if self.repeat { (at / length).floor() * length } else { 0.0 };
        while at < to_mm {
            let mut start = lap;
            for (index, (_, mm)) in self.stretches.iter().enumerate() {
                let end = start + mm;
                if at < end && at < to_mm {
                    let upto = end.min(to_mm);
                    each(Some(index), upto - at);
                    at = upto;
                }
                start = end;
            }
            if !self.repeat && at < to_mm {
                each(None, to_mm - at);
                return;
            }
            lap += length;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shade(text: &str) -> Shade {
        text.parse().expect("a shade")
    }

    fn sequence(repeat: bool) -> ColourSequence {
        let colour =
            |name: &str, shade: &str| Colour { name: name.into(), shade: self::shade(shade) };
        let stretches =
            vec![(colour("deep", "#123456"), 3000.0), (colour("foam", "#eeeeee"), 1000.0)];
        ColourSequence::new(stretches, repeat).expect("sound")
    }

    fn walked(sequence: &ColourSequence, from: f64, to: f64) -> Vec<(Option<usize>, f64)> {
        let mut all = Vec::new();
        sequence.walk(from, to, |index, mm| all.push((index, mm)));
        all
    }

    #[test]
    fn a_repeating_sequence_goes_round_and_a_single_one_ends() {
        let round = walked(&sequence(true), 2500.0, 8500.0);
        assert_eq!(
            round,
            [
                (Some(0), 500.0),
                (Some(1), 1000.0),
                (Some(0), 3000.0),
                (Some(1), 1000.0),
                (Some(0), 500.0)
            ]
        );
        let once = walked(&sequence(false), 3500.0, 5000.0);
        assert_eq!(once, [(Some(1), 500.0), (None, 1000.0)]);
        assert_eq!(walked(&sequence(true), 4000.0, 4000.0), []);
    }

    #[test]
    fn shades_are_read_and_measured_as_the_web_guidelines_say() {
        assert_eq!("#1F4e5f".parse::<Shade>().expect("sound").to_string(), "#1f4e5f");
        for wrong in ["1f4e5f", "#1f4e5", "#1f4e5g", "", "#1f4e5f0", "#é4e5f"] {
            assert!(wrong.parse::<Shade>().is_err(), "{wrong}");
        }
        let (black, white) = (shade("#000000"), shade("#ffffff"));
        // WCAG 2.2: 21:1 is the most there is; #767676 is the lightest grey of 4.5:1 on white.
        assert!((black.contrast(white) - 21.0).abs() < 1e-9);
        let grey = shade("#767676");
        assert!(grey.contrast(white) >= 4.5 && grey.contrast(white) < 4.6);
        assert!(shade("#777777").contrast(white) < 4.5);
    }

    #[test]
    fn what_can_not_be_a_sequence_is_refused() {
        assert!(ColourSequence::new(Vec::new(), true).is_err());
        let colour = Colour { name: "a".into(), shade: shade("#000000") };
        assert!(ColourSequence::new(vec![(colour.clone(), 5.0)], true).is_err());
        assert!(ColourSequence::new(vec![(colour.clone(), f64::NAN)], true).is_err());
        assert!(ColourSequence::new(vec![(colour, 50.0); 501], true).is_err());
    }
}
