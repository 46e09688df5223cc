//! The pieces of a garment to scale, with their measures; sizes nested.

use super::laid_flat::{LaidFlat, Zone};
use super::shades::{INK, PAPER, QUIET, RULE};
use super::words::{fitted, wrapped};
use super::{Anchor, Canvas, Drawing, Look, Weight, text_width};
use crate::knit::program::Structure;
use crate::knit::run::PieceRun;
use crate::knit::size_run::{Made, SizeResult, SizeRun};
use crate::units::LengthUnit;

/// As wide as a sheet between its margins.
const PAGE_MM: f64 = 190.0;
/// Pieces are drawn as large as lets them all lie on one sheet, if a scale of these does.
const SHEET_MM: f64 = 262.0;
const SCALES: [f64; 9] = [2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.5];
/// Where they can't all lie on one sheet, no piece is taller than this.
const TALLEST_MM: f64 = 110.0;
const TEXT: f64 = 2.8;
const LINE: f64 = 3.8;
/// More outlines over each other can't be told apart.
const MOST_NESTED: usize = 6;
/// Dashes of the nested outlines, in order of size, and their weights in mm.
const STROKES: [(Option<(f64, f64)>, f64); MOST_NESTED] = [
    (None, 0.2),
    (Some((3.0, 0.8)), 0.25),
    (Some((0.4, 0.7)), 0.35),
    (None, 0.5),
    (Some((1.4, 0.7)), 0.3),
    (Some((7.0, 0.9)), 0.45),
];
const BETWEEN_MM: f64 = 9.0;

/// The pieces of all sizes that can be knitted, in the units asked for. `None` where there is
/// nothing to draw.
pub fn schematic(run: &SizeRun, units: &[LengthUnit]) -> Option<Drawing> {
    let all: Vec<(&SizeResult, &Made)> = run.good().collect();
    let shown = chosen(&all);
    let groups = groups(run, &shown);
    if groups.is_empty() {
        return None;
    }
    let sheet = Sheet { run, units, shown: &shown, left_out: all.len() - shown.len() };
    let mut scale = SCALES[SCALES.len() - 1];
    for candidate in SCALES {
        let cells: Vec<Cell> = groups.iter().map(|g| sheet.cell(g, candidate)).collect();
        let fits = cells.iter().all(|cell| cell.width <= PAGE_MM);
        let low = cells.iter().all(|cell| cell.tall <= TALLEST_MM);
        if fits && (low && cells.len() > 1 || sheet.height(&cells, candidate) <= SHEET_MM) {
            scale = candidate;
            break;
        }
    }
    Some(sheet.draw(&groups, scale))
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

/// Pieces of one title, one to a size: those that are drawn over each other.
struct Group<'a> {
    title: &'a str,
    /// Titles of pieces that are the same, or its mirror image.
    twins: Vec<(&'a str, bool)>,
    /// How many to knit; the same for all sizes, or the words say so.
    times: Vec<usize>,
    /// By index of the size shown.
    shapes: Vec<(usize, LaidFlat, &'a PieceRun)>,
}

fn groups<'a>(run: &SizeRun, shown: &[(&'a SizeResult, &'a Made)]) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'a>> = Vec::new();
    for (index, (_, made)) in shown.iter().enumerate() {
        let mut own: Vec<(&PieceRun, LaidFlat, usize)> = Vec::new();
        for piece in &made.graded.run.pieces {
            let Some(flat) = LaidFlat::of(piece, &run.swatches) else { continue };
            let before = own.iter_mut().find(|(p, f, _)| p.title == piece.title && *f == flat);
            match before {
                Some((_, _, times)) => *times += 1,
                None => own.push((piece, flat, 1)),
            }
        }
        let mut nth_of: Vec<&str> = Vec::new();
        for (piece, flat, times) in own {
            let nth = nth_of.iter().filter(|t| **t == piece.title).count();
            nth_of.push(&piece.title);
            // The nth shape of a title goes with the nth of the other sizes.
            let same: Vec<usize> =
                (0..groups.len()).filter(|g| groups[*g].title == piece.title).collect();
            match same.get(nth) {
                Some(g) => {
                    groups[*g].times.push(times);
                    groups[*g].shapes.push((index, flat, piece));
                }
                None => groups.push(Group {
                    title: &piece.title,
                    twins: Vec::new(),
                    times: vec![times],
                    shapes: vec![(index, flat, piece)],
                }),
            }
        }
    }
    let mut apart: Vec<Group<'a>> = Vec::new();
    for group in groups {
        match apart.iter_mut().find_map(|before| Some((before.twin(&group)?, before))) {
            Some((mirrored, before)) => before.twins.push((group.title, mirrored)),
            None => apart.push(group),
        }
    }
    apart
}

impl Group<'_> {
    /// Whether the other's shapes are these, in every size; `Some(true)`: mirrored.
    fn twin(&self, other: &Group<'_>) -> Option<bool> {
        if self.times != other.times || self.shapes.len() != other.shapes.len() {
            return None;
        }
        let pairs = || self.shapes.iter().zip(&other.shapes);
        let same_sizes = pairs().all(|(a, b)| a.0 == b.0);
        if same_sizes && pairs().all(|(a, b)| a.1 == b.1) {
            return Some(false);
        }
        (same_sizes && pairs().all(|(a, b)| a.1.mirrors(&b.1))).then_some(true)
    }

    fn heading(&self) -> String {
        let mut heading = self.counted_title();
        for (twin, mirrored) in &self.twins {
            heading.push_str(if *mirrored { "; mirrored: " } else { "; alike: " });
            heading.push_str(twin);
        }
        heading
    }

    fn counted_title(&self) -> String {
        let (least, most) = (
            self.times.iter().copied().min().unwrap_or(1),
            self.times.iter().copied().max().unwrap_or(1),
        );
        match (least, most) {
            (1, 1) => self.title.to_owned(),
            (a, b) if a == b => format!("{} (knit {a})", self.title),
            (a, b) => format!("{} (knit {a} to {b})", self.title),
        }
    }

    /// Outlines to draw. Notches over notches can't be read: of those, the smallest and the largest.
    fn drawn(&self) -> Vec<usize> {
        let toothed = self.shapes.iter().any(|(_, f, _)| f.notched);
        let last = self.shapes.len() - 1;
        if toothed && last > 1 { vec![0, last] } else { (0..=last).collect() }
    }
}

