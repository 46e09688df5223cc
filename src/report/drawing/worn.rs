//! Where each stitch of a view lies, in mm of the garment: the run's fabric, cut into areas of one
//! colour. Stitches are as wide and as high as the gauge of their fabric says.

use std::f64::consts::PI;
use std::ops::Range;

use super::canvas::Point;
use crate::knit::cloth::{Cloth, Column};
use crate::knit::program::Structure;
use crate::knit::run::PieceRun;
use crate::knit::swatch::SwatchSet;
use crate::knit::thread::Paint;
use crate::knit::view::{Form, Lie, Patch, Round, Strand, View};

/// Arcs are drawn as chords of so many degrees: less than a thousandth of an area is lost.
const CHORD: f64 = 4.0;
/// How far from a turn of a tube the rows of its front begin to slant, in widths of that half.
const SLANT_OVER: f64 = 2.0;
/// Of the slope at which slanted rows would meet, the most that is drawn.
const STEEPEST: f64 = 0.8;
/// From this many degrees on a turn closes the tube's end.
const CLOSES: f64 = 150.0;

/// The pieces of a run, painted.
pub(super) struct Fabric<'a> {
    pub pieces: &'a [PieceRun],
    pub cloths: &'a [Cloth],
    pub swatches: &'a SwatchSet,
}

/// An area of one colour.
#[derive(Clone, Debug)]
pub(super) struct Area {
    pub paint: Paint,
    pub outline: Vec<Point>,
    /// Its middle, and how long and how high it is there.
    pub middle: Point,
    pub size: (f64, f64),
}

/// The fabric of one part of a view, and its outline.
#[derive(Clone, Debug)]
pub(super) struct LaidPart {
    pub piece: String,
    pub form: &'static str,
    pub areas: Vec<Area>,
    pub silhouette: Vec<Vec<Point>>,
}

#[derive(Clone, Debug)]
pub(super) struct LaidView {
    pub title: String,
    pub parts: Vec<LaidPart>,
    /// Left, top, right and bottom.
    pub bounds: (f64, f64, f64, f64),
}

/// Stitches one above another: from `u.0` to `u.1` across, and where each colour lies along.
struct Strip {
    u: (f64, f64),
    runs: Vec<Run>,
}

#[derive(Clone, Copy)]
struct Run {
    from: f64,
    to: f64,
    paint: Paint,
}

/// A rectangle before it is laid.
#[derive(Clone, Copy)]
struct Block {
    u: (f64, f64),
    v: (f64, f64),
    paint: Paint,
}

impl Strip {
    fn push(&mut self, from: f64, to: f64, paint: Paint) {
        match self.runs.last_mut() {
            Some(last) if last.paint == paint && (last.to - from).abs() < 1e-9 => last.to = to,
            _ => self.runs.push(Run { from, to, paint }),
        }
    }
}

/// Joins what lies side by side from the same height to the same height in one colour.
fn blocks(strips: &[Strip]) -> Vec<Block> {
    let mut all: Vec<Block> = Vec::new();
    // The blocks that reach the last strip's far edge, by height.
    let mut open: Vec<usize> = Vec::new();
    for strip in strips {
        let mut next = Vec::with_capacity(strip.runs.len());
        let mut candidates = open.iter().copied().peekable();
        for run in &strip.runs {
            while candidates.peek().is_some_and(|i| all[*i].v.0 < run.from - 1e-9) {
                candidates.next();
            }
            let same = candidates.peek().copied().filter(|i| {
                let block = &all[*i];
                block.paint == run.paint
                    && (block.v.0 - run.from).abs() < 1e-9
                    && (block.v.1 - run.to).abs() < 1e-9
                    && (block.u.1 - strip.u.0).abs() < 1e-9
            });
            match same {
                Some(i) => {
                    all[i].u.1 = strip.u.1;
                    next.push(i);
                }
                None => {
                    all.push(Block { u: strip.u, v: (run.from, run.to), paint: run.paint });
                    next.push(all.len() - 1);
                }
            }
        }
        open = next;
    }
    all
}

/// How a part's plane is laid on the picture.
struct Laying<'m> {
    /// From across and along to the picture.
    map: &'m dyn Fn(f64, f64) -> Point,
    /// The longest step across and along that is drawn as a straight line.
    steps: (f64, f64),
    /// Rows bend here.
    bend: Option<f64>,
}

