//! The search for prices: a subgradient method with the best plan as its target.

use crate::relax::evaluation::Verdict;
use crate::relax::filling::Scratch;
use crate::relax::relaxation::{Prices, Relaxation};
use crate::relax::scope::Scope;
use crate::stop::StopFlag;

/// How far a descent goes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Aim<'a> {
    /// The bound that is low enough, in tenths.
    pub target: f64,
    /// Steps at most.
    pub rounds: usize,
    pub stop: &'a StopFlag,
}

/// Steps without gain after which a descent goes back to the best prices, with shorter steps.
const PATIENCE: usize = 12;

/// Where a descent is and where it is heading.
struct Descent {
    at: Prices,
    verdict: Verdict,
    /// By cell, then by deadline: the way prices are to go down, older steps fading.
    heading: Vec<f64>,
    stale: usize,
    /// By option, how often it was taken of late.
    often: Vec<f64>,
}

impl Relaxation<'_> {
    /// Looks for prices that bring the bound to the target or as near as it gets. Keeps the best
    /// prices in `prices`, their verdict in `best` and the length of steps in `step`.
    pub fn descend(
        &self,
        scope: &Scope,
        prices: &mut Prices,
        best: &mut Verdict,
        step: &mut f64,
        aim: &Aim,
        scratch: &mut Scratch,
    ) -> f64 {
        self.evaluate(scope, prices, best, scratch);
        let mut bound = best.bound;
        let mut descent = self.descent_from(prices, best);
        for _ in 0..aim.rounds {
            if bound <= aim.target || aim.stop.is_set() {
                break;
            }
            let norm = descent.turn(self.cells);
            if norm <= 1e-12 {
                break;
            }
            let length = *step * (descent.verdict.bound - aim.target).max(0.5) / norm;
            descent.step(self.cells, length);
            self.evaluate(scope, &descent.at, &mut descent.verdict, scratch);
            descent.count_chosen();
            let reached = descent.verdict.bound;
            if reached < bound - 1e-9 {
                if reached < bound - 0.02 * (bound - aim.target).abs() {
                    descent.stale = 0;
                }
                bound = reached;
                prices.clone_from(&descent.at);
                best.clone_from(&descent.verdict);
            } else {
                descent.stale += 1;
            }
            if descent.stale >= PATIENCE {
                *step *= 0.6;
                descent.go_back(prices, best);
            }
        }
        best.often = descent.often;
        bound
    }

    fn descent_from(&self, prices: &Prices, verdict: &Verdict) -> Descent {
        let mut often = vec![0.0; self.problem.options.len()];
        for o in verdict.chosen.iter().flatten() {
            often[*o] = 1.0;
        }
        Descent {
            at: prices.clone(),
            verdict: verdict.clone(),
            heading: vec![0.0; self.cells + prices.minute.len()],
            stale: 0,
            often,
        }
    }
}

impl Descent {
    /// Turns towards the subgradient, less what would push a price of minutes below nothing. Gives the square
    /// of the heading's length.
    fn turn(&mut self, cells: usize) -> f64 {
        let mut norm = 0.0;
        for (n, way) in self.heading.iter_mut().enumerate() {
            let (slope, price) = if n < cells {
                (self.verdict.surplus[n], self.at.cell[n])
            } else {
                (self.verdict.spare[n - cells], self.at.minute[n - cells])
            };
            // Minutes may be left over, so that their prices stay at or above nothing; a section is
            // knitted once and no more, so that its price may be of either sign.
            let slope = if n >= cells && price <= 0.0 && slope > 0.0 { 0.0 } else { slope };
            *way = 0.3 * *way + 0.7 * slope;
            norm += *way * *way;
        }
        norm
    }

    fn step(&mut self, cells: usize, length: f64) {
        for (n, way) in self.heading.iter().enumerate() {
            if n < cells {
                self.at.cell[n] -= length * way;
            } else {
                let price = &mut self.at.minute[n - cells];
                *price = (*price - length * way).max(0.0);
            }
        }
    }

    fn count_chosen(&mut self) {
        for share in &mut self.often {
            *share *= 0.93;
        }
        for o in self.verdict.chosen.iter().flatten() {
            self.often[*o] += 0.07;
        }
    }

    fn go_back(&mut self, prices: &Prices, best: &Verdict) {
        self.stale = 0;
        self.at.clone_from(prices);
        self.verdict.clone_from(best);
        self.heading.fill(0.0);
    }
}
