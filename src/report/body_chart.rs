use super::grid::{Grid, capital, inch_columns};
use knit::body::{Measure, SizeTable};
use units::LengthUnit;

/// Body measures by size, and where each column comes from.
#[derive(Clone, Debug)]
pub struct BodyChart {
    pub grid: Grid,
    /// One line a column: its source, marked where it is derived.
    pub sources: Vec<String>,
}

/// Body measures of the sizes named, in one unit or in both.
pub fn body_chart(
    table: &SizeTable,
    sizes: &[&str],
    measures: &[Measure],
    units: &[LengthUnit],
) -> BodyChart {
    let mut headings = vec!["Size".to_owned()];
    for measure in measures {
        for unit in units {
            headings.push(format!("{} {}", capital(measure.label()), unit.symbol()));
        }
    }
    let mut grid = Grid::new("Body measures", headings);
    grid.inches = inch_columns(units.iter().cycle().take(units.len() * measures.len()));
    for size in sizes.iter().filter_map(|id| table.get(id)) {
        let mut row = vec![size.label.clone()];
        for measure in measures {
            for unit in units {
                row.push(size.mm(measure.name()).map_or_else(String::new, |mm| unit.cell(mm)));
            }
        }
        grid.rows.push(row);
    }
    let sources = measures.iter().map(|measure| column_sources(table, sizes, measure)).collect();
    BodyChart { grid, sources }
}

/// "Head girth: WHO ... (Newborn to 2-3 y); ANSUR II ...", derived figures marked.
fn column_sources(table: &SizeTable, sizes: &[&str], measure: &Measure) -> String {
    let mut runs: Vec<(String, &str, &str)> = Vec::new();
    for size in sizes.iter().filter_map(|id| table.get(id)) {
        let Some(value) = size.values.get(measure) else { continue };
        let mark = if value.provenance.derived { "derived: " } else { "" };
        let source = format!("{mark}{}", value.provenance.source);
        match runs.last_mut() {
            Some((last, _, to)) if *last == source => *to = &size.label,
            _ => runs.push((source, &size.label, &size.label)),
        }
    }
    let parts: Vec<String> = runs
        .into_iter()
        .map(|(source, from, to)| {
            if from == to {
                format!("{source} ({from})")
            } else {
                format!("{source} ({from} to {to})")
            }
        })
        .collect();
    format!("{}: {}", capital(measure.label()), parts.join("; "))
}
