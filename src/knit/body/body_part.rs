use std::fmt;
use std::str::FromStr;

use diag::{Code, Diagnostic, nearest};

/// The part of the body a measure is of: for charts of a part, and for what to warn of in things
/// that are worn there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BodyPart {
    /// The head, without the neck.
    Head,
    /// Neck, trunk and arms down to the wrist.
    Torso,
    /// Wrist, hand and fingers.
    Hand,
    /// Thigh to ankle.
    Leg,
    /// Foot and heel.
    Foot,
}

impl BodyPart {
    /// All of them, from above.
    pub const ALL: [BodyPart; 5] =
        [BodyPart::Head, BodyPart::Torso, BodyPart::Hand, BodyPart::Leg, BodyPart::Foot];

    /// The word in files and in charts.
    pub const fn name(self) -> &'static str {
        match self {
            BodyPart::Head => "head",
            BodyPart::Torso => "torso",
            BodyPart::Hand => "hand",
            BodyPart::Leg => "leg",
            BodyPart::Foot => "foot",
        }
    }
}

impl FromStr for BodyPart {
    type Err = Diagnostic;

    fn from_str(text: &str) -> Result<Self, Diagnostic> {
        let text = text.trim();
        BodyPart::ALL.into_iter().find(|part| part.name() == text).ok_or_else(|| {
            let names = BodyPart::ALL.map(BodyPart::name);
            let fault = Diagnostic::error(Code::Measure, format!("`{text}` is no part of a body"));
            fault.hint(match nearest(text, names) {
                Some(name) => format!("did you mean `{name}`?"),
                None => format!("the parts are {}", names.join(", ")),
            })
        })
    }
}

impl fmt::Display for BodyPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
