//! Tubes from the side: each stretch goes on from the one before, and bends where it turns.

use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::ops::Range;

use super::fabric::Fabric;
use super::laid::Area;
use super::plane::{CHORD, PlaneLaying, Strip, turned};
use super::stacks::{Stack, cells, stacks};
use crate::drawing::canvas::Point;
use knit::cloth::Cloth;
use knit::run::PieceRun;
use knit::thread::Paint;
use knit::view::{Form, Patch, Strand, View};

/// How far from a turn of a tube the rows of its front begin to slant, in widths of that half.
const SLANT_OVER: f64 = 2.0;

/// Of the slope at which slanted rows would meet, the most that is drawn.
const STEEPEST: f64 = 0.8;

/// How far a step in width is eased, in widths of it.
const EASED_OVER: f64 = 0.5;

/// A stretch up to so many steps in width long goes straight from one width to the other.
const SHORT: f64 = 1.5;

/// From this many degrees on a turn closes the tube's end.
const CLOSES: f64 = 150.0;

/// One stretch of a tube seen from the side: where its middle runs, and how its rows lie.
pub(super) struct Tube {
    strips: Vec<Strip>,
    /// Where its first row meets the middle, and the way it grows.
    start: Point,
    way: Point,
    /// Along the middle, in mm; nought for a turn.
    long: f64,
    width: (f64, f64),
    stitch: f64,
    turn: f64,
    /// How far forward a closing turn reaches, as a share of its width, and the fabric round it in mm.
    reach: f64,
    around: f64,
    /// The piece and its rows: the same in other views of it.
    of: (String, Range<u32>),
    /// The halves, back and front.
    halves: [Half; 2],
    eased: Eased,
    /// The slant of the front's rows towards the turn behind and that ahead: distance to the turn
    /// from the start and from the end, over how far it goes, and degrees at the turn.
    behind: Slant,
    ahead: Slant,
}

/// A row of half a tube: where it ends along the middle, and its stitches.
#[derive(Clone, Copy, Debug)]
struct HalfRow {
    to: f64,
    stitches: usize,
    /// How many of them are drawn: as many as in the other views.
    drawn: f64,
}

type Half = Vec<HalfRow>;

impl HalfRow {
    fn wider(&self) -> f64 {
        self.drawn / self.stitches.max(1) as f64
    }
}

/// How a stretch is narrowed so that none stands out over its neighbours.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Eased {
    No,
    /// How far from its start and from its end, and how narrow it is there as a share of its own width.
    Ends([(f64, f64); 2]),
    /// Shorter than that: it goes from one width straight to the other.
    Between(f64, f64),
}

#[derive(Clone, Copy, Default)]
struct Slant {
    far: f64,
    over: f64,
    degrees: f64,
}

impl Slant {
    fn at(&self, along: f64) -> f64 {
        let distance = self.far + along;
        if self.over <= 0.0 || distance >= self.over {
            return 0.0;
        }
        self.degrees * (1.0 - distance / self.over)
    }
}

impl Tube {
    /// Half an ellipse about as long round as the fabric: pi (a + b) / 2.
    fn closing_reach(&self) -> f64 {
        let wide = self.width.0 * self.scale(0, 0.0);
        if self.turn < CLOSES || wide <= 0.0 {
            return 1.0;
        }
        (2.0 * self.around / (PI * wide) - 1.0).clamp(0.55, 1.2)
    }

    /// The direction from the middle to the front's edge.
    fn forward(&self) -> Point {
        turned(self.way, -90.0)
    }

    /// The row of a half that lies so far along.
    fn row_at(&self, half: usize, along: f64) -> Option<&HalfRow> {
        let rows = &self.halves[half];
        rows.get(rows.partition_point(|row| row.to <= along + 1e-9)).or(rows.last())
    }

