//! Tubes from the side: each stretch goes on from the one before, and bends where it turns.

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
    turn: f64,
    /// How far forward a closing turn reaches, as a share of its width.
    reach: f64,
    /// The slant of the front's rows towards the turn behind and that ahead: distance to the turn
    /// from the start and from the end, over how far it goes, and degrees at the turn.
    behind: Slant,
    ahead: Slant,
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
    /// The direction from the middle to the front's edge.
    fn forward(&self) -> Point {
        turned(self.way, -90.0)
    }

    pub(super) fn lay(&self) -> (Vec<Area>, Vec<Vec<Point>>) {
        let forward = self.forward();
        if self.turn != 0.0 {
            let map = |u: f64, v: f64| {
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
            let line = if u > 0.0 {
                turned(forward, self.behind.at(v) - self.ahead.at(self.long - v))
            } else {
                forward
            };
            (middle.0 + line.0 * u, middle.1 + line.1 * u)
        };
        let slanted = self.behind.degrees > 0.0 || self.ahead.degrees > 0.0;
        let step = if slanted { 5.0 } else { f64::INFINITY };
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
            turn,
            reach: 1.0,
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
            if turn >= CLOSES && tube.width.0 > 0.0 {
                // Half an ellipse about as long round as the fabric: pi (a + b) / 2.
                let reach = 2.0 * most / (PI * tube.width.0) - 1.0;
                tube.reach = reach.clamp(0.55, 1.2);
            }
            return tube;
        }
        for (columns, sign) in [(back, -1.0), (front, 1.0)] {
            let (strips, long) = self.gathered(piece, &columns, rows.clone(), stitch, sign);
            tube.long = tube.long.max(long);
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
    ) -> (Vec<Strip>, f64) {
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
        for (row, paints) in rows.zip(&by_row) {
            if paints.is_empty() {
                continue;
            }
            let next = at + self.row_mm(piece, row);
            for (strip, paint) in strips.iter_mut().zip(paints) {
                strip.push(at, next, *paint);
            }
            at = next;
        }
        strips.retain(|strip| !strip.runs.is_empty());
        (strips, at)
    }
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
