//! Cells in rows from the top of the page.

use super::cell::Cell;
use super::page::{PAGE_MM, Schematic};

const BETWEEN_MM: f64 = 9.0;

impl Schematic<'_> {
    /// Cells in rows from the top; gives where each stands and the height of all.
    pub(super) fn flow(&self, cells: &[Cell]) -> (Vec<(f64, f64)>, f64) {
        let (mut x, mut y, mut row) = (0.0, 0.0, 0.0_f64);
        let mut places = Vec::new();
        for cell in cells {
            if x > 0.0 && x + cell.width > PAGE_MM {
                y += row + BETWEEN_MM;
                (x, row) = (0.0, 0.0);
            }
            places.push((x, y));
            x += cell.width + BETWEEN_MM;
            row = row.max(cell.height);
        }
        (places, y + row)
    }
}