    /// How much wider than its own stitches a half is drawn so far along.
    fn scale(&self, half: usize, along: f64) -> f64 {
        let even = self.row_at(half, along).map_or(1.0, HalfRow::wider);
        even * match self.eased {
            Eased::No => 1.0,
            Eased::Ends(ends) => {
                let ease = |(over, share): (f64, f64), distance: f64| {
                    let eased = over > 0.0 && distance < over;
                    if eased { share + (1.0 - share) * distance / over } else { 1.0 }
                };
                ease(ends[0], along) * ease(ends[1], self.long - along)
            }
            Eased::Between(from, to) => {
                let share = (along / self.long).clamp(0.0, 1.0);
                (from + (to - from) * share) / self.wide(along)
            }
        }
    }

    /// Both halves' width so far along, as it is in all views.
    fn wide(&self, along: f64) -> f64 {
        let drawn = |half: usize| self.row_at(half, along).map_or(0.0, |row| row.drawn);
        self.stitch * (drawn(0) + drawn(1))
    }

    /// Whether it is drawn otherwise along its length.
    fn varies(&self) -> bool {
        let uneven = |half: &Half| {
            half.windows(2).any(|pair| (pair[0].wider() - pair[1].wider()).abs() > 1e-9)
        };
        self.eased != Eased::No || self.halves.iter().any(uneven)
    }

    pub(super) fn lay(&self) -> (Vec<Area>, Vec<Vec<Point>>) {
        let forward = self.forward();
        if self.turn != 0.0 {
            let even = self.scale(0, 0.0);
            let map = |u: f64, v: f64| {
                let u = u * even;
                // From the back's edge about the middle to the front.
                let (sin, cos) = v.to_radians().sin_cos();
                let (back, ahead) = (u.abs() * cos, u.abs() * sin * self.reach);
                (
                    self.start.0 - forward.0 * back + self.way.0 * ahead,
                    self.start.1 - forward.1 * back + self.way.1 * ahead,
                )
            };
            let steps = (f64::INFINITY, CHORD);
            return PlaneLaying { map: &map, steps, bend: None }.lay(&self.strips);
        }
        let map = |u: f64, v: f64| {
            let middle = (self.start.0 + self.way.0 * v, self.start.1 + self.way.1 * v);
            let u = u * self.scale(usize::from(u > 0.0), v);
            let line = if u > 0.0 {
                turned(forward, self.behind.at(v) - self.ahead.at(self.long - v))
            } else {
                forward
            };
            (middle.0 + line.0 * u, middle.1 + line.1 * u)
        };
        let slanted = self.behind.degrees > 0.0 || self.ahead.degrees > 0.0;
        let step = match (self.varies(), slanted) {
            (true, _) => 2.5,
            (false, true) => 5.0,
            (false, false) => f64::INFINITY,
        };
        PlaneLaying { map: &map, steps: (f64::INFINITY, step), bend: Some(0.0) }.lay(&self.strips)
    }
}