/// A measure of a piece: along or up, from where to where.
#[derive(Clone, Debug, PartialEq)]
struct Dim {
    across: bool,
    /// What it is of: several sizes may each have it.
    what: String,
    mm: f64,
    count: u32,
    counted: &'static str,
    from: f64,
    to: f64,
}

fn counted(structure: Structure) -> &'static str {
    if structure == Structure::Circular { "rounds" } else { "rows" }
}

/// The measures of one shape: the width of each fabric, the top where it is narrower, the height of
/// each fabric and of all.
fn dims(flat: &LaidFlat) -> Vec<Dim> {
    /// More stretches of fabric would need more dimension lines than the page holds.
    const MOST_ZONES: usize = 5;
    let mut dims = Vec::new();
    let name = |zone: &Zone, nth: usize| {
        let before = flat.zones[..nth].iter().filter(|z| z.structure == zone.structure).count();
        let all = flat.zones.iter().filter(|z| z.structure == zone.structure).count();
        let fabric = match zone.structure {
            Structure::Circular => "tube",
            other => other.name(),
        };
        if all > 1 { format!("{fabric} {}", before + 1) } else { fabric.to_owned() }
    };
    let zones: &[Zone] = if flat.zones.len() <= MOST_ZONES { &flat.zones } else { &[] };
    for (nth, zone) in zones.iter().enumerate() {
        let seen = zones[..nth].iter().any(|z| (z.left, z.right) == (zone.left, zone.right));
        if !seen {
            dims.push(Dim {
                across: true,
                what: if zones.len() > 1 {
                    format!("width, {}", name(zone, nth))
                } else {
                    "width".into()
                },
                mm: zone.right - zone.left,
                count: zone.stitches,
                counted: "stitches",
                from: zone.left,
                to: zone.right,
            });
        }
    }
    if dims.is_empty() {
        dims.extend(flat.zones.iter().max_by_key(|z| z.stitches).map(|zone| Dim {
            across: true,
            what: "width".into(),
            mm: zone.right - zone.left,
            count: zone.stitches,
            counted: "stitches",
            from: zone.left,
            to: zone.right,
        }));
    }
    let (stitches, middle, width) = flat.top;
    if stitches > 0 && dims.iter().all(|d| (d.mm - width).abs() > 0.5) {
        dims.push(Dim {
            across: true,
            what: "last row".into(),
            mm: width,
            count: stitches,
            counted: "stitches",
            from: middle - width / 2.0,
            to: middle + width / 2.0,
        });
    }
    if zones.len() > 1 {
        for (nth, zone) in zones.iter().enumerate() {
            dims.push(Dim {
                across: false,
                what: format!("height, {}", name(zone, nth)),
                mm: zone.height(),
                count: zone.rows(),
                counted: counted(zone.structure),
                from: zone.from,
                to: zone.to,
            });
        }
    }
    let one = flat.zones.iter().all(|z| z.structure == flat.zones[0].structure);
    dims.push(Dim {
        across: false,
        what: if zones.len() > 1 { "height in all".into() } else { "height".into() },
        mm: flat.height,
        count: flat.rows,
        counted: if one { counted(flat.zones[0].structure) } else { "rows" },
        from: 0.0,
        to: flat.height,
    });
    dims
}