impl Laying<'_> {
    fn across(&self, from: f64, to: f64) -> Vec<f64> {
        let mut at = vec![from];
        let bend = self.bend.filter(|b| from + 1e-9 < *b && *b < to - 1e-9);
        for end in bend.into_iter().chain([to]) {
            let start = at[at.len() - 1];
            let pieces = ((end - start) / self.steps.0).ceil().clamp(1.0, 1000.0);
            at.extend((1..=pieces as u32).map(|i| start + (end - start) * f64::from(i) / pieces));
        }
        at
    }

    fn along(&self, from: f64, to: f64) -> Vec<f64> {
        let pieces = ((to - from) / self.steps.1).ceil().clamp(1.0, 1000.0);
        (0..=pieces as u32).map(|i| from + (to - from) * f64::from(i) / pieces).collect()
    }

    fn outline(&self, block: &Block) -> Vec<Point> {
        let (u, v) = (self.across(block.u.0, block.u.1), self.along(block.v.0, block.v.1));
        let mut points: Vec<Point> = u.iter().map(|u| (self.map)(*u, block.v.0)).collect();
        points.extend(v[1..].iter().map(|v| (self.map)(block.u.1, *v)));
        points.extend(u.iter().rev().skip(1).map(|u| (self.map)(*u, block.v.1)));
        points.extend(v.iter().rev().skip(1).map(|v| (self.map)(block.u.0, *v)));
        points.pop();
        points
    }

    fn lay(&self, strips: &[Strip]) -> (Vec<Area>, Vec<Vec<Point>>) {
        let areas = blocks(strips)
            .iter()
            .map(|block| {
                let (u, v) = ((block.u.0 + block.u.1) / 2.0, (block.v.0 + block.v.1) / 2.0);
                let far = |a: Point, b: Point| (a.0 - b.0).hypot(a.1 - b.1);
                Area {
                    paint: block.paint,
                    outline: self.outline(block),
                    middle: (self.map)(u, v),
                    size: (
                        far((self.map)(block.u.0, v), (self.map)(block.u.1, v)),
                        far((self.map)(u, block.v.0), (self.map)(u, block.v.1)),
                    ),
                }
            })
            .collect();
        let bare: Vec<Strip> = strips
            .iter()
            .map(|strip| {
                let mut bare = Strip { u: strip.u, runs: Vec::new() };
                for run in &strip.runs {
                    bare.push(run.from, run.to, None);
                }
                bare
            })
            .collect();
        let silhouette = blocks(&bare).iter().map(|block| self.outline(block)).collect();
        (areas, silhouette)
    }
}

/// The stitches one above another at one place: those of a needle, and of the needle over which
/// its loop was transferred to the other bed.
type Stack<'c> = Vec<&'c Column>;

/// The stitches of a stack that a patch takes, oldest first: row of the piece and colour.
fn cells(stack: &[&Column], rows: &Range<u32>) -> Vec<(u32, Paint)> {
    let mut all = Vec::new();
    for column in stack {
        let (from, to) = within(column, rows);
        all.extend(
            column.rows[from..to].iter().copied().zip(column.paints[from..to].iter().copied()),
        );
    }
    all
}

fn within(column: &Column, rows: &Range<u32>) -> (usize, usize) {
    let from = column.rows.partition_point(|r| *r < rows.start);
    (from, column.rows.partition_point(|r| *r < rows.end).max(from))
}

/// The stacks of a strand that have a stitch in these rows, in the order in which they are seen.
fn stacks<'c>(strand: &Strand, cloth: &'c Cloth, rows: &Range<u32>) -> Vec<Stack<'c>> {
    let mut all: Vec<Stack<'c>> = Vec::new();
    for column in strand.columns(cloth) {
        let (from, to) = within(column, rows);
        if from == to {
            continue;
        }
        if let Some(stack) = all.last_mut()
            && stack[0].needle == column.needle
        {
            // One bed after the other: a transferred loop. Both in turn: a tube's two sides.
            let span = |c: &Column| (c.rows[0], c.rows[c.rows.len() - 1]);
            let (one, other) = (span(stack[0]), span(column));
            if one.1 < other.0 {
                stack.push(column);
                continue;
            }
            if other.1 < one.0 {
                stack.insert(0, column);
                continue;
            }
        }
        all.push(vec![column]);
    }
    all
}

