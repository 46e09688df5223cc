//! The lines of a table: what fills a measure from another, and what goes with one.

use toml::Spanned;

use super::dto::{FillGroupDto, GoesWithDto, LineDto};
use super::faults::TableReader;
use diag::{Code, Diagnostic};
use knit::body::{Companion, FillRule, Fit, Measures, SizeGroup, Stage};

impl TableReader<'_> {
    /// The lines of a `[[fill]]`.
    pub(super) fn fill_group(
        &mut self,
        group: FillGroupDto,
        unit: Option<f64>,
        known: &mut Measures,
    ) {
        let stages = self.stages(&group.stages);
        for line in group.lines {
            let span = line.span();
            let line = line.into_inner();
            let Some(of) = &line.of else {
                let fault = Diagnostic::error(Code::FillRule, "this line fills nothing")
                    .hint("name what it fills: `of = \"hand_girth\"`");
                self.fault(fault, span);
                continue;
            };
            let own = self.stages(&line.stages);
            let stages = if own.is_empty() { stages.clone() } else { own };
            let source = line.source.clone().or_else(|| group.source.clone());
            let of = of.get_ref().clone();
            self.line(Spanned::new(span, line), of, (stages, source), unit, known);
        }
    }

    /// The lines that a column names for its own measure.
    pub(super) fn fill_of_column(
        &mut self,
        of: &str,
        source: &str,
        lines: Vec<Spanned<LineDto>>,
        unit: Option<f64>,
        known: &mut Measures,
    ) {
        for line in lines {
            let span = line.span();
            let line = line.into_inner();
            if let Some(other) = line.of.as_ref().filter(|other| other.get_ref() != of) {
                let fault = format!("a line of the column {of} fills `{}`", other.get_ref());
                let hint = "leave `of` out, or move the line to a [[fill]]";
                self.fault(Diagnostic::error(Code::FillRule, fault).hint(hint), other.span());
                continue;
            }
            let stages = self.stages(&line.stages);
            let source = line.source.clone().unwrap_or_else(|| source.to_owned());
            self.line(Spanned::new(span, line), of.to_owned(), (stages, Some(source)), unit, known);
        }
    }

    fn line(
        &mut self,
        line: Spanned<LineDto>,
        of: String,
        (stages, source): (Vec<Stage>, Option<String>),
        unit: Option<f64>,
        known: &mut Measures,
    ) {
        let span = line.span();
        let line = line.into_inner();
        let unit = unit.unwrap_or(1.0);
        let fit = match (line.r2, line.mean) {
            (Some(r2), Some(mean)) => Some(Fit { r2, mean_x_mm: mean * unit }),
            (None, None) => None,
            _ => {
                let fault = Diagnostic::error(Code::FillRule, "`r2` and `mean` go together");
                self.fault(fault.hint("give both, or leave both out"), span);
                return;
            }
        };
        let Some(source) = source.filter(|source| !source.trim().is_empty()) else {
            let fault = Diagnostic::error(Code::FillRule, "this line names no source")
                .hint("add `source = \"...\"`: a survey, or whose guess it is");
            self.fault(fault, span);
            return;
        };
        let rule = FillRule {
            of,
            from: line.from.get_ref().clone(),
            stages,
            times: line.times,
            plus_mm: line.plus * unit,
            spread_mm: line.spread * unit,
            fit,
            source,
        };
        if let Err(fault) = known.fill(&rule) {
            self.fault(fault, span);
        }
    }

    fn stages(&mut self, words: &[Spanned<String>]) -> Vec<Stage> {
        words.iter().filter_map(|word| self.parse(word)).collect()
    }

    /// The lines of a `[[goes_with]]`.
    pub(super) fn goes_with(
        &mut self,
        group: GoesWithDto,
        unit: Option<f64>,
        known: &mut Measures,
    ) {
        let with = self.measure(&group.measure, known);
        let sizes: Option<SizeGroup> = self.parse(&group.group);
        let source = group.source.get_ref().trim();
        if source.is_empty() {
            let fault = Diagnostic::error(Code::FillRule, "these lines name no source")
                .hint("add `source = \"...\"`: a survey, or whose guess it is");
            self.fault(fault, group.source.span());
        }
        for line in &group.lines {
            let span = line.span();
            let line = line.get_ref();
            let of = self.measure(&line.of, known);
            let (Some(with), Some(group), Some(of)) = (&with, sizes, of) else { continue };
            if of == *with {
                let fault = format!("`{of}` goes with itself");
                let hint = "leave the line out";
                self.fault(Diagnostic::error(Code::FillRule, fault).hint(hint), span);
                continue;
            }
            let sound = |number: f64, most: f64| number.is_finite() && number.abs() <= most;
            let plus_mm = line.plus * unit.unwrap_or(1.0);
            if !(sound(line.times, 100.0) && sound(plus_mm, 10_000.0)) {
                let fault = format!("what goes with {with} can't be {of} so");
                let hint = "`times` is a number up to 100, `plus` within 10 m";
                self.fault(Diagnostic::error(Code::FillRule, fault).hint(hint), span);
                continue;
            }
            known.go_with(Companion {
                of,
                with: with.clone(),
                group,
                times: line.times,
                plus_mm,
                source: source.into(),
            });
        }
    }
}