fn figures(mm: f64, units: &[LengthUnit]) -> String {
    let all: Vec<String> = units.iter().map(|unit| unit.show(mm)).collect();
    all.join(" / ")
}

/// `a`, `b`... `z`, `aa`.
fn letter(nth: usize) -> String {
    let small = |n: usize| char::from(b'a' + (n % 26) as u8);
    if nth < 26 { small(nth).to_string() } else { format!("{}{}", small(nth / 26 - 1), small(nth)) }
}

fn big(nth: usize) -> String {
    letter(nth).to_uppercase()
}

/// A piece with its title, dimension lines and figures, and the room it takes.
struct Cell {
    width: f64,
    height: f64,
    /// Height of the fabric on paper.
    tall: f64,
    /// Where the cast-on's middle lies.
    origin: (f64, f64),
    dims: Vec<(usize, Dim)>,
    table: Table,
    /// Where the table's top left corner is.
    table_at: (f64, f64),
}

/// Figures of a piece.
struct Table {
    heads: Vec<String>,
    /// Letter of the dimension line, what it is of, the figures under the heads.
    rows: Vec<(Option<String>, String, Vec<String>)>,
    /// Width of the first column and of the others.
    first: f64,
    others: Vec<f64>,
}

const LETTER_MM: f64 = 4.2;

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

struct Sheet<'a> {
    run: &'a SizeRun,
    units: &'a [LengthUnit],
    shown: &'a [(&'a SizeResult, &'a Made)],
    left_out: usize,
}

/// Room of a dimension line with its words.
const DIM_UP: f64 = 5.0;
const DIM_ACROSS: f64 = 5.4;
/// Above the fabric, for the letters of the sizes.
const OVER: f64 = 4.5;

