//! The needles of a piece row by row, oldest row at the bottom: which knit, which are held, what is
//! done by hand in between. Stitches are drawn as runs, never one by one.

use super::fold::{Fold, Holding, events_before, folded};
use super::shades::{CURRENT, HELD, INK, MAIN_BED, PAPER, QUIET, RIBBER, RULE};
use super::words::wrapped;
use super::{Anchor, Canvas, Drawing, Look, Weight, text_width};
use crate::knit::needle::{Needle, Side, Span};
use crate::knit::program::Structure;
use crate::knit::run::{Deed, NeedleEvent, PieceRun};
use crate::knit::size_run::Made;

/// What a chart is to show beside the piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RowChartOptions {
    /// Words before the piece's title: garment and size.
    pub heading: String,
    /// How often the piece is knitted; nought and one say nothing.
    pub times: usize,
    /// The row at the machine, from 1: it is framed.
    pub current_row: Option<u32>,
}

/// A chart of each piece of a size; pieces that are knitted alike have one.
pub fn row_charts(made: &Made, heading: &str) -> Vec<Drawing> {
    let mut own: Vec<(&PieceRun, usize)> = Vec::new();
    for piece in made.graded.run.pieces.iter().filter(|p| !p.rows.is_empty()) {
        match own.iter_mut().find(|(before, _)| alike(before, piece)) {
            Some((_, times)) => *times += 1,
            None => own.push((piece, 1)),
        }
    }
    own.into_iter()
        .map(|(piece, times)| {
            let options = RowChartOptions { heading: heading.to_owned(), times, current_row: None };
            row_chart(piece, &options)
        })
        .collect()
}

fn alike(a: &PieceRun, b: &PieceRun) -> bool {
    let row_alike = |x: usize| {
        let (p, q) = (&a.rows[x], &b.rows[x]);
        (p.counter, p.from, p.structure) == (q.counter, q.from, q.structure)
            && a.spans_of(p) == b.spans_of(q)
    };
    a.title == b.title
        && a.rows.len() == b.rows.len()
        && a.events == b.events
        && (0..a.rows.len()).all(row_alike)
}

const PAGE_MM: f64 = 190.0;
const TEXT: f64 = 2.6;
/// Row counter and the carriage's arrow.
const LEFT: f64 = 15.0;
const BRACKET: f64 = 3.0;
const WORDS: f64 = 30.0;
const WIDEST_CELL: f64 = 3.0;
const ROW: f64 = 2.8;
const BLOCK: f64 = 2.1;
const FOLDED: f64 = 6.4;
const HAND: f64 = 3.0;
const MARK: f64 = 2.0;

/// A line of the chart, in knitting order.
enum Line {
    /// Marks of `events`, by the track each is on, and the tracks there are.
    Hand {
        events: Vec<(usize, u32)>,
        tracks: u32,
    },
    Row {
        index: u32,
        held: Vec<(i32, i32)>,
    },
    Plain {
        first: u32,
        count: u32,
        held: Vec<(i32, i32)>,
    },
}

impl Line {
    fn height(&self) -> f64 {
        match self {
            Line::Hand { tracks, .. } => f64::from(*tracks) * HAND + 0.4,
            Line::Row { .. } => ROW,
            Line::Plain { .. } => FOLDED,
        }
    }
}

struct Bracket {
    /// Lines from and up to, without the end.
    lines: (usize, usize),
    first: u32,
    period: u32,
    times: u32,
    loops_vary: bool,
    depth: u32,
}

struct Chart<'a> {
    piece: &'a PieceRun,
    options: &'a RowChartOptions,
    needles: Span,
    cell: f64,
    events: Vec<(usize, usize)>,
    lines: Vec<Line>,
    brackets: Vec<Bracket>,
    holding: Holding,
}

