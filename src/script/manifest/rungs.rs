//! The values that an option which scales is tried at.

use super::option::{OptionKind, OptionSpec};

/// How far apart the lengths are that are tried, in mm: a knitter measures no finer.
const LENGTH_STEP_MM: f64 = 10.0;
/// In how many steps a plain number goes from its least to its most.
const NUMBER_STEPS: f64 = 100.0;

impl OptionSpec {
    /// How many values there are to try, from the least on; none for a word or a flag.
    pub fn rungs(&self) -> usize {
        let steps =
            |low: f64, high: f64, step: f64| ((high - low) / step + 1e-9).floor() as usize + 1;
        match self.kind {
            OptionKind::Integer { min, max, step } => steps(min as f64, max as f64, step as f64),
            OptionKind::Number { min, max } if max > min => NUMBER_STEPS as usize + 1,
            OptionKind::Number { .. } => 1,
            OptionKind::Percent { min, max } => steps(min, max, 1.0),
            OptionKind::Length { min_mm, max_mm } => steps(min_mm, max_mm, LENGTH_STEP_MM),
            OptionKind::Choice { .. } | OptionKind::Flag => 0,
        }
    }

    /// The value of a rung as a person types it, the least of them being rung 0.
    pub fn rung(&self, nth: usize) -> String {
        let nth = nth as f64;
        match self.kind {
            OptionKind::Integer { min, step, .. } => {
                min.saturating_add(step.saturating_mul(nth as i64)).to_string()
            }
            OptionKind::Number { min, max } => {
                (min + nth / NUMBER_STEPS * (max - min)).clamp(min, max).to_string()
            }
            OptionKind::Percent { min, .. } => format!("{} %", min + nth),
            // To a tenth of a millimetre, as they are typed.
            OptionKind::Length { min_mm, .. } => {
                format!("{} cm", ((min_mm + nth * LENGTH_STEP_MM) * 10.0).round() / 100.0)
            }
            OptionKind::Choice { .. } | OptionKind::Flag => String::new(),
        }
    }
}
