//! What remnants earn at most at given prices: an exact knapsack over decigrams, one table for all
//! remnants of a group.

use crate::problem::Problem;
use crate::relax::relaxation::{Item, Market, NEVER, Prices, Relaxation};
use crate::relax::scope::Scope;

/// Knapsacks are kept to this many cells; heavier remnants are counted in coarser steps, which
/// leaves the bound valid.
pub(super) const MOST_CELLS: i64 = 4000;

/// Scratch space of one thread.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    layers: Vec<f64>,
    open: Vec<Item>,
    forced: Vec<f64>,
    top: Vec<f64>,
    grain: i64,
    window: Vec<f64>,
    value: Vec<f64>,
    pub work: u64,
}

/// The knapsack of a group: layer by layer one item more, in each layer what is earned by drawing
/// so many cells.
struct Knapsack {
    group: usize,
    open: Vec<Item>,
    layers: Vec<f64>,
    /// Cells of a layer.
    width: usize,
    /// Decigrams of a cell.
    grain: i64,
}

impl Knapsack {
    fn layer(&self, n: usize) -> &[f64] {
        &self.layers[n * self.width..(n + 1) * self.width]
    }

    /// With all items in it.
    fn top(&self) -> &[f64] {
        self.layer(self.open.len())
    }
}

/// A remnant at the end of a knapsack.
#[derive(Clone, Copy)]
struct End {
    /// What is left of it, in decigrams.
    room: i64,
    /// Cells that may be drawn from it.
    reach: usize,
    touched: bool,
}

/// A chunk that a section may take: how many cells, and what they earn.
#[derive(Clone, Copy)]
struct ChunkRange {
    low: usize,
    high: usize,
    per_cell: f64,
    /// In coarse steps a chunk may hold up to one step more than its cells say.
    lift: f64,
    fee: f64,
}

impl ChunkRange {
    /// From the least that may be joined to what leaves `kept` to other chunks, where chunks that meet
    /// `need` together are paid `price`.
    fn of(problem: &Problem, (price, need): (f64, i64), kept: i64, grain: i64, fee: f64) -> Self {
        let per_cell = price / need as f64 * grain as f64;
        ChunkRange {
            low: usize::try_from(problem.min_chunk / grain).unwrap_or(usize::MAX),
            high: usize::try_from((need - kept) / grain).unwrap_or(0),
            per_cell,
            lift: if grain > 1 { per_cell.max(0.0) } else { 0.0 },
            fee,
        }
    }
}

/// What was added to a remnant's filling.
struct Added {
    /// The part of the section that it is.
    share: f64,
    cells: usize,
    /// By how much more it earns if its chunks are charged more, where it is one.
    by_charge: f64,
}

/// A chunk that must come from a remnant, for a section that is joined from it.
struct ForcedChunk {
    item: Item,
    range: ChunkRange,
}

