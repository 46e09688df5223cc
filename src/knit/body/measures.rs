use super::{BodyPart, Companion, FillRule, Measure, MeasureSpec, Regression, Stage};
use diag::{Code, Diagnostic, nearest};

/// The body measures that are known, in the order tables show them, with the lines that fill one
/// from another. No two have the same name, and no measure is filled from itself by a round of
/// lines as they are stated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measures {
    all: Vec<Measure>,
    lines: Vec<Regression>,
    companions: Vec<Companion>,
}

impl Measures {
    /// None at all.
    pub fn new() -> Self {
        Self::default()
    }

    /// All of them, in order.
    pub fn iter(&self) -> impl Iterator<Item = &Measure> {
        self.all.iter()
    }

    /// The measure of that name; `None` where it isn't known.
    pub fn get(&self, name: &str) -> Option<&Measure> {
        self.all.iter().find(|measure| measure.name() == name)
    }

    /// The measure of exactly that name.
    ///
    /// # Errors
    /// There is none; offers the nearest.
    pub fn named(&self, text: &str) -> Result<Measure, Diagnostic> {
        let text = text.trim();
        self.get(text).cloned().ok_or_else(|| {
            let names = || self.all.iter().map(Measure::name);
            let fault = Diagnostic::error(Code::Measure, format!("`{text}` is not a body measure"));
            match nearest(text, names()) {
                Some(name) => fault.hint(format!("did you mean `{name}`?")),
                None => fault
                    .hint(format!("the measures are {}", names().collect::<Vec<_>>().join(", "))),
            }
        })
    }

    /// Those that a size chart shows unless others are asked for.
    pub fn main(&self) -> Vec<Measure> {
        self.all.iter().filter(|measure| measure.spec().main).cloned().collect()
    }

    /// Those of a part of the body.
    pub fn of_part(&self, part: BodyPart) -> Vec<Measure> {
        self.all.iter().filter(|measure| measure.spec().part == Some(part)).cloned().collect()
    }

    /// Makes a measure known, behind those that are; one that is known already with the same
    /// title and meaning is that one.
    ///
    /// # Errors
    /// A name that can't be one, and one that means something else already.
    pub fn add(&mut self, spec: MeasureSpec) -> Result<Measure, Diagnostic> {
        MeasureSpec::check_name(&spec.name)?;
        if let Some(known) = self.get(&spec.name) {
            if known.label() == spec.title && known.how() == spec.meaning {
                return Ok(known.clone());
            }
            return Err(Diagnostic::error(
                Code::MeasureClash,
                format!(
                    "`{}` is a body measure already and means something else: {}, {}",
                    spec.name,
                    known.label(),
                    known.how()
                ),
            )
            .hint(
                "give yours another name, or leave its title and meaning out to use the known one",
            ));
        }
        let measure = Measure::new(self.all.len(), spec);
        self.all.push(measure.clone());
        Ok(measure)
    }

    /// Adds a line; one of the same two measures for the same stage gives way.
    ///
    /// # Errors
    /// A measure that isn't known, figures that can't be, and a line that would fill a measure
    /// from itself by way of others.
    pub fn fill(&mut self, rule: &FillRule) -> Result<(), Diagnostic> {
        let (y, x) = (self.named(&rule.of)?, self.named(&rule.from)?);
        check_figures(rule)?;
        let stages = if rule.stages.is_empty() { Stage::ALL.to_vec() } else { rule.stages.clone() };
        for stage in &stages {
            if let Some(way) = self.way_back(&x, &y, *stage) {
                let way: Vec<&str> = way.iter().map(Measure::name).collect();
                return Err(Diagnostic::error(
                    Code::FillRule,
                    format!("`{y}` would be filled from itself: {y} from {}", way.join(" from ")),
                )
                .hint(
                    "state one direction alone; with `r2` and `mean` a line is read backwards too",
                ));
            }
        }
        for old in self.lines.iter_mut().filter(|old| old.y == y && old.x == x) {
            old.stages.retain(|stage| !stages.contains(stage));
        }
        self.lines.retain(|old| !old.stages.is_empty());
        self.lines.push(Regression {
            y,
            x,
            stages,
            slope: rule.times,
            intercept_mm: rule.plus_mm,
            sd_mm: rule.spread_mm,
            fit: rule.fit,
            source: rule.source.as_str().into(),
        });
        Ok(())
    }

    /// Adds what goes with a measure; one of the same two measures for the same group gives way.
    pub fn go_with(&mut self, companion: Companion) {
        self.companions.retain(|old| {
            (&old.of, &old.with, old.group) != (&companion.of, &companion.with, companion.group)
        });
        self.companions.push(companion);
    }

