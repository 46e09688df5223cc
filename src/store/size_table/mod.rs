//! Size tables: TOML text to the domain's [`SizeTable`], with every fault placed and all of
//! them gathered.

mod columns;
mod dto;
mod faults;
mod figure;
mod lines;
mod sizes;

pub(super) use dto::TableDto;

use std::collections::BTreeSet;

use toml::Spanned;

use diag::{Code, Diagnostic, Diagnostics, toml_text};
use faults::TableReader;
use knit::body::{Measures, SizeTable};
use sizes::{FigurePlaces, FigureRules};
use units::Length;

/// As [`parse_size_table`](crate::parse_size_table), with other measures known than the shipped table's:
/// those of the table that this one is laid over.
///
/// # Errors
/// As [`parse_size_table`](crate::parse_size_table).
pub fn parse_size_table_over(
    known: &Measures,
    file: &str,
    text: &str,
) -> Result<(SizeTable, Diagnostics), Diagnostics> {
    let dto: TableDto = toml_text::parse(file, text)?;
    TableReader { file, text, faults: Diagnostics::new() }.read(dto, known.clone())
}

impl TableReader<'_> {
    fn read(
        mut self,
        dto: TableDto,
        mut known: Measures,
    ) -> Result<(SizeTable, Diagnostics), Diagnostics> {
        let unit = self.unit(dto.unit);
        let columns = self.columns(dto.measures, &dto.sizes, unit, &mut known);
        dto.fill.into_iter().for_each(|group| self.fill_group(group, unit, &mut known));
        dto.goes_with.into_iter().for_each(|group| self.goes_with(group, unit, &mut known));
        let figures = FigureRules { unit, columns: &columns, known: &known };
        if dto.sizes.is_empty() {
            let empty = Diagnostic::error(Code::SizeTable, "the table has no sizes")
                .hint("add one: [[size]] with `id`, `group` and a [size.body] of measures");
            self.fault(empty, 0..0);
        }
        let mut table = SizeTable::of(known.clone());
        let mut places = FigurePlaces::new();
        let mut names = BTreeSet::new();
        for dto in dto.sizes {
            let span = dto.span();
            let dto = dto.into_inner();
            // Names are compared even where a size has other faults, so that these can't hide
            // a clash until the next run.
            let mut clash = false;
            for name in dto.id.iter().chain(&dto.aliases) {
                if !names.insert(name.get_ref().clone()) {
                    clash = true;
                    let fault = format!("`{}` names more than one size", name.get_ref());
                    let hint = "every id and alias belongs to one size: rename or remove one";
                    self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), name.span());
                }
            }
            if let Some(size) = self.size(dto, &span, &figures, &mut places)
                && !clash
                && let Err(fault) = table.push(size)
            {
                self.fault(fault, span);
            }
        }
        for (measure, before, size) in table.falls() {
            let warning = Diagnostic::warning(
                Code::SizeTable,
                format!("{measure} is smaller in `{}` than in `{}` before it", size.id, before.id),
            )
            .hint("sizes of a group should grow: check the figure and the order");
            let here = places.iter().find(|(id, of, _)| (id, of) == (&size.id, &measure));
            if let Some((_, _, span)) = here {
                self.fault(warning, span.clone());
            }
        }
        let faults = in_file_order(self.faults);
        if faults.has_errors() { Err(faults) } else { Ok((table, faults)) }
    }

    /// Millimetres in the unit of the bare numbers, when the table names one.
    fn unit(&mut self, unit: Option<Spanned<String>>) -> Option<f64> {
        let unit = unit?;
        match format!("1 {}", unit.get_ref()).parse::<Length>() {
            Ok(one) => Some(one.mm()),
            Err(fault) => {
                self.fault(fault.into_diagnostic(), unit.span());
                // Read on in millimetres: one fault is enough for one slip.
                Some(1.0)
            }
        }
    }
}

fn in_file_order(faults: Diagnostics) -> Diagnostics {
    let mut sorted: Vec<Diagnostic> = faults.into_iter().collect();
    sorted.sort_by_key(|fault| fault.place.as_ref().map(|place| (place.line, place.column)));
    let mut faults = Diagnostics::new();
    faults.extend(sorted);
    faults
}

#[cfg(test)]
mod tests {
    use crate::parse_size_table;

    const GOOD: &str = r#"
unit = "cm"
[measures.head_girth]
source = "measured in the village hall"
for.y4 = { source = "half the group", derived = true }
[[size]]
id = "y2-3"
group = "children"
body = { head_girth = 49.5 }
[[size]]
id = "y4"
label = "4 years"
group = "children"
age = 4
aliases = ["4y"]
[size.body]
head_girth = "505 mm"
"#;

    #[test]
    fn figures_in_the_unit_of_the_table_or_their_own() {
        let (table, warnings) = parse_size_table("t.toml", GOOD).expect("no fault");
        assert!(warnings.is_empty(), "{warnings}");
        let [young, older] = table.sizes() else { panic!("two sizes: {table:?}") };
        assert_eq!(young.mm("head_girth"), Some(495.0));
        assert_eq!((young.label.as_str(), young.age_years), ("y2-3", None));
        let value = older.get("head_girth").expect("a figure");
        assert_eq!((value.mm, value.provenance.derived), (505.0, true));
        assert_eq!(&*value.provenance.source, "half the group");
        assert_eq!(table.get("4y").map(|size| size.age_years), Some(Some(4.0)));
    }

