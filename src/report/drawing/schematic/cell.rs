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
    pub(super) dims: Vec<DimLine>,
    pub(super) table: Table,
    /// Where the table's top left corner is.
    pub(super) table_at: (f64, f64),
}

/// A dimension line.
pub(super) struct DimLine {
    pub(super) dim: Dim,
    /// On it: its figure, or of several sizes the letter of its row in the table.
    pub(super) words: String,
    /// Of a line that goes up, how far right of the fabric.
    pub(super) beside: f64,
    /// A line too short for its words has them beside it, their middle so far right of it.
    pub(super) aside: Option<f64>,
}

/// Figures of a piece.
pub(super) struct Table {
    pub(super) heads: Vec<String>,
    /// Letter of the dimension line, what it is of, the figures under the heads.
    pub(super) rows: Vec<(Option<String>, String, Vec<String>)>,
    /// Room of the letters before the first column.
    pub(super) lettered: f64,
    /// Width of the first column and of the others.
    pub(super) first: f64,
    pub(super) others: Vec<f64>,
}

const LETTER_MM: f64 = 4.2;

impl Table {
    fn new(heads: Vec<String>, rows: Vec<(Option<String>, String, Vec<String>)>) -> Table {
        let wide = |text: &str| text_width(text, TEXT, Weight::Regular);
        let lettered =
            if rows.iter().any(|(letter, _, _)| letter.is_some()) { LETTER_MM } else { 0.0 };
        let first = rows.iter().map(|(_, what, _)| wide(what)).fold(0.0, f64::max) + lettered + 2.0;
        let room = (PAGE_MM - first) / heads.len().max(1) as f64;
        let others = (0..heads.len())
            .map(|nth| {
                let cells = rows.iter().map(|(_, _, row)| wide(&row[nth]));
                let head = wide(&heads[nth]).max(if heads.len() > 1 { 7.0 } else { 0.0 });
                (cells.fold(head, f64::max) + 3.0).min(room)
            })
            .collect();
        Table { heads, rows, lettered, first, others }
    }

    fn width(&self) -> f64 {
        self.first + self.others.iter().sum::<f64>()
    }

    fn height(&self) -> f64 {
        LINE * (self.rows.len() as f64 + 1.0) + 2.0
    }
}

/// Between the fabric and the first line that goes up.
const DIM_BESIDE: f64 = 3.0;
/// Half of the stroke at each end of a line.
pub(super) const TICK: f64 = 1.2;
/// Half of what the words of such a line take of its height, and the room round all words.
pub(super) const HALF_WORD: f64 = 1.9;
pub(super) const ROUND_WORDS: f64 = 0.8;

/// Room of a dimension line across with its words.
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
        let (lines, ups) = self.dim_lines(all.last().map_or(&[], Vec::as_slice), &names, scale);
        let across = lines.iter().filter(|line| line.dim.across).count() as f64;
        let table = self.table(group, &names, &all);
        let above = 6.0 + if self.nested() { OVER } else { 0.0 };
        let drawing = (left + right + ups + 1.0, above + tall + across * DIM_ACROSS + 3.0);
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

    /// The dimension lines of a shape, and how far those that go up reach beside the fabric. Lines above
    /// one another stand in one column, where neither they nor their words touch.
    fn dim_lines(&self, dims: &[Dim], names: &[String], scale: f64) -> (Vec<DimLine>, f64) {
        let words = |dim: &Dim| match self.nested() {
            true => letter(names.iter().position(|n| *n == dim.what).unwrap_or_default()),
            false => self.units.first().map_or_else(String::new, |unit| unit.cell(dim.mm)),
        };
        let mut lines: Vec<DimLine> = dims
            .iter()
            .map(|dim| DimLine { dim: dim.clone(), words: words(dim), beside: 0.0, aside: None })
            .collect();
        for line in lines.iter_mut().filter(|line| !line.dim.across) {
            let short = (line.dim.to - line.dim.from).abs() / scale < 2.0 * HALF_WORD + TICK;
            let wide = text_width(&line.words, TEXT, Weight::Bold);
            line.aside = short.then_some(wide / 2.0 + TICK + ROUND_WORDS);
        }
        // Of the column, half: the line and its words side by side, or the words on it.
        let half = |line: &DimLine| {
            let words = text_width(&line.words, TEXT, Weight::Bold) / 2.0;
            words + ROUND_WORDS + if line.aside.is_some() { TICK } else { 0.0 }
        };
        let reach = |dim: &Dim| {
            let (from, to, middle) =
                (dim.from / scale, dim.to / scale, (dim.from + dim.to) / scale / 2.0);
            (from.min(middle - HALF_WORD), to.max(middle + HALF_WORD))
        };
        // By column: what it holds, and half its width.
        let mut columns: Vec<(Vec<(f64, f64)>, f64)> = Vec::new();
        let mut of_line: Vec<Option<usize>> = Vec::new();
        for line in &lines {
            if line.dim.across {
                of_line.push(None);
                continue;
            }
            let own = reach(&line.dim);
            let free = |(held, _): &(Vec<(f64, f64)>, f64)| {
                held.iter().all(|(from, to)| own.1 <= from + 1e-6 || own.0 >= to - 1e-6)
            };
            let nth = columns.iter().position(free).unwrap_or_else(|| {
                columns.push((Vec::new(), 0.0));
                columns.len() - 1
            });
            columns[nth].0.push(own);
            columns[nth].1 = columns[nth].1.max(half(line));
            of_line.push(Some(nth));
        }
        let mut right = DIM_BESIDE - ROUND_WORDS;
        let middles: Vec<f64> = columns
            .iter()
            .map(|(_, half)| {
                right += 2.0 * half;
                right - half
            })
            .collect();
        for (line, column) in lines.iter_mut().zip(of_line) {
            let left = if line.aside.is_some() { half(line) - TICK } else { 0.0 };
            line.beside = column.map_or(0.0, |nth| middles[nth] - left);
        }
        (lines, right)
    }

    /// One size: a line for each measure. Several: a column for each size.
    fn table(&self, group: &ShapeGroup<'_>, names: &[String], all: &[Vec<Dim>]) -> Table {
        let none = || "-".to_owned();
        let mut rows = Vec::new();
        if !self.nested() {
            let mut heads: Vec<String> = self.units.iter().map(|u| u.symbol().to_owned()).collect();
            heads.push(String::new());
            for dim in all.iter().flatten() {
                let mut row: Vec<String> = self.units.iter().map(|u| u.cell(dim.mm)).collect();
                row.push(format!("{} {}", dim.count, dim.counted));
                rows.push((None, dim.what.clone(), row));
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
