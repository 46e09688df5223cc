//! The bound: yarn is sold to sections at a price, so that gifts and remnants can be judged apart.
//!
//! The rule that ties them, *each section of a gift made is knitted from remnants*, is given up;
//! instead a gift pays the price of each of its sections and a remnant is paid for the sections
//! it would serve. Each gift then takes its best option, and each remnant its best filling, found
//! exactly by a knapsack over its decigrams. Whatever the prices, the sum is at least as much as
//! any plan is worth; a subgradient method looks for the prices that make it least. Hours are
//! priced the same way.

mod filling;
mod scope;

use filling::Item;
pub(super) use filling::Scratch;
pub(super) use scope::Scope;

use super::problem::Problem;
use super::solve::StopFlag;

/// Prices: of each section (or, where a link binds its group, of each section in each group) and
/// of the minutes until each deadline. All at least 0, in tenths.
#[derive(Clone, Debug)]
pub(super) struct Prices {
    pub cell: Vec<f64>,
    pub minute: Vec<f64>,
}

/// What an evaluation found: the bound, and how far each priced rule is from being kept.
#[derive(Clone, Debug, Default)]
pub(super) struct Verdict {
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
    /// By option, how often it was taken of late, from 0 to 1.
    pub often: Vec<f64>,
}

#[derive(Debug)]
pub(super) struct Relaxation<'p> {
    problem: &'p Problem,
    items: Vec<Vec<Item>>,
    /// By section, the first of its cells; by need of the section if linked.
    first_cell: Vec<usize>,
    cells: usize,
    /// By section, whether each of its chunks costs a join and it is given one back.
    splits: Vec<bool>,
}

const NEVER: f64 = -1e18;