/// Draws the piece. A piece without rows is an empty chart that says so.
pub fn row_chart(piece: &PieceRun, options: &RowChartOptions) -> Drawing {
    let needles = piece.needles.unwrap_or(Span::centred(1));
    let folds = folded(piece);
    let depth = depth(&folds);
    let right = if depth > 0 { f64::from(depth) * BRACKET + WORDS } else { 4.0 };
    let cell = ((PAGE_MM - LEFT - right) / f64::from(needles.len())).min(WIDEST_CELL);
    let mut chart = Chart {
        piece,
        options,
        needles,
        cell,
        events: events_before(piece),
        lines: Vec::new(),
        brackets: Vec::new(),
        holding: Holding::default(),
    };
    chart.lay_out(&folds, 0);
    chart.hand(piece.rows.len());
    chart.draw(depth)
}

fn depth(folds: &[Fold]) -> u32 {
    let inside = |fold: &Fold| match fold {
        Fold::Repeat { rows, .. } => 1 + depth(rows),
        _ => 0,
    };
    folds.iter().map(inside).max().unwrap_or(0)
}

impl Chart<'_> {
    fn lay_out(&mut self, folds: &[Fold], level: u32) {
        for fold in folds {
            match fold {
                Fold::Row(index) => {
                    self.hand(*index as usize);
                    let held = self.holding.runs().to_vec();
                    self.lines.push(Line::Row { index: *index, held });
                }
                Fold::Plain { first, count } => {
                    self.hand(*first as usize);
                    let held = self.holding.runs().to_vec();
                    self.lines.push(Line::Plain { first: *first, count: *count, held });
                }
                Fold::Repeat { first, period, times, loops_vary, rows } => {
                    let start = self.lines.len();
                    self.lay_out(rows, level + 1);
                    // How the piece is begun is not done over.
                    let begun = usize::from(*first == 0 && self.begun() > 0);
                    self.brackets.push(Bracket {
                        lines: ((start + begun).min(self.lines.len() - 1), self.lines.len()),
                        first: *first,
                        period: *period,
                        times: *times,
                        loops_vary: *loops_vary,
                        depth: level,
                    });
                }
            }
        }
    }

    /// Events by which the piece is begun, before anything else.
    fn begun(&self) -> usize {
        let begins =
            |e: &&NeedleEvent| e.after_rows == 0 && matches!(e.deed, Deed::CastOn | Deed::Rehang);
        self.piece.events.iter().take_while(begins).count()
    }

    /// The lines of what is done before a row, if anything is.
    fn hand(&mut self, row: usize) {
        let (start, end) = self.events[row];
        let begun = if row == 0 { self.begun() } else { 0 };
        for range in [start..start + begun, start + begun..end] {
            if !range.is_empty() {
                let line = self.hand_line(range);
                self.lines.push(line);
            }
        }
    }

    fn hand_line(&mut self, range: std::ops::Range<usize>) -> Line {
        let mut ends: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut events = Vec::new();
        for index in range {
            let event = self.piece.events[index];
            self.holding.take(&event);
            let (a, b) = (self.middle(event.needles.left.0), self.middle(event.needles.right.0));
            let label = count_of(&event)
                .map_or(0.0, |n| text_width(&n, TEXT, Weight::Regular) + MARK / 2.0);
            let (a, b) = (a - MARK / 2.0 - 0.3, b + MARK / 2.0 + 0.3 + label);
            let free = |track: &Vec<(f64, f64)>| track.iter().all(|(l, r)| *r <= a || *l >= b);
            let track = match ends.iter().position(free) {
                Some(track) => track,
                None => {
                    ends.push(Vec::new());
                    ends.len() - 1
                }
            };
            ends[track].push((a, b));
            events.push((index, track as u32));
        }
        Line::Hand { events, tracks: ends.len() as u32 }
    }

    fn edge(&self, needle: i32) -> f64 {
        LEFT + f64::from(needle - self.needles.left.0) * self.cell
    }

    fn middle(&self, needle: i32) -> f64 {
        self.edge(needle) + self.cell / 2.0
    }

    fn draw(&self, depth: u32) -> Drawing {
        let right_edge = self.edge(self.needles.right.0 + 1);
        let room = if depth > 0 { f64::from(depth) * BRACKET + WORDS } else { 4.0 };
        let width = (right_edge + room).max(110.0);
        let mut canvas = Canvas::new();
        let title = self.title();
        let mut y = 1.0;
        for line in wrapped(&title, 4.0, width * 0.94) {
            y += 4.6;
            canvas.text((0.0, y), 4.0, (Anchor::Start, Weight::Bold), INK, &line);
        }
        for line in wrapped(
            "Begin at the bottom and read upwards. A line with a number is a pass of the carriage, \
             with what the row counter shows after it; the arrow is the way it goes. Marks stand \
             below the row before which they are made.",
            TEXT,
            width,
        ) {
            y += 3.6;
            canvas.text((0.0, y), TEXT, (Anchor::Start, Weight::Regular), QUIET, &line);
        }
        y += 4.0;
        let top = y + 3.2;
        let tall: f64 = self.lines.iter().map(Line::height).sum();
        let bottom = top + tall;
        // Tops of the lines; the oldest is the lowest.
        let mut tops = Vec::with_capacity(self.lines.len());
        let mut at = bottom;
        for line in &self.lines {
            at -= line.height();
            tops.push(at);
        }
        self.draw_guides(&mut canvas, top, bottom);
        for (line, y) in self.lines.iter().zip(&tops) {
            match line {
                Line::Hand { .. } => {}
                Line::Row { index, held } => self.draw_row(&mut canvas, *index, 1, held, *y, ROW),
                Line::Plain { first, count, held } => {
                    self.draw_row(&mut canvas, *first, *count, held, *y, FOLDED);
                }
            }
        }
        self.draw_cells(&mut canvas, top, bottom);
        for (line, y) in self.lines.iter().zip(&tops) {
            if let Line::Hand { events, .. } = line {
                for (index, track) in events {
                    let y = y + line.height() - 0.2 - HAND * (f64::from(*track) + 0.5);
                    self.draw_event(&mut canvas, &self.piece.events[*index], y);
                }
            }
            if let Line::Plain { first, count, .. } = line {
                self.draw_plain_words(&mut canvas, *first, *count, y + FOLDED / 2.0);
            }
        }
        for bracket in &self.brackets {
            self.draw_bracket(&mut canvas, bracket, &tops, right_edge, depth);
        }
        self.draw_current(&mut canvas, &tops, right_edge);
        let below = self.draw_key(&mut canvas, bottom + 8.0, width);
        // Marks stand below the row before which they are made: cut above a row, not above marks.
        let rows =
            self.lines.iter().zip(&tops).filter(|(line, _)| !matches!(line, Line::Hand { .. }));
        let cuts = rows.map(|(_, y)| y - 0.5).collect::<Vec<_>>();
        canvas.finish(&title, &self.about(), width, below).with_cuts(cuts)
    }

    fn title(&self) -> String {
        let times = match self.options.times {
            0 | 1 => String::new(),
            n => format!(" (knit {n})"),
        };
        let head = match self.options.heading.as_str() {
            "" => String::new(),
            heading => format!("{heading}: "),
        };
        format!("{head}{}{times}, row by row", self.piece.title)
    }

    fn about(&self) -> String {
        let rows = self.piece.rows.len();
        let mut text = format!(
            "Chart of {rows} rows over needles {}, {} stitches at the widest, oldest row at the bottom.",
            self.needles, self.piece.widest
        );
        for line in &self.lines {
            if let Line::Plain { first, count, .. } = line {
                text.push_str(&format!(
                    " From row {}: {}.",
                    first + 1,
                    self.plain_words(*first, *count)
                ));
            }
        }
        for bracket in &self.brackets {
            text.push_str(&format!(
                " From row {}: {} rows, {} times.",
                bracket.first + 1,
                bracket.period,
                bracket.times
            ));
        }
        if let Some(row) = self.options.current_row {
            text.push_str(&format!(" The row to knit now is number {row}."));
        }
        text
    }

    /// Lines at the bed's centre and every tenth needle, with their names below and above.
    fn draw_guides(&self, canvas: &mut Canvas, top: f64, bottom: f64) {
        let (left, right) = (self.needles.left.0, self.needles.right.0);
        let mut taken: Vec<(f64, f64)> = Vec::new();
        let mut name = |canvas: &mut Canvas, needle: i32, line: bool| {
            let x = self.middle(needle);
            if line {
                let look = Look::edged(RULE, 0.12).dashed(0.4, 1.2);
                canvas.line((x, top), (x, bottom), look);
            }
            let words = Needle(needle).to_string();
            let half = text_width(&words, TEXT, Weight::Regular) / 2.0 + 0.6;
            if taken.iter().any(|(a, b)| x - half < *b && x + half > *a) {
                return;
            }
            taken.push((x - half, x + half));
            for y in [top - 1.0, bottom + 3.4] {
                canvas.text((x, y), TEXT, (Anchor::Middle, Weight::Regular), INK, &words);
            }
            canvas.line((x, bottom + 0.2), (x, bottom + 1.0), Look::edged(RULE, 0.25));
        };
        for end in [left, right] {
            name(canvas, end, false);
        }
        for needle in left..=right {
            // L10 is -10 and R10 is 9.
            let number = if needle < 0 { -needle } else { needle + 1 };
            if number % 10 == 0 {
                name(canvas, needle, true);
            }
        }
        for needle in [-1, 0] {
            if (left..=right).contains(&needle) {
                name(canvas, needle, false);
            }
        }
        if left < 0 && right >= 0 {
            let x = self.edge(0);
            canvas.line((x, top), (x, bottom + 1.0), Look::edged(RULE, 0.3));
        }
    }

    /// White lines between needles, where cells are wide enough to be counted.
    fn draw_cells(&self, canvas: &mut Canvas, top: f64, bottom: f64) {
        if self.cell < 1.2 {
            return;
        }
        for needle in self.needles.left.0 + 1..=self.needles.right.0 {
            let x = self.edge(needle);
            canvas.line((x, top), (x, bottom), Look::edged(PAPER, 0.15));
        }
    }

    /// One pass, or several alike in one broad line.
    fn draw_row(
        &self,
        canvas: &mut Canvas,
        index: u32,
        count: u32,
        held: &[(i32, i32)],
        top: f64,
        tall: f64,
    ) {
        let row = &self.piece.rows[index as usize];
        let last = &self.piece.rows[(index + count - 1) as usize];
        let y = top + tall / 2.0;
        let mut data =
            vec![("row", (index + 1).to_string()), ("stitches", row.stitches.to_string())];
        if count > 1 {
            data.push(("rows", count.to_string()));
        }
        canvas.open_group("row", &data);
        let held: Vec<(f64, f64)> =
            held.iter().map(|(l, r)| (self.edge(*l), self.edge(r + 1))).collect();
        canvas.strokes(y, &held, Look::edged(HELD, 0.35).class("held"));
        let mut main: Vec<(f64, f64)> = Vec::new();
        let mut ribber: Vec<(f64, f64)> = Vec::new();
        // A folded tube shows both beds.
        let tube = count > 1 && row.structure == Structure::Circular;
        let both = if tube { index..index + 2 } else { index..index + 1 };
        for nth in both {
            for span in self.piece.spans_of(&self.piece.rows[nth as usize]) {
                let run = (self.edge(span.span.left.0), self.edge(span.span.right.0 + 1));
                if span.ribber { &mut ribber } else { &mut main }.push(run);
            }
        }
        let block = if count > 1 { tall - 0.8 } else { BLOCK };
        if row.structure == Structure::Plain {
            canvas.strokes(y, &main, Look::edged(MAIN_BED, block).class("main"));
        } else {
            let half = block / 2.0;
            canvas.strokes(y - half / 2.0, &ribber, Look::edged(RIBBER, half).class("ribber"));
            canvas.strokes(y + half / 2.0, &main, Look::edged(MAIN_BED, half).class("main"));
        }
        canvas.close_group();
        let end = LEFT - 5.2;
        if count > 1 {
            let words = |counter: u32| format!("{counter:03}");
            let ink = (Anchor::End, Weight::Regular);
            canvas.text((end, y + 2.9), TEXT, ink, INK, &words(row.counter));
            canvas.text((end, y - 0.6), TEXT, ink, INK, &words(last.counter));
            arrow(canvas, (LEFT - 2.8, y + 2.0), row.from);
            arrow(canvas, (LEFT - 2.8, y - 1.5), last.from);
        } else {
            let words = format!("{:03}", row.counter);
            canvas.text((end, y + 0.95), TEXT, (Anchor::End, Weight::Regular), INK, &words);
            arrow(canvas, (LEFT - 2.8, y), row.from);
        }
    }

    fn plain_words(&self, first: u32, count: u32) -> String {
        match self.piece.rows[first as usize].structure {
            Structure::Plain => format!("{count} rows plain"),
            Structure::Circular if count.is_multiple_of(2) => {
                format!("{count} rows round: {} rounds", count / 2)
            }
            Structure::Circular => format!("{count} rows round"),
            rib => format!("{count} rows {rib}"),
        }
    }

    fn draw_plain_words(&self, canvas: &mut Canvas, first: u32, count: u32, y: f64) {
        let words = self.plain_words(first, count);
        let wide = text_width(&words, TEXT, Weight::Bold) + 2.4;
        let row = &self.piece.rows[first as usize];
        let spans = self.piece.spans_of(row);
        let left = spans.iter().map(|s| s.span.left.0).min().unwrap_or(0);
        let right = spans.iter().map(|s| s.span.right.0).max().unwrap_or(0);
        let middle = (self.edge(left) + self.edge(right + 1)) / 2.0;
        // Narrow fabric: the words go on over its edge, but not over the row counter.
        let middle = middle.max(LEFT + wide / 2.0);
        canvas.rect(middle - wide / 2.0, y - 2.0, wide, 4.0, Look::filled(PAPER));
        canvas.text((middle, y + 0.95), TEXT, (Anchor::Middle, Weight::Bold), INK, &words);
    }

    fn draw_bracket(
        &self,
        canvas: &mut Canvas,
        bracket: &Bracket,
        tops: &[f64],
        right: f64,
        depth: u32,
    ) {
        let (start, end) = bracket.lines;
        let (low, high) = (tops[start] + self.lines[start].height() - 0.4, tops[end - 1] + 0.4);
        // The innermost bracket lies nearest to the rows.
        let x = right + BRACKET * (f64::from(depth - bracket.depth) - 0.4);
        let look = Look::edged(INK, 0.4);
        canvas.open_group(
            "repeat",
            &[
                ("row", (bracket.first + 1).to_string()),
                ("rows", bracket.period.to_string()),
                ("times", bracket.times.to_string()),
            ],
        );
        canvas.line((x, low), (x, high), look);
        for y in [low, high] {
            canvas.line((x - 1.4, y), (x, y), look);
        }
        canvas.close_group();
        let last = (bracket.first + bracket.period * bracket.times - 1) as usize;
        let counter = self.piece.rows.get(last).map_or(0, |row| row.counter);
        let mut words =
            format!("these {} rows {} times, to RC {counter:03}", bracket.period, bracket.times);
        if bracket.loops_vary {
            words.push_str("; the loops hung vary, see the pattern");
        }
        let at = right + BRACKET * f64::from(depth) + 1.0;
        let lines = wrapped(&words, TEXT, WORDS - 2.0);
        // Brackets within brackets: each in the middle of its own, the outer ones higher up.
        let share = 0.5 - 0.3 * f64::from(depth - 1 - bracket.depth).min(1.0);
        let mut y = high + (low - high) * share - lines.len() as f64 * 1.6 + 2.4;
        for line in lines {
            canvas.text((at, y), TEXT, (Anchor::Start, Weight::Regular), INK, &line);
            y += 3.3;
        }
    }

    fn draw_event(&self, canvas: &mut Canvas, event: &NeedleEvent, y: f64) {
        let (left, right) = (event.needles.left.0, event.needles.right.0);
        let (a, b) = (self.middle(left), self.middle(right));
        let (edge_a, edge_b) = (self.edge(left), self.edge(right + 1));
        canvas.open_group("deed", &[("deed", event.deed.name().to_owned())]);
        match event.deed {
            Deed::Decrease => {
                let centre =
                    (self.edge(self.needles.left.0) + self.edge(self.needles.right.0 + 1)) / 2.0;
                let inwards = if (a + b) / 2.0 < centre { 1.0 } else { -1.0 };
                if event.needles.len() <= 12 {
                    for needle in left..=right {
                        slant(canvas, (self.middle(needle), y), inwards);
                    }
                } else {
                    canvas.line((a, y), (b, y), Look::edged(INK, 0.3));
                    slant(canvas, (a, y), inwards);
                    slant(canvas, (b, y), inwards);
                }
            }
            Deed::Increase if event.needles.len() <= 12 => {
                for needle in left..=right {
                    mark(canvas, event.deed, (self.middle(needle), y), event.loops);
                }
            }
            Deed::CastOn | Deed::ScrapOff | Deed::CastOff => {
                edge_mark(canvas, event.deed, (edge_a, edge_b), y, self.cell);
            }
            deed => {
                if b - a > MARK {
                    let inset = MARK / 2.0;
                    canvas.line((a + inset, y), (b - inset, y), Look::edged(INK, 0.3));
                    mark(canvas, deed, (b, y), event.loops);
                    mark(canvas, deed, (a, y), event.loops);
                } else {
                    mark(canvas, deed, ((a + b) / 2.0, y), event.loops);
                }
            }
        }
        canvas.close_group();
        if let Some(words) = count_of(event) {
            let at = (b + MARK / 2.0 + 0.4, y + 0.95);
            canvas.text(at, TEXT, (Anchor::Start, Weight::Regular), INK, &words);
        }
    }

    /// A frame round the row being knitted; in a fold, words for where in it.
    fn draw_current(&self, canvas: &mut Canvas, tops: &[f64], right: f64) {
        let Some(number) = self.options.current_row else { return };
        let Some(mut row) = number.checked_sub(1).filter(|r| (*r as usize) < self.piece.rows.len())
        else {
            return;
        };
        let mut words: Vec<String> = Vec::new();
        let mut brackets: Vec<&Bracket> = self.brackets.iter().collect();
        brackets.sort_by_key(|b| b.depth);
        for bracket in brackets {
            let end = bracket.first + bracket.period * bracket.times;
            if (bracket.first..end).contains(&row) {
                let time = (row - bracket.first) / bracket.period;
                words.push(format!("time {} of {}", time + 1, bracket.times));
                row = bracket.first + (row - bracket.first) % bracket.period;
            }
        }
        for (line, top) in self.lines.iter().zip(tops) {
            let here = match line {
                Line::Row { index, .. } => *index == row,
                Line::Plain { first, count, .. } => {
                    let here = (*first..first + count).contains(&row);
                    if here {
                        words.push(format!("row {} of {count}", row - first + 1));
                    }
                    here
                }
                Line::Hand { .. } => false,
            };
            if !here {
                continue;
            }
            let tall = line.height();
            canvas.open_group("current", &[("row", number.to_string())]);
            let look = Look::edged(CURRENT, 0.7);
            canvas.rect(0.6, top - 0.2, right + 0.6, tall + 0.4, look);
            let y = top + tall / 2.0;
            let pointer = [(right + 4.4, y - 1.6), (right + 4.4, y + 1.6), (right + 1.6, y)];
            canvas.polygon(&pointer, Look::filled(CURRENT));
            canvas.close_group();
            if !words.is_empty() {
                let words = words.join(", ");
                let wide = text_width(&words, TEXT, Weight::Bold);
                let x = right + 5.2;
                canvas.rect(x - 0.3, y - 1.9, wide + 0.6, 3.8, Look::filled(PAPER));
                canvas.text((x, y + 0.95), TEXT, (Anchor::Start, Weight::Bold), CURRENT, &words);
            }
            return;
        }
    }

    /// What the shapes of this chart mean, in two columns. Gives where it ends.
    fn draw_key(&self, canvas: &mut Canvas, top: f64, width: f64) -> f64 {
        let mut deeds: Vec<Deed> = self.piece.events.iter().map(|e| e.deed).collect();
        deeds.sort_unstable();
        deeds.dedup();
        let on = |ribber: bool| self.piece.spans.iter().any(|s| s.ribber == ribber);
        let mut entries: Vec<(Entry, &str)> = Vec::new();
        if on(false) {
            entries.push((Entry::Main, "knitted on the main bed"));
        }
        if on(true) {
            entries.push((Entry::Ribber, "knitted on the ribber: the upper half of a line"));
        }
        let held = |line: &Line| match line {
            Line::Row { held, .. } | Line::Plain { held, .. } => !held.is_empty(),
            Line::Hand { .. } => false,
        };
        if self.lines.iter().any(held) {
            entries.push((Entry::Held, "held: keeps its loop and does not knit"));
        }
        entries.extend(deeds.into_iter().map(|deed| (Entry::Done(deed), words_of(deed))));
        canvas.text((0.0, top), TEXT, (Anchor::Start, Weight::Bold), INK, "Key");
        let column = width / 2.0;
        let mut y = top + 4.6;
        for pair in entries.chunks(2) {
            let mut tall: f64 = 1.0;
            for (nth, (entry, words)) in pair.iter().enumerate() {
                let x = column * nth as f64;
                entry.draw(canvas, x, y - 0.9);
                let lines = wrapped(words, TEXT, column - 15.0);
                tall = tall.max(lines.len() as f64);
                for (i, line) in lines.iter().enumerate() {
                    let at = (x + 12.0, y + 3.4 * i as f64);
                    canvas.text(at, TEXT, (Anchor::Start, Weight::Regular), INK, line);
                }
            }
            y += 1.2 + 3.4 * tall;
        }
        y
    }
}

