//! Long pieces made short: plain stretches and rows that come back are told once.

use std::collections::BTreeMap;

use knit::needle::{Needle, Side, Span};
use knit::program::Structure;
use knit::run::{Deed, NeedleEvent, PieceRun};

/// Rows as a chart shows them. Unfolded they are all rows of the piece, in order.
#[derive(Clone, Debug, PartialEq)]
pub enum Fold {
    Row(u32),
    /// `count` rows alike from `first` on, with nothing done by hand between them.
    Plain {
        first: u32,
        count: u32,
    },
    /// `period` rows from `first` on, shown once and knitted `times` times.
    Repeat {
        first: u32,
        period: u32,
        times: u32,
        /// Whether the loops hung differ from one time to the next.
        loops_vary: bool,
        rows: Vec<Fold>,
    },
}

impl Fold {
    /// Rows of the piece it stands for.
    #[cfg(test)]
    fn rows(&self) -> u32 {
        match self {
            Fold::Row(_) => 1,
            Fold::Plain { count, .. } => *count,
            Fold::Repeat { period, times, .. } => period * times,
        }
    }
}

/// Fewer plain rows are shown one by one.
const LEAST_PLAIN: usize = 5;
/// A repeat that saves fewer rows is not worth a bracket.
const LEAST_SAVED: usize = 6;
/// No longer repeat is looked for.
const LONGEST_PERIOD: usize = 512;

struct Rows<'a> {
    piece: &'a PieceRun,
    /// Rows of one number are the same to the knitter, what is done before them included.
    alike: Vec<u32>,
    /// The same, but for the direction.
    fabric: Vec<u32>,
    /// Whether something is done by hand before the row.
    handled: Vec<bool>,
    /// By row, its events as a range of `piece.events`.
    events: Vec<(usize, usize)>,
}

/// Folds the rows of a piece.
pub fn folded(piece: &PieceRun) -> Vec<Fold> {
    let rows = Rows::of(piece);
    rows.fold(0, piece.rows.len())
}

/// By row, the events before it as a range of `piece.events`; one more at the end for what comes
/// after the last row.
pub fn events_before(piece: &PieceRun) -> Vec<(usize, usize)> {
    let mut ranges = Vec::with_capacity(piece.rows.len() + 1);
    let mut at = 0;
    for row in 0..=piece.rows.len() {
        let start = at;
        while piece.events.get(at).is_some_and(|e| e.after_rows as usize <= row) {
            at += 1;
        }
        ranges.push((start, at));
    }
    ranges
}

/// Whether the carriage comes from the left, the needles, and what is done before the row.
type Signature = (bool, u32, Vec<(Deed, i32, i32)>);

impl<'a> Rows<'a> {
    fn of(piece: &'a PieceRun) -> Self {
        let events = events_before(piece);
        // Rows with equal spans may hold them in different places of the list.
        let mut spans: BTreeMap<Vec<(bool, i32, i32)>, u32> = BTreeMap::new();
        let mut known: BTreeMap<(u32, u32), u32> = BTreeMap::new();
        let mut signatures: BTreeMap<Signature, u32> = BTreeMap::new();
        let mut rows = Rows {
            piece,
            alike: Vec::new(),
            fabric: Vec::new(),
            handled: Vec::new(),
            events: events.clone(),
        };
        for (index, row) in piece.rows.iter().enumerate() {
            let shape = *known.entry(row.spans).or_insert_with(|| {
                let key = piece
                    .spans_of(row)
                    .iter()
                    .map(|s| (s.ribber, s.span.left.0, s.span.right.0))
                    .collect();
                let next = spans.len() as u32;
                *spans.entry(key).or_insert(next)
            });
            let (start, end) = events[index];
            let deeds: Vec<(Deed, i32, i32)> = piece.events[start..end]
                .iter()
                // How the piece begins is shown before its first row, folded or not.
                .filter(|e| {
                    index > 0 || !matches!(e.deed, Deed::CastOn | Deed::Rehang | Deed::PickUp)
                })
                .map(|e| (e.deed, e.needles.left.0, e.needles.right.0))
                .collect();
            rows.handled.push(end > start);
            let fabric = shape * 4 + row.structure as u32;
            rows.fabric.push(fabric);
            let next = signatures.len() as u32;
            let signature = (row.from == Side::Left, fabric, deeds);
            rows.alike.push(*signatures.entry(signature).or_insert(next));
        }
        rows
    }

