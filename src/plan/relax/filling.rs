//! What remnants earn at most at given prices: an exact knapsack over decigrams, one table for all
//! remnants of a group.

use super::scope::Scope;
use super::{NEVER, Prices, Relaxation};

/// A section that could be knitted from a group.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    pub(super) section: usize,
    pub(super) cell: usize,
    pub(super) need: i64,
    pub(super) splits: bool,
}

/// Knapsacks are kept to this many cells; heavier remnants are counted in coarser steps, which
/// leaves the bound valid.
const MOST_CELLS: i64 = 4000;

/// Scratch space of one thread.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    layers: Vec<f64>,
    open: Vec<Item>,
    forced: Vec<f64>,
    top: Vec<f64>,
    grain: i64,
    window: Vec<f64>,
    pub work: u64,
}

impl<'p> Relaxation<'p> {
    /// What the remnants of a group earn at most; supply is noted.
    pub(super) fn fill_group(
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
