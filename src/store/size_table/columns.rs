//! The columns of a table, each with its source.

use std::collections::BTreeMap;

use toml::Spanned;

use super::dto::{ColumnDto, ProvenanceDto, SizeDto};
use super::faults::TableReader;
use diag::{Code, Diagnostic, is_control, nearest};
use knit::body::{BodyPart, Measure, MeasureSpec, Measures, Provenance, SizeGroup};

/// A column's sources: its own and those of single groups and sizes.
pub(super) struct TableColumn {
    pub source: Provenance,
    pub exceptions: BTreeMap<String, Provenance>,
}

/// What the columns come to: by the name of a measure.
pub(super) type TableColumns = BTreeMap<String, TableColumn>;

impl TableReader<'_> {
    /// The columns; measures that they declare are made known, in the order of the file.
    pub(super) fn columns(
        &mut self,
        dtos: BTreeMap<Spanned<String>, ColumnDto>,
        sizes: &[Spanned<SizeDto>],
        unit: Option<f64>,
        known: &mut Measures,
    ) -> TableColumns {
        let ids = sizes.iter().filter_map(|size| size.get_ref().id.as_ref());
        let names: Vec<&str> = SizeGroup::ALL
            .map(SizeGroup::name)
            .into_iter()
            .chain(ids.map(|id| id.get_ref().as_str()))
            .collect();
        let mut in_order: Vec<(Spanned<String>, ColumnDto)> = dtos.into_iter().collect();
        in_order.sort_by_key(|(name, _)| name.span().start);
        let mut columns = BTreeMap::new();
        let mut filled = Vec::new();
        for (name, mut dto) in in_order {
            let measure = self.column_measure(&name, &dto, known);
            let source = match &dto.source {
                Some(source) if !source.get_ref().trim().is_empty() => source.get_ref().clone(),
                blank => {
                    let span = blank.as_ref().map_or(name.span(), Spanned::span);
                    let fault = format!("the column {} names no source", name.get_ref());
                    let hint = "add `source = \"...\"`: a survey, a standard, or who measured whom";
                    self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), span);
                    continue;
                }
            };
            let fill = std::mem::take(&mut dto.fill);
            let exceptions = self.exceptions(dto.exceptions, &names);
            if let Some(measure) = measure {
                filled.push((measure.name().to_owned(), source.clone(), fill));
                let source = Provenance { source: source.into(), derived: dto.derived };
                columns.insert(measure.name().to_owned(), TableColumn { source, exceptions });
            }
        }
        // When all columns are known, so that a line may come from any of them.
        for (of, source, lines) in filled {
            self.fill_of_column(&of, &source, lines, unit, known);
        }
        columns
    }

    /// Other sources for groups and sizes.
    fn exceptions(
        &mut self,
        dtos: BTreeMap<Spanned<String>, ProvenanceDto>,
        names: &[&str],
    ) -> BTreeMap<String, Provenance> {
        let mut exceptions = BTreeMap::new();
        for (who, dto) in dtos {
            if names.contains(&who.get_ref().as_str()) {
                let provenance = Provenance { source: dto.source.into(), derived: dto.derived };
                exceptions.insert(who.into_inner(), provenance);
            } else {
                let who_name = who.get_ref();
                let fault = Diagnostic::error(
                    Code::SizeTable,
                    format!("`{who_name}` is neither a group nor a size of this table"),
                );
                let near = nearest(who_name, names.iter().copied());
                let hint = near.map(|name| format!("did you mean `{name}`?"));
                self.fault(fault.maybe_hint(hint), who.span());
            }
        }
        exceptions
    }

    /// The measure of a column: one that is known, or with a title and a meaning a new one.
    fn column_measure(
        &mut self,
        name: &Spanned<String>,
        dto: &ColumnDto,
        known: &mut Measures,
    ) -> Option<Measure> {
        let part = dto.part.as_ref().and_then(|part| self.parse::<BodyPart>(part));
        let (title, meaning) = match (&dto.title, &dto.meaning) {
            (None, None) => return self.measure(name, known),
            (Some(title), Some(meaning)) => (title, meaning),
            (one, other) => {
                let span = one.as_ref().or(other.as_ref()).map_or(name.span(), Spanned::span);
                let fault = format!("`{}` is only half declared", name.get_ref());
                let hint =
                    "a measure of your own has a `title` and a `meaning`: where the tape goes";
                self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), span);
                return None;
            }
        };
        let mut words = [String::new(), String::new()];
        for (word, (key, given)) in words.iter_mut().zip([("title", title), ("meaning", meaning)]) {
            *word = given.get_ref().trim().to_owned();
            if word.is_empty() || word.chars().count() > MOST_LETTERS || word.contains(is_control) {
                let fault = format!("the {key} of `{}` can't be so", name.get_ref());
                let hint = "write one line of words, 200 letters at most";
                self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), given.span());
                return None;
            }
        }
        let [title, meaning] = words;
        let source = dto.source.as_ref().map_or_else(String::new, |s| s.get_ref().clone());
        let spec = MeasureSpec {
            part,
            main: dto.main,
            tells: dto.tells,
            babies_differ: dto.babies_differ.as_ref().and_then(|share| self.share(share)),
            ..MeasureSpec::new(name.get_ref(), &title, &meaning, &source)
        };
        match known.add(spec) {
            Ok(measure) => Some(measure),
            Err(fault) => {
                self.fault(fault, name.span());
                None
            }
        }
    }

    fn share(&mut self, share: &Spanned<f64>) -> Option<f64> {
        let number = *share.get_ref();
        if number > 0.0 && number < 1.0 {
            return Some(number);
        }
        let fault = format!("babies can't differ by {number}");
        let hint = "give a share: 0.07 is 7 %";
        self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), share.span());
        None
    }

    /// A measure that is known; a fault is told of any other.
    pub(super) fn measure(&mut self, name: &Spanned<String>, known: &Measures) -> Option<Measure> {
        match known.named(name.get_ref()) {
            Ok(measure) => Some(measure),
            Err(fault) => {
                self.fault(fault, name.span());
                None
            }
        }
    }
}

/// Longer words fit no heading.
const MOST_LETTERS: usize = 200;
