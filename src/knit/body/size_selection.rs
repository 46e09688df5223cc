use super::size_id::{ADULTS, EVERY};
use super::{Body, Size, SizeGroup, SizeId, SizeTable};
use diag::{Code, Diagnostic, Diagnostics, nearest};

/// Sizes picked out of a table, each once, in the table's order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SizeSelection {
    ids: Vec<SizeId>,
}

impl SizeSelection {
    /// Reads a list with commas between of: a size (`y4`), a range in table order with both
    /// ends in it (`y4..women-l`, `..y4`, `men-s..`), a group (`babies`, `children`, `women`,
    /// `men`, `adults`) or `all`.
    ///
    /// # Errors
    /// All the parts that can't be read, each with a hint.
    pub fn parse(text: &str, table: &SizeTable) -> Result<SizeSelection, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut picked = vec![false; table.sizes().len()];
        let mut parts = 0;
        for part in text.split(',').map(str::trim).filter(|part| !part.is_empty()) {
            parts += 1;
            match picked_by(part, table) {
                Ok(hits) => {
                    picked.iter_mut().zip(hits).for_each(|(picked, hit)| *picked |= hit);
                }
                Err(fault) => faults.push(fault),
            }
        }
        if parts == 0 {
            faults.push(
                Diagnostic::error(Code::Sizes, "no size is named")
                    .hint("name sizes like `m3-6,y4`, a range like `y4..women-l`, or `all`"),
            );
        }
        let ids = table.sizes().iter().zip(picked).filter(|(_, hit)| *hit);
        faults.into_result(SizeSelection { ids: ids.map(|(size, _)| size.id.clone()).collect() })
    }

    /// The sizes chosen, in the order of the table.
    pub fn ids(&self) -> &[SizeId] {
        &self.ids
    }

    /// The bodies of the sizes, out of the table the selection was made from.
    pub fn bodies(&self, table: &SizeTable) -> Vec<Body> {
        self.ids.iter().filter_map(|id| table.body(id)).collect()
    }
}

fn picked_by(part: &str, table: &SizeTable) -> Result<Vec<bool>, Diagnostic> {
    let sizes = table.sizes();
    if let Some((from, to)) = part.split_once("..") {
        let (from, to) = (from.trim(), to.trim());
        if from.is_empty() && to.is_empty() {
            return Err(Diagnostic::error(Code::Sizes, format!("`{part}` has neither end"))
                .hint("write `all` for every size"));
        }
        let first = if from.is_empty() { 0 } else { ends_of(from, table)?.0 };
        let last = if to.is_empty() { sizes.len() } else { ends_of(to, table)?.1 };
        if first > last {
            return Err(Diagnostic::error(Code::Sizes, format!("`{part}` runs backwards"))
                .hint(format!("turn it round: `{to}..{from}`")));
        }
        return Ok((0..sizes.len()).map(|i| (first..=last).contains(&i)).collect());
    }
    if let Some(belongs) = group_test(part) {
        let hits: Vec<bool> = sizes.iter().map(belongs).collect();
        return if hits.contains(&true) {
            Ok(hits)
        } else {
            Err(Diagnostic::error(Code::Sizes, format!("the size table has no {part}"))
                .maybe_hint(listing(table)))
        };
    }
    let at = position(part, table)?;
    Ok((0..sizes.len()).map(|i| i == at).collect())
}

/// The first and last place in the table that a range's end stands for: a group is as long as
/// it is.
fn ends_of(word: &str, table: &SizeTable) -> Result<(usize, usize), Diagnostic> {
    if let Some(belongs) = group_test(word) {
        let first = table.sizes().iter().position(&belongs);
        let last = table.sizes().iter().rposition(&belongs);
        if let (Some(first), Some(last)) = (first, last) {
            return Ok((first, last));
        }
    }
    position(word, table).map(|at| (at, at))
}

