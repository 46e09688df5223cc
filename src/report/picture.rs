//! The pieces of a garment as a small picture in text characters, to scale: the schematic's shapes and
//! figures.

use crate::drawing::{LaidFlat, ShownPiece, shown_pieces};
use knit::program::Structure;
use knit::size_run::{Made, SizeResult, SizeRun};

/// The picture of the widest piece and of the tallest fits in so many characters and lines.
const MOST_COLUMNS: f64 = 60.0;
const MOST_LINES: f64 = 24.0;
/// A character is about twice as tall as it is wide.
const TALL: f64 = 2.0;
/// No finer than this, so that a baby's cuff isn't drawn larger than life.
const LEAST_MM: f64 = 5.0;

/// Each piece of a made size as it lies off the bed, cast-on edge below: `#` its outline, inside it
/// the fabric. `label` says of which size and machine. Pieces that are alike are drawn once.
pub fn garment_picture(run: &SizeRun, label: &str, size: &SizeResult, made: &Made) -> String {
    let shown = shown_pieces(run, size, made);
    let most = |of: fn(&LaidFlat) -> f64| shown.iter().map(|s| of(&s.flat)).fold(0.0, f64::max);
    let cell_mm =
        (most(width_mm) / MOST_COLUMNS).max(most(|f| f.height) / (MOST_LINES * TALL)).max(LEAST_MM);
    let mut text = format!(
        "The pieces of {label}, as they leave the bed; a character is {:.1} cm wide:\n",
        cell_mm / 10.0
    );
    for ShownPiece { heading, flat, needles } in &shown {
        text.push_str(&format!(
            "\n{heading}: {} needles ({needles}) x {} {}, {:.1} x {:.1} cm\n",
            needles.len(),
            flat.rows,
            // As the schematic has it: where fabrics differ, their rows are added up.
            if flat.zones.iter().all(|zone| zone.structure == Structure::Circular) {
                "rounds"
            } else {
                "rows"
            },
            width_mm(flat) / 10.0,
            flat.height / 10.0
        ));
        for line in draw(flat, cell_mm) {
            text.push_str(&format!("  {line}\n"));
        }
    }
    text.push_str("\n# edge   . plain   | rib   : tube\n");
    text
}

fn width_mm(flat: &LaidFlat) -> f64 {
    flat.right - flat.left
}

/// Lines of text, the last row on top.
fn draw(flat: &LaidFlat, cell_mm: f64) -> Vec<String> {
    let cells = |mm: f64, cell: f64| ((mm / cell).round() as usize).max(1);
    let columns = cells(width_mm(flat), cell_mm);
    let lines = cells(flat.height, cell_mm * TALL);
    let (wide, high) = (width_mm(flat) / columns as f64, flat.height / lines as f64);
    let at = |line: usize, column: usize| {
        let x = flat.left + (column as f64 + 0.5) * wide;
        let y = (line as f64 + 0.5) * high;
        if inside(flat, x, y) { fabric(flat, x, y) } else { ' ' }
    };
    let grid: Vec<Vec<char>> =
        (0..lines).map(|line| (0..columns).map(|column| at(line, column)).collect()).collect();
    let filled = |line: Option<usize>, column: Option<usize>| {
        line.zip(column).and_then(|(l, c)| grid.get(l)?.get(c)).is_some_and(|c| *c != ' ')
    };
    let edge = |line: usize, column: usize| {
        !(filled(line.checked_sub(1), Some(column))
            && filled(Some(line + 1), Some(column))
            && filled(Some(line), column.checked_sub(1))
            && filled(Some(line), Some(column + 1)))
    };
    (0..lines)
        .rev()
        .map(|line| {
            let row: String = (0..columns)
                .map(|column| match grid[line][column] {
                    ' ' => ' ',
                    _ if edge(line, column) => '#',
                    fabric => fabric,
                })
                .collect();
            row.trim_end().to_owned()
        })
        .collect()
}

/// Whether a point lies in the fabric: inside an odd number of outlines.
fn inside(flat: &LaidFlat, x: f64, y: f64) -> bool {
    let crossed = |outline: &Vec<(f64, f64)>| {
        let ends = outline.iter().zip(outline.iter().cycle().skip(1));
        ends.filter(|(a, b)| {
            (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0)
        })
        .count()
    };
    flat.outlines.iter().map(crossed).sum::<usize>() % 2 == 1
}

/// The fabric at a point: of the stretches there the last.
fn fabric(flat: &LaidFlat, x: f64, y: f64) -> char {
    let here = flat
        .zones
        .iter()
        .rfind(|zone| (zone.from..=zone.to).contains(&y) && (zone.left..=zone.right).contains(&x));
    match here.map_or(Structure::Plain, |zone| zone.structure) {
        Structure::Circular => ':',
        Structure::Plain => '.',
        Structure::Rib1x1 | Structure::Rib2x2 => '|',
    }
}