    /// What goes with the measure of that name.
    pub fn companions(&self, with: &str) -> impl Iterator<Item = &Companion> {
        self.companions.iter().filter(move |companion| companion.with.name() == with)
    }

    /// The lines for a stage, as they are stated: one direction each.
    pub fn lines(&self, stage: Stage) -> impl Iterator<Item = &Regression> {
        self.lines.iter().filter(move |line| line.stages.contains(&stage))
    }

    /// The lines for a stage in all directions they can be read.
    pub(super) fn both_ways(&self, stage: Stage) -> Vec<Regression> {
        self.lines(stage)
            .flat_map(|line| std::iter::once(line.clone()).chain(line.reversed()))
            .collect()
    }

    /// Makes the measures of a garment known, with what fills them.
    ///
    /// # Errors
    /// As [`add`](Self::add) and [`fill`](Self::fill), all at once, each with the name of the
    /// measure it is about.
    pub fn extend(&mut self, own: &[OwnMeasure]) -> Result<(), Vec<(String, Diagnostic)>> {
        let mut faults = Vec::new();
        let mut new = Vec::new();
        for own in own {
            let known = self.get(&own.spec.name).is_some();
            match self.add(own.spec.clone()) {
                // One that was known has its lines.
                Ok(_) if known => {}
                Ok(_) => new.push(own),
                Err(fault) => faults.push((own.spec.name.clone(), fault)),
            }
        }
        for own in new {
            for rule in &own.fill {
                if let Err(fault) = self.fill(rule) {
                    faults.push((own.spec.name.clone(), fault));
                }
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(faults) }
    }

    /// How `from` comes, by lines as they are stated, to be filled from `to`, both ends with it.
    fn way_back(&self, from: &Measure, to: &Measure, stage: Stage) -> Option<Vec<Measure>> {
        let mut ways = vec![vec![from.clone()]];
        let mut seen = vec![from.clone()];
        while let Some(way) = ways.pop() {
            let last = way.last()?;
            if last == to {
                return Some(way);
            }
            for line in self.lines(stage).filter(|line| line.y == *last) {
                if !seen.contains(&line.x) {
                    seen.push(line.x.clone());
                    let mut next = way.clone();
                    next.push(line.x.clone());
                    ways.push(next);
                }
            }
        }
        None
    }
}

/// A measure that a garment declares, with what fills it.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnMeasure {
    /// What it is.
    pub spec: MeasureSpec,
    /// Lines to it, all `of` its name.
    pub fill: Vec<FillRule>,
}

