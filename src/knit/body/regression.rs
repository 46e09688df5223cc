//! Straight lines from one body measure to another, `y = intercept + slope x`, in mm.

use super::Measure::{self, *};

const ANSUR: &str = "ANSUR II 2012 (NATICK/TR-15/007), 4,082 men and 1,986 women pooled";
const SNYDER: &str = "Snyder et al. 1977 (UM-HSRI-77-17), ages 2 to 19";
const SNYDER_OLDER: &str = "Snyder et al. 1977 (UM-HSRI-77-17), ages 8 to 19, carried on to adults";
const SNYDER_BINS: &str =
    "Snyder et al. 1977 (UM-HSRI-77-17), fitted to the means of the age classes, ages 2 to 19";
const SNYDER_HAND: &str = "Snyder et al. 1977 (UM-HSRI-77-17), ages 2 to 19, hand girth taken as \
                           2.40 x hand breadth (ANSUR II)";
const SNYDER_FOOT: &str = "Snyder et al. 1977 (UM-HSRI-77-17), ages 2 to 19, foot girth taken as \
                           2.47 x foot breadth (ANSUR II)";
const ADULT_RATIO: &str = "the adult ratio of ANSUR II 2012 (NATICK/TR-15/007) applied to children";
const ASSUMED: &str = "taken as equal: no survey used here measures both";

/// One fitted line: the expected `y` for a given `x`, with the spread of people about it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Regression {
    /// The measure that is estimated.
    pub y: Measure,
    /// The measure it is estimated from.
    pub x: Measure,
    /// Millimetres of `y` to a millimetre of `x`.
    pub slope: f64,
    /// `y` where `x` is nought, in mm: of the line, not of a body.
    pub intercept_mm: f64,
    /// The share of the variance of `y` that `x` explains.
    pub r2: f64,
    /// Residual standard deviation, mm.
    pub sd_mm: f64,
    /// Mean of `x` in the sample: every line of a sample runs through the two means.
    pub mean_x_mm: f64,
    /// The survey, and what was assumed to use it.
    pub source: &'static str,
}

impl Regression {
    /// The expected `y`, in mm.
    pub fn at(&self, x_mm: f64) -> f64 {
        self.intercept_mm + self.slope * x_mm
    }

    /// The line that predicts `x` from `y` in the same sample. It isn't this line solved for
    /// `x`: that would overshoot, since it forgets that extremes regress to the mean. The two
    /// slopes multiply to r squared, both lines run through the means, and the residual spread
    /// is the whole spread of `x` times sqrt(1 - r squared).
    pub fn reversed(&self) -> Regression {
        let slope = self.r2 / self.slope;
        let mean_y = self.at(self.mean_x_mm);
        Regression {
            y: self.x,
            x: self.y,
            slope,
            intercept_mm: self.mean_x_mm - slope * mean_y,
            r2: self.r2,
            sd_mm: self.sd_mm * self.r2.sqrt() / self.slope.abs(),
            mean_x_mm: mean_y,
            source: self.source,
        }
    }
}

/// `figures`: slope, intercept, r squared, residual spread, mean of `x`.
const fn line(y: Measure, x: Measure, figures: [f64; 5], source: &'static str) -> Regression {
    let [slope, intercept_mm, r2, sd_mm, mean_x_mm] = figures;
    Regression { y, x, slope, intercept_mm, r2, sd_mm, mean_x_mm, source }
}

