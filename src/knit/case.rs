//! Sizes with known results: what a garment's author says should come out of one size, and how
//! what came out differs.

use super::size_run::{Made, SizeResult};
use diag::nearest;

/// One size, and what should come of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Id of the size.
    pub size: String,
    /// Id of a machine profile; its demo swatch is knitted from.
    pub machine: String,
    /// As a person types them.
    pub options: Vec<(String, String)>,
    /// What should come of it.
    pub expect: Expect,
}

/// What an author expects of a size.
#[derive(Clone, Debug, PartialEq)]
pub enum Expect {
    /// The size is refused, with these words in a reason.
    Refused {
        /// Words that one of the reasons must contain; case doesn't matter.
        reason: String,
    },
    /// The size can be knitted, with these figures.
    Knittable(Figures),
}

/// The figures an author wrote down. What is left out is not looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// By name, each exactly.
    pub counts: Vec<(String, i64)>,
    /// In mm, each within `tolerance_mm`.
    pub finished_mm: Vec<(String, f64)>,
    /// How far a finished measure may be off, in mm.
    pub tolerance_mm: f64,
    /// For the whole garment, a pair where it comes in pairs.
    pub grams: Option<(f64, f64)>,
}

/// One figure that is not as expected.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// What it is about, as the case file nests it: `counts.wedges`.
    pub what: String,
    /// What the case says.
    pub expected: String,
    /// What came out.
    pub got: String,
    /// The key to change and the figure to write there, where taking over what came out makes
    /// sense.
    pub instead: Option<(String, String)>,
    /// The figure has a name that the garment doesn't know: the nearest that it does.
    pub unknown: Option<String>,
}

impl Case {
    /// Figures that are looked at.
    pub fn figures(&self) -> usize {
        match &self.expect {
            Expect::Refused { .. } => 1,
            Expect::Knittable(figures) => {
                1 + figures.counts.len()
                    + figures.finished_mm.len()
                    + usize::from(figures.grams.is_some())
            }
        }
    }

    /// What is not as expected of a graded size; empty where all of it is.
    pub fn compare(&self, size: &SizeResult) -> Vec<Difference> {
        let reasons = || -> Vec<String> {
            let errors = size.diagnostics().iter();
            errors
                .filter(|d| d.severity == diag::Severity::Error)
                .map(|d| d.message.clone())
                .collect()
        };
        match (&self.expect, size.good()) {
            (Expect::Knittable(figures), Some(made)) => figures.compare(made),
            (Expect::Knittable(_), None) => vec![Difference::new(
                "knittable",
                "true",
                format!("false: {}", reasons().join("; ")),
            )],
            (Expect::Refused { .. }, Some(_)) => {
                vec![Difference::new("knittable", "false", "true")]
            }
            (Expect::Refused { reason }, None) => {
                let wanted = reason.to_lowercase();
                let reasons = reasons();
                if reasons.iter().any(|r| r.to_lowercase().contains(&wanted)) {
                    return Vec::new();
                }
                vec![Difference::new("reason", format!("... {reason} ..."), reasons.join("; "))]
            }
        }
    }
}

impl Expect {
    /// What came of a size, as a case would expect it: all figures, or the first reason it is refused for.
    pub fn of(size: &SizeResult) -> Expect {
        let Some(made) = size.good() else {
            let mut errors = size.diagnostics().iter();
            let reason = errors.find(|d| d.severity == diag::Severity::Error);
            return Expect::Refused {
                reason: reason.map_or_else(String::new, |d| d.message.clone()),
            };
        };
        let Made { graded, .. } = made;
        let grams = graded.yarn.need.grams();
        let counts = graded
            .counts
            .iter()
            .filter_map(|c| Some((c.name.clone(), i64::try_from(c.value).ok()?)));
        let finished =
            graded.finished.iter().map(|f| (f.name.clone(), (f.mm * 10.0).round() / 10.0));
        Expect::Knittable(Figures {
            counts: counts.collect(),
            finished_mm: finished.collect(),
            grams: Some((grams.floor(), grams.ceil())),
            ..Figures::default()
        })
    }
}

impl Figures {
    fn compare(&self, made: &Made) -> Vec<Difference> {
        let mut differences = Vec::new();
        let counts = &made.graded.counts;
        for (name, expected) in &self.counts {
            let key = format!("counts.{name}");
            match counts.iter().find(|c| c.name == *name) {
                None => {
                    differences.push(unknown(key, expected, name, counts.iter().map(|c| &c.name)));
                }
                Some(count) if i128::from(count.value) != i128::from(*expected) => {
                    let got = count.value.to_string();
                    differences.push(
                        Difference::new(&key, expected.to_string(), got.clone()).instead(key, got),
                    );
                }
                Some(_) => {}
            }
        }
        let all = &made.graded.finished;
        for (name, expected) in &self.finished_mm {
            let key = format!("finished.{name}");
            match all.iter().find(|f| f.name == *name) {
                None => differences.push(unknown(key, expected, name, all.iter().map(|f| &f.name))),
                // A hair more than the tolerance, which is a decimal fraction itself.
                Some(f) if (f.mm - expected).abs() > self.tolerance_mm + 1e-9 => {
                    let wanted = format!("{expected} mm, within {} mm", self.tolerance_mm);
                    differences.push(
                        Difference::new(&key, wanted, format!("{:.1} mm", f.mm))
                            .instead(key, format!("{:.1}", f.mm)),
                    );
                }
                Some(_) => {}
            }
        }
        if let Some((low, high)) = self.grams {
            let grams = made.graded.yarn.need.grams();
            if !(low..=high).contains(&grams) {
                let key = if grams < low { "grams.low" } else { "grams.high" };
                let bound = if grams < low { grams.floor() } else { grams.ceil() };
                differences.push(
                    Difference::new("grams", format!("{low} to {high} g"), format!("{grams:.1} g"))
                        .instead(key.to_owned(), bound.to_string()),
                );
            }
        }
        differences
    }
}

fn unknown<'a>(
    what: String,
    expected: &impl ToString,
    name: &str,
    known: impl Iterator<Item = &'a String>,
) -> Difference {
    let known: Vec<&str> = known.map(String::as_str).collect();
    let hint = match nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if known.is_empty() => "the garment has none".to_owned(),
        None => format!("the garment has {}", known.join(", ")),
    };
    let mut difference = Difference::new(&what, expected.to_string(), "no such figure");
    difference.unknown = Some(hint);
    difference
}

impl Difference {
    fn new(what: &str, expected: impl Into<String>, got: impl Into<String>) -> Difference {
        Difference {
            what: what.to_owned(),
            expected: expected.into(),
            got: got.into(),
            instead: None,
            unknown: None,
        }
    }

    fn instead(mut self, key: String, figure: String) -> Difference {
        self.instead = Some((key, figure));
        self
    }
}
