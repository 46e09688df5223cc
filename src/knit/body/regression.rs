//! Straight lines from one body measure to another, `y = intercept + slope x`, in mm.

use std::sync::Arc;

use super::{Measure, Stage};

/// A line as a table or a manifest states it, by the names of its measures: how a measure that
/// nobody took is filled from one that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct FillRule {
    /// The measure that is filled.
    pub of: String,
    /// The measure it is filled from.
    pub from: String,
    /// Whom it holds for; none stands for all.
    pub stages: Vec<Stage>,
    /// Millimetres of `of` to a millimetre of `from`.
    pub times: f64,
    /// What is added, in mm.
    pub plus_mm: f64,
    /// Standard deviation of people about it, in mm.
    pub spread_mm: f64,
    /// Of a line fitted to a sample, so that it can be read backwards too.
    pub fit: Option<Fit>,
    /// The survey, and what was assumed to use it.
    pub source: String,
}

/// What is known of the sample that a line was fitted to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The share of the variance of `y` that `x` explains.
    pub r2: f64,
    /// Mean of `x` in the sample, mm: every line of a sample runs through the two means.
    pub mean_x_mm: f64,
}

/// One line: the expected `y` for a given `x`, with the spread of people about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Regression {
    /// The measure that is estimated.
    pub y: Measure,
    /// The measure it is estimated from.
    pub x: Measure,
    /// Whom it holds for.
    pub stages: Vec<Stage>,
    /// Millimetres of `y` to a millimetre of `x`.
    pub slope: f64,
    /// `y` where `x` is nought, in mm: of the line, not of a body.
    pub intercept_mm: f64,
    /// Residual standard deviation, mm.
    pub sd_mm: f64,
    /// Of the sample, where it was fitted to one; the line can then be [reversed](Self::reversed).
    pub fit: Option<Fit>,
    /// The survey, and what was assumed to use it.
    pub source: Arc<str>,
}

impl Regression {
    /// The expected `y`, in mm.
    pub fn at(&self, x_mm: f64) -> f64 {
        self.intercept_mm + self.slope * x_mm
    }

    /// The line that predicts `x` from `y` in the same sample. It isn't this line solved for
    /// `x`: that would overshoot, since it forgets that extremes regress to the mean. The two
    /// slopes multiply to r squared, both lines run through the means, and the residual spread
    /// is the whole spread of `x` times sqrt(1 - r squared). `None` of a line without a sample.
    pub fn reversed(&self) -> Option<Regression> {
        let Fit { r2, mean_x_mm } = self.fit?;
        let slope = r2 / self.slope;
        let mean_y = self.at(mean_x_mm);
        Some(Regression {
            y: self.x.clone(),
            x: self.y.clone(),
            stages: self.stages.clone(),
            slope,
            intercept_mm: mean_x_mm - slope * mean_y,
            sd_mm: self.sd_mm * r2.sqrt() / self.slope.abs(),
            fit: Some(Fit { r2, mean_x_mm: mean_y }),
            source: Arc::clone(&self.source),
        })
    }
}

/// What goes with a measure on average in a group of sizes: to a chest of so many mm an arm of so
/// many. For garments whose sizes go by that measure, since the sizes of a table take the same
/// percentile of each measure, and few who are wide are as long.
#[derive(Clone, Debug, PartialEq)]
pub struct Companion {
    /// The measure that goes along.
    pub of: Measure,
    /// The measure that sizes go by.
    pub with: Measure,
    /// The group of sizes it holds for.
    pub group: super::SizeGroup,
    /// Millimetres of `of` to a millimetre of `with`.
    pub times: f64,
    /// What is added, in mm.
    pub plus_mm: f64,
    /// Where the line was read off.
    pub source: Arc<str>,
}

impl Companion {
    /// The length that goes with `mm`, to the millimetre.
    pub fn at(&self, mm: f64) -> f64 {
        (self.times * mm + self.plus_mm).round()
    }
}
