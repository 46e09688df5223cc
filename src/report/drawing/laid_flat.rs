//! A piece laid flat, in mm of fabric: every row a strip as wide as its needles and as high as its
//! gauge, lying on the highest fabric below it. So each column is as high as its rows, halves
//! knitted one after the other lie side by side, and short rows leave the notch that closes as they
//! are knitted. A tube is folded flat; its back, on the main bed, is what is drawn.

use std::collections::BTreeMap;

use super::outline::outlines;
use knit::needle::Span;
use knit::program::Structure;
use knit::run::{Deed, PieceRun, RowRun};
use knit::swatch::SwatchSet;

#[derive(Clone, Debug, PartialEq)]
pub struct LaidFlat {
    /// Outlines, against the clock, holes with it; `x` from the middle of the cast-on, `y` upwards
    /// from it. Slopes of single stitches are drawn as slopes.
    pub outlines: Vec<Vec<(f64, f64)>>,
    /// Stretches of one fabric, in knitting order.
    pub zones: Vec<Zone>,
    /// Where loops are taken off or cast on amid the fabric: from `x` to `x`, at a height.
    pub openings: Vec<(f64, f64, f64)>,
    /// Of everything: left, right, top.
    pub left: f64,
    pub right: f64,
    pub height: f64,
    /// Rows of the highest column: rounds, for a tube.
    pub rows: u32,
    /// Whether short rows leave notches.
    pub notched: bool,
    pub tube: bool,
    /// Stitches of the last row, and its needles' middle and width in mm.
    pub top: (u32, f64, f64),
}

#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    pub structure: Structure,
    /// Bottom and top.
    pub from: f64,
    pub to: f64,
    /// The most stitches side by side, and where they lie, in mm.
    pub stitches: u32,
    pub left: f64,
    pub right: f64,
    pub row_mm: f64,
}

impl Zone {
    pub fn height(&self) -> f64 {
        self.to - self.from
    }

    /// Rows of its highest column.
    pub fn rows(&self) -> u32 {
        (self.height() / self.row_mm).round() as u32
    }
}

struct PieceLaying<'a> {
    piece: &'a PieceRun,
    swatches: &'a SwatchSet,
    left: i32,
    /// By needle: height in mm, and rows.
    height: Vec<f64>,
    rows: Vec<u32>,
    /// `[left, right, bottom, top]` of each strip.
    strips: Vec<[f64; 4]>,
    middle: f64,
    zones: Vec<Zone>,
    notched: bool,
    gauges: BTreeMap<Structure, (f64, f64)>,
}

impl LaidFlat {
    /// Whether the other is this one seen in a mirror.
    pub fn mirrors(&self, other: &LaidFlat) -> bool {
        let sorted = |flat: &LaidFlat, way: f64| {
            let round = |v: f64| (v * 1000.0).round() as i64;
            let outline =
                flat.outlines.iter().flatten().map(|(x, y)| (round(way * x), round(*y), 0));
            let openings = flat.openings.iter().flat_map(|(from, to, y)| {
                let (from, to) = (way * from, way * to);
                [(round(from.min(to)), round(*y), 1), (round(from.max(to)), round(*y), 2)]
            });
            let mut all: Vec<(i64, i64, i64)> = outline.chain(openings).collect();
            all.sort_unstable();
            all
        };
        self.zones.len() == other.zones.len()
            && self
                .zones
                .iter()
                .zip(&other.zones)
                .all(|(a, b)| (a.structure, a.stitches) == (b.structure, b.stitches))
            && sorted(self, 1.0) == sorted(other, -1.0)
    }

    /// `None` for a piece without a row.
    pub fn of(piece: &PieceRun, swatches: &SwatchSet) -> Option<LaidFlat> {
        let needles = piece.needles?;
        let first = piece.rows.first()?;
        let cast_on = piece
            .events
            .iter()
            .find(|e| matches!(e.deed, Deed::CastOn | Deed::Rehang | Deed::PickUp));
        let middle = cast_on.map_or_else(
            || {
                let spans = covered(piece, first);
                let (l, r) = (spans.first().map_or(0, |s| s.0), spans.last().map_or(0, |s| s.1));
                f64::from(l + r + 1) / 2.0
            },
            |e| f64::from(e.needles.left.0 + e.needles.right.0 + 1) / 2.0,
        );
        let wide = needles.len() as usize;
        let mut laying = PieceLaying {
            piece,
            swatches,
            left: needles.left.0,
            height: vec![0.0; wide],
            rows: vec![0; wide],
            strips: Vec::new(),
            middle,
            zones: Vec::new(),
            notched: false,
            gauges: BTreeMap::new(),
        };
        let mut openings = Vec::new();
        let mut events = piece.events.iter().peekable();
        for (index, row) in piece.rows.iter().enumerate() {
            while let Some(event) = events.next_if(|e| e.after_rows as usize <= index) {
                let amid = index > 0 && matches!(event.deed, Deed::ScrapOff | Deed::CastOff);
                if amid && laying.knits_again(event.needles, index) {
                    openings.push(laying.opening(event.needles, row.structure));
                }
            }
            laying.row(row);
        }
        let last = piece.rows.last()?;
        Some(laying.finish(openings, last))
    }
}

