//! What is said of a garment in the colours of its yarn, a sentence each.

use knit::colouring::Unmatched;

/// Something to tell the knitter of it.
#[derive(Clone, Debug, PartialEq)]
pub enum ColourNote {
    /// No yarn was named for some sections, or for any of them: the demo yarn stands in.
    StandsIn { everywhere: bool },
    /// The second of a pair can't be matched from balls of this yarn.
    Unmatched { why: Unmatched, yarn: String },
    /// What to wind off before a piece of the second of a pair: nought where it matches by itself.
    WindOff { piece: String, mm: f64, grams: f64, colour: String, into_mm: f64 },
    /// A piece has more or fewer stitches than its counterpart of the first.
    Shifted { piece: String, first: String, stitches: u64, fewer: bool },
    /// What is wound off in all.
    WoundOff { mm: f64, grams: f64 },
    /// The yarn runs out, and what is missing.
    Short { mm: f64, grams: f64 },
}

impl ColourNote {
    pub fn text(&self) -> String {
        match self {
            ColourNote::StandsIn { everywhere: true } => {
                "No yarn was named: the demo self-striping yarn stands in.".to_owned()
            }
            ColourNote::StandsIn { everywhere: false } => {
                "Sections without a yarn of their own are shown in the demo self-striping yarn."
                    .to_owned()
            }
            ColourNote::Unmatched { why, yarn } => unmatched(*why, yarn),
            ColourNote::WindOff { piece, mm, grams, colour, into_mm } => {
                let into = if *into_mm < 5.0 {
                    String::new()
                } else {
                    format!(", {:.1} m into it", into_mm / 1000.0)
                };
                let place = format!("it begins with {colour} again{into}");
                if *mm > 0.0 {
                    let metres = mm / 1000.0;
                    format!(
                        "Second, {piece}: wind off {metres:.1} m ({grams:.1} g) so that {place}."
                    )
                } else {
                    format!("Second, {piece}: nothing to wind off, {place}.")
                }
            }
            ColourNote::Shifted { piece, first, stitches, fewer } => format!(
                "The {piece} has {stitches} stitches {} than the {first}: from there on its stripes lie so much further along.",
                if *fewer { "fewer" } else { "more" },
            ),
            ColourNote::WoundOff { mm, grams } => {
                format!("Wound off in all: {:.1} m ({grams:.1} g).", mm / 1000.0)
            }
            ColourNote::Short { mm, grams } => format!(
                "The yarn runs out: {:.2} m ({grams:.1} g) are missing. The hatched part has no yarn left.",
                mm / 1000.0
            ),
        }
    }
}

fn unmatched(why: Unmatched, yarn: &str) -> String {
    match why {
        Unmatched::NoMates => {
            "The garment does not say which pieces are the second of a pair: nothing is matched."
                .to_owned()
        }
        Unmatched::OneOff => format!(
            "{yarn} does not repeat its colours, so the second can't match from the same ball: halve the ball by weight, or start from the same end of a second ball."
        ),
        Unmatched::SeveralBalls => {
            "Several balls are joined, so the second can't be matched: match remnants by eye, or knit both from one repeating ball."
                .to_owned()
        }
    }
}
