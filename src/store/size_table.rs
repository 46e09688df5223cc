//! Size tables: TOML text to the domain's [`SizeTable`], with every fault placed and all of
//! them gathered.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;

use diag::{Code, Diagnostic, Diagnostics, nearest, toml_text};
use knit::body::{Measure, Provenance, Size, SizeGroup, SizeId, SizeTable, SizeValue};
use units::{Length, UnitError};

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TableDto {
    #[expect(dead_code, reason = "for the reader of the file")]
    title: Option<String>,
    #[schemars(with = "Option<String>")]
    unit: Option<Spanned<String>>,
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, ColumnDto>")]
    measures: BTreeMap<Spanned<String>, ColumnDto>,
    #[serde(default, rename = "size")]
    #[schemars(with = "Vec<SizeDto>")]
    sizes: Vec<Spanned<SizeDto>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ColumnDto {
    #[schemars(with = "Option<String>")]
    source: Option<Spanned<String>>,
    #[serde(default)]
    derived: bool,
    /// Other sources for a group or a size of the column.
    #[serde(default, rename = "for")]
    #[schemars(with = "BTreeMap<String, ProvenanceDto>")]
    exceptions: BTreeMap<Spanned<String>, ProvenanceDto>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ProvenanceDto {
    source: String,
    #[serde(default)]
    derived: bool,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SizeDto {
    #[schemars(with = "Option<String>")]
    id: Option<Spanned<String>>,
    label: Option<String>,
    #[schemars(with = "Option<String>")]
    group: Option<Spanned<String>>,
    #[schemars(with = "Option<f64>")]
    age: Option<Spanned<f64>>,
    #[serde(default)]
    #[schemars(with = "Vec<String>")]
    aliases: Vec<Spanned<String>>,
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, serde_json::Value>")]
    body: BTreeMap<Spanned<String>, Spanned<toml::Value>>,
}

/// Reads a size table. `file` is only a name to show. Bare numbers take the table's `unit`; a
/// text carries its own ("56 cm").
///
/// # Errors
/// Every fault found in a text that is TOML of the right shape (a fault of syntax or shape ends
/// the reading at once). Warnings, such as a measure that gets smaller as the sizes grow, come
/// with the table when nothing worse was found.
pub fn parse_size_table(file: &str, text: &str) -> Result<(SizeTable, Diagnostics), Diagnostics> {
    let dto: TableDto = toml_text::parse(file, text)?;
    Reader { file, text, faults: Diagnostics::new() }.read(dto)
}

/// A column's sources: its own and those of single groups and sizes.
struct Column {
    source: Provenance,
    exceptions: BTreeMap<String, Provenance>,
}

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    faults: Diagnostics,
}

impl Reader<'_> {
    fn fault(&mut self, diagnostic: Diagnostic, span: std::ops::Range<usize>) {
        self.faults.push_placed(diagnostic, self.file, self.text, span);
    }

    /// Parses the text of `spanned`; a failure is placed at it.
    fn parse<T: std::str::FromStr<Err = Diagnostic>>(
        &mut self,
        spanned: &Spanned<String>,
    ) -> Option<T> {
        match spanned.get_ref().parse() {
            Ok(value) => Some(value),
            Err(fault) => {
                self.fault(fault, spanned.span());
                None
            }
        }
    }

    fn read(mut self, dto: TableDto) -> Result<(SizeTable, Diagnostics), Diagnostics> {
        let unit = self.unit(dto.unit);
        let columns = self.columns(dto.measures, &dto.sizes);
        if dto.sizes.is_empty() {
            let empty = Diagnostic::error(Code::SizeTable, "the table has no sizes")
                .hint("add one: [[size]] with `id`, `group` and a [size.body] of measures");
            self.fault(empty, 0..0);
        }
        let mut table = SizeTable::new();
        // Where each figure stands, for what can only be said of the whole table.
        let mut places = BTreeMap::new();
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
            if let Some(size) = self.size(dto, span.clone(), unit, &columns, &mut places)
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
            if let Some(span) = places.get(&(size.id.clone(), measure)).cloned() {
                self.fault(warning, span);
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

    fn columns(
        &mut self,
        dtos: BTreeMap<Spanned<String>, ColumnDto>,
        sizes: &[Spanned<SizeDto>],
    ) -> BTreeMap<Measure, Column> {
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
                columns.insert(measure, Column { source, exceptions });
            }
        }
        columns
    }

    fn size(
        &mut self,
        dto: SizeDto,
        span: std::ops::Range<usize>,
        unit: Option<f64>,
        columns: &BTreeMap<Measure, Column>,
        places: &mut BTreeMap<(SizeId, Measure), std::ops::Range<usize>>,
    ) -> Option<Size> {
        let missing = |key: &str, hint: &str| {
            Diagnostic::error(Code::SizeTable, format!("this size has no `{key}`")).hint(hint)
        };
        let id = match &dto.id {
            Some(id) => self.parse::<SizeId>(id),
            None => {
                self.fault(missing("id", "add one, like `id = \"y4\"`"), head(&span));
                None
            }
        };
        let group = match &dto.group {
            Some(group) => self.parse::<SizeGroup>(group),
            None => {
                let hint = "say which: babies, children, women or men";
                self.fault(missing("group", hint), head(&span));
                None
            }
        };
        let age_years = dto.age.and_then(|age| {
            let years = *age.get_ref();
            if (0.0..=120.0).contains(&years) {
                Some(years)
            } else {
                let fault = format!("an age of {years} years is nobody's");
                let hint = "give the mean age of the size in years, as in `age = 4.0`";
                self.fault(Diagnostic::error(Code::SizeTable, fault).hint(hint), age.span());
                None
            }
        });
        let aliases: Vec<SizeId> =
            dto.aliases.iter().filter_map(|alias| self.parse(alias)).collect();
        if dto.body.is_empty() {
            let hint = "add [size.body] with figures like `head_girth = 560`";
            self.fault(missing("body", hint), head(&span));
        }
        let mut values = BTreeMap::new();
        for (name, value) in dto.body {
            let measure: Option<Measure> = self.parse(&name);
            let mm = match length(value.get_ref(), unit) {
                Ok(mm) => Some(mm),
                Err(fault) => {
                    self.fault(fault.into_diagnostic().context(name.get_ref()), value.span());
                    None
                }
            };
            let (Some(measure), Some(mm)) = (measure, mm) else { continue };
            let provenance = match columns.get(&measure) {
                Some(column) => dto
                    .id
                    .iter()
                    .map(|id| id.get_ref().as_str())
                    .chain(group.map(SizeGroup::name))
                    .find_map(|who| column.exceptions.get(who))
                    .unwrap_or(&column.source)
                    .clone(),
                None => {
                    let warning = format!("{measure} has no column with a source");
                    let hint = format!("add [measures.{measure}] with `source = \"...\"`");
                    let warning = Diagnostic::warning(Code::SizeTable, warning).hint(hint);
                    self.fault(warning, name.span());
                    Provenance { source: format!("{}, no source named", self.file), derived: false }
                }
            };
            if let Some(id) = &id {
                places.insert((id.clone(), measure), value.span());
            }
            values.insert(measure, SizeValue { mm, provenance });
        }
        let (id, group) = (id?, group?);
        let label = dto.label.unwrap_or_else(|| id.to_string());
        Some(Size { id, label, group, age_years, aliases, values })
    }
}

fn in_file_order(faults: Diagnostics) -> Diagnostics {
    let mut sorted: Vec<Diagnostic> = faults.into_iter().collect();
    sorted.sort_by_key(|fault| fault.place.as_ref().map(|place| (place.line, place.column)));
    let mut faults = Diagnostics::new();
    faults.extend(sorted);
    faults
}

/// The opening of a table, so that a fault of the whole points at one line.
fn head(span: &std::ops::Range<usize>) -> std::ops::Range<usize> {
    span.start..span.start
}

fn length(value: &toml::Value, unit: Option<f64>) -> Result<f64, UnitError> {
    let refuse = |message: String, hint: &str| Err(UnitError { message, hint: hint.to_owned() });
    let bare = match value {
        toml::Value::String(text) => return positive(text.parse::<Length>()?),
        toml::Value::Integer(number) => *number as f64,
        toml::Value::Float(number) => *number,
        other => {
            return refuse(
                format!("a {} is no length", other.type_str()),
                "write a number or a text like \"56 cm\"",
            );
        }
    };
    match unit {
        Some(unit) => positive(Length::from_mm(bare * unit)?),
        None => refuse(
            format!("{bare} has no unit"),
            "add `unit = \"mm\"` at the top of the table, or write a text like \"56 cm\"",
        ),
    }
}

fn positive(length: Length) -> Result<f64, UnitError> {
    if length.mm() > 0.0 {
        Ok(length.mm())
    } else {
        Err(UnitError {
            message: "a body measure can't be nothing".to_owned(),
            hint: "leave the measure out if it isn't known".to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert_eq!(young.mm(Measure::HeadGirth), Some(495.0));
        assert_eq!((young.label.as_str(), young.age_years), ("y2-3", None));
        let value = &older.values[&Measure::HeadGirth];
        assert_eq!((value.mm, value.provenance.derived), (505.0, true));
        assert_eq!(value.provenance.source, "half the group");
        assert_eq!(table.get("4y").map(|size| size.age_years), Some(Some(4.0)));
    }

    #[test]
    fn every_fault_is_found_at_once_and_placed() {
        let text = r#"[measures.head_grith]
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
        let faults = parse_size_table("t.toml", text).expect_err("many faults");
        let found: Vec<(usize, String)> = faults
            .iter()
            .map(|d| {
                (
                    d.place.as_ref().map_or(0, |place| place.line),
                    format!("{} {:?}", d.message, d.hints),
                )
            })
            .collect();
        let expected = [
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
        for (line, message, hint) in expected {
            let hit = found
                .iter()
                .any(|(l, text)| *l == line && text.contains(message) && text.contains(hint));
            assert!(hit, "line {line}: {message} / {hint}\nfound {found:#?}");
        }
        assert_eq!(found.len(), expected.len(), "{found:#?}");
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
        assert_eq!(y4.mm(Measure::HeadGirth), Some(505.0), "kept");
        assert_eq!(y4.mm(Measure::FootLength), Some(165.0), "added");
        assert_eq!(merged.get("4y").map(|size| size.id.as_str()), Some("y3"), "the alias moved");
    }
}