    fn fold(&self, from: usize, to: usize) -> Vec<Fold> {
        let mut folds = Vec::new();
        let mut at = from;
        while at < to {
            let plain = self.plain_from(at, to);
            let (period, times) = self.repeat_from(at, to);
            let saved = period * (times - 1);
            if saved >= LEAST_SAVED && saved > plain {
                folds.push(Fold::Repeat {
                    first: at as u32,
                    period: period as u32,
                    times: times as u32,
                    loops_vary: self.loops_vary(at, period, times),
                    rows: self.fold(at, at + period),
                });
                at += period * times;
            } else if plain >= LEAST_PLAIN {
                folds.push(Fold::Plain { first: at as u32, count: plain as u32 });
                at += plain;
            } else {
                folds.push(Fold::Row(at as u32));
                at += 1;
            }
        }
        folds
    }

    /// Rows alike from here on. What is done by hand before the first is shown before them.
    fn plain_from(&self, at: usize, to: usize) -> usize {
        let tube = |row: usize| self.piece.rows[row].structure == Structure::Circular;
        let mut end = at + 1;
        while end < to && !self.handled[end] {
            // A tube's rows go round: every second one is on the same bed.
            let as_before = self.fabric[end] == self.fabric[end - 1]
                || tube(end)
                    && tube(end - 1)
                    && (end < at + 2 || self.fabric[end] == self.fabric[end - 2]);
            if !as_before {
                break;
            }
            end += 1;
        }
        end - at
    }

    /// The period and the times that save most rows from here on; (1, 1) where nothing comes back.
    fn repeat_from(&self, at: usize, to: usize) -> (usize, usize) {
        let mut best = (1, 1);
        for period in 1..=((to - at) / 2).min(LONGEST_PERIOD) {
            let same = (at + period..to)
                .take_while(|row| self.alike[*row] == self.alike[*row - period])
                .count();
            let times = same / period + 1;
            if period * (times - 1) > best.0 * (best.1 - 1) {
                best = (period, times);
            }
        }
        best
    }

    fn loops_vary(&self, at: usize, period: usize, times: usize) -> bool {
        let loops = |row: usize| -> Vec<u32> {
            let (start, end) = self.events[row];
            let hung = |e: &&NeedleEvent| e.deed == Deed::Hang;
            self.piece.events[start..end].iter().filter(hung).map(|e| e.loops).collect()
        };
        (at + period..at + period * times).any(|row| loops(row) != loops(row - period))
    }
}

/// Needles on hold while a row is knitted, from left to right.
#[derive(Clone, Debug, Default)]
pub struct Holding {
    /// Runs that don't touch, from left to right.
    runs: Vec<(i32, i32)>,
}

impl Holding {
    pub fn runs(&self) -> &[(i32, i32)] {
        &self.runs
    }