/// Adults, men and women pooled (two men to one woman, as the survey has them). The lines
/// among head, hand, wrist, foot and leg are least squares on the raw ANSUR II data, n = 6,068;
/// those from stature and to knee height and lower thigh girth are on the same sample.
const ADULT: &[Regression] = &[
    line(HandGirth, HeadGirth, [0.4045, -26.7, 0.226, 13.7, 570.0], ANSUR),
    line(HandLength, HeadGirth, [0.2879, 25.2, 0.209, 10.2, 570.0], ANSUR),
    line(PalmLength, HeadGirth, [0.174, 14.7, 0.199, 6.4, 570.0], ANSUR),
    line(WristGirth, HeadGirth, [0.3532, -32.3, 0.242, 11.4, 570.0], ANSUR),
    line(FootLength, HeadGirth, [0.4691, -4.4, 0.243, 15.1, 570.0], ANSUR),
    line(FootGirth, HeadGirth, [0.4687, -23.0, 0.259, 14.5, 570.0], ANSUR),
    line(HeelAnkleGirth, HeadGirth, [0.6776, -53.6, 0.305, 18.7, 570.0], ANSUR),
    line(MinimumLegGirth, HeadGirth, [0.388, 3.7, 0.195, 14.4, 570.0], ANSUR),
    line(CalfGirth, HeadGirth, [0.7185, -23.6, 0.184, 27.7, 570.0], ANSUR),
    line(HandLength, HandGirth, [0.5205, 83.2, 0.495, 8.2, 203.9], ANSUR),
    line(PalmLength, HandGirth, [0.3065, 51.4, 0.446, 5.3, 203.9], ANSUR),
    line(WristGirth, HandGirth, [0.7608, 13.9, 0.813, 5.7, 203.9], ANSUR),
    line(FootLength, HandGirth, [0.8744, 84.8, 0.611, 10.8, 203.9], ANSUR),
    line(FootGirth, HandGirth, [0.9083, 59.0, 0.703, 9.2, 203.9], ANSUR),
    line(HeelAnkleGirth, HandGirth, [1.2169, 84.5, 0.71, 12.1, 203.9], ANSUR),
    line(MinimumLegGirth, HandGirth, [0.634, 95.6, 0.377, 12.7, 203.9], ANSUR),
    line(CalfGirth, HandGirth, [1.0327, 175.5, 0.275, 26.1, 203.9], ANSUR),
    line(PalmLength, HandLength, [0.5315, 13.3, 0.734, 3.7, 189.3], ANSUR),
    line(WristGirth, HandLength, [0.7796, 21.4, 0.467, 9.6, 189.3], ANSUR),
    line(FootLength, HandLength, [1.2732, 22.0, 0.71, 9.4, 189.3], ANSUR),
    line(FootGirth, HandLength, [0.9656, 61.4, 0.435, 12.7, 189.3], ANSUR),
    line(HeelAnkleGirth, HandLength, [1.492, 50.2, 0.584, 14.5, 189.3], ANSUR),
    line(MinimumLegGirth, HandLength, [0.6454, 102.7, 0.214, 14.2, 189.3], ANSUR),
    line(CalfGirth, HandLength, [1.0475, 187.8, 0.155, 28.2, 189.3], ANSUR),
    line(WristGirth, PalmLength, [1.2027, 32.0, 0.428, 9.9, 113.9], ANSUR),
    line(FootLength, PalmLength, [1.938, 42.3, 0.632, 10.5, 113.9], ANSUR),
    line(FootGirth, PalmLength, [1.4845, 75.1, 0.396, 13.1, 113.9], ANSUR),
    line(HeelAnkleGirth, PalmLength, [2.3387, 66.2, 0.552, 15.0, 113.9], ANSUR),
    line(MinimumLegGirth, PalmLength, [1.0349, 107.0, 0.212, 14.3, 113.9], ANSUR),
    line(CalfGirth, PalmLength, [1.7029, 192.1, 0.157, 28.1, 113.9], ANSUR),
    line(FootLength, WristGirth, [1.0333, 88.4, 0.608, 10.9, 169.0], ANSUR),
    line(FootGirth, WristGirth, [1.0613, 64.8, 0.684, 9.5, 169.0], ANSUR),
    line(HeelAnkleGirth, WristGirth, [1.482, 82.2, 0.75, 11.2, 169.0], ANSUR),
    line(MinimumLegGirth, WristGirth, [0.8588, 79.8, 0.493, 11.4, 169.0], ANSUR),
    line(CalfGirth, WristGirth, [1.4294, 144.5, 0.375, 24.2, 169.0], ANSUR),
    line(FootGirth, FootLength, [0.7541, 45.8, 0.606, 10.6, 263.0], ANSUR),
    line(HeelAnkleGirth, FootLength, [1.1504, 30.0, 0.793, 10.2, 263.0], ANSUR),
    line(MinimumLegGirth, FootLength, [0.5411, 82.6, 0.344, 13.0, 263.0], ANSUR),
    line(CalfGirth, FootLength, [0.8263, 168.7, 0.22, 27.1, 263.0], ANSUR),
    line(HeelAnkleGirth, FootGirth, [1.1493, 52.0, 0.743, 11.4, 244.2], ANSUR),
    line(MinimumLegGirth, FootGirth, [0.6782, 59.3, 0.507, 11.3, 244.2], ANSUR),
    line(CalfGirth, FootGirth, [1.1322, 109.6, 0.387, 24.0, 244.2], ANSUR),
    line(MinimumLegGirth, HeelAnkleGirth, [0.5257, 50.0, 0.541, 10.9, 332.6], ANSUR),
    line(CalfGirth, HeelAnkleGirth, [0.8591, 100.3, 0.396, 23.8, 332.6], ANSUR),
    line(CalfGirth, MinimumLegGirth, [1.5615, 34.9, 0.669, 17.6, 224.9], ANSUR),
    line(HeadGirth, Stature, [0.0931, 410.5, 0.21, 16.3, 1714.4], ANSUR),
    line(HandLength, Stature, [0.0973, 22.5, 0.579, 7.5, 1714.4], ANSUR),
    line(HandGirth, Stature, [0.1272, -14.2, 0.542, 10.5, 1714.4], ANSUR),
    line(FootLength, Stature, [0.1632, -16.8, 0.714, 9.3, 1714.4], ANSUR),
    line(KneeHeight, FootLength, [1.3387, 106.1, 0.612, 18.5, 263.0], ANSUR),
    line(LowerThighGirth, CalfGirth, [0.9038, 57.6, 0.695, 18.4, 386.0], ANSUR),
    // No adult survey used here has these; hand length and hand girth are centred on adults.
    line(ThumbCrotch, HandLength, [0.7055, -0.8, 0.749, 7.0, 189.3], SNYDER_OLDER),
    line(ThumbLength, HandLength, [0.378, -4.1, 0.79, 4.8, 189.3], SNYDER_BINS),
    // fist = 3.0714 x hand breadth + 11.2, sd 11.0, over hand breadth = girth / 2.40, sd 1.8.
    line(FistGirth, HandGirth, [1.2798, 11.2, 0.8, 12.3, 203.9], SNYDER_OLDER),
    line(AnkleGirth, MinimumLegGirth, [1.0, 0.0, 0.8, 8.0, 224.9], ASSUMED),
];

