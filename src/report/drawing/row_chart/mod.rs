//! The needles of a piece row by row, oldest row at the bottom: which knit, which are held, what is
//! done by hand in between. Stitches are drawn as runs, never one by one.

mod ink;
mod key;
mod marks;

use marks::{MARK, count_of};

use super::fold::{Fold, Holding, events_before, folded};
use super::{Drawing, Weight, text_width};
use knit::needle::Span;
use knit::program::Structure;
use knit::run::{Deed, NeedleEvent, PieceRun};
use knit::size_run::Made;

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

const PAGE_MM: f64 = 178.0;
const TEXT: f64 = 3.2;
/// Row counter and the carriage's arrow.
const LEFT: f64 = 17.0;
const BRACKET: f64 = 3.0;
const WORDS: f64 = 36.0;
const WIDEST_CELL: f64 = 3.0;
const ROW: f64 = 2.8;
const BLOCK: f64 = 2.1;
const FOLDED: f64 = 6.4;
const HAND: f64 = 3.0;

/// A line of the chart, in knitting order.
enum ChartLine {
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

impl ChartLine {
    fn height(&self) -> f64 {
        match self {
            ChartLine::Hand { tracks, .. } => f64::from(*tracks) * HAND + 0.4,
            ChartLine::Row { .. } => ROW,
            ChartLine::Plain { .. } => FOLDED,
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
    lines: Vec<ChartLine>,
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
                    self.lines.push(ChartLine::Row { index: *index, held });
                }
                Fold::Plain { first, count } => {
                    self.hand(*first as usize);
                    let held = self.holding.runs().to_vec();
                    self.lines.push(ChartLine::Plain { first: *first, count: *count, held });
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
        let begins = |e: &&NeedleEvent| {
            e.after_rows == 0 && matches!(e.deed, Deed::CastOn | Deed::Rehang | Deed::PickUp)
        };
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

    fn hand_line(&mut self, range: std::ops::Range<usize>) -> ChartLine {
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
        ChartLine::Hand { events, tracks: ends.len() as u32 }
    }

    fn edge(&self, needle: i32) -> f64 {
        LEFT + f64::from(needle - self.needles.left.0) * self.cell
    }

    fn middle(&self, needle: i32) -> f64 {
        self.edge(needle) + self.cell / 2.0
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
            if let ChartLine::Plain { first, count, .. } = line {
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
}
