//! The chart drawn, once it is known which lines it has.

use super::marks::{MARK, arrow, count_of, edge_mark, mark, slant};
use super::{BLOCK, BRACKET, Bracket, Chart, ChartLine, FOLDED, HAND, LEFT, ROW, TEXT, WORDS};
use crate::drawing::shades::{CURRENT, HELD, INK, MAIN_BED, PAPER, QUIET, RIBBER, RULE};
use crate::drawing::words::wrapped;
use crate::drawing::{Anchor, Canvas, Drawing, Look, Weight, text_width};
use knit::needle::{Needle, Side};
use knit::program::Structure;
use knit::run::{Deed, NeedleEvent};

/// Up to this height the key stands below the chart.
const KEY_BELOW: f64 = 120.0;

/// The title and how the chart is read; gives the last baseline.
fn draw_head(canvas: &mut Canvas, title: &str, width: f64) -> f64 {
    let mut y = 1.0;
    for line in wrapped(title, 4.0, width * 0.94) {
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
    y
}

impl Chart<'_> {
    pub(super) fn draw(&self, depth: u32) -> Drawing {
        let right_edge = self.edge(self.needles.right.0 + 1);
        let room = if depth > 0 { f64::from(depth) * BRACKET + WORDS } else { 4.0 };
        let width = (right_edge + room).max(110.0);
        let mut canvas = Canvas::new();
        let title = self.title();
        let mut head = draw_head(&mut canvas, &title, width);
        let tall: f64 = self.lines.iter().map(ChartLine::height).sum();
        // Below a long chart nobody would find the key.
        let key_first = tall > KEY_BELOW;
        if key_first {
            head = self.draw_key(&mut canvas, head + 6.0, width);
        }
        let top = head + 4.0 + 3.2;
        let bottom = top + tall;
        // Tops of the lines; the oldest is the lowest.
        let mut tops = Vec::with_capacity(self.lines.len());
        let mut at = bottom;
        for line in &self.lines {
            at -= line.height();
            tops.push(at);
        }
        self.draw_guides(&mut canvas, top, bottom);
        self.draw_rows(&mut canvas, &tops);
        self.draw_cells(&mut canvas, top, bottom);
        self.draw_marks(&mut canvas, &tops);
        for bracket in &self.brackets {
            self.draw_bracket(&mut canvas, bracket, &tops, right_edge, depth);
        }
        self.draw_current(&mut canvas, &tops, right_edge);
        let below = match key_first {
            true => bottom + 5.0,
            false => self.draw_key(&mut canvas, bottom + 8.0, width),
        };
        // Marks stand below the row before which they are made: cut above a row, not above marks.
        let rows = self
            .lines
            .iter()
            .zip(&tops)
            .filter(|(line, _)| !matches!(line, ChartLine::Hand { .. }));
        let cuts = rows.map(|(_, y)| y - 0.5).collect::<Vec<_>>();
        canvas.finish(&title, &self.about(), width, below).with_cuts(cuts)
    }

    fn draw_rows(&self, canvas: &mut Canvas, tops: &[f64]) {
        for (line, y) in self.lines.iter().zip(tops) {
            match line {
                ChartLine::Hand { .. } => {}
                ChartLine::Row { index, held } => self.draw_row(canvas, *index, 1, held, *y, ROW),
                ChartLine::Plain { first, count, held } => {
                    self.draw_row(canvas, *first, *count, held, *y, FOLDED);
                }
            }
        }
    }

    /// What lies over the cells: marks of what is done by hand, words in what is folded.
    fn draw_marks(&self, canvas: &mut Canvas, tops: &[f64]) {
        for (line, y) in self.lines.iter().zip(tops) {
            if let ChartLine::Hand { events, .. } = line {
                for (index, track) in events {
                    let y = y + line.height() - 0.2 - HAND * (f64::from(*track) + 0.5);
                    self.draw_event(canvas, &self.piece.events[*index], y);
                }
            }
            if let ChartLine::Plain { first, count, .. } = line {
                self.draw_plain_words(canvas, *first, *count, y + FOLDED / 2.0);
            }
        }
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
        let (low, high) = (tops[start] + self.lines[start].height() - 0.8, tops[end - 1] + 0.4);
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
                let on_left = match event.side {
                    Some(side) => side == Side::Left,
                    None => (a + b) / 2.0 < centre,
                };
                let inwards = if on_left { 1.0 } else { -1.0 };
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
                ChartLine::Row { index, .. } => *index == row,
                ChartLine::Plain { first, count, .. } => {
                    let here = (*first..first + count).contains(&row);
                    if here {
                        words.push(format!("row {} of {count}", row - first + 1));
                    }
                    here
                }
                ChartLine::Hand { .. } => false,
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
}
