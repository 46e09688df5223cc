//! From squares of a grid to outlines of what is alike.

use std::collections::BTreeMap;

use crate::drawing::canvas::Point;

/// A corner of squares: columns from the left, rows from the top.
type Corner = (u32, u32);

/// How far an outline may stray from the squares, in squares.
const STRAY: f64 = 0.4;

/// The outlines of all squares of one kind, by kind, holes among them. In squares from the upper left.
///
/// Where two kinds meet, both outlines run through the same points, so that no gap is between them.
pub(super) fn contours<K: Copy + Ord>(
    kinds: &[K],
    wide: usize,
    nothing: K,
) -> BTreeMap<K, Vec<Vec<Point>>> {
    let grid = Grid { kinds, wide, high: kinds.len() / wide.max(1), nothing };
    let mut outlines = BTreeMap::new();
    for (kind, sides) in grid.sides() {
        let loops = grid.loops(sides);
        outlines.insert(kind, loops.iter().map(|corners| grid.smoothed(corners)).collect());
    }
    outlines
}

struct Grid<'k, K> {
    kinds: &'k [K],
    wide: usize,
    high: usize,
    nothing: K,
}

/// By corner, where the sides that begin there lead: two at most.
type Sides = BTreeMap<Corner, Vec<Corner>>;

impl<K: Copy + Ord> Grid<'_, K> {
    fn kind(&self, column: i64, row: i64) -> K {
        let within = |at: i64, most: usize| usize::try_from(at).ok().filter(|at| *at < most);
        match (within(column, self.wide), within(row, self.high)) {
            (Some(column), Some(row)) => self.kinds[row * self.wide + column],
            _ => self.nothing,
        }
    }

    /// By kind, the sides of its squares towards others, clockwise round the square.
    fn sides(&self) -> BTreeMap<K, Sides> {
        let mut all: BTreeMap<K, Sides> = BTreeMap::new();
        for row in 0..self.high as i64 {
            for column in 0..self.wide as i64 {
                let own = self.kind(column, row);
                if own == self.nothing {
                    continue;
                }
                let (x, y) = (column as u32, row as u32);
                let round = [
                    (self.kind(column, row - 1), (x, y), (x + 1, y)),
                    (self.kind(column + 1, row), (x + 1, y), (x + 1, y + 1)),
                    (self.kind(column, row + 1), (x + 1, y + 1), (x, y + 1)),
                    (self.kind(column - 1, row), (x, y + 1), (x, y)),
                ];
                for (_, from, to) in round.into_iter().filter(|(other, ..)| *other != own) {
                    all.entry(own).or_default().entry(from).or_default().push(to);
                }
            }
        }
        all
    }

    fn loops(&self, mut sides: Sides) -> Vec<Vec<Corner>> {
        let mut loops = Vec::new();
        while let Some((first, _)) = sides.first_key_value() {
            let first = *first;
            let (mut at, mut before) = (first, None);
            let mut corners = Vec::new();
            while let Some(next) = take_side(&mut sides, at, before) {
                corners.push(at);
                before = Some(at);
                at = next;
                if at == first {
                    break;
                }
            }
            loops.push(corners);
        }
        loops
    }

    /// Whether more than two outlines meet there.
    fn is_junction(&self, (x, y): Corner) -> bool {
        let (x, y) = (i64::from(x), i64::from(y));
        let round = [(x - 1, y - 1), (x, y - 1), (x, y), (x - 1, y)].map(|(c, r)| self.kind(c, r));
        (0..4).filter(|n| round[*n] != round[(n + 1) % 4]).count() != 2
    }

    fn smoothed(&self, corners: &[Corner]) -> Vec<Point> {
        let junctions: Vec<usize> =
            (0..corners.len()).filter(|n| self.is_junction(corners[*n])).collect();
        let Some(first) = junctions.first() else { return smooth_ring(corners) };
        let mut ends = junctions.clone();
        ends.push(first + corners.len());
        let mut outline = Vec::new();
        for pair in ends.windows(2) {
            let arc: Vec<Corner> =
                (pair[0]..=pair[1]).map(|n| corners[n % corners.len()]).collect();
            let mut points = smooth_arc(&arc);
            // The end is the beginning of the next.
            points.pop();
            outline.extend(points);
        }
        outline
    }
}

/// The side that begins at a corner; of two the one that turns right, so that squares that touch at
/// a corner alone have outlines of their own.
fn take_side(sides: &mut Sides, at: Corner, before: Option<Corner>) -> Option<Corner> {
    let ways = sides.get_mut(&at)?;
    let turn = |to: Corner| {
        let Some(before) = before else { return 0 };
        let step = |a: Corner, b: Corner| {
            (i64::from(b.0) - i64::from(a.0), i64::from(b.1) - i64::from(a.1))
        };
        let (came, goes) = (step(before, at), step(at, to));
        came.0 * goes.1 - came.1 * goes.0
    };
    let best = (0..ways.len()).max_by_key(|n| turn(ways[*n]))?;
    let next = ways.swap_remove(best);
    if ways.is_empty() {
        sides.remove(&at);
    }
    Some(next)
}

fn point((x, y): Corner) -> Point {
    (f64::from(x), f64::from(y))
}

