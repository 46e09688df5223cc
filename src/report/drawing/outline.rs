//! The outline of fabric made of strips: what is left of their edges where none touch.

use std::collections::BTreeMap;

/// Edges are matched to the thousandth of a micrometre: sums of the same pitches in another order
/// differ by less.
const GRID: f64 = 1.0e6;

type GridPoint = (i64, i64);

/// Loops round the strips, each `[left, right, bottom, top]`, none over another. Against the clock;
/// holes with it. Stairs of few stitches become slopes of the same area.
pub fn outlines(strips: &[[f64; 4]]) -> Vec<Vec<(f64, f64)>> {
    let snapped: Vec<[i64; 4]> =
        strips.iter().map(|strip| strip.map(|v| (v * GRID).round() as i64)).collect();
    loops(edges(&snapped))
        .into_iter()
        .map(|points| {
            let corners: Vec<(f64, f64)> =
                points.iter().map(|(x, y)| (*x as f64 / GRID, *y as f64 / GRID)).collect();
            sloped(&corners)
        })
        .collect()
}

/// Directed edges, fabric on the left, that are not shared by two strips.
fn edges(strips: &[[i64; 4]]) -> Vec<(GridPoint, GridPoint)> {
    // By the line they lie on, where the count of edges one way less those the other changes.
    let mut level: BTreeMap<i64, BTreeMap<i64, i32>> = BTreeMap::new();
    let mut upright: BTreeMap<i64, BTreeMap<i64, i32>> = BTreeMap::new();
    for [left, right, bottom, top] in strips {
        for (y, way) in [(bottom, 1), (top, -1)] {
            let line = level.entry(*y).or_default();
            *line.entry(*left).or_default() += way;
            *line.entry(*right).or_default() -= way;
        }
        for (x, way) in [(right, 1), (left, -1)] {
            let line = upright.entry(*x).or_default();
            *line.entry(*bottom).or_default() += way;
            *line.entry(*top).or_default() -= way;
        }
    }
    let mut edges = Vec::new();
    for (lines, is_level) in [(&level, true), (&upright, false)] {
        for (at, changes) in lines {
            let (mut way, mut from) = (0, 0);
            for (along, change) in changes {
                if way != 0 && from != *along {
                    let (a, b) = if way > 0 { (from, *along) } else { (*along, from) };
                    let point = |along| if is_level { (along, *at) } else { (*at, along) };
                    edges.push((point(a), point(b)));
                }
                way += change;
                from = *along;
            }
        }
    }
    edges
}

fn loops(edges: Vec<(GridPoint, GridPoint)>) -> Vec<Vec<GridPoint>> {
    let mut from: BTreeMap<GridPoint, Vec<GridPoint>> = BTreeMap::new();
    for (a, b) in edges {
        from.entry(a).or_default().push(b);
    }
    let mut all = Vec::new();
    while let Some((&start, _)) = from.first_key_value() {
        let mut points = vec![start];
        let (mut before, mut here) = (None, start);
        while let Some(next) = take_next(&mut from, before, here) {
            if next == start {
                break;
            }
            points.push(next);
            (before, here) = (Some(here), next);
        }
        all.push(straightened(&points));
    }
    all
}

/// Where two loops meet in a corner, the turn to the left keeps them apart.
fn take_next(
    from: &mut BTreeMap<GridPoint, Vec<GridPoint>>,
    before: Option<GridPoint>,
    here: GridPoint,
) -> Option<GridPoint> {
    let ways = from.get_mut(&here)?;
    let turn = |next: &GridPoint| {
        let Some(before) = before else { return 0 };
        let (ax, ay) = ((here.0 - before.0).signum(), (here.1 - before.1).signum());
        let (bx, by) = ((next.0 - here.0).signum(), (next.1 - here.1).signum());
        ax * by - ay * bx
    };
    let best = (0..ways.len()).max_by_key(|i| turn(&ways[*i]))?;
    let next = ways.swap_remove(best);
    if ways.is_empty() {
        from.remove(&here);
    }
    Some(next)
}

/// Without points amid a straight edge.
fn straightened(points: &[GridPoint]) -> Vec<GridPoint> {
    let n = points.len();
    (0..n)
        .filter(|i| {
            let (a, b, c) = (points[(i + n - 1) % n], points[*i], points[(i + 1) % n]);
            !(a.0 == b.0 && b.0 == c.0 || a.1 == b.1 && b.1 == c.1)
        })
        .map(|i| points[i])
        .collect()
}

