use std::fmt;
use std::str::FromStr;

use diag::{Code, Diagnostic, nearest};

/// A body measure. Names follow ISO 8559-1 where it has the measure; foot girth, heel-ankle
/// girth, palm length, thumb crotch, thumb length and fist girth are terms of footwear and of
/// the surveys.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Measure {
    /// Round the head at its widest, above brows and ears.
    HeadGirth,
    /// Round the knuckles of the flat hand, without the thumb.
    HandGirth,
    /// From the wrist crease to the tip of the middle finger.
    HandLength,
    /// From the wrist crease to the root of the middle finger.
    PalmLength,
    /// From the fork of the thumb to the tip of the middle finger.
    ThumbCrotch,
    /// From the fork of the thumb to its tip.
    ThumbLength,
    /// Round the closed fist, over knuckles and thumb.
    FistGirth,
    /// Round the wrist, at the wrist bone.
    WristGirth,
    /// From the heel to the tip of the longest toe, standing.
    FootLength,
    /// Round the ball of the foot, standing.
    FootGirth,
    /// Round the tip of the heel and the bend of the instep.
    HeelAnkleGirth,
    /// Round the leg over the ankle bones.
    AnkleGirth,
    /// Round the leg where it is thinnest, above the ankle bones.
    MinimumLegGirth,
    /// Round the calf where it is thickest.
    CalfGirth,
    /// Round the thigh just above the kneecap.
    LowerThighGirth,
    /// From the floor to the hollow below the knee joint.
    KneeHeight,
    /// From the floor to the top of the head; of a baby, lying.
    Stature,
}

impl Measure {
    /// Head to foot, the order tables are shown in.
    pub const ALL: [Measure; 17] = [
        Measure::HeadGirth,
        Measure::HandGirth,
        Measure::HandLength,
        Measure::PalmLength,
        Measure::ThumbCrotch,
        Measure::ThumbLength,
        Measure::FistGirth,
        Measure::WristGirth,
        Measure::FootLength,
        Measure::FootGirth,
        Measure::HeelAnkleGirth,
        Measure::AnkleGirth,
        Measure::MinimumLegGirth,
        Measure::CalfGirth,
        Measure::LowerThighGirth,
        Measure::KneeHeight,
        Measure::Stature,
    ];

    /// The eight that a size chart shows unless others are asked for.
    pub const MAIN: [Measure; 8] = [
        Measure::HeadGirth,
        Measure::HandGirth,
        Measure::HandLength,
        Measure::WristGirth,
        Measure::FootLength,
        Measure::FootGirth,
        Measure::AnkleGirth,
        Measure::CalfGirth,
    ];

    /// The name in files, scripts and JSON: `head_girth`.
    pub const fn name(self) -> &'static str {
        match self {
            Measure::HeadGirth => "head_girth",
            Measure::HandGirth => "hand_girth",
            Measure::HandLength => "hand_length",
            Measure::PalmLength => "palm_length",
            Measure::ThumbCrotch => "thumb_crotch",
            Measure::ThumbLength => "thumb_length",
            Measure::FistGirth => "fist_girth",
            Measure::WristGirth => "wrist_girth",
            Measure::FootLength => "foot_length",
            Measure::FootGirth => "foot_girth",
            Measure::HeelAnkleGirth => "heel_ankle_girth",
            Measure::AnkleGirth => "ankle_girth",
            Measure::MinimumLegGirth => "minimum_leg_girth",
            Measure::CalfGirth => "calf_girth",
            Measure::LowerThighGirth => "lower_thigh_girth",
            Measure::KneeHeight => "knee_height",
            Measure::Stature => "stature",
        }
    }

    /// The name in sentences and headings: "head girth".
    pub const fn label(self) -> &'static str {
        match self {
            Measure::HeadGirth => "head girth",
            Measure::HandGirth => "hand girth",
            Measure::HandLength => "hand length",
            Measure::PalmLength => "palm length",
            Measure::ThumbCrotch => "thumb crotch to fingertip",
            Measure::ThumbLength => "thumb length",
            Measure::FistGirth => "fist girth",
            Measure::WristGirth => "wrist girth",
            Measure::FootLength => "foot length",
            Measure::FootGirth => "foot girth",
            Measure::HeelAnkleGirth => "heel-ankle girth",
            Measure::AnkleGirth => "ankle girth",
            Measure::MinimumLegGirth => "minimum leg girth",
            Measure::CalfGirth => "calf girth",
            Measure::LowerThighGirth => "lower thigh girth",
            Measure::KneeHeight => "knee height",
            Measure::Stature => "stature",
        }
    }

    /// Where the tape goes, in one line.
    pub const fn how(self) -> &'static str {
        match self {
            Measure::HeadGirth => "round the head at its widest, above brows and ears",
            Measure::HandGirth => "round the knuckles of the flat hand, without the thumb",
            Measure::HandLength => "from the wrist crease to the tip of the middle finger",
            Measure::PalmLength => "from the wrist crease to the root of the middle finger",
            Measure::ThumbCrotch => "from the fork of the thumb to the tip of the middle finger",
            Measure::ThumbLength => "from the fork of the thumb to its tip",
            Measure::FistGirth => "round the closed fist, over knuckles and thumb",
            Measure::WristGirth => "round the wrist, at the wrist bone",
            Measure::FootLength => "from the heel to the tip of the longest toe, standing",
            Measure::FootGirth => "round the ball of the foot, standing",
            Measure::HeelAnkleGirth => {
                "round the tip of the heel and the bend of the instep: what a leg of knitting must pass over"
            }
            Measure::AnkleGirth => "round the leg over the ankle bones",
            Measure::MinimumLegGirth => "round the leg where it is thinnest, above the ankle bones",
            Measure::CalfGirth => "round the calf where it is thickest",
            Measure::LowerThighGirth => "round the thigh just above the kneecap",
            Measure::KneeHeight => {
                "from the floor to the hollow below the knee joint (tibial height)"
            }
            Measure::Stature => "from the floor to the top of the head; of a baby, lying",
        }
    }
}

impl FromStr for Measure {
    type Err = Diagnostic;

    /// Reads the exact name; offers the nearest one for any other text.
    fn from_str(text: &str) -> Result<Self, Diagnostic> {
        let text = text.trim();
        Measure::ALL.into_iter().find(|m| m.name() == text).ok_or_else(|| {
            let fault = Diagnostic::error(Code::Measure, format!("`{text}` is not a body measure"));
            match nearest(text, Measure::ALL.map(Measure::name)) {
                Some(name) => fault.hint(format!("did you mean `{name}`?")),
                None => fault.hint(format!(
                    "the measures are {}",
                    Measure::ALL.map(Measure::name).join(", ")
                )),
            }
        })
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_reads_back_and_a_slip_is_put_right() {
        for measure in Measure::ALL {
            assert_eq!(measure.name().parse::<Measure>(), Ok(measure));
        }
        let fault = "head-grith".parse::<Measure>().expect_err("no such measure");
        assert_eq!(fault.hints, ["did you mean `head_girth`?"]);
        let fault = "zzz".parse::<Measure>().expect_err("no such measure");
        assert!(fault.hints[0].starts_with("the measures are head_girth, "), "{fault}");
    }
}