/// From junction to junction. The same points, whichever side it is walked from.
fn smooth_arc(corners: &[Corner]) -> Vec<Point> {
    let (first, last) = (corners[0], corners[corners.len() - 1]);
    let (second, before) = (corners[1], corners[corners.len() - 2]);
    let turned = (last, before) < (first, second);
    let mut points: Vec<Point> = corners.iter().map(|corner| point(*corner)).collect();
    if turned {
        points.reverse();
    }
    for _ in 0..2 {
        let middle = |three: &[Point]| between(three[0], three[1], three[2]);
        let inner: Vec<Point> = points.windows(3).map(middle).collect();
        let end = points.len() - 1;
        points[1..end].copy_from_slice(&inner);
    }
    let mut kept = straightened(&points);
    if turned {
        kept.reverse();
    }
    kept
}

/// An outline that meets no other than the one on its far side.
fn smooth_ring(corners: &[Corner]) -> Vec<Point> {
    let count = corners.len();
    // Begun at the same corner and walked the same way from either side.
    let least = (0..count).min_by_key(|n| corners[*n]).unwrap_or_default();
    let at = |n: usize| corners[(least + n) % count];
    let turned = at(1) > at(count - 1);
    let ring = |n: usize| point(at(if turned { (count - n) % count } else { n }));
    let mut points: Vec<Point> = (0..count).map(ring).collect();
    for _ in 0..2 {
        let before = points.clone();
        for (n, own) in points.iter_mut().enumerate() {
            *own = between(before[(n + count - 1) % count], before[n], before[(n + 1) % count]);
        }
    }
    let half = count / 2;
    let mut kept = straightened(&points[..=half]);
    kept.pop();
    let mut rest = points[half..].to_vec();
    rest.push(points[0]);
    kept.extend(straightened(&rest));
    kept.pop();
    if turned {
        kept.reverse();
    }
    kept
}

fn between(before: Point, own: Point, after: Point) -> Point {
    ((before.0 + after.0 + 2.0 * own.0) / 4.0, (before.1 + after.1 + 2.0 * own.1) / 4.0)
}

/// Without the points that a line comes near to anyway (Douglas and Peucker's way, without recursion).
fn straightened(points: &[Point]) -> Vec<Point> {
    let mut keep = vec![false; points.len()];
    let last = points.len() - 1;
    keep[0] = true;
    keep[last] = true;
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let far = |n: usize| distance(points[n], points[from], points[to]);
        let most = (from + 1..to).max_by(|a, b| far(*a).total_cmp(&far(*b)));
        if let Some(most) = most.filter(|most| far(*most) > STRAY) {
            keep[most] = true;
            spans.push((from, most));
            spans.push((most, to));
        }
    }
    let kept = points.iter().zip(keep).filter(|(_, keep)| *keep);
    kept.map(|(point, _)| *point).collect()
}

/// Of a point from the stretch between two others.
fn distance(point: Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let long = dx * dx + dy * dy;
    let along = if long > 0.0 {
        (((point.0 - from.0) * dx + (point.1 - from.1) * dy) / long).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let (x, y) = (point.0 - from.0 - along * dx, point.1 - from.1 - along * dy);
    (x * x + y * y).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice the area is the sum; holes count against it.
    fn area(outlines: &[Vec<Point>]) -> f64 {
        let of = |outline: &Vec<Point>| {
            let next = outline.iter().cycle().skip(1);
            outline.iter().zip(next).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
        };
        outlines.iter().map(of).sum()
    }

    fn disc(wide: usize, inner: f64, outer: f64) -> Vec<u8> {
        let middle = wide as f64 / 2.0;
        let far = |n: usize| {
            let (x, y) = ((n % wide) as f64 + 0.5 - middle, (n / wide) as f64 + 0.5 - middle);
            (x * x + y * y).sqrt()
        };
        (0..wide * wide).map(|n| u8::from((inner..outer).contains(&far(n)))).collect()
    }

    #[test]
    fn a_ring_has_two_smooth_outlines_of_its_area() {
        let kinds = disc(101, 20.0, 45.0);
        let squares = kinds.iter().filter(|kind| **kind == 1).count() as f64;
        let outlines = contours(&kinds, 101, 0);
        let ring = &outlines[&1];
        assert_eq!((outlines.len(), ring.len()), (1, 2));
        assert!((area(ring) / squares - 1.0).abs() < 0.01, "{} {squares}", area(ring));
        let points: usize = ring.iter().map(Vec::len).sum();
        assert!((20..120).contains(&points), "{points}");
    }

    #[test]
    fn what_touches_has_no_gap_between() {
        // A disc in thirds beside each other.
        let mut kinds = disc(90, 0.0, 40.0);
        for (n, kind) in kinds.iter_mut().enumerate().filter(|(_, kind)| **kind == 1) {
            *kind = 1 + ((n % 90 + n / 180) / 34) as u8;
        }
        let outlines = contours(&kinds, 90, 0);
        let whole: Vec<u8> = kinds.iter().map(|kind| u8::from(*kind > 0)).collect();
        let whole = area(&contours(&whole, 90, 0)[&1]);
        let parts: f64 = outlines.values().map(|own| area(own)).sum();
        assert!(outlines.len() > 2);
        assert!((parts / whole - 1.0).abs() < 0.005, "{parts} {whole}");
        // Each point of the border between two lies on both outlines.
        let of = |kind: u8| outlines[&kind].concat();
        let shared = of(1).into_iter().filter(|point| of(2).contains(point)).count();
        assert!(shared >= 2, "{shared}");
    }

    #[test]
    fn squares_that_touch_at_a_corner_are_apart() {
        let outlines = contours(&[1, 0, 0, 1], 2, 0);
        assert_eq!(outlines[&1].len(), 2);
        assert!(contours::<u8>(&[], 0, 0).is_empty());
    }
}
