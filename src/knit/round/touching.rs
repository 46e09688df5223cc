//! Cloth that comes near to itself.

use std::collections::{BTreeMap, BTreeSet};

use super::neighbours::Neighbours;
use super::{Net, Point, Spring};

/// Steps along the cloth within which nodes are near by nature.
const NEAR: usize = 4;

/// Springs that push apart whatever lies nearer than the cloth is thick and is not near along the
/// cloth. They hold nothing together: their tension is nought.
pub(super) fn touching(net: &Net, at: &[Point], thick_mm: f64) -> Vec<Spring> {
    let cell =
        |point: &Point| [point.x, point.y, point.z].map(|part| (part / thick_mm).floor() as i64);
    let mut cells: BTreeMap<[i64; 3], Vec<u32>> = BTreeMap::new();
    for (n, point) in at.iter().enumerate() {
        cells.entry(cell(point)).or_default().push(n as u32);
    }
    let neighbours = net.neighbours();
    let mut springs = Vec::new();
    for (n, point) in at.iter().enumerate() {
        let own = cell(point);
        let mut close = Vec::new();
        for step in 0..27 {
            let there = [own[0] + step % 3 - 1, own[1] + step / 3 % 3 - 1, own[2] + step / 9 - 1];
            let nodes = cells.get(&there).into_iter().flatten();
            close.extend(nodes.copied().filter(|other| {
                *other as usize > n && (at[*other as usize] - *point).length() < thick_mm
            }));
        }
        if close.is_empty() {
            continue;
        }
        let near = around(&neighbours, n as u32);
        springs.extend(close.into_iter().filter(|other| !near.contains(other)).map(|other| {
            Spring {
                a: n as u32,
                b: other,
                rest_mm: thick_mm,
                tension: 0.0,
                compression: 0.5,
                along: false,
            }
        }));
    }
    springs
}

/// The nodes within a few steps of one.
fn around(neighbours: &Neighbours, node: u32) -> BTreeSet<u32> {
    let mut near = BTreeSet::from([node]);
    let mut edge = vec![node];
    for _ in 0..NEAR {
        let next: Vec<u32> = edge
            .iter()
            .flat_map(|from| neighbours[*from as usize].iter().map(|(other, _)| *other))
            .filter(|other| near.insert(*other))
            .collect();
        edge = next;
    }
    near
}