/// The needles a pass knits, both beds together for a rib, as runs that don't touch.
fn covered(piece: &PieceRun, row: &RowRun) -> Vec<(i32, i32)> {
    let mut runs: Vec<(i32, i32)> =
        piece.spans_of(row).iter().map(|s| (s.span.left.0, s.span.right.0)).collect();
    runs.sort_unstable();
    let mut joined: Vec<(i32, i32)> = Vec::with_capacity(runs.len());
    for (left, right) in runs {
        match joined.last_mut() {
            Some((_, end)) if left <= *end + 1 => *end = (*end).max(right),
            _ => joined.push((left, right)),
        }
    }
    joined
}

impl PieceLaying<'_> {
    /// Stitch and row pitch.
    fn pitches(&mut self, structure: Structure) -> (f64, f64) {
        *self.gauges.entry(structure).or_insert_with(|| {
            let gauge = self.swatches.gauge(structure.gauged_as());
            (gauge.stitches.pitch_mm(), gauge.rows.pitch_mm())
        })
    }

    /// Whether all these needles knit after a row: the fabric goes on above what came off.
    fn knits_again(&self, needles: Span, after: usize) -> bool {
        self.piece.rows[after..].iter().any(|row| {
            covered(self.piece, row)
                .iter()
                .any(|(l, r)| *l < needles.left.0 && *r > needles.right.0)
        })
    }

    fn opening(&mut self, needles: Span, structure: Structure) -> (f64, f64, f64) {
        let (stitch, _) = self.pitches(structure);
        let at = |needle: i32| (f64::from(needle) - self.middle) * stitch;
        let (from, to) = (needles.left.0 - self.left, needles.right.0 - self.left);
        let height = self.height[from as usize..=to as usize].iter().copied().fold(0.0, f64::max);
        (at(needles.left.0), at(needles.right.0 + 1), height)
    }

    fn row(&mut self, row: &RowRun) {
        let runs = covered(self.piece, row);
        // The front of a tube lies under its back.
        if row.structure == Structure::Circular && self.piece.spans_of(row).iter().all(|s| s.ribber)
        {
            return;
        }
        let (stitch, row_mm) = self.pitches(row.structure);
        let mut box_of = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, 0.0];
        let mut widest = (0, 0.0, 0.0);
        for &(left, right) in &runs {
            let range = (left - self.left) as usize..=(right - self.left) as usize;
            let bottom = self.height[range.clone()].iter().copied().fold(0.0, f64::max);
            let rows = self.rows[range.clone()].iter().copied().max().unwrap_or_default();
            let top = bottom + row_mm;
            let x0 = (f64::from(left) - self.middle) * stitch;
            let x1 = (f64::from(right + 1) - self.middle) * stitch;
            self.notched |= self.height[range.clone()].iter().any(|h| (h - bottom).abs() > 1e-9);
            match self.strips.last_mut() {
                Some(last) if last[0] == x0 && last[1] == x1 && last[3] == bottom => last[3] = top,
                _ => self.strips.push([x0, x1, bottom, top]),
            }
            for i in range {
                self.height[i] = top;
                self.rows[i] = rows + 1;
            }
            let stitches = (right - left + 1) as u32;
            if stitches > widest.0 {
                widest = (stitches, x0, x1);
            }
            box_of =
                [box_of[0].min(x0), box_of[1].max(x1), box_of[2].min(bottom), box_of[3].max(top)];
        }
        if widest.0 == 0 {
            return;
        }
        match self.zones.last_mut() {
            Some(zone) if zone.structure == row.structure => {
                zone.from = zone.from.min(box_of[2]);
                zone.to = zone.to.max(box_of[3]);
                if widest.0 > zone.stitches {
                    (zone.stitches, zone.left, zone.right) = widest;
                }
            }
            _ => self.zones.push(Zone {
                structure: row.structure,
                from: box_of[2],
                to: box_of[3],
                stitches: widest.0,
                left: widest.1,
                right: widest.2,
                row_mm,
            }),
        }
    }

    fn finish(mut self, openings: Vec<(f64, f64, f64)>, last: &RowRun) -> LaidFlat {
        let (stitch, _) = self.pitches(last.structure);
        let top = covered(self.piece, last)
            .last()
            .map(|(l, r)| {
                let middle = (f64::from(l + r + 1) / 2.0 - self.middle) * stitch;
                ((r - l + 1) as u32, middle, f64::from(r - l + 1) * stitch)
            })
            .unwrap_or_default();
        let (mut left, mut right, mut height) = (0.0_f64, 0.0_f64, 0.0_f64);
        for strip in &self.strips {
            (left, right, height) = (left.min(strip[0]), right.max(strip[1]), height.max(strip[3]));
        }
        LaidFlat {
            outlines: outlines(&self.strips),
            zones: self.zones,
            openings,
            left,
            right,
            height,
            rows: self.rows.iter().copied().max().unwrap_or_default(),
            notched: self.notched,
            tube: self.piece.structure == Structure::Circular,
            top,
        }
    }
}