/// Children of 2 to 19 years, both sexes, n = 3,800 (1,200 to 1,300 for wrist, ankle, fist,
/// thumb and knee). Means are those of the age classes weighted by their numbers.
const CHILD: &[Regression] = &[
    line(HandLength, Stature, [0.102, 9.8, 0.942, 6.3, 1387.1], SNYDER),
    line(FootLength, Stature, [0.1416, 17.8, 0.934, 9.3, 1387.0], SNYDER),
    line(HeadGirth, Stature, [0.0811, 416.9, 0.632, 15.3, 1386.8], SNYDER),
    line(KneeHeight, Stature, [0.2984, -55.2, 0.956, 15.6, 1384.9], SNYDER),
    line(FootLength, HandLength, [1.3529, 9.5, 0.943, 8.6, 151.3], SNYDER),
    line(WristGirth, HandLength, [0.6319, 42.0, 0.722, 10.1, 151.2], SNYDER),
    line(ThumbCrotch, HandLength, [0.7111, -1.7, 0.88, 6.6, 153.0], SNYDER),
    line(ThumbLength, HandLength, [0.378, -4.1, 0.79, 4.8, 151.7], SNYDER_BINS),
    line(HeadGirth, FootLength, [0.5541, 410.7, 0.635, 15.3, 214.2], SNYDER),
    line(MinimumLegGirth, FootLength, [0.6887, 38.8, 0.786, 13.1, 214.1], SNYDER),
    line(CalfGirth, FootLength, [1.3347, -3.4, 0.815, 23.1, 214.2], SNYDER),
    line(KneeHeight, FootLength, [1.9796, -65.7, 0.918, 21.4, 213.9], SNYDER),
    line(CalfGirth, MinimumLegGirth, [1.8154, -55.6, 0.925, 14.7, 186.1], SNYDER),
    // Hand breadth lines with the breadth (or its slope) scaled by 2.40; where hand girth is
    // predicted, its own spread about the breadth (4.2 mm) is added in quadrature.
    line(HandGirth, Stature, [0.1027, 23.8, 0.867, 10.7, 1387.0], SNYDER_HAND),
    line(HandGirth, HandLength, [0.9866, 17.0, 0.885, 10.3, 151.3], SNYDER_HAND),
    line(WristGirth, HandGirth, [0.6182, 34.5, 0.773, 9.2, 166.3], SNYDER_HAND),
    line(FistGirth, HandGirth, [1.3242, 2.5, 0.917, 10.9, 166.6], SNYDER_HAND),
    // The same for foot breadth: 2.47, 6.5 mm.
    line(FootGirth, FootLength, [0.8672, 20.5, 0.885, 13.1, 214.2], SNYDER_FOOT),
    line(MinimumLegGirth, FootGirth, [0.7547, 30.2, 0.805, 12.5, 206.2], SNYDER_FOOT),
    // Ratios with the adults' residual spread. r squared follows from the spread of x over 2 to
    // 19 years (hand length 26 mm, foot girth 33, calf 54, minimum leg girth 28).
    line(PalmLength, HandLength, [0.602, 0.0, 0.947, 3.7, 151.3], ADULT_RATIO),
    line(HeelAnkleGirth, FootGirth, [1.36, 0.0, 0.939, 11.4, 206.2], ADULT_RATIO),
    line(LowerThighGirth, CalfGirth, [1.054, 0.0, 0.905, 18.4, 282.5], ADULT_RATIO),
    line(AnkleGirth, MinimumLegGirth, [1.0, 0.0, 0.925, 8.0, 186.1], ASSUMED),
];

/// The lines for adults, one direction each; [`Regression::reversed`] gives the other.
pub fn regressions_adult() -> &'static [Regression] {
    ADULT
}

/// The lines for children of 2 to 19 years, one direction each.
pub fn regressions_child() -> &'static [Regression] {
    CHILD
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reversing_twice_gives_the_line_back() {
        for line in ADULT.iter().chain(CHILD) {
            let back = line.reversed().reversed();
            assert!((back.slope - line.slope).abs() < 1e-9, "{line:?}");
            assert!((back.intercept_mm - line.intercept_mm).abs() < 1e-6, "{line:?}");
            assert!((back.sd_mm - line.sd_mm).abs() < 1e-9, "{line:?}");
        }
    }
}
