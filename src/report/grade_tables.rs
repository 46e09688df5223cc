//! The graded run as tables a person reads at the machine.

use super::decisions::fixed_of;
use super::grade_json::grade_json;
use super::grid::{Format, Grid, capital, inch_columns};
use super::minutes_told::MinutesTold;
use super::vocabulary::said;
use diag::{Diagnostic, Severity};
use knit::body::Measure;
use knit::grade::Finished;
use knit::run::PieceRun;
use knit::size_run::{Made, SizeRun};
use knit::stash::Words;
use units::LengthUnit;

const NONE: &str = "-";

/// Finished sizes; the body measures they answer to, where there are any; what to set up at the
/// machine; yarn. Sizes that can't be knitted keep their rows, with dashes; where none can, there
/// are no tables.
pub fn grade_tables(run: &SizeRun, unit: LengthUnit) -> Vec<Grid> {
    if run.good().next().is_none() {
        return Vec::new();
    }
    let mut tables = vec![finished_grid(run, &[unit], &finished_title(run, unit))];
    tables.extend(body_grid(run, unit));
    tables.extend([machine_grid(run), yarn_grid(run, unit)]);
    tables
}

pub(super) fn finished_title(run: &SizeRun, unit: LengthUnit) -> String {
    let pair = if run.garment.pair { ", each of the pair" } else { "" };
    format!("Finished sizes, {}{pair}", unit.symbol())
}

/// The measure that orders the run, then those that some finished measure answers to.
pub(super) fn body_measures(run: &SizeRun) -> Vec<&Measure> {
    let mut measures: Vec<&Measure> = run.garment.measure.iter().collect();
    for (size, made) in run.good() {
        for name in made.graded.finished.iter().filter_map(|f| f.measure.as_deref()) {
            let measure = size.body.measure(name);
            measures.extend(measure.filter(|measure| !measures.contains(measure)));
        }
    }
    measures
}

/// What bodies measure, apart from what comes off the machine.
pub(super) fn body_grid(run: &SizeRun, unit: LengthUnit) -> Option<Grid> {
    let measures = body_measures(run);
    if measures.is_empty() {
        return None;
    }
    let mut headings = vec!["Size".to_owned()];
    headings.extend(measures.iter().map(|measure| capital(measure.label())));
    let mut grid = Grid::new(format!("Body measures, {}", unit.symbol()), headings);
    grid.inches = inch_columns(std::iter::repeat_n(&unit, measures.len()));
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        row.extend(measures.iter().map(|measure| {
            size.body.mm(measure.name()).map_or_else(|| NONE.to_owned(), |mm| unit.cell(mm))
        }));
        grid.rows.push(row);
    }
    Some(grid)
}

/// Every table in one, for programs: the body's measure goes before what is finished, under a name
/// of its own.
fn wide_table(run: &SizeRun, unit: LengthUnit) -> Grid {
    if run.good().next().is_none() {
        return Grid::default();
    }
    joined(&[size_chart(run, &[unit], ""), machine_grid(run), yarn_grid(run, unit)])
}

/// The whole run as a page in the format asked for; CSV is one wide table.
pub fn grade_page(run: &SizeRun, unit: LengthUnit, words: Words, format: Format) -> String {
    match format {
        Format::Json => grade_json(run),
        Format::Csv => wide_table(run, unit).write(format),
        Format::Table | Format::Markdown => {
            let pair = if run.garment.pair { ", a pair" } else { "" };
            let mut text = format!(
                "{}{pair}, knitted on the virtual bed\n\n",
                said(words, &run.garment.title)
            );
            if let Some(fixed) = fixed_of(run) {
                text.push_str(&format!("{fixed}\n\n"));
            }
            if run.good().next().is_none() {
                text.push_str("No size can be knitted as asked; the reasons follow.\n\n");
            }
            for grid in grade_tables(run, unit) {
                text.push_str(&grid.in_words(words).write(format));
                text.push('\n');
            }
            for note in grade_notes(run, unit) {
                let bullet = if format == Format::Markdown { "- " } else { "" };
                text.push_str(&format!("{bullet}{}\n", said(words, &note)));
            }
            text
        }
    }
}