    const FAULTY: &str = r#"[measures.head_grith]
source = "x"
[measures.hand_girth]
[measures.foot_length]
source = "x"
for.childen = { source = "y" }
[[size]]
group = "children"
body = { foot_length = -3 }
[[size]]
id = "y4"
group = "kids"
age = -1.0
body = { foot_length = 150, hand_girth = "12 cmm" }
[[size]]
id = "y4"
group = "children"
body = { foot_length = "15 cm" }
[[size]]
id = "y4"
group = "children"
body = { foot_lenght = true, foot_length = "0 mm" }
[[size]]
id = "Y 9"
"#;

    /// Line, words of the message and of its hint.
    const EXPECTED: [(usize, &str, &str); 17] = [
        (1, "`head_grith` is not a body measure", "did you mean `head_girth`?"),
        (3, "the column hand_girth names no source", "add `source"),
        (6, "`childen` is neither a group nor a size", "did you mean `children`?"),
        (7, "this size has no `id`", "id = \\\"y4\\\""),
        (9, "-3 has no unit", "add `unit"),
        (12, "`kids` is not a group of sizes", "babies, children, women, men"),
        (13, "an age of -1 years", "mean age"),
        (14, "150 has no unit", "add `unit"),
        (14, "`cmm` is not a unit of length", "use mm, cm, m or in"),
        (16, "`y4` names more than one size", "belongs to one size"),
        (20, "`y4` names more than one size", "belongs to one size"),
        (22, "`foot_lenght` is not a body measure", "did you mean `foot_length`?"),
        (22, "a boolean is no length", "56 cm"),
        (22, "a body measure can't be nothing", "leave the measure out"),
        (23, "this size has no `group`", "babies, children, women or men"),
        (23, "this size has no `body`", "add [size.body]"),
        (24, "`Y 9` can't be the id of a size", "small letters"),
    ];

    #[test]
    fn every_fault_is_found_at_once_and_placed() {
        let faults = parse_size_table("t.toml", FAULTY).expect_err("many faults");
        let found: Vec<(usize, String)> = faults
            .iter()
            .map(|d| {
                (
                    d.place.as_ref().map_or(0, |place| place.line),
                    format!("{} {:?}", d.message, d.hints),
                )
            })
            .collect();
        for (line, message, hint) in EXPECTED {
            let hit = found
                .iter()
                .any(|(l, text)| *l == line && text.contains(message) && text.contains(hint));
            assert!(hit, "line {line}: {message} / {hint}\nfound {found:#?}");
        }
        assert_eq!(found.len(), EXPECTED.len(), "{found:#?}");
        assert!(found.is_sorted_by_key(|(line, _)| *line), "{found:#?}");
    }

    #[test]
    fn a_second_size_of_the_same_name_and_a_negative_figure_are_refused() {
        let text = GOOD.replace("y2-3", "4y").replace("\"505 mm\"", "-505");
        let faults = parse_size_table("t.toml", &text).expect_err("two faults").to_string();
        assert!(faults.contains("t.toml:15:12: `4y` names more than one size"), "{faults}");
        assert!(faults.contains("t.toml:17:14: a length can't be negative"), "{faults}");
    }

    #[test]
    fn a_measure_that_shrinks_and_a_column_without_a_source_only_warn() {
        let text = GOOD
            .replace("505 mm", "485 mm")
            .replace("head_girth = 49.5", "head_girth = 49.5, foot_length = 15");
        let (_, warnings) = parse_size_table("t.toml", &text).expect("only warnings");
        let shown = warnings.to_string();
        assert!(shown.contains("t.toml:17:14: head_girth is smaller in `y4`"), "{shown}");
        assert!(shown.contains("foot_length has no column with a source"), "{shown}");
    }

    #[test]
    fn a_table_laid_over_another_replaces_adds_and_keeps_the_rest() {
        let (base, _) = parse_size_table("t.toml", GOOD).expect("no fault");
        let over = r#"
unit = "mm"
[measures.foot_length]
source = "the shoe shop"
[[size]]
id = "y4"
group = "children"
body = { foot_length = 165 }
[[size]]
id = "y3"
group = "children"
age = 3.0
aliases = ["4y"]
body = { foot_length = 152 }
[[size]]
id = "men-m"
group = "men"
body = { foot_length = 270 }
"#;
        let (over, _) = parse_size_table("o.toml", over).expect("no fault");
        let merged = base.merged_with(&over);
        let ids: Vec<&str> = merged.sizes().iter().map(|size| size.id.as_str()).collect();
        assert_eq!(ids, ["y2-3", "y3", "y4", "men-m"]);
        let y4 = merged.get("y4").expect("y4");
        assert_eq!(y4.mm("head_girth"), Some(505.0), "kept");
        assert_eq!(y4.mm("foot_length"), Some(165.0), "added");
        assert_eq!(merged.get("4y").map(|size| size.id.as_str()), Some("y3"), "the alias moved");
    }
}
