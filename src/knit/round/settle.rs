//! From nothing to rest: laid out as the springs themselves would spread it, by the slowest waves of
//! the coarsest net, then level by level.

use super::relax::volume;
use super::{Coarser, Net, Pin, Point, Relaxed, Setting, relax};

/// Nodes below which waves are found at once; larger nets are made coarser first.
pub(super) const FEW: usize = 160;
/// Rows and needles to a cell.
pub(super) const CELL: i32 = 3;
/// Loops from which a net is large.
pub(super) const LARGE: usize = 24_000;
/// The largest cells.
const MOST_CELL: i32 = 100;
/// Nodes times steps of one level at most.
const WORK: u32 = 8_000_000;
/// Steps of a level at least.
const LEAST: u32 = 30;
/// Times that nodes are drawn towards their neighbours where a finer net begins.
const SMOOTHED: usize = 6;
/// How often folds as narrow as a loop are smoothed out at most, and how many steps along the cloth about them.
const UNFOLDED: (usize, usize) = (3, 2);
/// One face in so many may be turned over.
const FOLDED: usize = 400;
/// Slow waves among which three are chosen.
const SLOW: usize = 12;
/// A wave says something new where more than this share of it is no curve over those before.
const UNLIKE: f64 = 0.5;

/// A net at rest, found from nothing: coarse cells first, from slow waves of the coarsest, then ever finer
/// ones, each begun where the coarser came to rest.
pub fn settle(net: &Net, setting: &Setting<'_>) -> Relaxed {
    let begin = |net: &Net| relax(net, spread_out(net, 3, setting), setting);
    let levels = Levels::of(net, 1, net.coarser(CELL), &|net| net.len() <= FEW);
    levels.settle(setting, &begin, &|_, _| Vec::new())
}

/// A net by ever larger cells, each made from the finest: cells of cells would lose their lengths.
pub(super) struct Levels<'a> {
    finest: &'a Net,
    /// Rows and needles to a cell of the first.
    by: i32,
    /// From fine to coarse; the first is the finest itself where `by` is 1.
    coarser: Vec<Coarser>,
}

impl<'a> Levels<'a> {
    /// From cells of `by` on, until one is `small`. `rough` has cells of `by`, or of [`CELL`] where that is 1.
    pub fn of(
        finest: &'a Net,
        by: i32,
        rough: Coarser,
        small: &dyn Fn(&Net) -> bool,
    ) -> Levels<'a> {
        let mut levels = Levels { finest, by, coarser: Vec::new() };
        let mut rough = Some(rough);
        let mut next = by.max(CELL);
        if by > 1 {
            levels.coarser.extend(rough.take());
            next *= CELL;
        }
        while !small(levels.last()) && next < MOST_CELL {
            let coarse = rough.take().unwrap_or_else(|| finest.coarser(next));
            if coarse.net.len() * 2 > levels.last().len() {
                break;
            }
            levels.coarser.push(coarse);
            next *= CELL;
        }
        levels
    }

    fn last(&self) -> &Net {
        self.coarser.last().map_or(self.finest, |coarse| &coarse.net)
    }

    /// The first level: its net, and by node of the finest which of its nodes it belongs to.
    pub fn into_first(mut self) -> Option<Coarser> {
        (self.by > 1).then(|| self.coarser.swap_remove(0))
    }

    /// The first level at rest; the last is laid out by `begin`, and each is held as `held` says.
    pub fn settle(
        &self,
        setting: &Setting<'_>,
        begin: &dyn Fn(&Net) -> Relaxed,
        held: &dyn Fn(&Net, &[Point]) -> Vec<Pin>,
    ) -> Relaxed {
        let mut rested = if self.last().is_empty() {
            Relaxed { at: Vec::new(), steps: 0, energy: Vec::new() }
        } else {
            begin(self.last())
        };
        let is_first = |n: usize| n == 0 && self.by > 1;
        for n in (0..self.coarser.len()).rev().filter(|n| !is_first(*n)) {
            let rough = &self.coarser[n];
            let (net, of) = match n.checked_sub(1) {
                Some(finer) => (&self.coarser[finer].net, Some(&self.coarser[finer].of)),
                None => (self.finest, None),
            };
            let mut at = vec![Point::default(); net.len()];
            let mut count = vec![0.0; net.len()];
            for (node, cell) in rough.of.iter().enumerate() {
                let own = of.map_or(node, |of| of[node] as usize);
                at[own] += rested.at[*cell as usize];
                count[own] += 1.0;
            }
            for (point, count) in at.iter_mut().zip(count) {
                *point = *point * (1.0 / f64::max(count, 1.0));
            }
            smooth(net, &mut at, SMOOTHED);
            // Ever fewer steps: what a large net lacks is near at hand.
            let steps = bounded(setting.steps, net);
            let pins = held(net, &at);
            let setting = Setting { steps, pins: &pins, ..setting.clone() };
            rested = relax(net, at, &setting);
            if of.is_none() && net.len() < LARGE {
                rested = unfolded(net, rested, &setting);
            }
        }
        rested
    }
}