/// One wide table of several with the same first column.
fn joined(grids: &[Grid]) -> Grid {
    let mut all = Grid::default();
    for grid in grids {
        if all.headings.is_empty() {
            all = grid.clone();
            continue;
        }
        let before = all.headings.len() - 1;
        all.inches.extend(grid.inches.iter().map(|column| before + column));
        all.headings.extend_from_slice(&grid.headings[1..]);
        for (row, more) in all.rows.iter_mut().zip(&grid.rows) {
            row.extend_from_slice(&more[1..]);
        }
    }
    all
}

/// The finished sizes alone, in one unit or both, as a size chart.
pub fn finished_chart(run: &SizeRun, units: &[LengthUnit]) -> Grid {
    size_chart(run, units, &format!("{}: finished sizes", run.garment.title))
}

/// Finished sizes with the body's own measure before them.
fn size_chart(run: &SizeRun, units: &[LengthUnit], title: &str) -> Grid {
    let mut grid = finished_grid(run, units, title);
    let Some(measure) = &run.garment.measure else { return grid };
    for (nth, unit) in units.iter().enumerate().rev() {
        let at = 1 + nth * finished_titles(run).len();
        let heading = format!("Body: {}{}", measure.label().to_lowercase(), suffix(units, *unit));
        grid.headings.insert(at, heading);
        for (row, size) in grid.rows.iter_mut().zip(&run.sizes) {
            let cell = size.body.mm(measure.name()).map(|mm| unit.cell(mm));
            row.insert(at, cell.unwrap_or_else(|| NONE.to_owned()));
        }
    }
    let each = finished_titles(run).len() + 1;
    grid.inches = inch_columns(units.iter().flat_map(|unit| std::iter::repeat_n(unit, each)));
    grid
}

fn finished_titles(run: &SizeRun) -> Vec<(&str, &str)> {
    union(run, |made| made.graded.finished.iter().map(|f| (&f.name, &f.title)))
}

/// Of which unit a column is, where there are several.
fn suffix(units: &[LengthUnit], unit: LengthUnit) -> String {
    if units.len() > 1 { format!(" {}", unit.symbol()) } else { String::new() }
}

pub(super) fn finished_grid(run: &SizeRun, units: &[LengthUnit], title: &str) -> Grid {
    let finished = finished_titles(run);
    let ratios = union(run, |made| made.graded.ratios.iter().map(|r| (&r.name, &r.title)));
    let eased: Vec<(&str, &str)> = finished
        .iter()
        .filter(|(name, _)| {
            run.good().any(|(_, made)| find(made, name).is_some_and(|f| f.ease.is_some()))
        })
        .copied()
        .collect();
    let mut headings = vec!["Size".to_owned()];
    for unit in units {
        let suffix = suffix(units, *unit);
        headings.extend(finished.iter().map(|(_, title)| format!("{title}{suffix}")));
    }
    headings.extend(eased.iter().map(|(_, title)| format!("Ease of {}", title.to_lowercase())));
    headings.extend(ratios.iter().map(|(_, title)| (*title).to_owned()));
    let mut grid = Grid::new(title, headings);
    grid.inches =
        inch_columns(units.iter().flat_map(|unit| std::iter::repeat_n(unit, finished.len())));
    for size in &run.sizes {
        let made = size.good();
        let cell = |text: Option<String>| text.unwrap_or_else(|| NONE.to_owned());
        let mut row = vec![size.body.label.clone()];
        for unit in units {
            row.extend(finished.iter().map(|(name, _)| {
                cell(made.and_then(|made| find(made, name)).map(|f| unit.cell(f.mm)))
            }));
        }
        row.extend(eased.iter().map(|(name, _)| {
            let ease = made.and_then(|made| find(made, name)).and_then(|f| f.achieved_ease);
            cell(ease.map(|ease| format!("{:+.0} %", ease * 100.0)))
        }));
        row.extend(ratios.iter().map(|(name, _)| {
            let ratio = made.and_then(|made| made.graded.ratios.iter().find(|r| r.name == *name));
            cell(ratio.map(|r| format!("{:.2}", r.value)))
        }));
        grid.rows.push(row);
    }
    grid
}