impl Fabric<'_> {
    fn find(&self, name: &str) -> Option<(&PieceRun, &Cloth)> {
        self.pieces.iter().zip(self.cloths).find(|(piece, _)| piece.name == name)
    }

    fn row_mm(&self, piece: &PieceRun, row: u32) -> f64 {
        let structure = piece.rows[row as usize].structure;
        self.swatches.gauge(structure.gauged_as()).rows.pitch_mm()
    }

    /// The width of a stitch in what most of these rows are.
    fn stitch_mm(&self, piece: &PieceRun, rows: Range<u32>) -> f64 {
        let count = |s: Structure| {
            let rows = &piece.rows[rows.start as usize..rows.end as usize];
            rows.iter().filter(|r| r.structure.gauged_as() == s).count()
        };
        let most = Structure::ALL.into_iter().max_by_key(|s| (count(*s), *s == Structure::Plain));
        self.swatches.gauge(most.unwrap_or(Structure::Plain)).stitches.pitch_mm()
    }

    pub fn lay(&self, view: &View) -> LaidView {
        let mut parts: Vec<LaidPart> = Vec::new();
        let mut below = None;
        let radii = self.radii(view);
        let tubes = self.tubes(view);
        for (index, part) in view.parts.iter().enumerate() {
            let Some((piece, cloth)) = self.find(&part.patch.piece) else { continue };
            let (form, (areas, silhouette)) = match &part.form {
                Form::Flat(lie) => ("flat", self.flat(piece, cloth, &part.patch, lie, &mut below)),
                Form::Side(lie) => ("side", self.side(piece, cloth, &part.patch, lie, &mut below)),
                Form::Rings(round) => {
                    ("rings", self.rings(piece, cloth, &part.patch, round, radii[index]))
                }
                Form::Band(round) => {
                    ("band", self.band(piece, cloth, &part.patch, round, radii[index]))
                }
                Form::Tube { .. } => match &tubes[index] {
                    Some(tube) => ("tube", tube.lay()),
                    None => continue,
                },
            };
            parts.push(LaidPart { piece: piece.name.clone(), form, areas, silhouette });
        }
        if view.mirror {
            for part in &mut parts {
                let mirrored = |p: &mut Point| p.0 = -p.0;
                part.silhouette.iter_mut().flatten().for_each(mirrored);
                for area in &mut part.areas {
                    area.outline.iter_mut().for_each(mirrored);
                    mirrored(&mut area.middle);
                }
            }
        }
        let mut bounds = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (x, y) in parts.iter().flat_map(|p| &p.silhouette).flatten() {
            bounds = (bounds.0.min(*x), bounds.1.min(*y), bounds.2.max(*x), bounds.3.max(*y));
        }
        if bounds.0 > bounds.2 {
            bounds = (0.0, 0.0, 0.0, 0.0);
        }
        LaidView { title: view.title.clone(), parts, bounds }
    }

    /// The rows of a patch, its share taken.
    fn rows(piece: &PieceRun, patch: &Patch) -> Range<u32> {
        let rows = patch.rows(piece);
        let length = f64::from(rows.end - rows.start);
        let at = |share: f64| rows.start + (share * length).round() as u32;
        at(patch.share.0)..at(patch.share.1)
    }

    /// Columns of a patch as strips, each at its own height above the lowest.
    fn upright(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        width: impl Fn(usize, usize) -> (f64, f64),
    ) -> Vec<Strip> {
        let rows = Self::rows(piece, patch);
        let columns = stacks(&patch.strand, cloth, &rows);
        // Where a needle came into work later, the fabric beside it says how high that was.
        let tallest = cloth.columns.iter().max_by_key(|c| c.rows.len());
        let level = |n: u32| -> f64 {
            let rows = tallest.map_or(&[][..], |c| &c.rows);
            rows.iter().take(n as usize).map(|r| self.row_mm(piece, *r)).sum()
        };
        let starts: Vec<f64> = columns
            .iter()
            .map(|stack| {
                let before = cells(stack, &(0..rows.start));
                let high: f64 = before.iter().map(|(r, _)| self.row_mm(piece, *r)).sum();
                level(stack[0].base) + high
            })
            .collect();
        let lowest = starts.iter().copied().fold(f64::INFINITY, f64::min);
        columns
            .iter()
            .zip(&starts)
            .enumerate()
            .map(|(i, (stack, start))| {
                let mut strip = Strip { u: width(i, columns.len()), runs: Vec::new() };
                let mut at = start - lowest;
                for (row, paint) in cells(stack, &rows) {
                    let next = at + self.row_mm(piece, row);
                    strip.push(at, next, paint);
                    at = next;
                }
                strip
            })
            .collect()
    }

    fn flat(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        lie: &Lie,
        below: &mut Option<Point>,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let stitch = self.stitch_mm(piece, Self::rows(piece, patch));
        let strips =
            self.upright(piece, cloth, patch, |i, _| (i as f64 * stitch, (i + 1) as f64 * stitch));
        placed(&strips, |u, v| (u, -v), lie, below)
    }

    fn side(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        lie: &Lie,
        below: &mut Option<Point>,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let rows = patch.rows(piece);
        let stitch = self.stitch_mm(piece, rows.clone());
        let strips: Vec<Strip> = stacks(&patch.strand, cloth, &rows)
            .iter()
            .enumerate()
            .map(|(i, stack)| {
                let part = share_of(stack, &rows, patch.share);
                let long: f64 = part.iter().map(|(r, _)| self.row_mm(piece, *r)).sum();
                let mut strip =
                    Strip { u: (i as f64 * stitch, (i + 1) as f64 * stitch), runs: Vec::new() };
                let mut at = -long / 2.0;
                for (row, paint) in part {
                    let next = at + self.row_mm(piece, row);
                    strip.push(at, next, paint);
                    at = next;
                }
                strip
            })
            .filter(|strip| !strip.runs.is_empty())
            .collect();
        // From right to left: as the rows run round when they are seen from the knit side.
        placed(&strips, |u, v| (-v, u), lie, below)
    }

    /// From the centre to the outer edge of each round part.
    fn radii(&self, view: &View) -> Vec<f64> {
        let depth = |index: usize| -> f64 {
            let part = &view.parts[index];
            let Some((piece, cloth)) = self.find(&part.patch.piece) else { return 0.0 };
            let rows = Self::rows(piece, &part.patch);
            match part.form {
                Form::Rings(_) => {
                    stacks(&part.patch.strand, cloth, &rows).len() as f64
                        * self.stitch_mm(piece, rows)
                }
                Form::Band(_) => stacks(&part.patch.strand, cloth, &rows)
                    .iter()
                    .map(|c| cells(c, &rows).iter().map(|(r, _)| self.row_mm(piece, *r)).sum())
                    .fold(0.0, f64::max),
                _ => 0.0,
            }
        };
        let rounds: Vec<Option<&Round>> = view
            .parts
            .iter()
            .map(|part| match &part.form {
                Form::Rings(round) | Form::Band(round) => Some(round),
                _ => None,
            })
            .collect();
        let whole: f64 = (0..view.parts.len())
            .filter(|i| rounds[*i].is_some_and(|r| !r.beside))
            .map(depth)
            .sum();
        let (mut outer, mut inner) = (whole, whole);
        let mut radii = Vec::with_capacity(view.parts.len());
        for (index, round) in rounds.iter().enumerate() {
            if let Some(round) = round {
                outer = round.radius_mm.unwrap_or(if round.beside { outer } else { inner });
                inner = outer - depth(index);
            }
            radii.push(outer);
        }
        radii
    }

    fn rings(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        round: &Round,
        radius: f64,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let rows = patch.rows(piece);
        let stitch = self.stitch_mm(piece, rows.clone());
        let degrees = (round.arc.1 - round.arc.0).abs();
        let strips: Vec<Strip> = stacks(&patch.strand, cloth, &rows)
            .iter()
            .enumerate()
            .map(|(i, stack)| {
                let part = share_of(stack, &rows, patch.share);
                let each = degrees / part.len().max(1) as f64;
                let mut strip =
                    Strip { u: (i as f64 * stitch, (i + 1) as f64 * stitch), runs: Vec::new() };
                for (n, (_, paint)) in part.iter().enumerate() {
                    let at = n as f64 * each;
                    strip.push(at, at + each, *paint);
                }
                strip
            })
            .filter(|strip| !strip.runs.is_empty())
            .collect();
        let map = |u: f64, v: f64| polar((radius - u).max(0.0), round.at(v));
        Laying { map: &map, steps: (f64::INFINITY, CHORD), bend: None }.lay(&strips)
    }

    fn band(
        &self,
        piece: &PieceRun,
        cloth: &Cloth,
        patch: &Patch,
        round: &Round,
        radius: f64,
    ) -> (Vec<Area>, Vec<Vec<Point>>) {
        let degrees = (round.arc.1 - round.arc.0).abs();
        let strips = self.upright(piece, cloth, patch, |i, n| {
            let each = degrees / n.max(1) as f64;
            (i as f64 * each, (i + 1) as f64 * each)
        });
        let deep = strips.iter().flat_map(|s| &s.runs).map(|r| r.to).fold(0.0, f64::max);
        let map = |u: f64, v: f64| {
            let in_from_edge = if round.turned { deep - v } else { v };
            polar((radius - in_from_edge).max(0.0), round.at(u))
        };
        Laying { map: &map, steps: (CHORD, f64::INFINITY), bend: None }.lay(&strips)
    }
}

