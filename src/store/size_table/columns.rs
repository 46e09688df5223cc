//! The columns of a table, each with its source.

use std::collections::BTreeMap;

use toml::Spanned;

use super::dto::{ColumnDto, SizeDto};
use super::faults::TableReader;
use diag::{Code, Diagnostic, nearest};
use knit::body::{Measure, Provenance, SizeGroup};

/// A column's sources: its own and those of single groups and sizes.
pub(super) struct TableColumn {
    pub source: Provenance,
    pub exceptions: BTreeMap<String, Provenance>,
}

impl TableReader<'_> {
    pub(super) fn columns(
        &mut self,
        dtos: BTreeMap<Spanned<String>, ColumnDto>,
        sizes: &[Spanned<SizeDto>],
    ) -> BTreeMap<Measure, TableColumn> {
        let ids = sizes.iter().filter_map(|size| size.get_ref().id.as_ref());
        let names: Vec<&str> = SizeGroup::ALL
            .map(SizeGroup::name)
            .into_iter()
            .chain(ids.map(|id| id.get_ref().as_str()))
            .collect();
        let mut columns = BTreeMap::new();
        for (name, dto) in dtos {
            let measure: Option<Measure> = self.parse(&name);
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
            let mut exceptions = BTreeMap::new();
            for (who, dto) in dto.exceptions {
                if names.contains(&who.get_ref().as_str()) {
                    let provenance = Provenance { source: dto.source, derived: dto.derived };
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
            if let Some(measure) = measure {
                let source = Provenance { source, derived: dto.derived };
                columns.insert(measure, TableColumn { source, exceptions });
            }
        }
        columns
    }
}
