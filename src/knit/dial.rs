//! Which dial number gives a wished gauge, from the knitter's own swatches of one yarn.
//!
//! The dial sets how far a needle is drawn down, so the loop and with it the stitch's width grow in
//! proportion to the number: a straight line of pitch over dial, by least squares.

use super::estimate::{Scatter, t_975};
use diag::{Code, Diagnostic};

/// A swatch as the fit sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DialPoint {
    /// The number the dial stood at.
    pub dial: f64,
    /// Width of a stitch and height of a row, in mm.
    pub stitch_mm: f64,
    /// Height of a row, in mm.
    pub row_mm: f64,
}

/// A number to set, and what to expect of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DialAdvice {
    /// Rounded to the dial's thirds.
    pub dial: f64,
    /// The width of a stitch to expect, in mm.
    pub stitch_mm: f64,
    /// The height of a row to expect, in mm.
    pub row_mm: f64,
    /// Standard error of the width at that number; `None` with two swatches, which fit any line.
    pub stitch_sd_mm: Option<f64>,
    /// Half-width of the 95 % interval of the width there, in mm; `None` with two swatches. Where there
    /// are few, how far swatches lie about the line is held to be near what readings scatter.
    pub stitch_within_mm: Option<f64>,
    /// Numbers beyond the outermost swatch: nought within.
    pub beyond: f64,
}

/// Numbers beyond the swatches that are still believed (common practice, no source).
pub const FARTHEST: f64 = 1.0;
/// Dials go by thirds of a number (common practice).
const STEP: f64 = 1.0 / 3.0;
/// The dial's numbers.
const DIAL: std::ops::RangeInclusive<f64> = 0.0..=10.0;

/// A straight line `intercept + slope * x`, and the spread of the points about it.
struct DialLine {
    slope: f64,
    intercept: f64,
    mean_x: f64,
    spread_x: f64,
    points: usize,
    residual_sd: Option<f64>,
}

impl DialLine {
    fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Standard error of a new reading at `x`.
    fn sd_at(&self, x: f64) -> Option<f64> {
        self.residual_sd.map(|sd| sd * self.lever(x))
    }

    fn lever(&self, x: f64) -> f64 {
        let n = self.points as f64;
        (1.0 + 1.0 / n + (x - self.mean_x).powi(2) / self.spread_x).sqrt()
    }

    /// Half-width of the 95 % interval of a new reading at `x`.
    fn within_at(&self, x: f64) -> Option<f64> {
        let own = (self.points - 2) as f64;
        let degrees = Scatter::GUESS_DEGREES + own;
        let guess = Scatter::GUESS_DEGREES * (Scatter::GUESS * self.at(x)).powi(2);
        let sd = |own_sd: f64| ((guess + own * own_sd.powi(2)) / degrees).sqrt();
        self.residual_sd.map(|own_sd| t_975(degrees) * sd(own_sd) * self.lever(x))
    }
}

fn line(points: impl Iterator<Item = (f64, f64)> + Clone) -> DialLine {
    let n = points.clone().count();
    let mean = |pick: fn((f64, f64)) -> f64| points.clone().map(pick).sum::<f64>() / n as f64;
    let (mean_x, mean_y) = (mean(|p| p.0), mean(|p| p.1));
    let spread_x: f64 = points.clone().map(|(x, _)| (x - mean_x).powi(2)).sum();
    let together: f64 = points.clone().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    let slope = together / spread_x;
    let intercept = mean_y - slope * mean_x;
    let left: f64 = points.map(|(x, y)| (y - intercept - slope * x).powi(2)).sum();
    let residual_sd = (n > 2).then(|| (left / (n - 2) as f64).sqrt());
    DialLine { slope, intercept, mean_x, spread_x, points: n, residual_sd }
}