/// An upright edge of a loop, in mm.
#[derive(Clone, Copy)]
struct Riser {
    x: f64,
    from: f64,
    to: f64,
    /// Whether it stands amid stairs, and becomes a point of their slope.
    inner: bool,
}

impl Riser {
    fn rise(&self) -> f64 {
        self.to - self.from
    }

    /// How far from it the slope beside it begins: as far from the corner as it ends beyond the next
    /// tread.
    fn reach(&self) -> f64 {
        if self.inner { self.rise().abs() / 2.0 } else { 0.0 }
    }
}

/// Turns stairs of a loop of level and upright edges into slopes through the middles of their
/// risers: what is cut off one stair is added at the next.
fn sloped(corners: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut risers = risers(corners);
    if risers.len() < 3 {
        return corners.to_vec();
    }
    mark_stairs(&mut risers);
    bend_at_the_taller(&mut risers);
    keep_short_ends(&mut risers);
    let mut points = Vec::with_capacity(corners.len());
    for (k, riser) in risers.iter().enumerate() {
        let Riser { x, from, to, inner } = *riser;
        if inner {
            points.push((x, (from + to) / 2.0));
            continue;
        }
        let (before, after) = beside(k, risers.len());
        let way = (to - from).signum();
        points.push((x, from + way * risers[before].reach()));
        points.push((x, to - way * risers[after].reach()));
    }
    without_needless(points)
}

/// The loop's upright edges in order.
fn risers(corners: &[(f64, f64)]) -> Vec<Riser> {
    let n = corners.len();
    let first = usize::from(n > 1 && corners[0].0 != corners[1].0);
    let riser = |k: usize| {
        let (a, b) = (corners[(first + 2 * k) % n], corners[(first + 2 * k + 1) % n]);
        Riser { x: a.0, from: a.1, to: b.1, inner: false }
    };
    (0..n / 2).map(riser).collect()
}

/// The risers before and after, of so many in a loop.
fn beside(k: usize, count: usize) -> (usize, usize) {
    ((k + count - 1) % count, (k + 1) % count)
}

fn mark_stairs(risers: &mut [Riser]) {
    /// Treads and risers longer than these are corners that are meant, in mm.
    const TREAD: f64 = 16.0;
    const RISER: f64 = 16.0;
    for k in 0..risers.len() {
        let (before, after) = beside(k, risers.len());
        let (here, before, after) = (risers[k], risers[before], risers[after]);
        let (into, out) = (here.x - before.x, after.x - here.x);
        risers[k].inner = into * out > 0.0
            && into.abs() <= TREAD
            && out.abs() <= TREAD
            && here.rise().abs() <= RISER
            && here.rise() * before.rise() > 0.0
            && here.rise() * after.rise() > 0.0;
    }
}

/// Through the middles of unequal risers the slope would gain or lose area: it bends at the taller
/// one.
fn bend_at_the_taller(risers: &mut [Riser]) {
    for k in 0..risers.len() {
        let (_, after) = beside(k, risers.len());
        let (here, there) = (risers[k].rise().abs(), risers[after].rise().abs());
        if risers[k].inner && risers[after].inner && (here - there).abs() > 1e-5 {
            risers[if here > there { k } else { after }].inner = false;
        }
    }
}

/// Where a corner's own riser is too short for the slopes that end at it, the stairs beside it stay.
fn keep_short_ends(risers: &mut [Riser]) {
    let count = risers.len();
    while let Some(short) = (0..count).find(|k| {
        let (before, after) = beside(*k, count);
        let wanted = risers[before].reach() + risers[after].reach();
        !risers[*k].inner && wanted > risers[*k].rise().abs() + 1e-9
    }) {
        let (before, after) = beside(short, count);
        risers[before].inner = false;
        risers[after].inner = false;
    }
}

