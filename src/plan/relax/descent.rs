//! The search for prices: a subgradient method with the best plan as its target.

use crate::relax::evaluation::Verdict;
use crate::relax::filling::Scratch;
use crate::relax::relaxation::{Prices, Relaxation};
use crate::relax::scope::Scope;
use crate::stop::StopFlag;

/// How far a descent goes in one turn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Aim<'a> {
    /// The bound that is low enough, in tenths.
    pub target: f64,
    /// Steps at most.
    pub rounds: usize,
    /// Knapsack cells after which no further step is begun.
    pub work: u64,
    pub stop: &'a StopFlag,
}

/// Steps without gain after which a descent goes back to the best prices, with shorter steps.
const PATIENCE: usize = 12;

/// How a descent goes on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pace {
    /// The length of the first step.
    pub step: f64,
    /// The factor by which steps become shorter.
    pub shorter: f64,
    /// How much of its way so far a step keeps.
    pub kept: f64,
}

impl Pace {
    /// From anywhere.
    pub const FIRST: Pace = Pace { step: 1.0, shorter: 0.6, kept: 0.3 };
    /// The same, with more patience.
    pub const SECOND: Pace = Pace { step: 1.0, shorter: 0.8, kept: 0.8 };
    /// From prices that were the best of much the same.
    pub const NEAR: Pace = Pace { step: 0.7, shorter: 0.6, kept: 0.3 };
    /// From prices that were the best of the same but for a few things settled.
    pub const NEXT: Pace = Pace { step: 0.3, ..Pace::NEAR };
    /// Steps this short don't lead far.
    const SHORT: f64 = 0.02;
}

/// Where a descent is and where it is heading. It can be run in turns of any length.
#[derive(Clone, Debug)]
pub(crate) struct Descent {
    /// The best prices so far, and what came of them.
    pub prices: Prices,
    pub verdict: Verdict,
    /// The lowest bound so far.
    pub bound: f64,
    pace: Pace,
    at: Prices,
    there: Verdict,
    /// Prices that may be better to begin at, not yet looked at.
    starts: Vec<Prices>,
    /// By cell, then by deadline: the way prices are to go down, older steps fading.
    heading: Vec<f64>,
    stale: usize,
    /// Steps so far.
    pub steps: usize,
}

impl Descent {
    /// Begins at some prices.
    pub fn from(relax: &Relaxation, prices: Prices, pace: Pace) -> Descent {
        Descent {
            at: prices.clone(),
            verdict: Verdict::default(),
            there: Verdict::default(),
            bound: f64::INFINITY,
            heading: vec![0.0; relax.cells + prices.minute.len()],
            prices,
            pace,
            starts: Vec::new(),
            stale: 0,
            steps: 0,
        }
    }

    /// Begins at the best of some prices, of which there is at least one.
    pub fn from_best_of(relax: &Relaxation, mut starts: Vec<Prices>, pace: Pace) -> Descent {
        let first = starts.remove(0);
        Descent { starts, ..Descent::from(relax, first, pace) }
    }

    /// Looks for prices that bring the bound to the target or as near as it gets, and gives the
    /// lowest bound so far. Evaluates at least once if that was never done.
    pub fn run(
        &mut self,
        relax: &Relaxation,
        scope: &Scope,
        aim: &Aim,
        scratch: &mut Scratch,
    ) -> f64 {
        let before = scratch.work;
        if self.bound == f64::INFINITY {
            self.bound = relax.evaluate(scope, &self.prices, &mut self.verdict, scratch);
            self.verdict.often = vec![0.0; relax.problem.options.len()];
            for o in self.verdict.chosen.iter().flatten() {
                self.verdict.often[*o] = 1.0;
            }
            self.there.clone_from(&self.verdict);
        }
        let starts = std::mem::take(&mut self.starts);
        if !starts.is_empty() {
            for prices in starts {
                relax.evaluate(scope, &prices, &mut self.there, scratch);
                self.at = prices;
                self.judge(aim.target);
            }
            self.go_back();
        }
        for _ in 0..aim.rounds {
            let over = scratch.work - before >= aim.work;
            if self.bound <= aim.target || over || aim.stop.is_set() {
                break;
            }
            let norm = self.turn(relax.cells);
            if norm <= 1e-12 {
                break;
            }
            let length = self.pace.step * (self.there.bound - aim.target).max(0.5) / norm;
            self.walk(relax.cells, length);
            relax.evaluate(scope, &self.at, &mut self.there, scratch);
            self.steps += 1;
            self.count_chosen();
            self.judge(aim.target);
        }
        self.bound
    }

    /// Whether its steps have become so short that they lead nowhere else.
    pub fn is_near(&self) -> bool {
        self.pace.step < Pace::SHORT
    }

    /// Keeps the step just made if it is the best so far; goes back if none was for long.
    fn judge(&mut self, target: f64) {
        let reached = self.there.bound;
        if reached < self.bound - 1e-9 {
            if reached < self.bound - 0.02 * (self.bound - target).abs() {
                self.stale = 0;
            }
            self.bound = reached;
            self.prices.clone_from(&self.at);
            let often = std::mem::take(&mut self.verdict.often);
            self.verdict.clone_from(&self.there);
            self.verdict.often = often;
        } else {
            self.stale += 1;
        }
        if self.stale >= PATIENCE {
            self.pace.step *= self.pace.shorter;
            self.go_back();
        }
    }

    fn go_back(&mut self) {
        self.stale = 0;
        self.at.clone_from(&self.prices);
        self.there.clone_from(&self.verdict);
        self.heading.fill(0.0);
    }

    /// Turns towards the subgradient, less what would push a price of minutes below nothing. Gives the square
    /// of the heading's length.
    fn turn(&mut self, cells: usize) -> f64 {
        let mut norm = 0.0;
        let kept = self.pace.kept;
        for (n, way) in self.heading.iter_mut().enumerate() {
            let (slope, price) = if n < cells {
                (self.there.surplus[n], self.at.cell[n])
            } else {
                (self.there.spare[n - cells], self.at.minute[n - cells])
            };
            // Minutes may be left over, so that their prices stay at or above nothing; a section is
            // knitted once and no more, so that its price may be of either sign.
            let slope = if n >= cells && price <= 0.0 && slope > 0.0 { 0.0 } else { slope };
            *way = kept * *way + (1.0 - kept) * slope;
            norm += *way * *way;
        }
        norm
    }

    fn walk(&mut self, cells: usize, length: f64) {
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
        let often = &mut self.verdict.often;
        for share in often.iter_mut() {
            *share *= 0.93;
        }
        for o in self.there.chosen.iter().flatten() {
            often[*o] += 0.07;
        }
    }
}
