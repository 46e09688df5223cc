//! The sheet drawn, once it is known where everything lies.

use super::cell::{Cell, DIM_ACROSS, HALF_WORD, ROUND_WORDS, TICK, big};
use super::groups::ShapeGroup;
use super::page::{LINE, MOST_NESTED, PAGE_MM, Schematic, TEXT};
use crate::drawing::laid_flat::LaidFlat;
use crate::drawing::shades::{INK, PAPER, QUIET, RULE};
use crate::drawing::words::fitted;
use crate::drawing::{Anchor, Canvas, Drawing, Look, Point, Weight, text_width};
use knit::run::PieceRun;
use units::LengthUnit;

/// Dashes of the nested outlines, in order of size, and their weights in mm.
const STROKES: [(Option<(f64, f64)>, f64); MOST_NESTED] = [
    (None, 0.2),
    (Some((3.0, 0.8)), 0.25),
    (Some((0.4, 0.7)), 0.35),
    (None, 0.5),
    (Some((1.4, 0.7)), 0.3),
    (Some((7.0, 0.9)), 0.45),
];

/// From mm of the fabric to the picture.
type ToPicture<'a> = dyn Fn(f64, f64) -> Point + 'a;

/// A row of beads over each opening; gives where each ends on the right.
fn draw_openings(canvas: &mut Canvas, flat: &LaidFlat, place: &ToPicture<'_>) -> Vec<Point> {
    let mut ends = Vec::new();
    for (from, to, at) in &flat.openings {
        let ((x0, y), (x1, _)) = (place(*from, *at), place(*to, *at));
        let beads = ((x1 - x0) / 1.5).round().max(1.0) as u32;
        for bead in 0..=beads {
            let x = x0 + (x1 - x0) * f64::from(bead) / f64::from(beads);
            canvas.circle(x, y, 0.45, Look::filled(INK));
        }
        ends.push((x1.max(x0), y));
    }
    ends
}

/// Where one fabric ends and another begins.
fn draw_borders(canvas: &mut Canvas, flat: &LaidFlat, place: &ToPicture<'_>) {
    for pair in flat.zones.windows(2) {
        let (left, right) = (pair[0].left.min(pair[1].left), pair[0].right.max(pair[1].right));
        canvas.line(
            place(left, pair[1].from),
            place(right, pair[1].from),
            Look::edged(RULE, 0.25).dashed(1.0, 1.0),
        );
    }
}

