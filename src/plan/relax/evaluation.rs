//! The bound at given prices: each gift takes its best option, each remnant its best filling.

use crate::problem::Problem;
use crate::relax::filling::{MOST_CELLS, Scratch};
use crate::relax::relaxation::{Item, Market, NEVER, Prices, Relaxation};
use crate::relax::scope::Scope;

/// What an evaluation found: the bound, and how far each priced rule is from being kept.
#[derive(Clone, Debug, Default)]
pub(crate) struct Verdict {
    pub bound: f64,
    /// Supply less demand, by cell.
    pub surplus: Vec<f64>,
    /// Minutes left, by deadline.
    pub spare: Vec<f64>,
    /// By option that is open, what its gift loses by taking it rather than its best choice.
    pub option_loss: Vec<f64>,
    /// By gift, what it loses by not being made.
    pub none_loss: Vec<f64>,
    /// By gift, the option it takes.
    pub chosen: Vec<Option<usize>>,
    /// By group, what its remnants earn.
    pub earned: Vec<f64>,
    /// By option, how often it was taken of late, from 0 to 1.
    pub often: Vec<f64>,
}

impl Verdict {
    /// Begins a new evaluation: nothing is supplied, no minute is taken, no gift chosen.
    fn clear(&mut self, problem: &Problem, cells: usize) {
        self.surplus.clear();
        self.surplus.resize(cells, 0.0);
        self.spare.clear();
        self.spare.extend(problem.minutes.iter().map(|m| *m as f64));
        self.option_loss.clear();
        self.option_loss.resize(problem.options.len(), 0.0);
        self.none_loss.clear();
        self.none_loss.resize(problem.gifts.len(), 0.0);
        self.earned.clear();
        self.chosen.clear();
        self.chosen.resize(problem.gifts.len(), None);
    }
}

impl Relaxation<'_> {
    /// By group, what a decigram earns where all is open: its remnants' fillings over their room.
    pub fn yarn_prices(&self, verdict: &Verdict) -> Vec<f64> {
        let of = |(remnants, earned): (&Vec<usize>, &f64)| {
            let room: i64 = remnants.iter().map(|r| self.problem.usable[*r]).sum();
            if room > 0 { earned.max(0.0) / room as f64 } else { 0.0 }
        };
        self.problem.groups.iter().zip(&verdict.earned).map(of).collect()
    }

    /// About how many knapsack cells an evaluation takes where all is open.
    pub fn cells_to_evaluate(&self) -> u64 {
        let of = |(remnants, items): (&Vec<usize>, &Vec<Item>)| {
            let most = remnants.iter().map(|r| self.problem.usable[*r]).max().unwrap_or(0);
            let layers: u64 =
                items.iter().map(|item| if item.charge.is_some() { 5 } else { 1 }).sum();
            u64::try_from(most.min(MOST_CELLS)).unwrap_or(0) * layers
        };
        self.problem.groups.iter().zip(&self.items).map(of).sum()
    }

    /// The bound at these prices.
    pub fn evaluate(
        &self,
        scope: &Scope,
        prices: &Prices,
        verdict: &mut Verdict,
        scratch: &mut Scratch,
    ) -> f64 {
        let problem = self.problem;
        verdict.clear(problem, self.cells);
        let mut bound = 0.0;
        for (d, price) in prices.minute.iter().enumerate() {
            bound += price * verdict.spare[d];
        }
        for g in 0..problem.gifts.len() {
            bound += self.best_option(g, scope, prices, verdict);
        }
        for group in 0..problem.groups.len() {
            let mut surplus = std::mem::take(&mut verdict.surplus);
            let earned = self.fill_group(group, Market { scope, prices }, &mut surplus, scratch);
            bound += earned;
            verdict.earned.push(earned);
            verdict.surplus = surplus;
        }
        verdict.bound = bound;
        bound
    }

    fn best_option(&self, g: usize, scope: &Scope, prices: &Prices, verdict: &mut Verdict) -> f64 {
        let problem = self.problem;
        let fixed = scope.fixed[g];
        let bound_to_be_made = fixed.is_some() || scope.made[g];
        let mut best = if bound_to_be_made { NEVER } else { 0.0 };
        let mut chosen = None;
        for o in problem.gifts[g].clone() {
            if fixed.map_or(!scope.allowed[o], |fixed| fixed != o) {
                verdict.option_loss[o] = f64::INFINITY;
                continue;
            }
            let option = &problem.options[o];
            let minute = prices.minute[problem.window(o)].iter().sum::<f64>();
            let worth = option.gain as f64
                - minute * option.minutes as f64
                - self.section_prices(o, scope, prices, None);
            verdict.option_loss[o] = worth;
            if worth > best {
                best = worth;
                chosen = Some(o);
            }
        }
        for o in problem.gifts[g].clone() {
            verdict.option_loss[o] = if verdict.option_loss[o] == f64::INFINITY {
                f64::INFINITY
            } else {
                best - verdict.option_loss[o]
            };
        }
        verdict.none_loss[g] = if bound_to_be_made { f64::INFINITY } else { best };
        verdict.chosen[g] = chosen;
        if let Some(o) = chosen {
            self.section_prices(o, scope, prices, Some(&mut verdict.surplus));
            for spare in &mut verdict.spare[problem.window(o)] {
                *spare -= problem.options[o].minutes as f64;
            }
        }
        best
    }

    /// What the open sections of an option cost at least; demand is noted where wanted.
    fn section_prices(
        &self,
        o: usize,
        scope: &Scope,
        prices: &Prices,
        mut surplus: Option<&mut Vec<f64>>,
    ) -> f64 {
        let problem = self.problem;
        let mut total = 0.0;
        for s in problem.options[o].sections.clone() {
            if !scope.layout.chunks[s].is_empty() {
                continue;
            }
            let section = &problem.sections[s];
            let first = self.first_cell[s];
            let (cell, price) = if !section.is_bound() {
                (first, prices.cell[first])
            } else {
                // A bound section takes the cheapest group that sections already settled allow;
                // what binds two open sections is given up here.
                let mut best = (first, f64::INFINITY);
                for (n, (group, _)) in section.needs.iter().enumerate() {
                    if scope.links_allow(problem, s, *group) && prices.cell[first + n] < best.1 {
                        best = (first + n, prices.cell[first + n]);
                    }
                }
                best
            };
            total += price;
            if let Some(surplus) = surplus.as_deref_mut() {
                surplus[cell] -= 1.0;
            }
        }
        total
    }
}