impl Fabric<'_> {
    /// The tubes of a view, each going on from the one before.
    pub(super) fn tubes(&self, view: &View) -> Vec<Option<Tube>> {
        let mut all: Vec<Option<Tube>> = Vec::new();
        let (mut at, mut way) = ((0.0, 0.0), (0.0, 1.0));
        for part in &view.parts {
            let Form::Tube { front, turn } = &part.form else {
                all.push(None);
                continue;
            };
            let tube = self.find(&part.patch.piece).map(|(piece, cloth)| {
                self.tube(piece, cloth, &part.patch, front, *turn, (at, way))
            });
            if let Some(tube) = &tube {
                at = (at.0 + way.0 * tube.long, at.1 + way.1 * tube.long);
                way = turned(way, -tube.turn);
            }
            all.push(tube);
        }
        slant(&mut all);
        all
    }

    fn tube(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        front: &Strand,
        turn: f64,
        (start, way): (Point, Point),
    ) -> Tube {
        let rows = Self::rows(piece, patch);
        let stitch = self.stitch_mm(piece, rows.clone());
        // From the middle outwards.
        let mut back = stacks(&patch.strand, cloth, &rows);
        back.reverse();
        let front = stacks(front, cloth, &rows);
        let mut tube = Tube {
            strips: Vec::new(),
            start,
            way,
            long: 0.0,
            width: (back.len() as f64 * stitch, front.len() as f64 * stitch),
            stitch,
            turn,
            reach: 1.0,
            around: 0.0,
            of: (piece.name.clone(), rows.clone()),
            halves: [Vec::new(), Vec::new()],
            eased: Eased::No,
            behind: Slant::default(),
            ahead: Slant::default(),
        };
        if turn != 0.0 {
            let mut most: f64 = 0.0;
            for (i, column) in back.iter().enumerate() {
                let all = cells(column, &rows);
                most = most.max(all.iter().map(|(r, _)| self.row_mm(piece, *r)).sum());
                let each = turn / all.len().max(1) as f64;
                let mut strip =
                    Strip { u: (i as f64 * stitch, (i + 1) as f64 * stitch), runs: Vec::new() };
                for (n, (_, paint)) in all.iter().enumerate() {
                    strip.push(n as f64 * each, (n + 1) as f64 * each, *paint);
                }
                tube.strips.push(strip);
            }
            tube.strips.retain(|strip| !strip.runs.is_empty());
            let stitches = back.len();
            tube.halves[0].push(HalfRow { to: turn, stitches, drawn: stitches as f64 });
            tube.around = most;
            return tube;
        }
        for (nth, (columns, sign)) in [(back, -1.0), (front, 1.0)].into_iter().enumerate() {
            let (strips, half) = self.gathered(piece, &columns, rows.clone(), stitch, sign);
            tube.long = half.last().map_or(tube.long, |row| tube.long.max(row.to));
            tube.halves[nth] = half;
            if sign < 0.0 {
                tube.strips.extend(strips.into_iter().rev());
            } else {
                tube.strips.extend(strips);
            }
        }
        tube
    }

    /// Half of a tube, its stitches in each row close together from the middle outwards: what is
    /// taken in at a seam in the middle narrows the edge.
    fn gathered(
        &self,
        piece: &PieceRun,
        columns: &[Stack<'_>],
        rows: Range<u32>,
        stitch: f64,
        sign: f64,
    ) -> (Vec<Strip>, Half) {
        let mut by_row: Vec<Vec<Paint>> = vec![Vec::new(); rows.len()];
        for column in columns {
            for (row, paint) in cells(column, &rows) {
                by_row[(row - rows.start) as usize].push(paint);
            }
        }
        let mut strips: Vec<Strip> = (0..columns.len())
            .map(|i| {
                let (near, far) = (sign * i as f64 * stitch, sign * (i + 1) as f64 * stitch);
                Strip { u: (near.min(far), near.max(far)), runs: Vec::new() }
            })
            .collect();
        let mut at = 0.0;
        let mut half = Vec::new();
        for (row, paints) in rows.zip(&by_row) {
            if paints.is_empty() {
                continue;
            }
            let next = at + self.row_mm(piece, row);
            for (strip, paint) in strips.iter_mut().zip(paints) {
                strip.push(at, next, *paint);
            }
            at = next;
            half.push(HalfRow { to: at, stitches: paints.len(), drawn: paints.len() as f64 });
        }
        strips.retain(|strip| !strip.runs.is_empty());
        (strips, half)
    }
}

/// Draws a tube as wide in each view as in the others: it is folded flat, wherever its stitches are
/// divided between its sides.
pub(super) fn evened(views: &mut [Vec<Option<Tube>>]) {
    // By piece, rows, half, and how many rows that half has.
    type Which = (String, u32, u32, usize, usize);
    let mut known: BTreeMap<Which, (Vec<f64>, f64)> = BTreeMap::new();
    let key = |tube: &Tube, half: usize| {
        let (piece, rows) = &tube.of;
        (piece.clone(), rows.start, rows.end, half, tube.halves[half].len())
    };
    for tube in views.iter().flatten().flatten() {
        for (half, rows) in tube.halves.iter().enumerate() {
            let (sums, views) = known.entry(key(tube, half)).or_default();
            sums.resize(rows.len(), 0.0);
            sums.iter_mut().zip(rows).for_each(|(sum, row)| *sum += row.stitches as f64);
            *views += 1.0;
        }
    }
    for tube in views.iter_mut().flatten().flatten() {
        for half in 0..2 {
            let Some((sums, views)) = known.get(&key(tube, half)) else { continue };
            for (row, sum) in tube.halves[half].iter_mut().zip(sums) {
                row.drawn = sum / views;
            }
        }
        tube.reach = tube.closing_reach();
    }
}