impl Schematic<'_> {
    pub(super) fn draw(&self, groups: &[ShapeGroup<'_>], scale: f64) -> Drawing {
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
        // Between rows of pieces, and below them all.
        let mut cuts: Vec<f64> = places.iter().filter(|at| at.1 > 0.0).map(|at| y + at.1).collect();
        for ((group, cell), (x, dy)) in groups.iter().zip(&cells).zip(places) {
            canvas.open_placed((x, y + dy), 1.0, 0.0);
            self.draw_cell(&mut canvas, group, cell, scale);
            canvas.close_group();
            wide = wide.max(x + cell.width);
        }
        cuts.push(y + tall + 3.0);
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
            cuts.push(y + 1.0);
            y += LINE;
        }
        canvas.finish(&title, &self.about(groups), wide, y).with_cuts(cuts)
    }

    fn draw_cell(&self, canvas: &mut Canvas, group: &ShapeGroup<'_>, cell: &Cell, scale: f64) {
        let heading = fitted(&group.heading(), 3.4, cell.width, Weight::Bold);
        canvas.text((0.0, 3.4), 3.4, (Anchor::Start, Weight::Bold), INK, &heading);
        let place = |x: f64, y: f64| (cell.origin.0 + x / scale, cell.origin.1 - y / scale);
        let drawn = group.drawn();
        let mut letters: Vec<(usize, Point)> = Vec::new();
        for (order, &nth) in drawn.iter().enumerate() {
            let (index, flat, piece) = &group.shapes[nth];
            self.draw_outlines(canvas, (*index, flat, piece), scale, &place);
            // Of nested openings the lowest and the highest, with their letters, say enough.
            if order == 0 || order + 1 == drawn.len() {
                let ends = draw_openings(canvas, flat, &place);
                if self.nested() {
                    letters.extend(ends.into_iter().map(|(x, y)| (*index, (x + 2.4, y + 1.8))));
                }
            }
            if self.nested() {
                // Letters side by side above the outlines they belong to.
                let (_, middle, width) = flat.top;
                let share = (order as f64 + 0.5) / drawn.len() as f64 - 0.5;
                let reach = (width / scale).max(4.0 * drawn.len() as f64).min(40.0);
                let (x, y) = place(middle, flat.height);
                letters.push((*index, ((x + share * reach).max(1.5), y)));
            } else {
                draw_borders(canvas, flat, &place);
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

    fn draw_outlines(
        &self,
        canvas: &mut Canvas,
        (index, flat, piece): (usize, &LaidFlat, &PieceRun),
        scale: f64,
        place: &ToPicture<'_>,
    ) {
        let (dash, weight) = if self.nested() { STROKES[index] } else { (None, 0.4) };
        let look = Look { dash, ..Look::edged(INK, weight) };
        canvas.open_group(
            "piece",
            &[
                ("piece", piece.name.clone()),
                ("size", self.shown[index].0.body.id.to_string()),
                ("scale", scale.to_string()),
            ],
        );
        for outline in &flat.outlines {
            let points: Vec<Point> = outline.iter().map(|(x, y)| place(*x, *y)).collect();
            canvas.polygon(&points, look.class("outline"));
        }
        canvas.close_group();
    }

    fn draw_dims(&self, canvas: &mut Canvas, group: &ShapeGroup<'_>, cell: &Cell, scale: f64) {
        let right = group.shapes.iter().map(|(_, f, _)| f.right).fold(0.0, f64::max) / scale;
        let look = Look::edged(RULE, 0.25);
        let mut below = cell.origin.1 + 3.0;
        for line in &cell.dims {
            let (dim, words) = (&line.dim, &line.words);
            let half = text_width(words, TEXT, Weight::Bold) / 2.0 + ROUND_WORDS;
            if dim.across {
                let (a, b) = (cell.origin.0 + dim.from / scale, cell.origin.0 + dim.to / scale);
                let middle = (a + b) / 2.0;
                for (from, to) in [(a, middle - half), (middle + half, b)] {
                    if to > from {
                        canvas.line((from, below), (to, below), look);
                    }
                }
                for x in [a, b] {
                    canvas.line((x, below - TICK), (x, below + TICK), look);
                }
                // Words wider than what they measure stand on the page all the same.
                let at = (middle.max(half), below + 1.0);
                canvas.text(at, TEXT, (Anchor::Middle, Weight::Bold), INK, words);
                below += DIM_ACROSS;
            } else {
                let beside = cell.origin.0 + right + line.beside;
                let (a, b) = (cell.origin.1 - dim.from / scale, cell.origin.1 - dim.to / scale);
                let middle = (a + b) / 2.0;
                let gap = if line.aside.is_some() { 0.0 } else { HALF_WORD };
                for (from, to) in [(b, middle - gap), (middle + gap, a)] {
                    if to > from {
                        canvas.line((beside, from), (beside, to), look);
                    }
                }
                for y in [a, b] {
                    canvas.line((beside - TICK, y), (beside + TICK, y), look);
                }
                let at = (beside + line.aside.unwrap_or_default(), middle + 1.0);
                canvas.text(at, TEXT, (Anchor::Middle, Weight::Bold), INK, words);
            }
        }
    }

    fn draw_table(
        &self,
        canvas: &mut Canvas,
        group: &ShapeGroup<'_>,
        cell: &Cell,
        drawn: &[usize],
    ) {
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
            let ink = if letter.is_some() || !self.nested() { INK } else { QUIET };
            if let Some(letter) = letter {
                canvas.text((left, y), TEXT, (Anchor::Start, Weight::Bold), INK, letter);
            }
            let at = (left + table.lettered, y);
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