/// One point where a slope begins in the corner itself, and none amid a straight edge.
fn without_needless(mut points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    let near = |a: &(f64, f64), b: &(f64, f64)| (a.0 - b.0).abs() + (a.1 - b.1).abs() < 1e-5;
    points.dedup_by(|a, b| near(a, b));
    while points.len() > 1 && near(&points[0], &points[points.len() - 1]) {
        points.pop();
    }
    let n = points.len();
    (0..n)
        .filter(|i| {
            let (a, b, c) = (points[(i + n - 1) % n], points[*i], points[(i + 1) % n]);
            let cross = (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0);
            cross.abs() > 1e-6
        })
        .map(|i| points[i])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(points: &[(f64, f64)]) -> f64 {
        let next = points.iter().cycle().skip(1);
        points.iter().zip(next).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
    }

    #[test]
    fn strips_side_by_side_and_over_each_other_have_one_outline() {
        // Two halves knitted one after the other on a whole.
        let strips = [[0.0, 40.0, 0.0, 30.0], [0.0, 20.0, 30.0, 60.0], [20.0, 40.0, 30.0, 50.0]];
        let all = outlines(&strips);
        assert_eq!(all.len(), 1, "{all:?}");
        assert_eq!(all[0].len(), 6);
        assert!((area(&all[0]) - 2200.0).abs() < 1e-6);
    }

    #[test]
    fn a_hole_runs_the_other_way_round() {
        let strips = [
            [0.0, 90.0, 0.0, 30.0],
            [0.0, 30.0, 30.0, 60.0],
            [60.0, 90.0, 30.0, 60.0],
            [0.0, 90.0, 60.0, 90.0],
        ];
        let all = outlines(&strips);
        assert_eq!(all.len(), 2);
        let sum: f64 = all.iter().map(|points| area(points)).sum();
        assert!((sum - 7200.0).abs() < 1e-6, "{sum}");
        assert!(all.iter().any(|points| area(points) < 0.0));
    }

    #[test]
    fn stairs_become_a_slope_of_the_same_area() {
        let strips: Vec<[f64; 4]> = (0..20)
            .map(|i| [0.0, 100.0 - 4.0 * f64::from(i), 5.0 * f64::from(i), 5.0 * f64::from(i + 1)])
            .collect();
        let wanted: f64 = strips.iter().map(|s| (s[1] - s[0]) * (s[3] - s[2])).sum();
        let all = outlines(&strips);
        assert_eq!(all.len(), 1);
        assert!(all[0].len() <= 7, "{:?}", all[0]);
        assert!((area(&all[0]) - wanted).abs() < 1e-3);
    }

    #[test]
    fn slopes_of_uneven_stairs_keep_the_area() {
        // Risers of 5, 15, 5, 15..., then 10; treads of 4, then 8.
        let mut strips: Vec<[f64; 4]> = Vec::new();
        let (mut right, mut y) = (200.0, 0.0);
        for nth in 0..24 {
            let rise = if nth >= 12 { 10.0 } else { [5.0, 15.0][nth % 2] };
            strips.push([0.0, right, y, y + rise]);
            y += rise;
            right -= if nth < 16 { 4.0 } else { 8.0 };
        }
        let wanted: f64 = strips.iter().map(|s| (s[1] - s[0]) * (s[3] - s[2])).sum();
        let all = outlines(&strips);
        assert!(all[0].len() < 30, "{:?}", all[0]);
        assert!((area(&all[0]) - wanted).abs() < 1e-3, "{} {wanted}", area(&all[0]));
    }

    #[test]
    fn a_slope_up_to_the_last_row_keeps_its_corner() {
        // The last step is one row high where the others are two: the slope ends in the corner.
        let strips = [
            [0.0, 40.0, 0.0, 10.0],
            [0.0, 44.0, 10.0, 20.0],
            [0.0, 48.0, 20.0, 30.0],
            [0.0, 52.0, 30.0, 35.0],
        ];
        let all = outlines(&strips);
        assert!(all[0].contains(&(52.0, 35.0)), "{:?}", all[0]);
        let wanted: f64 = strips.iter().map(|s| (s[1] - s[0]) * (s[3] - s[2])).sum();
        assert!((area(&all[0]) - wanted).abs() < 1e-3);
    }

    #[test]
    fn corners_that_are_meant_stay() {
        let all = outlines(&[[0.0, 50.0, 0.0, 40.0], [-10.0, 60.0, 40.0, 90.0]]);
        assert_eq!(all[0].len(), 8);
    }
}