enum Entry {
    Main,
    Ribber,
    Held,
    Done(Deed),
}

impl Entry {
    fn draw(&self, canvas: &mut Canvas, x: f64, y: f64) {
        let run = [(x + 0.5, x + 10.0)];
        match self {
            Entry::Main => canvas.strokes(y, &run, Look::edged(MAIN_BED, BLOCK)),
            Entry::Ribber => {
                canvas.strokes(y - BLOCK / 4.0, &run, Look::edged(RIBBER, BLOCK / 2.0));
                let base = [(x + 0.5, y + BLOCK / 2.0), (x + 10.0, y + BLOCK / 2.0)];
                canvas.line(base[0], base[1], Look::edged(RULE, 0.15));
            }
            Entry::Held => canvas.strokes(y, &run, Look::edged(HELD, 0.35)),
            Entry::Done(deed) => match deed {
                Deed::CastOn | Deed::ScrapOff | Deed::CastOff => {
                    edge_mark(canvas, *deed, run[0], y, 2.0);
                }
                Deed::Decrease => {
                    slant(canvas, (x + 3.5, y), 1.0);
                    slant(canvas, (x + 7.0, y), -1.0);
                }
                Deed::Hold | Deed::Return | Deed::TransferToMain | Deed::Rehang => {
                    let (a, b) = (x + 1.8, x + 8.8);
                    let inset = MARK / 2.0;
                    canvas.line((a + inset, y), (b - inset, y), Look::edged(INK, 0.3));
                    mark(canvas, *deed, (a, y), 1);
                    mark(canvas, *deed, (b, y), 1);
                }
                Deed::Hang => {
                    mark(canvas, *deed, (x + 3.5, y), 1);
                    mark(canvas, *deed, (x + 7.0, y), 0);
                }
                deed => mark(canvas, *deed, (x + 5.3, y), 1),
            },
        }
    }
}