/// Cloth that has come to rest in folds as narrow as a loop, which a thread is too thick for: about them nodes are
/// drawn towards their neighbours, and it is left to find its rest once more, for as long as that leaves fewer.
fn unfolded(net: &Net, mut rested: Relaxed, setting: &Setting<'_>) -> Relaxed {
    let neighbours = net.neighbours();
    let (mut near, mut faces) = turned_over(net, &rested.at);
    for _ in 0..UNFOLDED.0 {
        if faces * FOLDED <= net.faces.len() {
            break;
        }
        for _ in 0..UNFOLDED.1 {
            let wider = (0..net.len())
                .map(|n| near[n] || neighbours[n].iter().any(|(other, _)| near[*other as usize]));
            near = wider.collect();
        }
        let mut at = rested.at.clone();
        for _ in 0..SMOOTHED {
            let next = (0..net.len()).map(|n| {
                if !near[n] {
                    return at[n];
                }
                let own = &neighbours[n];
                let sum = own.iter().fold(at[n], |sum, (other, _)| sum + at[*other as usize]);
                sum * (1.0 / (own.len() + 1) as f64)
            });
            at = next.collect();
        }
        let steps = (setting.steps / 4).max(LEAST);
        let again = relax(net, at, &Setting { steps, ..setting.clone() });
        let found = turned_over(net, &again.at);
        if found.1 >= faces {
            break;
        }
        rested = again;
        (near, faces) = found;
    }
    rested
}

/// By node, whether it is a corner of a face that looks the other way than the cloth about it; and how many there are.
fn turned_over(net: &Net, at: &[Point]) -> (Vec<bool>, usize) {
    let ways = net.ways(at);
    let (mut is, mut count) = (vec![false; at.len()], 0);
    for face in &net.faces {
        let [a, b, c] = face.map(|node| at[node as usize]);
        let sum = face.iter().fold(Point::default(), |sum, node| sum + ways[*node as usize]);
        if (b - a).cross(c - a).dot(sum) < 0.0 {
            face.iter().for_each(|node| is[*node as usize] = true);
            count += 1;
        }
    }
    (is, count)
}

/// So many steps, or as many as a net of its size is given.
pub(super) fn bounded(steps: u32, net: &Net) -> u32 {
    steps.min((WORK / net.len().max(1) as u32).max(LEAST))
}

/// Laid out by two or three slow waves, right side out.
pub(super) fn spread_out(net: &Net, waves: usize, setting: &Setting<'_>) -> Vec<Point> {
    let slack = Setting { pressure: 0.0, form: None, pins: &[], steps: 80, ..setting.clone() };
    let mut at = relax(net, sized(net, slowest(net, waves)), &slack).at;
    if volume(net, &at) < 0.0 {
        for point in &mut at {
            point.x = -point.x;
        }
    }
    at
}

/// Each node to the middle of its neighbours, a few times over, so that cells don't lie in one point.
pub(super) fn smooth(net: &Net, at: &mut Vec<Point>, times: usize) {
    let neighbours = net.neighbours();
    for _ in 0..times {
        let next = at.iter().zip(neighbours.iter()).map(|(point, own)| {
            let sum = own.iter().fold(*point, |sum, (other, _)| sum + at[*other as usize]);
            sum * (1.0 / (own.len() + 1) as f64)
        });
        *at = next.collect();
    }
}

/// Scaled so that all springs together are as long as at rest.
fn sized(net: &Net, at: Vec<Point>) -> Vec<Point> {
    let along = || net.springs.iter().filter(|spring| spring.along);
    let rest: f64 = along().map(|spring| spring.rest_mm).sum();
    let now: f64 = along().map(|s| (at[s.a as usize] - at[s.b as usize]).length()).sum();
    let scale = if now > 0.0 { rest / now } else { 1.0 };
    at.into_iter().map(|point| point * scale).collect()
}

/// Three slow waves of a small net, each the wider the slower it is.
pub(super) fn slowest(net: &Net, most: usize) -> Vec<Point> {
    let count = net.len();
    let mut matrix = vec![vec![0.0; count]; count];
    for spring in net.springs.iter().filter(|spring| spring.along) {
        let (a, b) = (spring.a as usize, spring.b as usize);
        let close = 1.0 / (spring.rest_mm * spring.rest_mm).max(1e-9);
        matrix[a][a] += close;
        matrix[b][b] += close;
        matrix[a][b] -= close;
        matrix[b][a] -= close;
    }
    let (values, vectors) = waves(matrix);
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let slow: Vec<Vec<f64>> = order
        .into_iter()
        .filter(|n| values[*n] > 1e-9)
        .take(SLOW)
        .map(|n| vectors.iter().map(|row| row[n] / values[n].sqrt()).collect())
        .collect();
    let chosen = unlike(&slow);
    let part = |node: usize, nth: usize| {
        chosen.get(nth).filter(|_| nth < most).map_or(0.0, |n| slow[*n][node])
    };
    (0..count).map(|node| Point::new(part(node, 0), part(node, 1), part(node, 2))).collect()
}