fn find<'a>(made: &'a Made, name: &str) -> Option<&'a Finished> {
    made.graded.finished.iter().find(|f| f.name == name)
}

/// Names and titles over all sizes, each once, in the order they are first met: sizes may differ
/// in what they have.
fn union<'a, I>(run: &'a SizeRun, of: impl Fn(&'a Made) -> I) -> Vec<(&'a str, &'a str)>
where
    I: Iterator<Item = (&'a String, &'a String)>,
{
    let mut all: Vec<(&str, &str)> = Vec::new();
    for (_, made) in run.good() {
        for (name, title) in of(made) {
            if all.iter().all(|(known, _)| known != name) {
                all.push((name, title));
            }
        }
    }
    all
}

pub(super) fn machine_grid(run: &SizeRun) -> Grid {
    let pieces = union(run, |made| shown_pieces(made).map(|p| (&p.title, &p.title)));
    let counts = union(run, |made| made.graded.counts.iter().map(|c| (&c.name, &c.title)));
    let mut headings = vec!["Size".to_owned()];
    headings.extend(pieces.iter().map(|(_, title)| format!("{title} needles")));
    headings.extend(counts.iter().map(|(_, title)| (*title).to_owned()));
    headings.extend(["Hours", "95 % from", "to h"].map(str::to_owned));
    let mut grid = Grid::new("At the machine", headings);
    for size in &run.sizes {
        let made = size.good();
        let cell = |text: Option<String>| text.unwrap_or_else(|| NONE.to_owned());
        let mut row = vec![size.body.label.clone()];
        row.extend(pieces.iter().map(|(_, title)| {
            let piece = made.and_then(|made| shown_pieces(made).find(|p| p.title == *title));
            cell(piece.and_then(|p| p.needles).map(|span| span.to_string()))
        }));
        row.extend(counts.iter().map(|(name, _)| {
            let count = made.and_then(|made| made.graded.counts.iter().find(|c| c.name == *name));
            cell(count.map(|c| c.value.to_string()))
        }));
        let told = made.map(|made| MinutesTold::of(&made.graded.minutes));
        let hours = |minutes: Option<f64>| cell(minutes.map(|m| format!("{:.1}", m / 60.0)));
        row.extend([told.map(|t| t.mean), told.map(|t| t.low), told.map(|t| t.high)].map(hours));
        grid.rows.push(row);
    }
    grid
}

/// One piece of each title: numbered pieces (`band-1`, `band-2`) are alike in width.
fn shown_pieces(made: &Made) -> impl Iterator<Item = &PieceRun> {
    let pieces = &made.graded.run.pieces;
    pieces
        .iter()
        .enumerate()
        .filter(|(i, piece)| pieces[..*i].iter().all(|before| before.title != piece.title))
        .map(|(_, piece)| piece)
}

pub(super) fn yarn_grid(run: &SizeRun, unit: LengthUnit) -> Grid {
    let sections = union(run, |made| made.graded.yarn.sections.iter().map(|s| (&s.name, &s.name)));
    let mut headings = vec!["Size".to_owned()];
    // One section alone would only repeat the sum.
    let apart = if sections.len() > 1 { sections } else { Vec::new() };
    headings.extend(apart.iter().map(|(name, _)| format!("{} g", run.garment.section_title(name))));
    headings.extend(["All g", "95 % from", "to g"].map(str::to_owned));
    headings
        .extend([format!("Yarn {}", unit.long_symbol()), format!("Waste {}", unit.long_symbol())]);
    let columns = headings.len();
    let basis = run.good().map(|(_, made)| made.graded.yarn.basis).max();
    let title = format!(
        "Yarn{}, {} at {:.0} {}/100 g, from {}",
        if run.garment.pair { " for the pair" } else { "" },
        run.swatches.yarn_name,
        unit.long(run.swatches.yarn.metres_per_100_g()),
        unit.long_symbol(),
        basis.map_or("nothing".into(), |basis| basis.words())
    );
    let mut grid = Grid::new(title, headings);
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        if let Some(made) = size.good() {
            let yarn = &made.graded.yarn;
            row.extend(apart.iter().map(|(name, _)| {
                let section = yarn.sections.iter().find(|s| s.name == *name);
                section.map_or_else(|| NONE.to_owned(), |s| format!("{:.1}", s.need.grams()))
            }));
            let within = yarn.need.next_within();
            row.push(format!("{:.1}", yarn.need.grams()));
            row.push(format!("{:.0}", within.low));
            row.push(format!("{:.0}", within.high));
            row.push(format!("{:.0}", unit.long(yarn.metres)));
            row.push(format!("{:.0}", unit.long(yarn.waste_metres)));
        }
        row.resize(columns, NONE.to_owned());
        grid.rows.push(row);
    }
    grid
}

