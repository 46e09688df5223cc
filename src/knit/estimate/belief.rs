use std::collections::BTreeMap;

use super::matrix::{Solver, Square, dot};

/// What is believed of some effects, together: means and covariances of a joint normal.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Belief<K> {
    keys: Vec<K>,
    mean: Vec<f64>,
    spread: Square,
}

impl<K: Ord + Clone> Belief<K> {
    /// Before anything was seen: independent, each with its mean and standard deviation.
    pub(super) fn prior(effects: BTreeMap<K, (f64, f64)>) -> Belief<K> {
        let sds: Vec<f64> = effects.values().map(|(_, sd)| *sd).collect();
        Belief {
            mean: effects.values().map(|(mean, _)| *mean).collect(),
            spread: Square::of(sds.len(), |r, c| if r == c { sds[r].powi(2) } else { 0.0 }),
            keys: effects.into_keys().collect(),
        }
    }

    pub(super) fn keys(&self) -> &[K] {
        &self.keys
    }

    pub(super) fn mean(&self) -> &[f64] {
        &self.mean
    }

    pub(super) fn spread(&self) -> &Square {
        &self.spread
    }

    /// Where an effect stands; `None` for one that no record touches.
    pub(super) fn index(&self, key: &K) -> Option<usize> {
        self.keys.binary_search(key).ok()
    }

    /// The spread of what `rows` see, without noise.
    pub(super) fn seen_by(&self, rows: &[Vec<f64>]) -> Square {
        let columns: Vec<Vec<f64>> = rows.iter().map(|row| self.spread.times(row)).collect();
        Square::of(rows.len(), |r, c| dot(&rows[r], &columns[c]))
    }

    /// Takes in what was seen together: `rows` of effects that missed the present mean by `misses`, with
    /// the covariance `noise` of their own. Gives the logarithm of how likely that was.
    pub(super) fn update(&mut self, rows: &[Vec<f64>], misses: &[f64], noise: &Square) -> f64 {
        let seen = self.seen_by(rows);
        let solver = Solver::of(&Square::of(rows.len(), |r, c| seen.at(r, c) + noise.at(r, c)));
        let columns: Vec<Vec<f64>> = rows.iter().map(|row| self.spread.times(row)).collect();
        // By effect: what it shares with each row.
        let by_effect = |effect: usize| columns.iter().map(|column| column[effect]).collect();
        let shared: Vec<Vec<f64>> = (0..self.mean.len()).map(by_effect).collect();
        let pull = solver.solve(misses);
        for (mean, shared) in self.mean.iter_mut().zip(&shared) {
            *mean += dot(shared, &pull);
        }
        for (a, of_a) in shared.iter().enumerate() {
            let gain = solver.solve(of_a);
            // Upper and lower half alike, so that it stays symmetric to the last bit.
            for (b, of_b) in shared[..=a].iter().enumerate() {
                let less = -dot(&gain, of_b);
                self.spread.add(a, b, less);
                if a != b {
                    self.spread.add(b, a, less);
                }
            }
        }
        solver.log_density(misses)
    }
}