/// The slowest wave, and the two next that tell anything new: along a tube the second is bent as the
/// first is, and says nothing of what goes round.
fn unlike(slow: &[Vec<f64>]) -> Vec<usize> {
    let mut chosen: Vec<usize> = Vec::new();
    for (n, wave) in slow.iter().enumerate() {
        let taken: Vec<&Vec<f64>> = chosen.iter().map(|n| &slow[*n]).collect();
        if chosen.len() < 3 && (chosen.is_empty() || unexplained(wave, &taken) > UNLIKE) {
            chosen.push(n);
        }
    }
    for n in 0..slow.len().min(3) {
        if chosen.len() < 3 && !chosen.contains(&n) {
            chosen.push(n);
        }
    }
    chosen
}

/// What part of a wave no curve over others gives: powers and products of them up to the fourth.
fn unexplained(wave: &[f64], others: &[&Vec<f64>]) -> f64 {
    let most = |of: &[f64]| of.iter().fold(1e-12_f64, |most, part| most.max(part.abs()));
    let mut basis: Vec<Vec<f64>> = Vec::new();
    let scaled: Vec<Vec<f64>> =
        others.iter().map(|other| other.iter().map(|part| part / most(other)).collect()).collect();
    for one in 0..=4 {
        for two in 0..=(if scaled.len() > 1 { 4 - one } else { 0 }) {
            let power = |n: usize| {
                let second = scaled.get(1).map_or(1.0, |second| second[n].powi(two));
                scaled[0][n].powi(one) * second
            };
            basis.push((0..wave.len()).map(power).collect());
        }
    }
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let mut left = wave.to_vec();
    let mut square: Vec<Vec<f64>> = Vec::new();
    for mut own in basis {
        for _ in 0..2 {
            for other in &square {
                let share = dot(&own, other);
                own.iter_mut().zip(other).for_each(|(own, other)| *own -= share * other);
            }
        }
        let length = dot(&own, &own).sqrt();
        if length < 1e-9 {
            continue;
        }
        own.iter_mut().for_each(|part| *part /= length);
        let share = dot(&left, &own);
        left.iter_mut().zip(&own).for_each(|(left, own)| *left -= share * own);
        square.push(own);
    }
    dot(&left, &left) / dot(wave, wave).max(1e-30)
}

/// Three directions at right angles that turn to the right: along which points are spread most, then less, then
/// least.
pub(super) fn axes(at: &[Point], middle: Point) -> [Point; 3] {
    let mut matrix = vec![vec![0.0; 3]; 3];
    for point in at {
        let from = *point - middle;
        let parts = [from.x, from.y, from.z];
        for (row, a) in matrix.iter_mut().zip(parts) {
            for (entry, b) in row.iter_mut().zip(parts) {
                *entry += a * b;
            }
        }
    }
    let (values, vectors) = waves(matrix);
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let of = |n: usize| Point::new(vectors[0][n], vectors[1][n], vectors[2][n]);
    let (long, broad) = (of(order[0]), of(order[1]));
    [long, broad, long.cross(broad)]
}

/// All waves of a symmetric matrix by plane rotations (Jacobi's method): values, and vectors by column.
fn waves(mut matrix: Vec<Vec<f64>>) -> (Vec<f64>, Vec<Vec<f64>>) {
    let count = matrix.len();
    let mut vectors = vec![vec![0.0; count]; count];
    for (n, row) in vectors.iter_mut().enumerate() {
        row[n] = 1.0;
    }
    for _ in 0..30 {
        let off: f64 = (0..count)
            .flat_map(|p| (p + 1..count).map(move |q| (p, q)))
            .map(|(p, q)| matrix[p][q] * matrix[p][q])
            .sum();
        if off < 1e-18 {
            break;
        }
        for p in 0..count {
            for q in p + 1..count {
                turn(&mut matrix, &mut vectors, p, q);
            }
        }
    }
    ((0..count).map(|n| matrix[n][n]).collect(), vectors)
}

/// One rotation, which makes the entry at `p`, `q` nought.
fn turn(matrix: &mut [Vec<f64>], vectors: &mut [Vec<f64>], p: usize, q: usize) {
    let entry = matrix[p][q];
    if entry.abs() < 1e-14 {
        return;
    }
    let ratio = (matrix[q][q] - matrix[p][p]) / (2.0 * entry);
    let sign = if ratio < 0.0 { -1.0 } else { 1.0 };
    let tan = sign / (ratio.abs() + (ratio * ratio + 1.0).sqrt());
    let cos = 1.0 / (tan * tan + 1.0).sqrt();
    let sin = tan * cos;
    for row in matrix.iter_mut() {
        let (a, b) = (row[p], row[q]);
        row[p] = cos * a - sin * b;
        row[q] = sin * a + cos * b;
    }
    let (above, below) = matrix.split_at_mut(q);
    for (a, b) in above[p].iter_mut().zip(below[0].iter_mut()) {
        let (x, y) = (*a, *b);
        *a = cos * x - sin * y;
        *b = sin * x + cos * y;
    }
    for row in vectors.iter_mut() {
        let (a, b) = (row[p], row[q]);
        row[p] = cos * a - sin * b;
        row[q] = sin * a + cos * b;
    }
}