impl Relaxation<'_> {
    /// What the remnants of a group earn at most; supply is noted.
    pub(super) fn fill_group(
        &self,
        group: usize,
        market: Market,
        surplus: &mut [f64],
        scratch: &mut Scratch,
    ) -> f64 {
        let Some(pool) = &market.scope.pools[group] else {
            return self.fill_apart(group, market, surplus, scratch);
        };
        self.item_values(group, market, &mut scratch.value);
        scratch.work += pool.length() as u64;
        let Some((worth, set)) = pool.best(&scratch.value) else { return NEVER };
        for item in set {
            surplus[self.items[group][*item as usize].cell] += 1.0;
        }
        worth
    }

    /// What the remnants of a group earn at most if each is filled apart from the others.
    fn fill_apart(
        &self,
        group: usize,
        market: Market,
        surplus: &mut [f64],
        scratch: &mut Scratch,
    ) -> f64 {
        let Market { scope, prices } = market;
        let remnants = &self.problem.groups[group];
        let (knapsack, most) = self.knapsack(group, market, scratch);
        let mut earned = 0.0;
        for r in remnants {
            let room = scope.layout.room[*r];
            let end = End {
                room,
                reach: usize::try_from(room.min(most) / knapsack.grain).unwrap_or(0),
                touched: scope.layout.takers[*r] > 0,
            };
            let forced: Vec<&(usize, Vec<usize>)> =
                scope.joins.iter().filter(|(_, from)| from.contains(r)).collect();
            if forced.is_empty() {
                let (worth, at) = self.best_end(knapsack.top(), end, knapsack.grain);
                earned += worth;
                self.trace(&knapsack, at, prices, surplus);
            } else {
                earned += self.forced_end(&forced, &knapsack, end, prices, surplus, scratch);
            }
        }
        scratch.grain = knapsack.grain;
        scratch.top.clear();
        scratch.top.extend_from_slice(knapsack.top());
        scratch.open = knapsack.open;
        scratch.layers = knapsack.layers;
        earned
    }

    /// The knapsack of a group with all its open items in it, and the most that is worth drawing
    /// from a remnant. Borrows the scratch's space.
    fn knapsack(&self, group: usize, market: Market, scratch: &mut Scratch) -> (Knapsack, i64) {
        let Market { scope, prices } = market;
        let problem = self.problem;
        let most = problem.groups[group].iter().map(|r| scope.layout.room[*r]).max().unwrap_or(0);
        let mut open = std::mem::take(&mut scratch.open);
        open.clear();
        open.extend(
            self.items[group].iter().copied().filter(|item| self.is_open(item, group, most, scope)),
        );
        let total: i64 = open.iter().map(|item| item.need).sum();
        let joins: i64 = scope
            .joins
            .iter()
            .filter(|(_, from)| from.first().is_some_and(|r| problem.group_of[*r] == group))
            .map(|(s, _)| problem.sections[*s].need(group).unwrap_or(0))
            .sum();
        let most = most.min(total + joins);
        let grain = most / MOST_CELLS + 1;
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
        (Knapsack { group, open, layers, width, grain }, most)
    }

    /// Whether a section may still be knitted from the remnants of a group, the largest of which
    /// holds `most`.
    pub(super) fn is_open(&self, item: &Item, group: usize, most: i64, scope: &Scope) -> bool {
        let problem = self.problem;
        let option = problem.sections[item.section].option;
        let gift = problem.options[option].gift;
        let wanted = match scope.fixed[gift] {
            Some(fixed) => fixed == option,
            None => scope.allowed[option],
        };
        wanted
            && (item.need <= most || item.charge.is_some())
            && scope.layout.chunks[item.section].is_empty()
            && scope.links_allow(problem, item.section, group)
            && !scope.is_joined(item.section)
    }

    /// As many chunks as a joined section is reckoned to have at least where each is charged so much,
    /// or at most where that is more than a join.
    fn chunks_at(&self, item: &Item, charge: f64) -> f64 {
        if charge > self.problem.join_cost as f64 { item.most as f64 } else { 2.0 }
    }

    /// A chunk of a section that is not yet known to be joined. Each of its chunks is charged `charge`,
    /// whatever that is; what two of them pay too little, or the most too much, is settled with what
    /// they earn, so that no joined section loses more than its joins.
    fn open_chunk(&self, item: &Item, charge: f64, grain: i64, prices: &Prices) -> ChunkRange {
        let problem = self.problem;
        let join = problem.join_cost as f64;
        let settled = join - self.chunks_at(item, charge) * (join - charge);
        let paid = prices.cell[item.cell] + settled;
        ChunkRange::of(problem, (paid, item.need), problem.min_chunk, grain, charge)
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
        let price = prices.cell[item.cell];
        let width = before.len();
        after.copy_from_slice(before);
        let whole = usize::try_from(item.need / grain).unwrap_or(usize::MAX);
        scratch.work += width as u64;
        if whole < width {
            for (to, from) in after[whole..].iter_mut().zip(before) {
                let with = from + price;
                *to = if with > *to { with } else { *to };
            }
        }
        if let Some(charge) = item.charge {
            scratch.work += 4 * width as u64;
            let range = self.open_chunk(item, prices.cell[charge], grain, prices);
            slide(before, after, &range, &mut scratch.window);
        }
    }

    /// The best filling of a remnant and how many cells it draws.
    fn best_end(&self, top: &[f64], end: End, grain: i64) -> (f64, usize) {
        let problem = self.problem;
        let mut best = (NEVER, 0);
        for (c, worth) in top.iter().enumerate().take(end.reach + 1) {
            let mut worth = *worth;
            if (end.touched || c > 0) && grain == 1 {
                let left = end.room - c as i64;
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

    /// Follows a filling that draws `at` cells back through the layers and notes what it supplies.
    fn trace(&self, knapsack: &Knapsack, mut at: usize, prices: &Prices, surplus: &mut [f64]) {
        for (n, item) in knapsack.open.iter().enumerate().rev() {
            let now = knapsack.layer(n + 1)[at];
            let before = knapsack.layer(n);
            if now == before[at] {
                continue;
            }
            let added = self.what_was_added(item, now, before, at, knapsack.grain, prices);
            surplus[item.cell] += added.share;
            if let Some(charge) = item.charge {
                surplus[charge] += added.by_charge;
            }
            at -= added.cells;
        }
    }

    /// What of an item made `now` of `before`.
    fn what_was_added(
        &self,
        item: &Item,
        now: f64,
        before: &[f64],
        at: usize,
        grain: i64,
        prices: &Prices,
    ) -> Added {
        let price = prices.cell[item.cell];
        let whole = usize::try_from(item.need / grain).unwrap_or(usize::MAX);
        let charge = match item.charge {
            Some(charge) if whole > at || before[at - whole] + price != now => prices.cell[charge],
            _ => return Added { share: 1.0, cells: whole, by_charge: 0.0 },
        };
        let range = self.open_chunk(item, charge, grain, prices);
        let mut best = (NEVER, range.low);
        for cells in range.low..=range.high.min(at) {
            let worth =
                before[at - cells] + range.per_cell * cells as f64 + (range.lift - range.fee);
            if worth > best.0 {
                best = (worth, cells);
            }
        }
        let share = best.1 as f64 * grain as f64 / item.need as f64;
        let by_charge = self.chunks_at(item, charge) * share - 1.0;
        Added { share, cells: best.1, by_charge }
    }

    /// The best filling of a remnant that chunks of `forced` must come from.
    fn forced_end(
        &self,
        forced: &[&(usize, Vec<usize>)],
        knapsack: &Knapsack,
        end: End,
        prices: &Prices,
        surplus: &mut [f64],
        scratch: &mut Scratch,
    ) -> f64 {
        let (width, grain) = (knapsack.width, knapsack.grain);
        let mut stack = std::mem::take(&mut scratch.forced);
        stack.clear();
        stack.extend_from_slice(knapsack.top());
        let mut parts = Vec::new();
        for (n, (section, from)) in forced.iter().enumerate() {
            let part = self.forced_chunk(*section, from.len(), knapsack, prices);
            stack.resize((n + 2) * width, NEVER);
            let (before, after) = stack[n * width..(n + 2) * width].split_at_mut(width);
            after.fill(NEVER);
            scratch.work += 4 * width as u64;
            slide(before, after, &part.range, &mut scratch.window);
            parts.push(part);
        }
        let top = &stack[forced.len() * width..];
        let (worth, mut at) = self.best_end(top, End { touched: true, ..end }, grain);
        if worth > NEVER / 2.0 {
            for (n, ForcedChunk { item, range }) in parts.iter().enumerate().rev() {
                let before = &stack[n * width..(n + 1) * width];
                let constant = range.lift - range.fee;
                let mut best = (NEVER, range.low);
                for cells in range.low..=range.high.min(at) {
                    let worth = before[at - cells] + range.per_cell * cells as f64 + constant;
                    if worth > best.0 {
                        best = (worth, cells);
                    }
                }
                surplus[item.cell] += best.1 as f64 * grain as f64 / item.need as f64;
                at -= best.1;
            }
            self.trace(knapsack, at, prices, surplus);
        }
        scratch.forced = stack;
        worth
    }

    /// A chunk for a section that is joined from so many remnants.
    fn forced_chunk(
        &self,
        section: usize,
        parts: usize,
        knapsack: &Knapsack,
        prices: &Prices,
    ) -> ForcedChunk {
        let problem = self.problem;
        let flat = &problem.sections[section];
        let need = flat.need(knapsack.group).unwrap_or(1);
        let nth = flat.needs.iter().position(|(g, _)| *g == knapsack.group);
        let cell = self.first_cell[section] + if flat.is_bound() { nth.unwrap_or(0) } else { 0 };
        let others = i64::try_from(parts - 1).unwrap_or(1);
        // How many joins there are is known, so that they are paid for by the decigram.
        let paid = prices.cell[cell] - (others * problem.join_cost) as f64;
        let kept = others * problem.min_chunk;
        ForcedChunk {
            item: Item { section, cell, need, charge: None, most: others + 1 },
            range: ChunkRange::of(problem, (paid, need), kept, knapsack.grain, 0.0),
        }
    }

    /// For a group, what its remnants earn at most: by remnant its worth, and the worths of
    /// drawing just so many decigrams for open sections. `None` where steps are coarse.
    pub fn tops(&self, group: usize, market: Market, scratch: &mut Scratch) -> Option<Vec<f64>> {
        let mut ignored = vec![0.0; self.cells];
        self.fill_apart(group, market, &mut ignored, scratch);
        (scratch.grain == 1).then(|| scratch.top.clone())
    }

    /// What a remnant of a group is worth by its room, untouched and touched, from the worths that
    /// [`Self::tops`] gave.
    pub fn end_worths(
        &self,
        group: usize,
        scope: &Scope,
        top: &[f64],
        scratch: &mut Scratch,
    ) -> [Vec<f64>; 2] {
        let problem = self.problem;
        let most = problem.groups[group].iter().map(|r| scope.layout.room[*r]).max().unwrap_or(0);
        let drib = usize::try_from(problem.drib).unwrap_or(usize::MAX);
        let rooms = usize::try_from(most).unwrap_or(0) + 1;
        scratch.work += 2 * (rooms * (drib.min(rooms) + 1)) as u64;
        let of = |touched: bool| {
            // The most that can be had where no useless end is left.
            let mut kept = NEVER;
            let mut worths = Vec::with_capacity(rooms);
            for room in 0..rooms {
                if let Some(worth) = room.checked_sub(drib + 1).and_then(|c| top.get(c)) {
                    kept = kept.max(*worth);
                }
                let mut best = kept;
                for (c, worth) in
                    top.iter().enumerate().take(room + 1).skip(room.saturating_sub(drib))
                {
                    let paid = touched || c > 0;
                    let end = if paid { (room - c) as i64 * problem.drib_cost } else { 0 };
                    best = best.max(worth - end as f64);
                }
                worths.push(best);
            }
            worths
        };
        [of(false), of(true)]
    }

    /// What a remnant is worth if a chunk of a section is drawn from it that leaves `kept` to other
    /// chunks, the amount open. `touched` is what it is worth by room once touched. The section needs
    /// `need` decigrams and pays `price` for them.
    pub fn worth_with_chunk(
        &self,
        touched: &[f64],
        room: i64,
        (price, need): (f64, i64),
        kept: i64,
    ) -> f64 {
        let problem = self.problem;
        let price = price / need as f64;
        let mut best = NEVER;
        for dg in problem.min_chunk..=(need - kept).min(room) {
            let worth = touched[usize::try_from(room - dg).unwrap_or(0)] + price * dg as f64;
            best = if worth > best { worth } else { best };
        }
        best
    }
}

/// `after[c] = max(after[c], before[c - w] + per_cell w + lift - fee)` for all `w` of a range.
///
/// A sliding maximum by doubling: a few plain passes, which the compiler turns into vector code.
fn slide(before: &[f64], after: &mut [f64], range: &ChunkRange, window: &mut Vec<f64>) {
    let (low, slope, constant) = (range.low, range.per_cell, range.lift - range.fee);
    let width = before.len();
    let high = range.high.min(width);
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
