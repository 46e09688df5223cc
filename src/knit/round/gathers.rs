//! Edges that a thread draws together: pleats there are narrower than a loop, so what is drawn is the cloth without them.

use std::collections::BTreeMap;

use super::cover::squares;
use super::fabric::DRAWN_MM;
use super::{Net, Spring};

/// How far apart it is looked how much cloth lies round a gather, in millimetres.
const STEP_MM: f64 = 3.0;
/// So many steps to either side are looked at together: rows don't lie as far apart.
const AROUND: usize = 2;
/// What is left of a loop at the thread, as a share.
const LEAST: f64 = 0.1;
/// The farthest that an edge reaches which is drawn together, in steps.
const MOST: usize = 200;

impl Net {
    /// Takes an edge that a thread draws together out of the cloth round it, all of it at the thread and ever less
    /// as far as the edge would reach, were it a ring: more finds no room there but in pleats. `drawn` has the ends of
    /// what draws.
    pub(super) fn gather(&mut self, drawn: &[(u32, u32)]) {
        let squares = squares(self);
        for gather in together(drawn) {
            let far = self.distances(&gather);
            let round = |spring: &Spring| {
                let (a, b) = (far[spring.a as usize], far[spring.b as usize]);
                let lies_round = spring.along && (a - b).abs() < 0.5 * spring.rest_mm;
                (lies_round && spring.rest_mm > DRAWN_MM).then_some(f64::midpoint(a, b))
            };
            let at_edge = |spring: &&Spring| round(spring).is_some_and(|far| far < 1e-6);
            let edge: f64 = self.springs.iter().filter(at_edge).map(|own| own.rest_mm).sum();
            let reach = edge / std::f64::consts::TAU;
            // What is no wider than a loop or two has no pleats.
            if reach < 2.0 * STEP_MM {
                continue;
            }
            let steps = ((reach / STEP_MM) as usize).min(MOST);
            let mut cloth = vec![0.0; steps + AROUND + 1];
            for (far, square) in far.iter().zip(&squares) {
                if let Some(own) = cloth.get_mut((far / STEP_MM) as usize) {
                    *own += square;
                }
            }
            let room = |far: f64| {
                let step = (far / STEP_MM) as usize;
                let about = &cloth[step.saturating_sub(AROUND)..cloth.len().min(step + AROUND + 1)];
                let whole = about.iter().sum::<f64>() / (about.len() as f64 * STEP_MM);
                (1.0 - edge / whole.max(edge) * (1.0 - far / reach)).max(LEAST)
            };
            let all: Vec<Option<f64>> = self.springs.iter().map(round).collect();
            for (spring, far) in self.springs.iter_mut().zip(all) {
                if let Some(far) = far.filter(|far| *far < reach && *far < MOST as f64 * STEP_MM) {
                    spring.rest_mm *= room(far);
                }
            }
        }
    }
}

/// What hangs together, by its ends.
fn together(pairs: &[(u32, u32)]) -> Vec<Vec<u32>> {
    let mut of: BTreeMap<u32, u32> = BTreeMap::new();
    let top = |of: &BTreeMap<u32, u32>, mut node: u32| {
        while let Some(next) = of.get(&node).filter(|next| **next != node) {
            node = *next;
        }
        node
    };
    for (a, b) in pairs {
        let (a, b) = (top(&of, *a), top(&of, *b));
        of.insert(a.max(b), a.min(b));
        of.entry(a.min(b)).or_insert(a.min(b));
    }
    let mut all: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for node in of.keys() {
        all.entry(top(&of, *node)).or_default().push(*node);
    }
    all.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::round::Cell;

    #[test]
    fn a_tube_that_is_drawn_together_ends_as_a_flat_disc() {
        // 40 loops round, 4 mm wide and 3 mm high.
        let (round, tall) = (40u32, 20u32);
        let mut net = Net::default();
        let node = |row: u32, n: u32| row * round + n % round;
        for row in 0..tall {
            for n in 0..round {
                net.cells.push(Cell { row: row as i32, wale: n as i32, ..Cell::default() });
                let spring = |a, b, rest_mm| Spring {
                    a,
                    b,
                    rest_mm,
                    tension: 1.0,
                    compression: 1.0,
                    along: true,
                };
                net.springs.push(spring(node(row, n), node(row, n + 1), 4.0));
                if row + 1 < tall {
                    net.springs.push(spring(node(row, n), node(row + 1, n), 3.0));
                }
            }
        }
        let whole = net.clone();
        let drawn: Vec<(u32, u32)> = (0..round - 1).map(|n| (node(0, n), node(0, n + 1))).collect();
        net.gather(&drawn);
        for (now, before) in net.springs.iter().zip(&whole.springs) {
            let [a, b] = [now.a, now.b].map(|node| node / round);
            // A disc as wide as the tube, 160 mm round.
            let radius = f64::from(a) * 3.0;
            let disc = std::f64::consts::TAU * radius / f64::from(round);
            if a != b || radius > 26.0 {
                assert_eq!(now.rest_mm, before.rest_mm, "row {a}");
            } else {
                let wanted = disc.max(LEAST * 4.0);
                assert!((now.rest_mm - wanted).abs() < 0.4, "row {a}: {} of {disc}", now.rest_mm);
            }
        }
        assert_eq!(together(&[(1, 2), (5, 4), (2, 5), (8, 9)]), [vec![1, 2, 4, 5], vec![8, 9]]);
    }
}