    /// The same as needles.
    pub fn spans(&self) -> impl Iterator<Item = Span> + '_ {
        self.runs.iter().map(|&(l, r)| Span { left: Needle(l), right: Needle(r) })
    }

    pub fn take(&mut self, event: &NeedleEvent) {
        match event.deed {
            Deed::Hold => {
                self.remove(event.needles);
                self.runs.push((event.needles.left.0, event.needles.right.0));
                self.runs.sort_unstable();
                self.join();
            }
            Deed::Wrap | Deed::Hang | Deed::PickUp | Deed::ToRib | Deed::LatchUp => {}
            _ => self.remove(event.needles),
        }
    }

    fn remove(&mut self, span: Span) {
        let (left, right) = (span.left.0, span.right.0);
        let mut rest = Vec::with_capacity(self.runs.len() + 1);
        for &(from, to) in &self.runs {
            if to < left || from > right {
                rest.push((from, to));
                continue;
            }
            if from < left {
                rest.push((from, left - 1));
            }
            if to > right {
                rest.push((right + 1, to));
            }
        }
        self.runs = rest;
    }

    fn join(&mut self) {
        let mut joined: Vec<(i32, i32)> = Vec::with_capacity(self.runs.len());
        for &(from, to) in &self.runs {
            match joined.last_mut() {
                Some((_, end)) if from <= *end + 1 => *end = (*end).max(to),
                _ => joined.push((from, to)),
            }
        }
        self.runs = joined;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use knit::needle::Needle;
    use knit::run::{BedSpan, RowRun, SideRuns, StitchTally};

    fn span(left: i32, right: i32) -> Span {
        Span { left: Needle(left), right: Needle(right) }
    }

    /// Rows given by the left end of their needles; the right end is 9.
    fn piece(lefts: &[i32], events: Vec<NeedleEvent>) -> PieceRun {
        let rows = lefts.iter().enumerate().map(|(i, left)| RowRun {
            counter: i as u32 + 1,
            from: if i % 2 == 0 { Side::Right } else { Side::Left },
            section: 0,
            structure: Structure::Plain,
            stitches: (10 - left) as u32,
            spans: (i as u32, i as u32 + 1),
        });
        PieceRun {
            name: "p".into(),
            title: "P".into(),
            structure: Structure::Plain,
            needles: Some(span(0, 9)),
            widest: 10,
            rows: rows.collect(),
            spans: lefts.iter().map(|l| BedSpan { ribber: false, span: span(*l, 9) }).collect(),
            stitches: 0,
            rows_at: Vec::new(),
            selvedges: (0, 0),
            sides: SideRuns::default(),
            rows_at_mark: BTreeMap::new(),
            mark_rows: BTreeMap::new(),
            cast_on: Vec::new(),
            cast_off: Vec::new(),
            tally: StitchTally::default(),
            events,
            traces: Vec::new(),
        }
    }

    #[test]
    fn plain_rows_and_repeats_are_told_once() {
        let wedge = [6, 6, 4, 4, 2, 2, 0, 0];
        let mut lefts = vec![0; 48];
        for _ in 0..3 {
            lefts.extend(wedge);
        }
        let folds = folded(&piece(&lefts, Vec::new()));
        assert_eq!(folds[0], Fold::Plain { first: 0, count: 48 });
        let [_, Fold::Repeat { first: 48, period: 8, times: 3, rows, .. }] = folds.as_slice()
        else {
            panic!("{folds:?}");
        };
        assert_eq!(rows.len(), 8);
        assert_eq!(folds.iter().map(Fold::rows).sum::<u32>(), 72);
    }

    #[test]
    fn what_is_done_by_hand_breaks_a_plain_stretch() {
        let event = NeedleEvent {
            after_rows: 10,
            deed: Deed::Increase,
            needles: span(-1, -1),
            loops: 1,
            over: 0,
            side: None,
            in_work: 21,
        };
        let folds = folded(&piece(&[0; 20], vec![event]));
        assert_eq!(
            folds,
            [Fold::Plain { first: 0, count: 10 }, Fold::Plain { first: 10, count: 10 }]
        );
    }

    #[test]
    fn held_needles_follow_the_hand() {
        let mut holding = Holding::default();
        let mut take = |deed, left, right| {
            holding.take(&NeedleEvent {
                after_rows: 0,
                deed,
                needles: span(left, right),
                loops: 0,
                over: 0,
                side: None,
                in_work: 10,
            });
            holding.runs().to_vec()
        };
        assert_eq!(take(Deed::Hold, 0, 4), [(0, 4)]);
        assert_eq!(take(Deed::Hold, 5, 9), [(0, 9)]);
        assert_eq!(take(Deed::Wrap, 3, 3), [(0, 9)]);
        assert_eq!(take(Deed::Return, 3, 4), [(0, 2), (5, 9)]);
        assert_eq!(take(Deed::ScrapOff, 0, 2), [(5, 9)]);
    }
}
