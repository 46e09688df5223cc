//! The pieces of a garment to scale, with their measures; sizes nested.

mod cell;
mod groups;
mod ink;
mod measures;
mod page;
mod rows;
mod wording;

use cell::Cell;
use groups::groups;
use page::{MOST_NESTED, PAGE_MM, Schematic};

use super::Drawing;
use super::laid_flat::LaidFlat;
use knit::needle::Span;
use knit::size_run::{Made, SizeResult, SizeRun};
use units::LengthUnit;

/// Pieces are drawn as large as lets them all lie on one sheet of either paper below a heading, if a
/// scale of these does.
const SHEET_MM: f64 = 214.0;
const SCALES: [f64; 9] = [2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.5];
/// Where they can't all lie on one sheet, no piece is taller than this, nor with its measures than that.
const TALLEST_MM: f64 = 110.0;
const TALLEST_CELL_MM: f64 = 180.0;

/// The pieces of all sizes that can be knitted, in the units asked for. `None` where there is
/// nothing to draw.
pub fn schematic(run: &SizeRun, units: &[LengthUnit]) -> Option<Drawing> {
    let all: Vec<(&SizeResult, &Made)> = run.good().collect();
    let shown = chosen(&all);
    let groups = groups(run, &shown);
    if groups.is_empty() {
        return None;
    }
    let sheet = Schematic { run, units, shown: &shown, left_out: all.len() - shown.len() };
    let cells = |scale: f64| -> Vec<Cell> { groups.iter().map(|g| sheet.cell(g, scale)).collect() };
    let fits = |cells: &[Cell]| cells.iter().all(|cell| cell.width <= PAGE_MM);
    let on_a_sheet = |scale: f64| {
        let cells = cells(scale);
        fits(&cells) && sheet.draw(&groups, scale).height_mm <= SHEET_MM
    };
    let low = |scale: f64| {
        let cells = cells(scale);
        let low = cells.iter().all(|c| c.tall <= TALLEST_MM && c.height <= TALLEST_CELL_MM);
        fits(&cells) && low && cells.len() > 1
    };
    let first = SCALES.into_iter().find(|scale| low(*scale) || on_a_sheet(*scale));
    let first = first.unwrap_or(SCALES[SCALES.len() - 1]);
    // A little smaller, where that spares a second sheet: it might hold the key alone.
    let smaller = SCALES.into_iter().filter(|scale| (first..=first * A_LITTLE).contains(scale));
    let scale = smaller.into_iter().find(|scale| on_a_sheet(*scale)).unwrap_or(first);
    Some(sheet.draw(&groups, scale))
}

/// How much smaller pieces may be drawn so that they lie on one sheet.
const A_LITTLE: f64 = 2.0;

/// A piece as the schematic has it.
pub(crate) struct ShownPiece {
    /// Its title, and which pieces are alike.
    pub heading: String,
    pub flat: LaidFlat,
    /// The outermost needles ever in work.
    pub needles: Span,
}

/// The pieces of one size, as the schematic has them.
pub(crate) fn shown_pieces(run: &SizeRun, size: &SizeResult, made: &Made) -> Vec<ShownPiece> {
    let groups = groups(run, &[(size, made)]);
    let pieces = groups.iter().filter_map(|group| {
        let (_, flat, piece) = group.shapes.first()?;
        let needles = piece.needles?;
        Some(ShownPiece { heading: group.heading(), flat: flat.clone(), needles })
    });
    pieces.collect()
}

/// Of many sizes the smallest, the largest and some between, evenly.
fn chosen<'a>(all: &[(&'a SizeResult, &'a Made)]) -> Vec<(&'a SizeResult, &'a Made)> {
    if all.len() <= MOST_NESTED {
        return all.to_vec();
    }
    let last = (all.len() - 1) as f64;
    (0..MOST_NESTED)
        .map(|i| all[(i as f64 * last / (MOST_NESTED - 1) as f64).round() as usize])
        .collect()
}