/// What "±" and an interval stand for, wherever one is told.
pub const WITHIN: &str = "±, and 95 % from and to: 19 pieces in 20 lie within";

/// What goes below the tables, one line each: gauges, then what holds for which sizes, then
/// cautions. The same words for several sizes are said once.
pub fn grade_notes(run: &SizeRun, unit: LengthUnit) -> Vec<String> {
    let (over, over_mm) = unit.gauge_over();
    let mut lines = vec![format!("Machine: {}, {}", run.machine.title, run.machine.needles_told())];
    for gauge in run.used_gauges() {
        let state = gauge.measured.map_or("estimated from the plain swatch", |s| s.name());
        lines.push(format!(
            "Gauge, {}: {:.1} ± {:.1} stitches, {:.1} ± {:.1} rows to {over} ({state})",
            gauge.structure,
            gauge.stitches.per_ten.per_mm() * over_mm,
            gauge.stitches.half_width() * over_mm / 100.0,
            gauge.rows.per_ten.per_mm() * over_mm,
            gauge.rows.half_width() * over_mm / 100.0
        ));
    }
    lines.push(WITHIN.to_owned());
    let warnings = run.good().flat_map(|(size, made)| {
        made.diagnostics.iter().map(move |d| (short(d), size.body.label.as_str()))
    });
    let cautions = run.good().flat_map(|(size, made)| {
        made.cautions.iter().map(move |c| (c.clone(), size.body.label.as_str()))
    });
    let mut grouped: Vec<(String, Vec<&str>)> = Vec::new();
    for (text, label) in warnings.chain(cautions) {
        match grouped.iter_mut().find(|(told, _)| *told == text) {
            Some((_, labels)) => labels.push(label),
            None => grouped.push((text, vec![label])),
        }
    }
    let all = run.good().count();
    for (text, labels) in grouped {
        let sizes = match labels.len() {
            n if n == all && all > 1 => "All sizes".to_owned(),
            1 | 2 => labels.join(", "),
            n => format!("{} to {} ({n} sizes)", labels[0], labels[n - 1]),
        };
        lines.push(format!("{sizes}: {text}"));
    }
    lines
}

fn short(diagnostic: &Diagnostic) -> String {
    debug_assert_eq!(diagnostic.severity, Severity::Warning);
    let mut text = diagnostic.message.clone();
    for hint in &diagnostic.hints {
        text.push_str("; ");
        text.push_str(hint);
    }
    text
}
