//! A size of a table, with its figures.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;

use super::columns::TableColumns;
use super::dto::SizeDto;
use super::faults::TableReader;
use super::figure::length;
use diag::{Code, Diagnostic};
use knit::body::{Measure, Measures, Provenance, Size, SizeGroup, SizeId, SizeValue};

/// Where each figure stands, for what can only be said of the whole table: few are ever looked for.
pub(super) type FigurePlaces = Vec<(SizeId, Measure, Range<usize>)>;

/// What the figures of a size are read with.
pub(super) struct FigureRules<'t> {
    /// Millimetres in the unit of the bare numbers, when the table names one.
    pub unit: Option<f64>,
    pub columns: &'t TableColumns,
    pub known: &'t Measures,
}

fn missing(key: &str, hint: &str) -> Diagnostic {
    Diagnostic::error(Code::SizeTable, format!("this size has no `{key}`")).hint(hint)
}

impl TableReader<'_> {
    pub(super) fn size(
        &mut self,
        dto: SizeDto,
        span: &Range<usize>,
        figures: &FigureRules<'_>,
        places: &mut FigurePlaces,
    ) -> Option<Size> {
        let id = match &dto.id {
            Some(id) => self.parse::<SizeId>(id),
            None => {
                self.fault(missing("id", "add one, like `id = \"y4\"`"), head(span));
                None
            }
        };
        let group = match &dto.group {
            Some(group) => self.parse::<SizeGroup>(group),
            None => {
                let hint = "say which: babies, children, women or men";
                self.fault(missing("group", hint), head(span));
                None
            }
        };
        let age_years = dto.age.as_ref().and_then(|age| self.age(age));
        let aliases: Vec<SizeId> =
            dto.aliases.iter().filter_map(|alias| self.parse(alias)).collect();
        if dto.body.is_empty() {
            let hint = "add [size.body] with figures like `head_girth = 560`";
            self.fault(missing("body", hint), head(span));
        }
        // Sources for the size itself go before those for its group.
        let own = dto.id.iter().map(|id| id.get_ref().as_str());
        let whose: Vec<&str> = own.chain(group.map(SizeGroup::name)).collect();
        let mut values = BTreeMap::new();
        for (name, value) in &dto.body {
            let Some((measure, mm)) = self.figure(name, value, figures) else { continue };
            let provenance = self.provenance(&measure, name, &whose, figures.columns);
            if let Some(id) = &id {
                places.push((id.clone(), measure.clone(), value.span()));
            }
            values.insert(measure, SizeValue { mm, provenance, laid_over: false });
        }
        let (id, group) = (id?, group?);
        let label = dto.label.unwrap_or_else(|| id.to_string());
        Some(Size { id, label, group, age_years, aliases, values })
    }

    fn age(&mut self, age: &Spanned<f64>) -> Option<f64> {
        let years = *age.get_ref();
        if (0.0..=120.0).contains(&years) {
            return Some(years);
        }
        let fault = format!("an age of {years} years is nobody's");
        let hint = "give the mean age of the size in years, as in `age = 4.0`";
        self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), age.span());
        None
    }

    /// A measure and its millimetres; both are read, so that the faults of both are told.
    fn figure(
        &mut self,
        name: &Spanned<String>,
        value: &Spanned<toml::Value>,
        figures: &FigureRules<'_>,
    ) -> Option<(Measure, f64)> {
        let measure = self.measure(name, figures.known);
        let mm = match length(value.get_ref(), figures.unit) {
            Ok(mm) => Some(mm),
            Err(fault) => {
                self.fault(fault.into_diagnostic().context(name.get_ref()), value.span());
                None
            }
        };
        measure.zip(mm)
    }

    fn provenance(
        &mut self,
        measure: &Measure,
        name: &Spanned<String>,
        whose: &[&str],
        columns: &TableColumns,
    ) -> Provenance {
        if let Some(column) = columns.get(measure.name()) {
            let exception = whose.iter().find_map(|who| column.exceptions.get(*who));
            return exception.unwrap_or(&column.source).clone();
        }
        let warning = format!("{measure} has no column with a source");
        let hint = format!("add [measures.{measure}] with `source = \"...\"`");
        self.fault(Diagnostic::warning(Code::SizeTable, warning).hint(hint), name.span());
        Provenance { source: format!("{}, no source named", self.file).into(), derived: false }
    }
}

/// The opening of a table, so that a fault of the whole points at one line.
fn head(span: &Range<usize>) -> Range<usize> {
    span.start..span.start
}
