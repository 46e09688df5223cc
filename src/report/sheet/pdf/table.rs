//! Tables, in parts where a page is too narrow for all columns.

use super::ink::{BODY, CELL_GAP, Ink, InkShape, Role, TABLE};
use super::pages::Atom;
use super::setter::PageSetter;
use super::setting::set;
use crate::Grid;
use crate::drawing::{Weight, text_width};

impl PageSetter<'_> {
    pub(super) fn table(&mut self, grid: &Grid) {
        let columns = grid.headings.len();
        let widest = self.width * 0.45;
        let wide = |folded: bool| -> Vec<f64> {
            let column = |column: usize| {
                let title = &grid.headings[column];
                let words = title.split_whitespace();
                let word = words.map(|w| text_width(w, TABLE, Weight::Bold)).fold(0.0, f64::max);
                let title = text_width(title, TABLE, Weight::Bold);
                let heading = if folded { word.max(title / 3.0) } else { title };
                let weight = if column == 0 { Weight::Bold } else { Weight::Regular };
                let cells = grid.rows.iter().filter_map(|row| row.get(column));
                let cell = cells.map(|c| text_width(c, TABLE, weight)).fold(0.0, f64::max);
                (heading.max(cell) + 1.0).min(widest)
            };
            (0..columns).map(column).collect()
        };
        // Headings are folded only where the columns would not fit otherwise.
        let open = wide(false);
        let fits = open.iter().sum::<f64>() + CELL_GAP * open.len() as f64 <= self.width;
        let widths = if fits { open } else { wide(true) };
        // Columns that don't fit beside the first go below, the first repeated.
        let mut parts: Vec<Vec<usize>> = vec![Vec::new()];
        let mut used = widths.first().copied().unwrap_or_default();
        for (column, wide) in widths.iter().enumerate().skip(1) {
            if used + CELL_GAP + wide > self.width
                && parts.last().is_some_and(|part| !part.is_empty())
            {
                parts.push(Vec::new());
                used = widths[0];
            }
            used += CELL_GAP + wide;
            if let Some(part) = parts.last_mut() {
                part.push(column);
            }
        }
        for (i, part) in parts.iter().enumerate() {
            let title =
                if i == 0 { grid.title.clone() } else { format!("{} (continued)", grid.title) };
            self.table_part(grid, &title, part, &widths);
        }
    }

    fn table_part(&mut self, grid: &Grid, title: &str, part: &[usize], widths: &[f64]) {
        let table = self.element(Role::Table, None);
        let caption = self.element(Role::Caption, Some(table));
        let (height, ink) = set(&[(title, Weight::Bold)], BODY, self.width, 0.0, 0.0, caption);
        self.set.atoms.push(Atom { before: 9.0, height, ink, keep: true, ..Atom::default() });

        let mut columns: Vec<(usize, f64, f64)> = Vec::new();
        let mut x = 0.0;
        for column in std::iter::once(&0).chain(part) {
            columns.push((*column, x, widths[*column]));
            x += widths[*column] + CELL_GAP;
        }
        let length = x - CELL_GAP;
        let row = self.element(Role::Row, Some(table));
        let heads: Vec<(&str, usize)> = columns
            .iter()
            .map(|(column, ..)| {
                let cell = self.element(Role::ColumnHead, Some(row));
                (grid.headings[*column].as_str(), cell)
            })
            .collect();
        let (mut height, mut ink) = table_row(&columns, &heads, true);
        height += 1.5;
        ink.push(Ink { x: 0.0, y: height, shape: InkShape::Rule { length }, element: None });
        height += 1.5;
        let repeat = ink.iter().cloned().map(|ink| Ink { element: None, ..ink }).collect();
        self.set.heads.push((height, repeat));
        let head = Some(self.set.heads.len() - 1);
        self.set.atoms.push(Atom { before: 2.0, height, ink, keep: true, ..Atom::default() });
        for (nth, cells) in grid.rows.iter().enumerate() {
            let row = self.element(Role::Row, Some(table));
            let cells: Vec<(&str, usize)> = columns
                .iter()
                .enumerate()
                .map(|(i, (column, ..))| {
                    let role = if i == 0 { Role::RowHead } else { Role::Cell };
                    let cell = self.element(role, Some(row));
                    (cells.get(*column).map_or("", String::as_str), cell)
                })
                .collect();
            let (height, ink) = table_row(&columns, &cells, false);
            // No row is left alone on either side of a page's end.
            let keep = grid.rows.len() > 1 && (nth == 0 || nth + 2 == grid.rows.len());
            self.set.atoms.push(Atom { before: 1.0, height, ink, keep, head, ..Atom::default() });
        }
    }
}

/// Cells beside each other, figures to the right of their columns, heads at the foot of theirs.
fn table_row<'a>(
    columns: &[(usize, f64, f64)],
    cells: &[(&str, usize)],
    head: bool,
) -> (f64, Vec<Ink<'a>>) {
    let mut all: Vec<(f64, Vec<Ink<'a>>)> = Vec::new();
    for (i, ((_, x, width), (text, element))) in columns.iter().zip(cells).enumerate() {
        let weight = if head || i == 0 { Weight::Bold } else { Weight::Regular };
        let (height, mut ink) = set(&[(text, weight)], TABLE, *width, *x, 0.0, *element);
        if i > 0 {
            for ink in &mut ink {
                if let InkShape::Text { text, size, weight } = &ink.shape {
                    ink.x += (width - text_width(text.trim_end(), *size, *weight)).max(0.0);
                }
            }
        }
        all.push((height, ink));
    }
    let height = all.iter().map(|(height, _)| *height).fold(0.0, f64::max);
    let ink = all
        .into_iter()
        .flat_map(|(own, ink)| {
            let down = if head { height - own } else { 0.0 };
            ink.into_iter().map(move |ink| Ink { y: ink.y + down, ..ink })
        })
        .collect();
    (height, ink)
}