impl Sheet<'_> {
    fn nested(&self) -> bool {
        self.shown.len() > 1
    }

    fn label(&self, index: usize) -> &str {
        &self.shown[index].0.body.label
    }

    fn cell(&self, group: &Group<'_>, scale: f64) -> Cell {
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
    fn table(&self, group: &Group<'_>, names: &[String], all: &[Vec<Dim>]) -> Table {
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

    /// Cells in rows from the top; gives where each stands and the height of all.
    fn flow(&self, cells: &[Cell]) -> (Vec<(f64, f64)>, f64) {
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

    fn height(&self, cells: &[Cell], scale: f64) -> f64 {
        self.head_lines(scale).len() as f64 * LINE
            + 12.0
            + self.flow(cells).1
            + self.key_lines().len() as f64 * LINE
            + 16.0
    }

    fn title(&self) -> String {
        let labels: Vec<&str> = self.shown.iter().map(|(s, _)| s.body.label.as_str()).collect();
        let pair = if self.run.garment.pair { " (a pair)" } else { "" };
        let sizes = match labels.as_slice() {
            [first, .., last] => format!("{first} to {last}"),
            labels => labels.concat(),
        };
        format!("{}{pair}: pieces, {sizes}", self.run.garment.title)
    }

    /// How the pieces are drawn, in words.
    fn head_lines(&self, scale: f64) -> Vec<String> {
        let flats = || {
            self.shown
                .iter()
                .flat_map(|(_, made)| &made.graded.run.pieces)
                .filter_map(|piece| LaidFlat::of(piece, &self.run.swatches))
        };
        let mut text = format!(
            "All at 1 : {scale}. Needles across, cast-on below, rows upwards, as the fabric lies flat \
             off the bed, before it is blocked or sewn."
        );
        if flats().any(|f| f.notched) {
            text.push_str(
                " Short rows are drawn opened out: the notches close as they are knitted.",
            );
        }
        if flats().any(|f| f.tube) {
            text.push_str(
                " A tube is drawn folded flat, the back that is knitted on the main bed: it is twice \
                 that width round.",
            );
        }
        if flats().any(|f| !f.openings.is_empty()) {
            text.push_str(
                " A row of beads is an opening: loops come off there and new ones are cast on.",
            );
        }
        if self.nested() {
            text.push_str(" Sizes lie over each other, the middle of the cast-on in one place.");
            if self.shown.len() > 2 && flats().any(|f| f.notched) {
                text.push_str(
                    " Of pieces with short rows only the smallest and the largest are drawn.",
                );
            }
        }
        if self.left_out > 0 {
            text.push_str(&format!(
                " {} of {} sizes are drawn: the smallest, the largest and some between.",
                self.shown.len(),
                self.shown.len() + self.left_out
            ));
        }
        wrapped(&text, TEXT, PAGE_MM)
    }

    /// Finished measures, the first size before the bracket.
    fn key_lines(&self) -> Vec<String> {
        let mut names: Vec<(&str, &str)> = Vec::new();
        for (_, made) in self.shown {
            for f in &made.graded.finished {
                if names.iter().all(|(name, _)| *name != f.name) {
                    names.push((&f.name, &f.title));
                }
            }
        }
        let mut lines = Vec::new();
        for (name, title) in names {
            let of =
                |made: &Made| made.graded.finished.iter().find(|f| f.name == name).map(|f| f.mm);
            let parts: Vec<String> = self
                .units
                .iter()
                .map(|unit| {
                    let cells: Vec<String> = self
                        .shown
                        .iter()
                        .map(|(_, made)| of(made).map_or_else(|| "-".into(), |mm| unit.cell(mm)))
                        .collect();
                    let rest = match cells.len() {
                        1 => String::new(),
                        _ => format!(" ({})", cells[1..].join(", ")),
                    };
                    format!("{}{rest} {}", cells[0], unit.symbol())
                })
                .collect();
            lines.extend(wrapped(&format!("{title}: {}", parts.join("; ")), TEXT, PAGE_MM));
        }
        lines
    }

    fn about(&self, groups: &[Group<'_>]) -> String {
        let sizes: Vec<&str> = (0..self.shown.len()).map(|index| self.label(index)).collect();
        let mut text = format!(
            "Outlines to scale with their measures. {}. Sizes drawn: {}. ",
            self.title(),
            sizes.join(", ")
        );
        for group in groups {
            let Some((index, flat, _)) = group.shapes.last() else { continue };
            let parts: Vec<String> = dims(flat)
                .iter()
                .map(|d| {
                    format!("{} {}, {} {}", d.what, figures(d.mm, self.units), d.count, d.counted)
                })
                .collect();
            text.push_str(&format!(
                "{}, {}: {}. ",
                group.heading(),
                self.label(*index),
                parts.join("; ")
            ));
        }
        text.trim_end().to_owned()
    }

    fn draw(&self, groups: &[Group<'_>], scale: f64) -> Drawing {
        let mut canvas = Canvas::new();
        let title = self.title();
        let short = fitted(&title, 4.4, PAGE_MM, Weight::Bold);
        canvas.text((0.0, 5.0), 4.4, (Anchor::Start, Weight::Bold), INK, &short);
        let mut y = 11.0;
        for line in self.head_lines(scale) {
            canvas.text((0.0, y), TEXT, (Anchor::Start, Weight::Regular), QUIET, &line);
            y += LINE;
        }
        y += 1.0;
        let cells: Vec<Cell> = groups.iter().map(|g| self.cell(g, scale)).collect();
        let (places, tall) = self.flow(&cells);
        let mut wide = PAGE_MM;
        for ((group, cell), (x, dy)) in groups.iter().zip(&cells).zip(places) {
            canvas.open_placed((x, y + dy), 1.0, 0.0);
            self.draw_cell(&mut canvas, group, cell, scale);
            canvas.close_group();
            wide = wide.max(x + cell.width);
        }
        y += tall + 8.0;
        self.draw_bar(&mut canvas, scale, y);
        y += 8.0;
        let key = self.key_lines();
        if !key.is_empty() {
            let words = if self.nested() {
                "Finished measures, sizes in order"
            } else {
                "Finished measures"
            };
            canvas.text((0.0, y), TEXT, (Anchor::Start, Weight::Bold), INK, words);
            y += LINE;
        }
        for line in key {
            canvas.text((0.0, y), TEXT, (Anchor::Start, Weight::Regular), INK, &line);
            y += LINE;
        }
        canvas.finish(&title, &self.about(groups), wide, y)
    }

    fn draw_cell(&self, canvas: &mut Canvas, group: &Group<'_>, cell: &Cell, scale: f64) {
        let heading = fitted(&group.heading(), 3.4, cell.width, Weight::Bold);
        canvas.text((0.0, 3.4), 3.4, (Anchor::Start, Weight::Bold), INK, &heading);
        let place = |x: f64, y: f64| (cell.origin.0 + x / scale, cell.origin.1 - y / scale);
        let drawn = group.drawn();
        let mut letters: Vec<(usize, (f64, f64))> = Vec::new();
        for (place_in_order, &nth) in drawn.iter().enumerate() {
            let (index, flat, piece) = &group.shapes[nth];
            let (dash, weight) = if self.nested() { STROKES[*index] } else { (None, 0.4) };
            let look = Look { dash, ..Look::edged(INK, weight) };
            canvas.open_group(
                "piece",
                &[
                    ("piece", piece.name.clone()),
                    ("size", self.shown[*index].0.body.id.to_string()),
                    ("scale", scale.to_string()),
                ],
            );
            for outline in &flat.outlines {
                let points: Vec<(f64, f64)> = outline.iter().map(|(x, y)| place(*x, *y)).collect();
                canvas.polygon(&points, look.class("outline"));
            }
            canvas.close_group();
            // Of nested openings the lowest and the highest, with their letters, say enough.
            let ends = place_in_order == 0 || place_in_order + 1 == drawn.len();
            for (from, to, at) in flat.openings.iter().filter(|_| ends) {
                let ((x0, y), (x1, _)) = (place(*from, *at), place(*to, *at));
                let beads = ((x1 - x0) / 1.5).round().max(1.0) as u32;
                for bead in 0..=beads {
                    let x = x0 + (x1 - x0) * f64::from(bead) / f64::from(beads);
                    canvas.circle(x, y, 0.45, Look::filled(INK));
                }
                if self.nested() {
                    letters.push((*index, (x1.max(x0) + 2.4, y + 1.8)));
                }
            }
            // Where one fabric ends and another begins.
            for pair in flat.zones.windows(2).filter(|_| !self.nested()) {
                let (left, right) =
                    (pair[0].left.min(pair[1].left), pair[0].right.max(pair[1].right));
                canvas.line(
                    place(left, pair[1].from),
                    place(right, pair[1].from),
                    Look::edged(RULE, 0.25).dashed(1.0, 1.0),
                );
            }
            if self.nested() {
                // Letters side by side above the outlines they belong to.
                let (_, middle, width) = flat.top;
                let share = (place_in_order as f64 + 0.5) / drawn.len() as f64 - 0.5;
                let reach = (width / scale).max(4.0 * drawn.len() as f64).min(40.0);
                let (x, y) = place(middle, flat.height);
                let x = (x + share * reach).max(1.5);
                letters.push((*index, (x, y)));
            }
        }
        // Over all lines, on paper of their own.
        for (index, (x, y)) in letters {
            canvas.rect(x - 1.2, y - 3.2, 2.4, 2.7, Look::filled(PAPER));
            canvas.text((x, y - 0.8), TEXT, (Anchor::Middle, Weight::Bold), INK, &big(index));
        }
        self.draw_dims(canvas, group, cell, scale);
        self.draw_table(canvas, group, cell, &drawn);
    }

    fn draw_dims(&self, canvas: &mut Canvas, group: &Group<'_>, cell: &Cell, scale: f64) {
        let right = group.shapes.iter().map(|(_, f, _)| f.right).fold(0.0, f64::max) / scale;
        let look = Look::edged(RULE, 0.25);
        let (mut below, beside) = (cell.origin.1 + 3.0, cell.origin.0 + right + 3.0);
        let ups = cell.dims.iter().filter(|(_, d)| !d.across).count();
        let mut up = 0;
        for (nth, dim) in &cell.dims {
            let words = letter(*nth);
            let half = text_width(&words, TEXT, Weight::Bold) / 2.0 + 0.8;
            if dim.across {
                let (a, b) = (cell.origin.0 + dim.from / scale, cell.origin.0 + dim.to / scale);
                let middle = (a + b) / 2.0;
                for (from, to) in [(a, middle - half), (middle + half, b)] {
                    if to > from {
                        canvas.line((from, below), (to, below), look);
                    }
                }
                for x in [a, b] {
                    canvas.line((x, below - 1.2), (x, below + 1.2), look);
                }
                let at = (middle, below + 1.0);
                canvas.text(at, TEXT, (Anchor::Middle, Weight::Bold), INK, &words);
                below += DIM_ACROSS;
            } else {
                up += 1;
                let beside = beside + if up == ups && ups > 1 { DIM_UP } else { 0.0 };
                let (a, b) = (cell.origin.1 - dim.from / scale, cell.origin.1 - dim.to / scale);
                let middle = (a + b) / 2.0;
                for (from, to) in [(b, middle - 1.9), (middle + 1.9, a)] {
                    if to > from {
                        canvas.line((beside, from), (beside, to), look);
                    }
                }
                for y in [a, b] {
                    canvas.line((beside - 1.2, y), (beside + 1.2, y), look);
                }
                let at = (beside, middle + 1.0);
                canvas.text(at, TEXT, (Anchor::Middle, Weight::Bold), INK, &words);
            }
        }
    }

    fn draw_table(&self, canvas: &mut Canvas, group: &Group<'_>, cell: &Cell, drawn: &[usize]) {
        let (left, top) = cell.table_at;
        let table = &cell.table;
        let rights: Vec<f64> = table
            .others
            .iter()
            .scan(left + table.first, |right, wide| {
                *right += wide;
                Some(*right)
            })
            .collect();
        let mut y = top + 2.6;
        for (nth, head) in table.heads.iter().enumerate() {
            let words = fitted(head, TEXT, table.others[nth] - 1.0, Weight::Regular);
            canvas.text((rights[nth], y), TEXT, (Anchor::End, Weight::Regular), QUIET, &words);
            if self.nested() && drawn.contains(&nth) {
                let (dash, weight) = STROKES[group.shapes[nth].0];
                let look = Look { dash, ..Look::edged(INK, weight) };
                let from = rights[nth] - table.others[nth] + 2.0;
                canvas.line((from, y + 1.5), (rights[nth], y + 1.5), look);
            }
        }
        y += LINE + if self.nested() { 1.6 } else { 0.6 };
        for (letter, what, row) in &table.rows {
            let ink = if letter.is_some() { INK } else { QUIET };
            if let Some(letter) = letter {
                canvas.text((left, y), TEXT, (Anchor::Start, Weight::Bold), INK, letter);
            }
            let at = (left + LETTER_MM, y);
            canvas.text(at, TEXT, (Anchor::Start, Weight::Regular), ink, what);
            for (right, figure) in rights.iter().zip(row) {
                canvas.text((*right, y), TEXT, (Anchor::End, Weight::Regular), INK, figure);
            }
            y += LINE;
        }
    }

    /// A bar of 10 cm, or of 4 in where only inches are asked for.
    fn draw_bar(&self, canvas: &mut Canvas, scale: f64, y: f64) {
        let inches = self.units.iter().all(|unit| *unit == LengthUnit::In);
        let (mm, parts, words) = if inches { (101.6, 4, "4 in") } else { (100.0, 10, "10 cm") };
        let long = mm / scale;
        for part in 0..parts {
            let x = long * f64::from(part) / f64::from(parts);
            let look = if part % 2 == 0 { Look::filled(INK) } else { Look::default() };
            canvas.rect(x, y, long / f64::from(parts), 1.4, look.and_edge(INK, 0.2));
        }
        let words = format!("{words} of fabric");
        canvas.text((long + 2.5, y + 1.8), TEXT, (Anchor::Start, Weight::Regular), INK, &words);
    }
}