/// A number behind a mark: loops hung together.
fn count_of(event: &NeedleEvent) -> Option<String> {
    (event.deed == Deed::Hang && event.loops > 1).then(|| event.loops.to_string())
}

fn words_of(deed: Deed) -> &'static str {
    match deed {
        Deed::CastOn => "cast on these needles",
        Deed::Hold => "push to holding position",
        Deed::Return => "bring back from holding: they knit again",
        Deed::Wrap => "lay the yarn under this held needle",
        Deed::Hang => "hang a waiting loop here (a number: so many; open: none this time)",
        Deed::Rehang => "hang waiting loops back on these needles",
        Deed::TransferToMain => "move the ribber's loops to the main bed",
        Deed::Decrease => "work the end stitch into its neighbour, inwards",
        Deed::Increase => "bring one more needle beside the end to work",
        Deed::ScrapOff => "knit off onto waste yarn: open loops that wait",
        Deed::CastOff => "cast off: loops are closed",
    }
}

/// Which way the carriage goes.
fn arrow(canvas: &mut Canvas, (x, y): (f64, f64), from: Side) {
    let way = if from == Side::Left { 1.0 } else { -1.0 };
    canvas.line((x - 1.6 * way, y), (x + 0.5 * way, y), Look::edged(INK, 0.3));
    let head = [(x + 1.6 * way, y), (x + 0.2 * way, y - 0.75), (x + 0.2 * way, y + 0.75)];
    canvas.polygon(&head, Look::filled(INK));
}

