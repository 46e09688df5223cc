//! How far cloth is stretched, in five steps that differ in lightness.

use knit::colours::Shade;
use knit::round::Shape;

/// A step of the scale.
pub(super) struct Step {
    /// Up to this stretch, as a share.
    pub below: f64,
    pub shade: Shade,
    pub words: &'static str,
}

const fn shade(rgb: u32) -> Shade {
    Shade { red: (rgb >> 16) as u8, green: (rgb >> 8) as u8, blue: rgb as u8 }
}

/// From what hangs in folds to what is stretched most: the tighter, the darker.
pub(super) const STEPS: [Step; 5] = [
    Step { below: -0.15, shade: shade(0xf7_e7_a1), words: "more than 15 % to spare" },
    Step { below: -0.05, shade: shade(0xd3_bd_78), words: "5 to 15 % to spare" },
    Step { below: 0.05, shade: shade(0x9b_a0_a3), words: "as at rest, within 5 %" },
    Step { below: 0.15, shade: shade(0x55_76_a3), words: "stretched 5 to 15 %" },
    Step { below: f64::INFINITY, shade: shade(0x1d_35_66), words: "stretched more than 15 %" },
];

/// Which step a stretch belongs to.
pub(super) fn step_of(stretch: f32) -> u16 {
    STEPS.iter().position(|step| f64::from(stretch) < step.below).unwrap_or(STEPS.len() - 1) as u16
}

/// In words: how much of the cloth belongs to each step.
pub(super) fn told(shape: &Shape) -> String {
    let mut counts = [0u32; STEPS.len()];
    let all = shape.parts.iter().flat_map(|part| &part.stretch);
    all.for_each(|stretch| counts[usize::from(step_of(*stretch))] += 1);
    let points = counts.iter().sum::<u32>().max(1);
    let share = |count: u32| f64::from(count) / f64::from(points) * 100.0;
    let told: Vec<String> = (counts.iter().zip(&STEPS))
        .filter(|(count, _)| share(**count) >= 0.5)
        .map(|(count, step)| format!("{:.0} % of the cloth: {}", share(*count), step.words))
        .collect();
    told.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::shades::{INK, PAPER};

    #[test]
    fn the_tighter_the_darker() {
        let lightness: Vec<f64> = STEPS.iter().map(|step| step.shade.luminance()).collect();
        for pair in STEPS.windows(2) {
            assert!(pair[0].shade.contrast(pair[1].shade) >= 1.35, "{}", pair[1].words);
            assert!(pair[0].below < pair[1].below);
        }
        assert!(lightness.is_sorted_by(|a, b| a > b), "{lightness:?}");
        // Its frame makes the lightest step stand out on paper.
        assert!(INK.contrast(PAPER) > 3.0);
    }

    #[test]
    fn each_stretch_has_a_step() {
        let of = |stretch| STEPS[usize::from(step_of(stretch))].words;
        assert_eq!(of(-0.3), "more than 15 % to spare");
        assert_eq!(of(0.0), "as at rest, within 5 %");
        assert_eq!(of(0.05), "stretched 5 to 15 %");
        assert_eq!(of(9.0), "stretched more than 15 %");
    }
}
