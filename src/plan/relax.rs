//! The bound: yarn is sold to sections at a price, so that gifts and remnants can be judged apart.
//!
//! The rule that ties them, *each section of a gift made is knitted from remnants*, is given up;
//! instead a gift pays the price of each of its sections and a remnant is paid for the sections
//! it would serve. Each gift then takes its best option, and each remnant its best filling, found
//! exactly by a knapsack over its decigrams. Whatever the prices, the sum is at least as much as
//! any plan is worth; a subgradient method looks for the prices that make it least. Hours are
//! priced the same way.

use super::layout::Layout;
use super::problem::Problem;
use super::solve::StopFlag;

/// What is settled and what is open, in the part of the search tree that is bounded.
#[derive(Clone, Debug)]
pub(super) struct Scope {
    /// By option, whether its gift may still take it.
    pub allowed: Vec<bool>,
    /// By gift, the option it takes in any case.
    pub fixed: Vec<Option<usize>>,
    /// By gift, whether it is made in any case.
    pub made: Vec<bool>,
    /// Chunks that are settled are drawn here; by section, empty while it is open.
    pub layout: Layout,
    /// By section of a fixed option, the group it must come from, once that is settled.
    pub group: Vec<Option<usize>>,
    /// Sections that are to be joined from just these remnants, the amounts open.
    pub joins: Vec<(usize, Vec<usize>)>,
}

impl Scope {
    /// Everything open.
    pub fn open(problem: &Problem) -> Scope {
        Scope {
            allowed: vec![true; problem.options.len()],
            fixed: vec![None; problem.gifts.len()],
            made: vec![false; problem.gifts.len()],
            layout: Layout::new(problem),
            group: vec![None; problem.sections.len()],
            joins: Vec::new(),
        }
    }

    pub fn is_joined(&self, section: usize) -> bool {
        self.joins.iter().any(|(s, _)| *s == section)
    }

    /// Whether linked sections whose group is settled let `section` come from `group`.
    pub fn links_allow(&self, problem: &Problem, section: usize, group: usize) -> bool {
        self.group[section].is_none_or(|only| only == group)
            && problem.sections[section].links.iter().all(|(other, same)| {
                self.group[*other].is_none_or(|there| (there == group) == *same)
            })
    }
}

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