fn check_figures(rule: &FillRule) -> Result<(), Diagnostic> {
    let refuse = |what: &str, hint: &str| {
        let fault = format!("`{}` can't be filled so: {what}", rule.of);
        Err(Diagnostic::error(Code::FillRule, fault).hint(hint))
    };
    if !(rule.times.is_finite() && rule.times.abs() <= 100.0 && rule.times != 0.0) {
        return refuse(
            "`times` must be a number up to 100, and not nought",
            "it is how many mm of the one go to a mm of the other",
        );
    }
    if !(rule.plus_mm.is_finite() && rule.plus_mm.abs() <= 10_000.0) {
        return refuse("`plus` must be within 10 m", "leave it out for nought");
    }
    if !(rule.spread_mm > 0.0 && rule.spread_mm <= 1000.0) {
        return refuse(
            "`spread` must be more than nought, and a metre at most",
            "it is how far two people in three lie from the line, at the outside: a guess will do, \
             if the source says so",
        );
    }
    match rule.fit {
        Some(fit) if !(fit.r2 > 0.0 && fit.r2 < 1.0) => {
            refuse("`r2` must be between 0 and 1", "it is the share of the variance explained")
        }
        Some(fit) if !(fit.mean_x_mm > 0.0 && fit.mean_x_mm <= 10_000.0) => {
            refuse("`mean` is nobody's", "it is the mean in the sample of what is filled from")
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::SizeTable;
    use super::*;

    fn known(names: &[&str]) -> Measures {
        let mut known = Measures::new();
        for name in names {
            let title = name.replace('_', " ");
            known.add(MeasureSpec::new(name, &title, "round it", "a test")).expect("a measure");
        }
        known
    }

    fn rule(of: &str, from: &str) -> FillRule {
        FillRule {
            of: of.to_owned(),
            from: from.to_owned(),
            stages: Vec::new(),
            times: 0.5,
            plus_mm: 1.0,
            spread_mm: 4.0,
            fit: None,
            source: "a test".to_owned(),
        }
    }

    #[test]
    fn a_slip_of_a_name_is_put_right() {
        let known = known(&["head_girth", "hand_girth"]);
        assert_eq!(
            known.named(" head_girth ").map(|m| m.name().to_owned()),
            Ok("head_girth".into())
        );
        let fault = known.named("head-grith").expect_err("no such measure");
        assert_eq!(fault.hints, ["did you mean `head_girth`?"]);
        let fault = known.named("zzz").expect_err("no such measure");
        assert_eq!(fault.hints, ["the measures are head_girth, hand_girth"]);
    }

    #[test]
    fn one_name_means_one_thing() {
        let mut known = known(&["ring_girth"]);
        let again = MeasureSpec::new("ring_girth", "ring girth", "round it", "elsewhere");
        assert_eq!(known.add(again.clone()).map(|m| m.name().to_owned()), Ok("ring_girth".into()));
        assert_eq!(known.iter().count(), 1);
        let other = MeasureSpec { meaning: "round the little finger".into(), ..again };
        let fault = known.add(other).expect_err("another meaning");
        assert_eq!(fault.code, Code::MeasureClash);
        assert!(fault.message.contains("ring girth, round it"), "{fault}");
    }

    #[test]
    fn no_measure_is_filled_from_itself() {
        let mut known = known(&["a", "b", "c", "d"]);
        assert_eq!(known.fill(&rule("b", "a")), Ok(()));
        assert_eq!(known.fill(&rule("c", "b")), Ok(()));
        let fault = known.fill(&rule("a", "c")).expect_err("a circle");
        assert_eq!(fault.code, Code::FillRule);
        assert!(fault.message.ends_with("a from c from b from a"), "{fault}");
        assert!(known.fill(&rule("d", "d")).is_err(), "the smallest circle");
        // Lines of different stages are no circle: nobody is of two.
        let of_babies = FillRule { stages: vec![Stage::Baby], ..rule("d", "a") };
        let of_adults = FillRule { stages: vec![Stage::Adult], ..rule("a", "d") };
        assert_eq!(known.fill(&of_babies), Ok(()));
        assert_eq!(known.fill(&of_adults), Ok(()));
    }

    #[test]
    fn a_line_gives_way_for_its_stage_alone() {
        let mut known = known(&["a", "b"]);
        known.fill(&rule("b", "a")).expect("a line");
        let of_babies = FillRule { stages: vec![Stage::Baby], times: 0.7, ..rule("b", "a") };
        known.fill(&of_babies).expect("a line");
        let slopes = |stage| known.lines(stage).map(|line| line.slope).collect::<Vec<_>>();
        assert_eq!(slopes(Stage::Baby), [0.7]);
        assert_eq!(slopes(Stage::Adult), [0.5]);
    }

    #[test]
    fn figures_that_can_t_be_are_refused() {
        let mut known = known(&["a", "b"]);
        let fit = |r2, mean_x_mm| Some(Fit { r2, mean_x_mm });
        use super::super::Fit;
        for bad in [
            FillRule { times: f64::NAN, ..rule("b", "a") },
            FillRule { times: 0.0, ..rule("b", "a") },
            FillRule { plus_mm: f64::INFINITY, ..rule("b", "a") },
            FillRule { spread_mm: 0.0, ..rule("b", "a") },
            FillRule { fit: fit(1.0, 100.0), ..rule("b", "a") },
            FillRule { fit: fit(0.5, -1.0), ..rule("b", "a") },
            rule("b", "nobody"),
            rule("nobody", "a"),
        ] {
            assert!(known.fill(&bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn reversing_twice_gives_the_line_back() {
        let mut known = known(&["a", "b"]);
        let fit = Some(super::super::Fit { r2: 0.6, mean_x_mm: 570.0 });
        known.fill(&FillRule { fit, ..rule("b", "a") }).expect("a line");
        let line = known.lines(Stage::Adult).next().expect("a line");
        let back = line.reversed().and_then(|line| line.reversed()).expect("fitted");
        assert!((back.slope - line.slope).abs() < 1e-9, "{line:?}");
        assert!((back.intercept_mm - line.intercept_mm).abs() < 1e-6, "{line:?}");
        assert!((back.sd_mm - line.sd_mm).abs() < 1e-9, "{line:?}");
    }

    #[test]
    fn an_empty_table_chooses_nothing() {
        let table = SizeTable::new();
        assert_eq!(table.chosen_measures(&[]), Ok(Vec::new()));
        assert_eq!(table.chosen_measures(&["torso"]), Ok(Vec::new()));
        assert!(table.chosen_measures(&["head_girth"]).is_err());
    }
}