/// A stitch leaning inwards.
fn slant(canvas: &mut Canvas, (x, y): (f64, f64), inwards: f64) {
    let h = MARK / 2.0;
    canvas.line((x - 0.5 * inwards, y + h), (x + 0.5 * inwards, y - h), Look::edged(INK, 0.55));
}

/// A mark on one needle.
fn mark(canvas: &mut Canvas, deed: Deed, (x, y): (f64, f64), loops: u32) {
    let h = MARK / 2.0;
    let open = Look::filled(PAPER).and_edge(INK, 0.3);
    let full = Look::filled(INK).and_edge(INK, 0.3);
    let up = [(x, y - h), (x + h, y + 0.8 * h), (x - h, y + 0.8 * h)];
    match deed {
        Deed::Hold => canvas.rect(x - 0.75 * h, y - 0.75 * h, 1.5 * h, 1.5 * h, open),
        Deed::Return => canvas.rect(x - 0.75 * h, y - 0.75 * h, 1.5 * h, 1.5 * h, full),
        Deed::Wrap => {
            canvas.circle(x, y, 0.85 * h, open);
            canvas.circle(x, y, 0.3 * h, Look::filled(INK));
        }
        Deed::Hang => canvas.polygon(&up, if loops == 0 { open } else { full }),
        Deed::Rehang => {
            let wedge = [(x, y - h), (x + 0.7 * h, y), (x, y + h), (x - 0.7 * h, y)];
            canvas.polygon(&wedge, full);
        }
        Deed::TransferToMain => {
            let down = [(x, y + h), (x + h, y - 0.8 * h), (x - h, y - 0.8 * h)];
            canvas.polygon(&down, full);
        }
        _ => {
            canvas.line((x - h, y), (x + h, y), Look::edged(INK, 0.5));
            canvas.line((x, y - h), (x, y + h), Look::edged(INK, 0.5));
        }
    }
}

/// How an edge is made, from end to end.
fn edge_mark(canvas: &mut Canvas, deed: Deed, (a, b): (f64, f64), y: f64, cell: f64) {
    let beads = ((b - a) / cell.max(1.8)).round().max(1.0) as u32;
    let at = |nth: u32| a + (b - a) * (f64::from(nth) + 0.5) / f64::from(beads);
    match deed {
        Deed::CastOn => {
            canvas.line((a, y + 0.7), (b, y + 0.7), Look::edged(INK, 0.5));
            for nth in 0..beads {
                canvas.line((at(nth), y + 0.7), (at(nth), y - 0.7), Look::edged(INK, 0.3));
            }
        }
        Deed::ScrapOff => {
            for nth in 0..beads {
                canvas.circle(at(nth), y, 0.55, Look::filled(PAPER).and_edge(INK, 0.28));
            }
        }
        _ => {
            for y in [y - 0.5, y + 0.5] {
                canvas.line((a, y), (b, y), Look::edged(INK, 0.4));
            }
            for x in [a, b] {
                canvas.line((x, y - 1.0), (x, y + 1.0), Look::edged(INK, 0.4));
            }
        }
    }
}
