//! What is odd about the weight of a swatch.

use super::Gauge;
use crate::estimate::{Judged, Learnt, Standing};
use diag::{Code, Diagnostic, Diagnostics};

/// Weights that can't be right, or that the scale was too coarse for.
pub(super) fn odd_weights<'g>(
    gauges: impl Iterator<Item = &'g Gauge>,
    learnt: &Learnt,
) -> Diagnostics {
    let mut warnings = Diagnostics::new();
    for judged in learnt.judged().iter().filter(|judged| judged.standing != Standing::Taken) {
        warnings.push(left_aside(judged));
    }
    warnings.extend(gauges.filter_map(coarse));
    warnings
}

fn left_aside(judged: &Judged) -> Diagnostic {
    let expected = match judged.expected {
        Some(grams) => format!(", and its gauge makes {grams:.1} g likely"),
        None => String::new(),
    };
    Diagnostic::warning(
        Code::OddWeight,
        format!("it weighs {:.1} g{expected}: the weight is left aside", judged.taken),
    )
    .context(format!("the {} swatch", judged.section.as_deref().unwrap_or("weighed")))
    .hint(
        "check the weight, the stitches and rows of the piece weighed, and the yarn count; \
         where all are right, write `sure = true` beside the weight",
    )
}

/// A scale whose steps are large beside what was weighed.
fn coarse(gauge: &Gauge) -> Option<Diagnostic> {
    const COARSE: f64 = 0.2;
    let weighed = gauge.weighed.filter(|w| w.scale_step_g > COARSE * w.mass.grams())?;
    let fault = format!(
        "a scale in steps of {} g is too coarse for {}",
        weighed.scale_step_g, weighed.mass
    );
    Some(
        Diagnostic::warning(Code::CoarseScale, fault)
            .context(format!("the {} swatch", gauge.structure))
            .hint("weigh a larger swatch, or several together"),
    )
}
