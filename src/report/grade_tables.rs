//! The graded run as tables a person reads at the machine.

use super::grid::{Grid, capital};
use crate::diag::{Diagnostic, Severity};
use crate::knit::grade::Finished;
use crate::knit::run::PieceRun;
use crate::knit::size_run::{Made, SizeRun};
use crate::units::LengthUnit;

const NONE: &str = "-";

/// Three tables: finished sizes, what to set up at the machine, yarn. Sizes that can't be
/// knitted keep their rows, with dashes; where none can, there are no tables.
pub fn grade_tables(run: &SizeRun, unit: LengthUnit) -> Vec<Grid> {
    if run.good().next().is_none() {
        return Vec::new();
    }
    let pair = if run.garment.pair { ", each of the pair" } else { "" };
    vec![
        finished_grid(run, &[unit], &format!("Finished sizes, {}{pair}", unit.symbol())),
        machine_grid(run),
        yarn_grid(run, unit),
    ]
}

/// The finished sizes alone, in one unit or both, as a size chart.
pub fn finished_chart(run: &SizeRun, units: &[LengthUnit]) -> Grid {
    finished_grid(run, units, &format!("{}: finished sizes", run.garment.title))
}

fn finished_grid(run: &SizeRun, units: &[LengthUnit], title: &str) -> Grid {
    let model = run.good().next().map(|(_, made)| made);
    let suffix = |unit: &LengthUnit| {
        if units.len() > 1 { format!(" {}", unit.symbol()) } else { String::new() }
    };
    let mut headings = vec!["Size".to_owned()];
    for unit in units {
        if let Some(measure) = run.garment.measure {
            headings.push(format!("{}{}", capital(measure.label()), suffix(unit)));
        }
        if let Some(made) = model {
            headings.extend(
                made.graded.finished.iter().map(|f| format!("{}{}", f.title, suffix(unit))),
            );
        }
    }
    if let Some(made) = model {
        headings.extend(eased(made).map(|f| format!("Ease of {}", f.title.to_lowercase())));
        headings.extend(made.graded.ratios.iter().map(|r| r.title.clone()));
    }
    let columns = headings.len();
    let mut grid = Grid::new(title, headings);
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        let made = size.good();
        for unit in units {
            if let Some(measure) = run.garment.measure {
                row.push(size.body.mm(measure).map_or_else(|| NONE.to_owned(), |mm| unit.cell(mm)));
            }
            if let Some(made) = made {
                row.extend(made.graded.finished.iter().map(|f| unit.cell(f.mm)));
            } else if let Some(model) = model {
                row.extend(model.graded.finished.iter().map(|_| NONE.to_owned()));
            }
        }
        if let Some(made) = made {
            row.extend(eased(made).map(|f| {
                f.achieved_ease.map_or_else(|| NONE.to_owned(), |e| format!("{:+.0} %", e * 100.0))
            }));
            row.extend(made.graded.ratios.iter().map(|r| format!("{:.2}", r.value)));
        }
        row.resize(columns, NONE.to_owned());
        grid.rows.push(row);
    }
    grid
}

fn eased(made: &Made) -> impl Iterator<Item = &Finished> {
    made.graded.finished.iter().filter(|f| f.ease.is_some())
}

fn machine_grid(run: &SizeRun) -> Grid {
    let model = run.good().next().map(|(_, made)| made);
    let mut headings = vec!["Size".to_owned()];
    if let Some(made) = model {
        headings.extend(shown_pieces(made).map(|p| format!("{} needles", p.title)));
        headings.extend(made.graded.counts.iter().map(|c| c.title.clone()));
        headings.push("Hours".to_owned());
    }
    let columns = headings.len();
    let mut grid = Grid::new("At the machine", headings);
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        if let Some(made) = size.good() {
            row.extend(
                shown_pieces(made)
                    .map(|p| p.needles.map_or_else(|| NONE.to_owned(), |span| span.to_string())),
            );
            row.extend(made.graded.counts.iter().map(|c| c.value.to_string()));
            row.push(format!("{:.1}", made.graded.minutes / 60.0));
        }
        row.resize(columns, NONE.to_owned());
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

fn yarn_grid(run: &SizeRun, unit: LengthUnit) -> Grid {
    let model = run.good().next().map(|(_, made)| made);
    let mut headings = vec!["Size".to_owned()];
    if let Some(made) = model {
        headings.extend(
            made.graded
                .yarn
                .sections
                .iter()
                .map(|s| format!("{} g", run.garment.section_title(&s.name))),
        );
    }
    headings.extend(["All g", "95 % from", "to g"].map(str::to_owned));
    headings
        .extend([format!("Yarn {}", unit.long_symbol()), format!("Waste {}", unit.long_symbol())]);
    let columns = headings.len();
    let basis = model.map_or("", |made| made.graded.yarn.basis.words());
    let title = format!(
        "Yarn{}, {} at {:.0} {}/100 g, from {basis}",
        if run.garment.pair { " for the pair" } else { "" },
        run.swatches.yarn_name,
        unit.long(run.swatches.yarn.metres_per_100_g()),
        unit.long_symbol()
    );
    let mut grid = Grid::new(title, headings);
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        if let Some(made) = size.good() {
            let yarn = &made.graded.yarn;
            row.extend(yarn.sections.iter().map(|s| format!("{:.1}", s.grams)));
            row.push(format!("{:.1}", yarn.grams));
            row.push(format!("{:.0}", yarn.grams_low));
            row.push(format!("{:.0}", yarn.grams_high));
            row.push(format!("{:.0}", unit.long(yarn.metres)));
            row.push(format!("{:.0}", unit.long(yarn.waste_metres)));
        }
        row.resize(columns, NONE.to_owned());
        grid.rows.push(row);
    }
    grid
}

/// What goes below the tables, one line each: gauges, then what holds for which sizes, then
/// cautions. The same words for several sizes are said once.
pub fn notes(run: &SizeRun, unit: LengthUnit) -> Vec<String> {
    let (over, over_mm) = unit.gauge_over();
    let mut lines =
        vec![format!("Machine: {}, {} needles", run.machine.title, run.machine.needles)];
    for gauge in run.used_gauges() {
        let state = gauge.measured.map_or("estimated from the plain swatch", |s| s.name());
        lines.push(format!(
            "Gauge, {}: {:.1} ± {:.1} stitches, {:.1} ± {:.1} rows to {over} ({state})",
            gauge.structure,
            gauge.stitches.per_ten.per_mm() * over_mm,
            gauge.stitches.standard_error * over_mm / 100.0,
            gauge.rows.per_ten.per_mm() * over_mm,
            gauge.rows.standard_error * over_mm / 100.0
        ));
    }
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
