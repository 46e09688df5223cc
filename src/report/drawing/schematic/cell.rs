//! A piece with its dimension lines and figures, and the room that takes.

use super::groups::ShapeGroup;
use super::measures::{Dim, dims};
use super::page::{LINE, PAGE_MM, Schematic, TEXT};
use crate::drawing::laid_flat::LaidFlat;
use crate::drawing::{Weight, text_width};

/// `a`, `b`... `z`, `aa`.
pub(super) fn letter(nth: usize) -> String {
    let small = |n: usize| char::from(b'a' + (n % 26) as u8);
    if nth < 26 { small(nth).to_string() } else { format!("{}{}", small(nth / 26 - 1), small(nth)) }
}

pub(super) fn big(nth: usize) -> String {
    letter(nth).to_uppercase()
}

/// A piece with its title, dimension lines and figures, and the room it takes.
pub(super) struct Cell {
    pub(super) width: f64,
    pub(super) height: f64,
    /// Height of the fabric on paper.
    pub(super) tall: f64,
    /// Where the cast-on's middle lies.
    pub(super) origin: (f64, f64),
    pub(super) dims: Vec<(usize, Dim)>,
    pub(super) table: Table,
    /// Where the table's top left corner is.
    pub(super) table_at: (f64, f64),
}

/// Figures of a piece.
pub(super) struct Table {
    pub(super) heads: Vec<String>,
    /// Letter of the dimension line, what it is of, the figures under the heads.
    pub(super) rows: Vec<(Option<String>, String, Vec<String>)>,
    /// Width of the first column and of the others.
    pub(super) first: f64,
    pub(super) others: Vec<f64>,
}

pub(super) const LETTER_MM: f64 = 4.2;

impl Table {
    fn new(heads: Vec<String>, rows: Vec<(Option<String>, String, Vec<String>)>) -> Table {
        let wide = |text: &str| text_width(text, TEXT, Weight::Regular);
        let first =
            rows.iter().map(|(_, what, _)| wide(what)).fold(0.0, f64::max) + LETTER_MM + 2.0;
        let room = (PAGE_MM - first) / heads.len().max(1) as f64;
        let others = (0..heads.len())
            .map(|nth| {
                let cells = rows.iter().map(|(_, _, row)| wide(&row[nth]));
                let head = wide(&heads[nth]).max(if heads.len() > 1 { 7.0 } else { 0.0 });
                (cells.fold(head, f64::max) + 3.0).min(room)
            })
            .collect();
        Table { heads, rows, first, others }
    }

    fn width(&self) -> f64 {
        self.first + self.others.iter().sum::<f64>()
    }

    fn height(&self) -> f64 {
        LINE * (self.rows.len() as f64 + 1.0) + 2.0
    }
}

/// Room of a dimension line with its words.
pub(super) const DIM_UP: f64 = 5.0;

pub(super) const DIM_ACROSS: f64 = 5.4;
/// Above the fabric, for the letters of the sizes.
const OVER: f64 = 4.5;

impl Schematic<'_> {
    pub(super) fn cell(&self, group: &ShapeGroup<'_>, scale: f64) -> Cell {
        let most = |of: fn(&LaidFlat) -> f64| {
            group.shapes.iter().map(|(_, f, _)| of(f)).fold(0.0, f64::max) / scale
        };
        let (left, right, tall) = (most(|f| -f.left), most(|f| f.right), most(|f| f.height));
        // The measures of the largest size have lines; those only other sizes have are in the table.
        let all: Vec<Vec<Dim>> = group.shapes.iter().map(|(_, f, _)| dims(f)).collect();
        let mut names: Vec<String> = Vec::new();
        for dim in all.iter().rev().flatten() {
            if !names.contains(&dim.what) {
                names.push(dim.what.clone());
            }
        }
        let lines: Vec<(usize, Dim)> = all
            .last()
            .into_iter()
            .flatten()
            .filter_map(|d| Some((names.iter().position(|n| *n == d.what)?, d.clone())))
            .collect();
        let across = lines.iter().filter(|(_, d)| d.across).count() as f64;
        // The fabrics lie over each other on one line, the whole height has the next.
        let ups = if lines.len() as f64 - across > 1.0 { 2.0 } else { 1.0 };
        let table = self.table(group, &names, &all);
        let above = 6.0 + if self.nested() { OVER } else { 0.0 };
        let drawing = (left + right + ups * DIM_UP + 4.0, above + tall + across * DIM_ACROSS + 3.0);
        let title = text_width(&group.heading(), 3.4, Weight::Bold);
        let beside = drawing.0 + 8.0 + table.width() <= PAGE_MM;
        let (width, height, table_at) = if beside {
            let height = drawing.1.max(above + table.height());
            (drawing.0 + 8.0 + table.width(), height, (drawing.0 + 8.0, above))
        } else {
            let width = drawing.0.max(table.width());
            (width, drawing.1 + 3.0 + table.height(), (0.0, drawing.1 + 3.0))
        };
        Cell {
            width: width.max(title.min(PAGE_MM)),
            height,
            tall,
            origin: (left + 1.0, above + tall),
            dims: lines,
            table,
            table_at,
        }
    }

    /// One size: a line for each measure. Several: a column for each size.
    fn table(&self, group: &ShapeGroup<'_>, names: &[String], all: &[Vec<Dim>]) -> Table {
        let none = || "-".to_owned();
        let mut rows = Vec::new();
        if !self.nested() {
            let mut heads: Vec<String> = self.units.iter().map(|u| u.symbol().to_owned()).collect();
            heads.push(String::new());
            for (nth, dim) in all.iter().flatten().enumerate() {
                let mut row: Vec<String> = self.units.iter().map(|u| u.cell(dim.mm)).collect();
                row.push(format!("{} {}", dim.count, dim.counted));
                rows.push((Some(letter(nth)), dim.what.clone(), row));
            }
            return Table::new(heads, rows);
        }
        for (nth, name) in names.iter().enumerate() {
            let of: Vec<Option<&Dim>> =
                all.iter().map(|dims| dims.iter().find(|d| d.what == *name)).collect();
            for (u, unit) in self.units.iter().enumerate() {
                let row = of.iter().map(|d| d.map_or_else(none, |d| unit.cell(d.mm))).collect();
                let what = format!("{name}, {}", unit.symbol());
                rows.push(match u {
                    0 => (Some(letter(nth)), what, row),
                    _ => (None, unit.symbol().to_owned(), row),
                });
            }
            let counted = of.iter().flatten().next().map_or("", |d| d.counted);
            let row = of.iter().map(|d| d.map_or_else(none, |d| d.count.to_string())).collect();
            rows.push((None, counted.to_owned(), row));
        }
        Table::new(group.shapes.iter().map(|(i, _, _)| self.head(*i)).collect(), rows)
    }

    fn head(&self, index: usize) -> String {
        format!("{} {}", big(index), self.label(index))
    }
}
