//! The few shades pictures are drawn in. Paper is white; whatever tells something keeps the contrast
//! that WCAG 2.2 asks for on it (text 4.5:1, graphics 3:1), and no meaning hangs on hue alone.

use knit::colours::Shade;

const fn shade(rgb: u32) -> Shade {
    Shade { red: (rgb >> 16) as u8, green: (rgb >> 8) as u8, blue: rgb as u8 }
}

pub const PAPER: Shade = shade(0xff_ff_ff);
/// Words, outlines, marks.
pub const INK: Shade = shade(0x1f_26_2b);
/// Words of less weight.
pub const QUIET: Shade = shade(0x55_5e_65);
/// Rules, scales, dimension lines.
pub const RULE: Shade = shade(0x86_8d_93);
/// Stitches of the main bed: dark, whole lines.
pub const MAIN_BED: Shade = shade(0x2f_4a_5c);
/// Stitches of the ribber: lighter, the upper half of a line.
pub const RIBBER: Shade = shade(0xb0_7d_3a);
/// Needles on hold: a thin line.
pub const HELD: Shade = shade(0x6f_77_7d);
/// The row being knitted: a heavy frame with a pointer.
pub const CURRENT: Shade = shade(0xa8_32_1f);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_graphics_stand_out_on_paper() {
        for words in [INK, QUIET, CURRENT] {
            assert!(words.contrast(PAPER) >= 4.5, "{words}: {:.2}", words.contrast(PAPER));
        }
        for graphics in [RULE, MAIN_BED, RIBBER, HELD, CURRENT] {
            assert!(graphics.contrast(PAPER) >= 3.0, "{graphics}: {:.2}", graphics.contrast(PAPER));
        }
    }

    /// Full dichromacy after Machado, Oliveira and Fernandes, "A physiologically-based model for
    /// simulation of color vision deficiency", IEEE TVCG 15(6), 2009, severity 1.0: matrices on
    /// linear RGB. Figures from memory; each row must keep white white.
    const SEEN_BY: [(&str, [[f64; 3]; 3]); 3] = [
        (
            "protanopia",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];

    fn seen(shade: Shade, matrix: &[[f64; 3]; 3]) -> Shade {
        let linear = [shade.red, shade.green, shade.blue].map(|channel| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        });
        let [red, green, blue] = matrix.map(|row| {
            let c: f64 = row.iter().zip(linear).map(|(a, b)| a * b).sum::<f64>().clamp(0.0, 1.0);
            let c = if c <= 0.003_130_8 { c * 12.92 } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 };
            (c * 255.0).round() as u8
        });
        Shade { red, green, blue }
    }

    #[test]
    fn meanings_that_lie_side_by_side_differ_in_lightness_for_every_eye() {
        for (name, matrix) in &SEEN_BY {
            for row in matrix {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-5, "{name}");
            }
            let [paper, main, ribber, held, current] =
                [PAPER, MAIN_BED, RIBBER, HELD, CURRENT].map(|shade| seen(shade, matrix));
            for shade in [main, ribber, held, current] {
                assert!(shade.contrast(paper) >= 3.0, "{name} {shade}");
            }
            // Half lines that touch in rib, and lines that meet at a turn.
            assert!(main.contrast(ribber) >= 2.0, "{name}: {:.2}", main.contrast(ribber));
            assert!(main.contrast(held) >= 1.8, "{name}: {:.2}", main.contrast(held));
        }
    }
}