impl<'p> Relaxation<'p> {
    pub fn new(problem: &'p Problem) -> Relaxation<'p> {
        let mut items = vec![Vec::new(); problem.groups.len()];
        let mut first_cell = Vec::new();
        let mut splits = Vec::new();
        let mut cells = 0;
        for (s, section) in problem.sections.iter().enumerate() {
            first_cell.push(cells);
            let apart = usize::from(!section.links.is_empty());
            for (n, (group, need)) in section.needs.iter().enumerate() {
                items[*group].push(Item {
                    section: s,
                    cell: cells + n * apart,
                    need: *need,
                    splits: problem.splits(section.joinable, *need),
                });
            }
            splits.push(
                section.needs.iter().any(|(_, need)| problem.splits(section.joinable, *need)),
            );
            cells += if apart == 1 { section.needs.len() } else { 1 };
        }
        Relaxation { problem, items, first_cell, cells, splits }
    }

    /// Prices to start from: nothing costs anything.
    pub fn first_prices(&self) -> Prices {
        Prices { cell: vec![0.0; self.cells], minute: vec![0.0; self.problem.minutes.len()] }
    }

    /// By group, what a decigram earns at these prices: its remnants' fillings over their room.
    pub fn yarn_prices(&self, prices: &Prices, scratch: &mut Scratch) -> Vec<f64> {
        let scope = Scope::open(self.problem);
        (0..self.problem.groups.len())
            .map(|group| {
                let room: i64 =
                    self.problem.groups[group].iter().map(|r| scope.layout.room[*r]).sum();
                let mut ignored = vec![0.0; self.cells];
                let worth = self.fill_group(group, &scope, prices, &mut ignored, scratch);
                if room > 0 { worth.max(0.0) / room as f64 } else { 0.0 }
            })
            .collect()
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
        verdict.surplus.clear();
        verdict.surplus.resize(self.cells, 0.0);
        verdict.spare.clear();
        verdict.spare.extend(problem.minutes.iter().map(|m| *m as f64));
        verdict.option_loss.clear();
        verdict.option_loss.resize(problem.options.len(), 0.0);
        verdict.none_loss.clear();
        verdict.none_loss.resize(problem.gifts.len(), 0.0);
        verdict.chosen.clear();
        verdict.chosen.resize(problem.gifts.len(), None);
        let mut bound = 0.0;
        for (d, price) in prices.minute.iter().enumerate() {
            bound += price * verdict.spare[d];
        }
        for g in 0..problem.gifts.len() {
            bound += self.best_option(g, scope, prices, verdict);
        }
        for group in 0..problem.groups.len() {
            let mut surplus = std::mem::take(&mut verdict.surplus);
            bound += self.fill_group(group, scope, prices, &mut surplus, scratch);
            verdict.surplus = surplus;
        }
        verdict.bound = bound;
        bound
    }

    fn best_option(&self, g: usize, scope: &Scope, prices: &Prices, verdict: &mut Verdict) -> f64 {
        let problem = self.problem;
        let minute: f64 =
            problem.due[g].map_or(0.0, |due| prices.minute[due..].iter().sum::<f64>());
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
            if let Some(due) = problem.due[g] {
                for spare in &mut verdict.spare[due..] {
                    *spare -= problem.options[o].minutes as f64;
                }
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
            let (cell, price) = if section.links.is_empty() {
                (first, prices.cell[first])
            } else {
                // A linked section takes the cheapest group that sections already settled allow;
                // links between two open sections are given up here.
                let mut best = (first, f64::INFINITY);
                for (n, (group, _)) in section.needs.iter().enumerate() {
                    if scope.links_allow(problem, s, *group) && prices.cell[first + n] < best.1 {
                        best = (first + n, prices.cell[first + n]);
                    }
                }
                best
            };
            total += price;
            if self.splits[s] {
                total -= problem.join_cost as f64;
            }
            if let Some(surplus) = surplus.as_deref_mut() {
                surplus[cell] -= 1.0;
            }
        }
        total
    }

    /// Looks for prices that bring the bound to `target` or as near as it gets. Keeps the best
    /// prices in `prices` and their verdict in `best`.
    #[allow(clippy::too_many_arguments, reason = "the state of one descent")]
    pub fn descend(
        &self,
        scope: &Scope,
        prices: &mut Prices,
        best: &mut Verdict,
        target: f64,
        rounds: usize,
        step: &mut f64,
        scratch: &mut Scratch,
        stop: &StopFlag,
    ) -> f64 {
        let mut at = prices.clone();
        let mut verdict = Verdict::default();
        let mut heading: Vec<f64> = vec![0.0; self.cells + at.minute.len()];
        let mut stale = 0;
        self.evaluate(scope, &at, best, scratch);
        let mut bound = best.bound;
        verdict.clone_from(best);
        let mut often: Vec<f64> = vec![0.0; self.problem.options.len()];
        for o in best.chosen.iter().flatten() {
            often[*o] = 1.0;
        }
        for _ in 0..rounds {
            if bound <= target || stop.is_set() {
                break;
            }
            // The subgradient, less what would push a price below nothing.
            let mut norm = 0.0;
            for (n, way) in heading.iter_mut().enumerate() {
                let (slope, price) = if n < self.cells {
                    (verdict.surplus[n], at.cell[n])
                } else {
                    (verdict.spare[n - self.cells], at.minute[n - self.cells])
                };
                let slope = if price <= 0.0 && slope > 0.0 { 0.0 } else { slope };
                *way = 0.3 * *way + 0.7 * slope;
                norm += *way * *way;
            }
            if norm <= 1e-12 {
                break;
            }
            let length = *step * (verdict.bound - target).max(0.5) / norm;
            for (n, way) in heading.iter().enumerate() {
                let price =
                    if n < self.cells { &mut at.cell[n] } else { &mut at.minute[n - self.cells] };
                *price = (*price - length * way).max(0.0);
            }
            self.evaluate(scope, &at, &mut verdict, scratch);
            for share in &mut often {
                *share *= 0.93;
            }
            for o in verdict.chosen.iter().flatten() {
                often[*o] += 0.07;
            }
            if verdict.bound < bound - 1e-9 {
                if verdict.bound < bound - 0.02 * (bound - target).abs() {
                    stale = 0;
                }
                bound = verdict.bound;
                prices.clone_from(&at);
                best.clone_from(&verdict);
            } else {
                stale += 1;
            }
            if stale >= 12 {
                stale = 0;
                *step *= 0.6;
                at.clone_from(prices);
                verdict.clone_from(best);
                heading.fill(0.0);
            }
        }
        best.often = often;
        bound
    }

    /// The price of a section in a group.
    pub fn price(&self, section: usize, group: usize, prices: &Prices) -> f64 {
        let flat = &self.problem.sections[section];
        let first = self.first_cell[section];
        if flat.links.is_empty() {
            prices.cell[first]
        } else {
            let nth = flat.needs.iter().position(|(g, _)| *g == group);
            nth.map_or(0.0, |n| prices.cell[first + n])
        }
    }

    /// What a gift is given back for a section, since each of its chunks is charged as a join.
    pub fn refund(&self, section: usize) -> f64 {
        if self.splits[section] { self.problem.join_cost as f64 } else { 0.0 }
    }

    /// The cheapest price of a section in the groups it may still come from.
    pub fn cheapest(&self, section: usize, scope: &Scope, prices: &Prices) -> f64 {
        self.problem.sections[section]
            .needs
            .iter()
            .filter(|(group, _)| scope.links_allow(self.problem, section, *group))
            .map(|(group, _)| self.price(section, *group, prices))
            .fold(f64::INFINITY, f64::min)
    }
}