/// A section that could be knitted from a group.
#[derive(Clone, Copy, Debug)]
struct Item {
    section: usize,
    cell: usize,
    need: i64,
    splits: bool,
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

/// Knapsacks are kept to this many cells; heavier remnants are counted in coarser steps, which
/// leaves the bound valid.
const MOST_CELLS: i64 = 4000;
const NEVER: f64 = -1e18;

/// Scratch space of one thread.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    layers: Vec<f64>,
    open: Vec<Item>,
    forced: Vec<f64>,
    top: Vec<f64>,
    grain: i64,
    window: Vec<f64>,
    pub work: u64,
}

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

    /// What the remnants of a group earn at most; supply is noted.
    fn fill_group(
        &self,
        group: usize,
        scope: &Scope,
        prices: &Prices,
        surplus: &mut [f64],
        scratch: &mut Scratch,
    ) -> f64 {
        let problem = self.problem;
        let remnants = &problem.groups[group];
        let most = remnants.iter().map(|r| scope.layout.room[*r]).max().unwrap_or(0);
        let mut open = std::mem::take(&mut scratch.open);
        open.clear();
        open.extend(self.items[group].iter().copied().filter(|item| {
            let option = problem.sections[item.section].option;
            let gift = problem.options[option].gift;
            let wanted = match scope.fixed[gift] {
                Some(fixed) => fixed == option,
                None => scope.allowed[option],
            };
            wanted
                && (item.need <= most || item.splits)
                && scope.layout.chunks[item.section].is_empty()
                && scope.links_allow(problem, item.section, group)
                && !scope.is_joined(item.section)
        }));
        let total: i64 = open.iter().map(|item| item.need).sum();
        let joins: i64 = scope
            .joins
            .iter()
            .filter(|(_, from)| from.first().is_some_and(|r| problem.group_of[*r] == group))
            .map(|(s, _)| problem.sections[*s].need(group).unwrap_or(0))
            .sum();
        let most = most.min(total + joins);
        let grain = (most / MOST_CELLS + 1).max(1);
        let width = usize::try_from(most / grain).unwrap_or(0) + 1;
        let mut layers = std::mem::take(&mut scratch.layers);
        let size = (open.len() + 1) * width;
        if layers.len() < size {
            layers.resize(size, NEVER);
        }
        layers[..width].fill(NEVER);
        layers[0] = 0.0;
        for (n, item) in open.iter().enumerate() {
            let (before, after) = layers[n * width..(n + 2) * width].split_at_mut(width);
            self.add_item(item, grain, prices, before, after, scratch);
        }
        let mut earned = 0.0;
        for r in remnants {
            let room = scope.layout.room[*r];
            let reach = usize::try_from(room.min(most) / grain).unwrap_or(0);
            let touched = scope.layout.takers[*r] > 0;
            let forced: Vec<&(usize, Vec<usize>)> =
                scope.joins.iter().filter(|(_, from)| from.contains(r)).collect();
            let top = &layers[open.len() * width..(open.len() + 1) * width];
            if forced.is_empty() {
                let (worth, at) = self.best_end(top, reach, room, grain, touched);
                earned += worth;
                self.trace(&open, &layers, width, at, grain, prices, surplus);
            } else {
                earned += self.forced_end(
                    &forced, &open, &layers, width, reach, room, grain, group, prices, surplus,
                    scratch,
                );
            }
        }
        scratch.grain = grain;
        scratch.top.clear();
        scratch.top.extend_from_slice(&layers[open.len() * width..(open.len() + 1) * width]);
        scratch.open = open;
        scratch.layers = layers;
        earned
    }

    /// One more item in a knapsack.
    fn add_item(
        &self,
        item: &Item,
        grain: i64,
        prices: &Prices,
        before: &[f64],
        after: &mut [f64],
        scratch: &mut Scratch,
    ) {
        let problem = self.problem;
        let price = prices.cell[item.cell];
        let fee = if self.splits[item.section] { problem.join_cost as f64 } else { 0.0 };
        let width = before.len();
        after.copy_from_slice(before);
        let whole = usize::try_from(item.need / grain).unwrap_or(usize::MAX);
        let worth = price - fee;
        scratch.work += width as u64;
        if whole < width {
            for (to, from) in after[whole..].iter_mut().zip(before) {
                let with = from + worth;
                *to = if with > *to { with } else { *to };
            }
        }
        if item.splits {
            // Chunks from the least that may be joined to what leaves such a one.
            scratch.work += 4 * width as u64;
            let slope = price / item.need as f64;
            let low = usize::try_from(problem.min_chunk / grain).unwrap_or(usize::MAX);
            let high = usize::try_from((item.need - problem.min_chunk) / grain).unwrap_or(0);
            let per_cell = slope * grain as f64;
            // In coarse steps a chunk may hold up to one step more than its cells say.
            let lift = if grain > 1 { per_cell } else { 0.0 };
            slide(before, after, low, high, per_cell, lift - fee, &mut scratch.window);
        }
    }

    /// The best filling of a remnant and how much it draws.
    fn best_end(
        &self,
        top: &[f64],
        reach: usize,
        room: i64,
        grain: i64,
        touched: bool,
    ) -> (f64, usize) {
        let problem = self.problem;
        let mut best = (NEVER, 0);
        for (c, worth) in top.iter().enumerate().take(reach + 1) {
            let mut worth = *worth;
            if (touched || c > 0) && grain == 1 {
                let left = room - c as i64;
                if left <= problem.drib {
                    worth -= (left * problem.drib_cost) as f64;
                }
            }
            if worth > best.0 {
                best = (worth, c);
            }
        }
        best
    }

    /// Follows a filling back through the layers and notes what it supplies.
    #[allow(clippy::too_many_arguments, reason = "the knapsack's parts, borrowed apart")]
    fn trace(
        &self,
        open: &[Item],
        layers: &[f64],
        width: usize,
        mut at: usize,
        grain: i64,
        prices: &Prices,
        surplus: &mut [f64],
    ) {
        for n in (0..open.len()).rev() {
            let now = layers[(n + 1) * width + at];
            let before = &layers[n * width..(n + 1) * width];
            if now == before[at] {
                continue;
            }
            let item = &open[n];
            let (share, drawn) = self.what_was_added(item, now, before, at, grain, prices);
            surplus[item.cell] += share;
            at -= drawn;
        }
    }

    /// The share of an item that made `now` of `before`, and the cells it drew.
    fn what_was_added(
        &self,
        item: &Item,
        now: f64,
        before: &[f64],
        at: usize,
        grain: i64,
        prices: &Prices,
    ) -> (f64, usize) {
        let problem = self.problem;
        let price = prices.cell[item.cell];
        let fee = if self.splits[item.section] { problem.join_cost as f64 } else { 0.0 };
        let whole = usize::try_from(item.need / grain).unwrap_or(usize::MAX);
        if whole <= at && (before[at - whole] + (price - fee) == now || !item.splits) {
            return (1.0, whole);
        }
        let per_cell = price / item.need as f64 * grain as f64;
        let lift = if grain > 1 { per_cell } else { 0.0 };
        let low = usize::try_from(problem.min_chunk / grain).unwrap_or(usize::MAX);
        let high = usize::try_from((item.need - problem.min_chunk) / grain).unwrap_or(0);
        let mut best = (NEVER, low);
        for cells in low..=high.min(at) {
            let worth = before[at - cells] + per_cell * cells as f64 + lift - fee;
            if worth > best.0 {
                best = (worth, cells);
            }
        }
        (best.1 as f64 * grain as f64 / item.need as f64, best.1)
    }

    /// The best filling of a remnant that chunks of `forced` must come from.
    #[allow(clippy::too_many_arguments, reason = "the knapsack's parts, borrowed apart")]
    fn forced_end(
        &self,
        forced: &[&(usize, Vec<usize>)],
        open: &[Item],
        layers: &[f64],
        width: usize,
        reach: usize,
        room: i64,
        grain: i64,
        group: usize,
        prices: &Prices,
        surplus: &mut [f64],
        scratch: &mut Scratch,
    ) -> f64 {
        let problem = self.problem;
        let mut stack = std::mem::take(&mut scratch.forced);
        stack.clear();
        stack.extend_from_slice(&layers[open.len() * width..(open.len() + 1) * width]);
        let mut parts = Vec::new();
        for (n, (s, from)) in forced.iter().enumerate() {
            let need = problem.sections[*s].need(group).unwrap_or(1);
            let linked = !problem.sections[*s].links.is_empty();
            let nth = problem.sections[*s].needs.iter().position(|(g, _)| *g == group);
            let cell = self.first_cell[*s] + if linked { nth.unwrap_or(0) } else { 0 };
            let others = i64::try_from(from.len() - 1).unwrap_or(1);
            let item = Item { section: *s, cell, need, splits: true };
            let per_cell = prices.cell[cell] / need as f64 * grain as f64;
            let lift = if grain > 1 { per_cell } else { 0.0 };
            let low = usize::try_from(problem.min_chunk / grain).unwrap_or(usize::MAX);
            let high = usize::try_from((need - others * problem.min_chunk) / grain).unwrap_or(0);
            stack.resize((n + 2) * width, NEVER);
            let (before, after) = stack[n * width..(n + 2) * width].split_at_mut(width);
            after.fill(NEVER);
            scratch.work += 4 * width as u64;
            let fee = problem.join_cost as f64;
            slide(before, after, low, high, per_cell, lift - fee, &mut scratch.window);
            parts.push((item, per_cell, lift - fee, low, high));
        }
        let top = &stack[forced.len() * width..];
        let (worth, mut at) = self.best_end(top, reach, room, grain, true);
        if worth > NEVER / 2.0 {
            for (n, (item, per_cell, constant, low, high)) in parts.iter().enumerate().rev() {
                let before = &stack[n * width..(n + 1) * width];
                let mut best = (NEVER, *low);
                for cells in *low..=(*high).min(at) {
                    let worth = before[at - cells] + per_cell * cells as f64 + constant;
                    if worth > best.0 {
                        best = (worth, cells);
                    }
                }
                surplus[item.cell] += best.1 as f64 * grain as f64 / item.need as f64;
                at -= best.1;
            }
            self.trace(open, layers, width, at, grain, prices, surplus);
        }
        scratch.forced = stack;
        worth
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

    /// For a group, what its remnants earn at most: by remnant its worth, and the worths of
    /// drawing just so many decigrams for open sections. `None` where steps are coarse.
    pub fn tops(
        &self,
        group: usize,
        scope: &Scope,
        prices: &Prices,
        scratch: &mut Scratch,
    ) -> Option<Vec<f64>> {
        let mut ignored = vec![0.0; self.cells];
        self.fill_group(group, scope, prices, &mut ignored, scratch);
        (scratch.grain == 1).then(|| scratch.top.clone())
    }

    /// What a remnant is worth whose room is `room`, from the worths that [`Self::tops`] gave.
    pub fn end_worth(&self, top: &[f64], room: i64, touched: bool) -> f64 {
        let reach = usize::try_from(room).unwrap_or(0).min(top.len() - 1);
        self.best_end(top, reach, room, 1, touched).0
    }

    /// The same if a chunk of a section is drawn from it, one of `parts`, the amount open.
    #[allow(clippy::too_many_arguments, reason = "a remnant and a chunk, spelt out")]
    pub fn end_worth_with_chunk(
        &self,
        top: &[f64],
        room: i64,
        section: usize,
        group: usize,
        parts: i64,
        prices: &Prices,
    ) -> f64 {
        let problem = self.problem;
        let need = problem.sections[section].need(group).unwrap_or(1);
        let price = self.price(section, group, prices) / need as f64;
        let least = problem.min_chunk;
        let mut best = NEVER;
        for dg in least..=(need - (parts - 1) * least).min(room) {
            let worth = self.end_worth(top, room - dg, true) + price * dg as f64;
            best = if worth > best { worth } else { best };
        }
        best - problem.join_cost as f64
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

/// `after[c] = max(after[c], before[c - w] + slope w + constant)` for `w` from `low` to `high`.
///
/// A sliding maximum by doubling: a few plain passes, which the compiler turns into vector code.
fn slide(
    before: &[f64],
    after: &mut [f64],
    low: usize,
    high: usize,
    slope: f64,
    constant: f64,
    window: &mut Vec<f64>,
) {
    let width = before.len();
    let high = high.min(width);
    if low > high || low >= width {
        return;
    }
    // Cell `high + k` holds `before[k] - slope k`; the window of `c` starts at cell `c`.
    window.clear();
    window.resize(high, NEVER);
    window.extend(before[..width - low].iter().enumerate().map(|(k, v)| v - slope * k as f64));
    let length = high - low + 1;
    let mut span = 1;
    while span * 2 <= length {
        // In place: each cell looks ahead, at cells not yet changed.
        for i in 0..window.len().saturating_sub(span) {
            let ahead = window[i + span];
            window[i] = if ahead > window[i] { ahead } else { window[i] };
        }
        span *= 2;
    }
    let rest = length - span;
    let count = width - low;
    let first = &window[low..low + count];
    let second = &window[low + rest..];
    for (n, to) in after[low..].iter_mut().enumerate() {
        let a = first[n];
        let b = second.get(n).copied().unwrap_or(NEVER);
        let with = (if b > a { b } else { a }) + slope * (n + low) as f64 + constant;
        *to = if with > *to { with } else { *to };
    }
}