/// So much of a stack's stitches.
fn share_of(stack: &[&Column], rows: &Range<u32>, share: (f64, f64)) -> Vec<(u32, Paint)> {
    let all = cells(stack, rows);
    let at = |share: f64| ((share * all.len() as f64).round() as usize).min(all.len());
    all[at(share.0)..at(share.1)].to_vec()
}

fn polar(radius: f64, degrees: f64) -> Point {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (radius * sin, -radius * cos)
}

fn turned((x, y): Point, degrees: f64) -> Point {
    let (sin, cos) = match degrees {
        // A quarter is a quarter, to the last bit.
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        other => other.to_radians().sin_cos(),
    };
    (x * cos - y * sin, x * sin + y * cos)
}

/// Lays flat fabric: turned, its lower edge where it belongs or below the part before.
fn placed(
    strips: &[Strip],
    plane: impl Fn(f64, f64) -> Point,
    lie: &Lie,
    below: &mut Option<Point>,
) -> (Vec<Area>, Vec<Vec<Point>>) {
    let quarter = |u: f64, v: f64| turned(plane(u, v), f64::from(lie.quarters) * 90.0);
    let ends: Vec<(Point, Point)> = strips
        .iter()
        .flat_map(|s| s.runs.iter().map(|r| (quarter(s.u.0, r.from), quarter(s.u.1, r.to))))
        .collect();
    if ends.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let top = ends.iter().map(|(a, b)| a.1.min(b.1)).fold(f64::INFINITY, f64::min);
    let bottom = ends.iter().map(|(a, b)| a.1.max(b.1)).fold(f64::NEG_INFINITY, f64::max);
    // The middle of the upper and of the lower edge.
    let middle = |edge: f64| {
        let (left, right) = ends
            .iter()
            .filter(|(a, b)| (a.1 - edge).abs() < 1e-6 || (b.1 - edge).abs() < 1e-6)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(left, right), (a, b)| {
                (left.min(a.0).min(b.0), right.max(a.0).max(b.0))
            });
        (left + right) / 2.0
    };
    let (upper, lower) = (middle(top), middle(bottom));
    let at = match (lie.at, *below) {
        (Some((x, y)), _) => (x, -y),
        (None, None) => (0.0, 0.0),
        (None, Some((x, y))) => (x + lower - upper, y + bottom - top),
    };
    if lie.at.is_none() {
        *below = Some(at);
    }
    let map = |u: f64, v: f64| {
        let (x, y) = quarter(u, v);
        let (x, y) = turned((x - lower, y - bottom), lie.lean);
        (x + at.0, y + at.1)
    };
    Laying { map: &map, steps: (f64::INFINITY, f64::INFINITY), bend: None }.lay(strips)
}

/// One stretch of a tube seen from the side: where its middle runs, and how its rows lie.
struct Tube {
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

    fn lay(&self) -> (Vec<Area>, Vec<Vec<Point>>) {
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
            return Laying { map: &map, steps, bend: None }.lay(&self.strips);
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
        Laying { map: &map, steps: (f64::INFINITY, step), bend: Some(0.0) }.lay(&self.strips)
    }
}

impl Fabric<'_> {
    /// The tubes of a view, each going on from the one before.
    fn tubes(&self, view: &View) -> Vec<Option<Tube>> {
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