fn group_test(word: &str) -> Option<impl Fn(&Size) -> bool> {
    let groups: Vec<SizeGroup> = match word {
        EVERY => SizeGroup::ALL.to_vec(),
        ADULTS => SizeGroup::ALL.into_iter().filter(|g| g.is_adult()).collect(),
        _ => vec![word.parse().ok()?],
    };
    Some(move |size: &Size| groups.contains(&size.group))
}

fn position(name: &str, table: &SizeTable) -> Result<usize, Diagnostic> {
    table.sizes().iter().position(|size| size.answers_to(name)).ok_or_else(|| {
        let words = table
            .sizes()
            .iter()
            .flat_map(|size| std::iter::once(&size.id).chain(&size.aliases))
            .map(SizeId::as_str)
            .chain(SizeGroup::ALL.map(SizeGroup::name))
            .chain([EVERY, ADULTS]);
        let fault = Diagnostic::error(Code::Sizes, format!("there is no size `{name}`"));
        match nearest(name, words) {
            Some(word) => fault.hint(format!("did you mean `{word}`?")),
            None => fault.maybe_hint(listing(table)),
        }
    })
}

fn listing(table: &SizeTable) -> Option<String> {
    let ids: Vec<&str> = table.sizes().iter().map(|size| size.id.as_str()).collect();
    (!ids.is_empty()).then(|| format!("the sizes are {}", ids.join(", ")))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn table() -> SizeTable {
        let mut table = SizeTable::new();
        let rows = [
            ("m3-6", "3-6m", SizeGroup::Babies),
            ("y4", "4y", SizeGroup::Children),
            ("y5-6", "5-6y", SizeGroup::Children),
            ("women-m", "adult-m", SizeGroup::Women),
            ("women-l", "adult-l", SizeGroup::Women),
        ];
        for (id, alias, group) in rows {
            let size = Size {
                id: id.parse().expect("an id"),
                label: id.to_owned(),
                group,
                age_years: None,
                aliases: vec![alias.parse().expect("an id")],
                values: BTreeMap::new(),
            };
            table.push(size).expect("no two alike");
        }
        table
    }

    fn picked(text: &str) -> String {
        match SizeSelection::parse(text, &table()) {
            Ok(sizes) => sizes.ids().iter().map(SizeId::as_str).collect::<Vec<_>>().join(" "),
            Err(faults) => faults.to_string(),
        }
    }

    #[test]
    fn lists_ranges_and_groups_come_out_once_and_in_table_order() {
        assert_eq!(picked("all"), "m3-6 y4 y5-6 women-m women-l");
        assert_eq!(picked("y4, m3-6"), "m3-6 y4");
        assert_eq!(picked("y4..women-m"), "y4 y5-6 women-m");
        assert_eq!(picked("y5-6.. , y4..women-m"), "y4 y5-6 women-m women-l");
        assert_eq!(picked("..y4"), "m3-6 y4");
        assert_eq!(picked("children..women"), "y4 y5-6 women-m women-l");
        assert_eq!(picked("babies,adults"), "m3-6 women-m women-l");
        assert_eq!(picked("adult-m"), "women-m");
    }

    #[test]
    fn what_cannot_be_read_says_what_to_write() {
        assert_eq!(picked("y44"), "there is no size `y44`; did you mean `y4`?");
        assert_eq!(picked("woman-l"), "there is no size `woman-l`; did you mean `women-l`?");
        assert_eq!(
            picked("women-l..y4"),
            "`women-l..y4` runs backwards; turn it round: `y4..women-l`"
        );
        assert_eq!(picked(".."), "`..` has neither end; write `all` for every size");
        assert!(picked(" , ").starts_with("no size is named; "), "{}", picked(" , "));
        assert_eq!(
            picked("men"),
            "the size table has no men; the sizes are m3-6, y4, y5-6, women-m, women-l"
        );
        // One bad part doesn't hide another.
        assert_eq!(picked("y44,y4,womenn").lines().count(), 2);
    }

    #[test]
    fn an_empty_table_has_nothing_to_pick() {
        let empty = SizeTable::new();
        for text in ["all", "y4", "y4..", "..y4", "..", "women..men"] {
            assert!(SizeSelection::parse(text, &empty).is_err(), "{text}");
        }
    }
}
