//! A part as a plane of strips, and how the plane is laid on the picture.

use super::laid::Area;
use crate::drawing::canvas::Point;
use knit::thread::Paint;
use knit::view::Lie;

/// Arcs are drawn as chords of so many degrees: less than a thousandth of an area is lost.
pub(super) const CHORD: f64 = 4.0;

/// Far less than is seen.
const WITHIN: f64 = 1e-6;

/// Stitches one above another: from `u.0` to `u.1` across, and where each colour lies along.
pub(super) struct Strip {
    pub(super) u: (f64, f64),
    pub(super) runs: Vec<PaintRun>,
}

#[derive(Clone, Copy)]
pub(super) struct PaintRun {
    from: f64,
    pub(super) to: f64,
    paint: Paint,
}

/// A rectangle before it is laid.
#[derive(Clone, Copy)]
struct StripBlock {
    u: (f64, f64),
    v: (f64, f64),
    paint: Paint,
}

impl Strip {
    pub(super) fn push(&mut self, from: f64, to: f64, paint: Paint) {
        match self.runs.last_mut() {
            Some(last) if last.paint == paint && (last.to - from).abs() < 1e-9 => last.to = to,
            _ => self.runs.push(PaintRun { from, to, paint }),
        }
    }
}

/// Joins what lies side by side from the same height to the same height in one colour.
fn blocks(strips: &[Strip]) -> Vec<StripBlock> {
    let mut all: Vec<StripBlock> = Vec::new();
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
                    all.push(StripBlock { u: strip.u, v: (run.from, run.to), paint: run.paint });
                    next.push(all.len() - 1);
                }
            }
        }
        open = next;
    }
    all
}

/// How a part's plane is laid on the picture.
pub(super) struct PlaneLaying<'m> {
    /// From across and along to the picture.
    pub(super) map: &'m dyn Fn(f64, f64) -> Point,
    /// The longest step across and along that is drawn as a straight line.
    pub(super) steps: (f64, f64),
    /// Rows bend here.
    pub(super) bend: Option<f64>,
}

impl PlaneLaying<'_> {
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

    fn outline(&self, block: &StripBlock) -> Vec<Point> {
        // Both ends lie in the block's own rows, whose width the next rows may not share.
        let (from, to) = (block.v.0 + WITHIN, block.v.1 - WITHIN);
        let (u, v) = (self.across(block.u.0, block.u.1), self.along(from, to));
        let mut points: Vec<Point> = u.iter().map(|u| (self.map)(*u, from)).collect();
        points.extend(v[1..].iter().map(|v| (self.map)(block.u.1, *v)));
        points.extend(u.iter().rev().skip(1).map(|u| (self.map)(*u, to)));
        points.extend(v.iter().rev().skip(1).map(|v| (self.map)(block.u.0, *v)));
        points.pop();
        points
    }

    pub(super) fn lay(&self, strips: &[Strip]) -> (Vec<Area>, Vec<Vec<Point>>) {
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

pub(super) fn polar(radius: f64, degrees: f64) -> Point {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (radius * sin, -radius * cos)
}

pub(super) fn turned((x, y): Point, degrees: f64) -> Point {
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
pub(super) fn placed(
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
    PlaneLaying { map: &map, steps: (f64::INFINITY, f64::INFINITY), bend: None }.lay(strips)
}
