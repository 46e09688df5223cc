//! "As large as the yarn goes": the largest value of an option that scales.

use std::collections::BTreeMap;

use script::OptionSpec;

/// Grades at a value as it is typed.
type Grading<'a, T> = dyn FnMut(&str) -> Option<T> + 'a;

/// One garment in one size, graded at some values of the option that it grows with.
///
/// Yarn is taken to grow with the option, so that halving the range finds the value: 3 gradings, and one
/// more each time the range doubles (9 for 64 values). What was graded is kept and not graded again.
pub(super) struct Scaling<'a, T> {
    spec: &'a OptionSpec,
    graded: BTreeMap<usize, Option<T>>,
    grade: Box<Grading<'a, T>>,
}

impl<'a, T> Scaling<'a, T> {
    /// `grade` is given a value as it is typed; `None`: that can't be knitted.
    pub fn new(spec: &'a OptionSpec, grade: impl FnMut(&str) -> Option<T> + 'a) -> Self {
        Scaling { spec, graded: BTreeMap::new(), grade: Box::new(grade) }
    }

    /// The rung of the largest value that `fits`; `None`: not even the least does. What can't be
    /// knitted is taken to be too large.
    pub fn largest(&mut self, fits: impl Fn(&T) -> bool) -> Option<usize> {
        let last = self.spec.rungs().checked_sub(1)?;
        let mut fits_at = |nth: usize| self.at(nth).is_some_and(|(_, made)| fits(made));
        if fits_at(last) {
            return Some(last);
        }
        if !fits_at(0) {
            return None;
        }
        let (mut good, mut bad) = (0, last);
        while bad - good > 1 {
            let middle = good + (bad - good) / 2;
            if fits_at(middle) {
                good = middle;
            } else {
                bad = middle;
            }
        }
        Some(good)
    }

    /// The value of a rung, and what comes of it.
    pub fn at(&mut self, nth: usize) -> Option<(String, &T)> {
        let typed = self.spec.rung(nth);
        let grade = &mut self.grade;
        let made = self.graded.entry(nth).or_insert_with(|| grade(&typed));
        made.as_ref().map(|made| (typed, made))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use script::OptionKind;

    fn length(min_mm: f64, max_mm: f64) -> OptionSpec {
        OptionSpec {
            title: String::new(),
            name: "length".into(),
            help: String::new(),
            kind: OptionKind::Length { min_mm, max_mm },
            default: None,
            scales: true,
        }
    }

    #[test]
    fn it_is_the_largest_that_fits_and_takes_few_gradings() {
        let spec = length(300.0, 2500.0);
        for most in [299.0, 300.0, 305.0, 1264.0, 2490.0, 2500.0, 9000.0] {
            let mut tried = 0;
            let mut scaling = Scaling::new(&spec, |typed| {
                tried += 1;
                typed.strip_suffix(" cm")?.parse::<f64>().ok().map(|cm| cm * 10.0)
            });
            let found = scaling.largest(|mm| *mm <= most).map(|nth| spec.rung(nth));
            drop(scaling);
            let wanted =
                (most >= 300.0).then(|| format!("{} cm", (most.min(2500.0) / 10.0).floor()));
            assert_eq!(found, wanted, "{most}");
            assert!(tried <= 10, "{tried} gradings");
        }
    }

    #[test]
    fn what_cannot_be_knitted_is_too_large() {
        let spec = length(100.0, 1000.0);
        let mut scaling = Scaling::new(&spec, |typed| {
            let cm: f64 = typed.strip_suffix(" cm")?.parse().ok()?;
            (cm <= 42.0).then_some(cm)
        });
        let found = scaling.largest(|_| true);
        assert_eq!(found.map(|nth| spec.rung(nth)).as_deref(), Some("42 cm"));
    }
}
