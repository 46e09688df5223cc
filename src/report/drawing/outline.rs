//! The outline of fabric made of strips: what is left of their edges where none touch.

use std::collections::BTreeMap;

/// Edges are matched to the thousandth of a micrometre: sums of the same pitches in another order
/// differ by less.
const GRID: f64 = 1.0e6;

type Point = (i64, i64);

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
fn edges(strips: &[[i64; 4]]) -> Vec<(Point, Point)> {
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

fn loops(edges: Vec<(Point, Point)>) -> Vec<Vec<Point>> {
    let mut from: BTreeMap<Point, Vec<Point>> = BTreeMap::new();
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
    from: &mut BTreeMap<Point, Vec<Point>>,
    before: Option<Point>,
    here: Point,
) -> Option<Point> {
    let ways = from.get_mut(&here)?;
    let turn = |next: &Point| {
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
fn straightened(points: &[Point]) -> Vec<Point> {
    let n = points.len();
    (0..n)
        .filter(|i| {
            let (a, b, c) = (points[(i + n - 1) % n], points[*i], points[(i + 1) % n]);
            !(a.0 == b.0 && b.0 == c.0 || a.1 == b.1 && b.1 == c.1)
        })
        .map(|i| points[i])
        .collect()
}

/// Turns stairs of a loop of level and upright edges into slopes through the middles of their
/// risers: what is cut off one stair is added at the next.
fn sloped(corners: &[(f64, f64)]) -> Vec<(f64, f64)> {
    /// Treads and risers longer than these are corners that are meant, in mm.
    const TREAD: f64 = 16.0;
    const RISER: f64 = 16.0;
    let n = corners.len();
    // The loop's upright edges in order: x, from, to.
    let first = usize::from(n > 1 && corners[0].0 != corners[1].0);
    let risers: Vec<(f64, f64, f64)> = (0..n / 2)
        .map(|k| {
            let (a, b) = (corners[(first + 2 * k) % n], corners[(first + 2 * k + 1) % n]);
            (a.0, a.1, b.1)
        })
        .collect();
    let count = risers.len();
    if count < 3 {
        return corners.to_vec();
    }
    let at = |k: usize| risers[k % count];
    let rise = |k: usize| at(k).2 - at(k).1;
    let beside = |k: usize| ((k + count - 1) % count, (k + 1) % count);
    let mut inner: Vec<bool> = (0..count)
        .map(|k| {
            let (before, after) = beside(k);
            let (into, out) = (at(k).0 - at(before).0, at(after).0 - at(k).0);
            into * out > 0.0
                && into.abs() <= TREAD
                && out.abs() <= TREAD
                && rise(k).abs() <= RISER
                && rise(k) * rise(before) > 0.0
                && rise(k) * rise(after) > 0.0
        })
        .collect();
    // Through the middles of unequal risers the slope would gain or lose area: it bends at the
    // taller one.
    for k in 0..count {
        let (_, after) = beside(k);
        let (here, there) = (rise(k).abs(), rise(after).abs());
        if inner[k] && inner[after] && (here - there).abs() > 1e-5 {
            inner[if here > there { k } else { after }] = false;
        }
    }
    // A slope begins as far from the corner as it ends beyond the next tread: half the riser there.
    // Where a corner's own riser is too short for that, the stair beside it stays.
    let reach = |inner: &[bool], k: usize| if inner[k] { rise(k).abs() / 2.0 } else { 0.0 };
    while let Some(short) = (0..count).find(|k| {
        let (before, after) = beside(*k);
        let wanted = reach(&inner, before) + reach(&inner, after);
        !inner[*k] && wanted > rise(*k).abs() + 1e-9
    }) {
        let (before, after) = beside(short);
        inner[before] = false;
        inner[after] = false;
    }
    let mut points = Vec::with_capacity(n);
    for k in 0..count {
        let (x, from, to) = at(k);
        if inner[k] {
            points.push((x, (from + to) / 2.0));
            continue;
        }
        let (before, after) = beside(k);
        let way = (to - from).signum();
        points.push((x, from + way * reach(&inner, before)));
        points.push((x, to - way * reach(&inner, after)));
    }
    // A slope may begin in the corner itself: one point, not two.
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