/// Proposes the dial for a stitch of `stitch_mm`.
///
/// # Errors
/// Fewer than two different numbers; swatches that get narrower as the number grows; a wish more
/// than [`FARTHEST`] numbers beyond the swatches or off the dial.
pub fn advise(points: &[DialPoint], stitch_mm: f64) -> Result<DialAdvice, Diagnostic> {
    let least = points.iter().map(|p| p.dial).fold(f64::INFINITY, f64::min);
    let most = points.iter().map(|p| p.dial).fold(f64::NEG_INFINITY, f64::max);
    if points.len() < 2 || most - least < STEP / 2.0 {
        return Err(Diagnostic::error(
            Code::DialFew,
            "the dial can't be worked out from swatches at one number",
        )
        .hint("knit a second swatch in the same yarn a number or two away"));
    }
    let widths = line(points.iter().map(|p| (p.dial, p.stitch_mm)));
    if widths.slope <= 0.0 {
        return Err(Diagnostic::error(
            Code::DialDisorder,
            "the swatches contradict each other: a higher number gave narrower stitches",
        )
        .hint("measure them again, or knit the one that stands out once more"));
    }
    let wished = (stitch_mm - widths.intercept) / widths.slope;
    let dial = (wished / STEP).round() * STEP;
    let beyond = (least - wished).max(wished - most).max(0.0);
    if beyond > FARTHEST || !DIAL.contains(&dial) {
        return Err(Diagnostic::error(
            Code::DialFar,
            format!(
                "{:.1} stitches to 10 cm would be near dial {wished:.1}, and the swatches go from {least:.1} to {most:.1}",
                100.0 / stitch_mm
            ),
        )
        .hint(if DIAL.contains(&wished) {
            "knit a swatch nearer to that number first"
        } else {
            "the dial has no such number: take another yarn or another machine"
        }));
    }
    let heights = line(points.iter().map(|p| (p.dial, p.row_mm)));
    Ok(DialAdvice {
        dial,
        stitch_mm: widths.at(dial),
        row_mm: heights.at(dial),
        stitch_sd_mm: widths.sd_at(dial),
        stitch_within_mm: widths.within_at(dial),
        beyond,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[(f64, f64)]) -> Vec<DialPoint> {
        list.iter()
            .map(|(dial, mm)| DialPoint { dial: *dial, stitch_mm: *mm, row_mm: mm / 1.4 })
            .collect()
    }

    /// Against the closed formulas of a statistics handbook's simple regression: x = 5, 6, 7, 8,
    /// y = 3.0, 3.3, 3.4, 3.7 has slope 0.22, intercept 1.92 and residual standard error
    /// sqrt(0.008 / 2) (worked by hand).
    #[test]
    fn the_line_is_the_least_squares_line() {
        let swatches = points(&[(5.0, 3.0), (6.0, 3.3), (7.0, 3.4), (8.0, 3.7)]);
        let advice = advise(&swatches, 1.92 + 0.22 * 20.0 / 3.0).expect("within");
        assert!((advice.dial - 20.0 / 3.0).abs() < 1e-9);
        assert!((advice.stitch_mm - (1.92 + 0.22 * 20.0 / 3.0)).abs() < 1e-9);
        let sd = 0.004f64.sqrt() * (1.0 + 0.25 + (20.0 / 3.0 - 6.5f64).powi(2) / 5.0).sqrt();
        assert!((advice.stitch_sd_mm.expect("four points") - sd).abs() < 1e-9);
        assert_eq!(advice.beyond, 0.0);
        // 4 guessed degrees of 1 % and two of the line's own; t of 6 degrees from a printed table.
        let at = advice.stitch_mm;
        let pooled = ((4.0 * (0.01 * at).powi(2) + 0.008) / 6.0).sqrt();
        let within = 2.447 * pooled * sd / 0.004f64.sqrt();
        assert!((advice.stitch_within_mm.expect("four points") - within).abs() < 1e-4);
    }

    #[test]
    fn it_refuses_what_it_can_not_know() {
        let code =
            |list: &[(f64, f64)], mm: f64| advise(&points(list), mm).expect_err("refused").code;
        assert_eq!(code(&[(7.0, 3.5)], 3.5), Code::DialFew);
        assert_eq!(code(&[(7.0, 3.5), (7.0, 3.6)], 3.5), Code::DialFew);
        assert_eq!(code(&[(6.0, 3.5), (7.0, 3.4)], 3.5), Code::DialDisorder);
        let two = [(6.0, 3.2), (7.0, 3.5)];
        assert_eq!(code(&two, 4.2), Code::DialFar);
        assert_eq!(code(&two, 0.5), Code::DialFar);
        // A little beyond is told, not refused.
        let near = advise(&points(&two), 3.7).expect("near");
        assert!((near.beyond - 2.0 / 3.0).abs() < 1e-9 && near.stitch_sd_mm.is_none());
    }
}