/// Lets a stretch begin and end as wide as a narrower neighbour: fabric makes no shelf.
pub(super) fn eased(tubes: &mut [Option<Tube>]) {
    let ends: Vec<Option<(f64, f64)>> = tubes
        .iter()
        .map(|tube| tube.as_ref().filter(|t| t.turn == 0.0).map(|t| (t.wide(0.0), t.wide(t.long))))
        .collect();
    for (nth, tube) in tubes.iter_mut().enumerate() {
        let (Some(tube), Some((first, last))) = (tube, ends[nth]) else { continue };
        let before = nth.checked_sub(1).and_then(|at| ends[at]).map_or(first, |(_, end)| end);
        let after = ends.get(nth + 1).copied().flatten().map_or(last, |(start, _)| start);
        let (from, to) = (narrower(before, first), narrower(after, last));
        if (from, to) == (first, last) {
            continue;
        }
        // About as steep as a side that is narrowed by two stitches in two rows.
        let over = (EASED_OVER * (first - from), EASED_OVER * (last - to));
        tube.eased = if over.0 + over.1 > tube.long
            || (from < first && SHORT * (first - from) > tube.long)
        {
            Eased::Between(from, to)
        } else {
            Eased::Ends([(over.0, from / first), (over.1, to / last)])
        };
    }
}

fn narrower(other: f64, own: f64) -> f64 {
    if other > 0.0 && other < own - 1e-6 { other } else { own }
}

/// Slants the rows of the front towards each turn, so that a bent tube's front doesn't overlap.
fn slant(tubes: &mut [Option<Tube>]) {
    let straight = |tube: &Tube| tube.turn == 0.0;
    let turns: Vec<usize> = (0..tubes.len())
        .filter(|i| tubes[*i].as_ref().is_some_and(|t| t.turn > 0.0 && t.turn < CLOSES))
        .collect();
    for at in turns {
        let turn = tubes[at].as_ref().map_or(0.0, |t| t.turn);
        let before: Vec<usize> = (0..at)
            .rev()
            .take_while(|i| tubes[*i].as_ref().is_none_or(straight))
            .filter(|i| tubes[*i].is_some())
            .collect();
        let after: Vec<usize> = (at + 1..tubes.len())
            .take_while(|i| tubes[*i].as_ref().is_none_or(straight))
            .filter(|i| tubes[*i].is_some())
            .collect();
        let long = |which: &[usize]| -> f64 {
            which.iter().filter_map(|i| tubes[*i].as_ref()).map(|t| t.long).sum()
        };
        let width = before
            .iter()
            .chain(&after)
            .filter_map(|i| tubes[*i].as_ref())
            .map(|t| t.width.1)
            .fold(0.0, f64::max);
        if width <= 0.0 {
            continue;
        }
        let over = |which: &[usize]| long(which).min(SLANT_OVER * width);
        let most = |over: f64| (STEEPEST * over / width).to_degrees();
        let (back_over, fore_over) = (over(&before), over(&after));
        let back = (turn / 2.0).min(most(back_over));
        let fore = (turn - back).min(most(fore_over));
        let back = (turn - fore).min(most(back_over));
        for (which, over, degrees, is_ahead) in
            [(&before, back_over, back, true), (&after, fore_over, fore, false)]
        {
            let mut far = 0.0;
            for i in which {
                let Some(tube) = &mut tubes[*i] else { continue };
                let slant = Slant { far, over, degrees };
                far += tube.long;
                if is_ahead {
                    tube.ahead = slant;
                } else {
                    tube.behind = slant;
                }
            }
        }
    }
}
