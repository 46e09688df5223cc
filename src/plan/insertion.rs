//! Where a gift fits best into a layout as it stands.

use super::layout::{Chunks, Layout};
use super::problem::Problem;
use super::random::Random;

/// What colours the choice between places that fit.
#[derive(Clone, Debug)]
pub(super) struct Guide<'a> {
    /// By group, what a decigram is worth to others, in tenths.
    pub price: &'a [f64],
    /// Share of the price that is counted.
    pub price_share: f64,
    /// Up to this many tenths are added to each choice at random.
    pub noise: f64,
}

/// A way to make a gift.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    /// Gain less costs and prices, in tenths.
    pub score: f64,
    pub option: usize,
    pub chunks: Vec<Chunks>,
}

/// Finds the best way to make a gift. Keeps its scratch space between calls.
#[derive(Debug)]
pub(super) struct Inserter<'p> {
    problem: &'p Problem,
    /// By option, its sections, largest need first.
    orders: Vec<Vec<usize>>,
    /// Places looked at so far.
    pub work: u64,
}

/// A section in one group, and what that costs.
type Candidate = (f64, Chunks);

/// Groups with this many remnants or fewer are always searched for joins.
const FEW: usize = 8;

impl<'p> Inserter<'p> {
    pub fn new(problem: &'p Problem) -> Inserter<'p> {
        let orders = problem
            .options
            .iter()
            .map(|option| {
                let mut order: Vec<usize> = option.sections.clone().collect();
                let least = |s: &usize| {
                    problem.sections[*s].needs.iter().map(|(_, need)| *need).min().unwrap_or(0)
                };
                order.sort_by_key(|s| std::cmp::Reverse(least(s)));
                order
            })
            .collect();
        Inserter { problem, orders, work: 0 }
    }

    /// The best way found to make `gift`, which is not made. The layout comes back as it was.
    pub fn best(
        &mut self,
        layout: &mut Layout,
        gift: usize,
        guide: &Guide,
        random: &mut Random,
    ) -> Option<Fit> {
        let mut best: Option<Fit> = None;
        for option in self.problem.gifts[gift].clone() {
            if !layout.has_hours(self.problem, option) {
                continue;
            }
            let gain = self.problem.options[option].gain as f64;
            let floor = best.as_ref().map_or(f64::NEG_INFINITY, |fit| fit.score);
            let order = std::mem::take(&mut self.orders[option]);
            let mut least = gain - floor;
            let mut found = None;
            self.descend(layout, &order, 0.0, &mut least, &mut found, option, guide, random);
            self.orders[option] = order;
            if let Some(chunks) = found {
                best = Some(Fit { score: gain - least, option, chunks });
            }
        }
        best
    }

    #[allow(clippy::too_many_arguments, reason = "one recursion, its state spelt out")]
    fn descend(
        &mut self,
        layout: &mut Layout,
        order: &[usize],
        cost: f64,
        least: &mut f64,
        found: &mut Option<Vec<Chunks>>,
        option: usize,
        guide: &Guide,
        random: &mut Random,
    ) {
        let Some((section, rest)) = order.split_first() else {
            if cost < *least {
                *least = cost;
                *found =
                    Some(layout.chunks[self.problem.options[option].sections.clone()].to_vec());
            }
            return;
        };
        let candidates = self.candidates(layout, *section, guide, random);
        for (own, chunks) in candidates {
            if cost + own >= *least && own >= 0.0 {
                break;
            }
            layout.place(self.problem, *section, chunks);
            self.descend(layout, rest, cost + own, least, found, option, guide, random);
            layout.lift(self.problem, *section);
        }
    }

    /// Ways to knit a section, cheapest first: the best of each group where a choice of group
    /// binds other sections, the best of all otherwise.
    fn candidates(
        &mut self,
        layout: &Layout,
        section: usize,
        guide: &Guide,
        random: &mut Random,
    ) -> Vec<Candidate> {
        let problem = self.problem;
        let flat = &problem.sections[section];
        let mut all: Vec<Candidate> = Vec::new();
        for (group, need) in &flat.needs {
            if !links_allow(problem, layout, section, *group) {
                continue;
            }
            let base = guide.price[*group] * guide.price_share * *need as f64;
            let mut best = self.single(layout, *group, *need, guide, random);
            if problem.splits(flat.joinable, *need) {
                let joined = self.joined(layout, *group, *need, best.as_ref(), guide, random);
                best = joined.or(best);
            }
            let Some((cost, chunks)) = best else { continue };
            let cost = cost + base;
            if !flat.links.is_empty() {
                all.push((cost, chunks));
            } else if all.first().is_none_or(|(least, _)| cost < *least) {
                all.clear();
                all.push((cost, chunks));
            }
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    }

    fn single(
        &mut self,
        layout: &Layout,
        group: usize,
        need: i64,
        guide: &Guide,
        random: &mut Random,
    ) -> Option<Candidate> {
        let mut best: Option<(f64, usize)> = None;
        let remnants = &self.problem.groups[group];
        self.work += remnants.len() as u64;
        for r in remnants {
            if layout.room[*r] < need {
                continue;
            }
            let cost = layout.draw_cost(self.problem, *r, need) as f64
                + guide.noise * random.unit()
                + snugness(layout.room[*r] - need);
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, *r));
            }
        }
        best.map(|(cost, r)| (cost, Chunks::one(r, need)))
    }

    /// A way to join remnants that costs less than `rival`.
    fn joined(
        &mut self,
        layout: &Layout,
        group: usize,
        need: i64,
        rival: Option<&Candidate>,
        guide: &Guide,
        random: &mut Random,
    ) -> Option<Candidate> {
        let problem = self.problem;
        let least_chunk = problem.min_chunk;
        let rooms: Vec<usize> = problem.groups[group]
            .iter()
            .copied()
            .filter(|r| layout.room[*r] >= least_chunk)
            .collect();
        if rooms.len() < 2 || (rooms.len() > FEW && rival.is_some() && random.below(4) > 0) {
            return None;
        }
        let join = problem.join_cost as f64;
        let mut floor = rival.map_or(f64::INFINITY, |(cost, _)| *cost);
        let mut best: Option<Chunks> = None;
        self.work += (rooms.len() * rooms.len()) as u64;
        for a in &rooms {
            let all = layout.room[*a];
            for first in [all, all - problem.drib - 1, least_chunk] {
                let first = first.min(need - least_chunk);
                if first < least_chunk || (first == least_chunk && first != all.min(first)) {
                    continue;
                }
                let part = layout.draw_cost(problem, *a, first) as f64 + join;
                if part - (problem.drib * problem.drib_cost) as f64 >= floor {
                    continue;
                }
                for b in &rooms {
                    if b == a || layout.room[*b] < need - first {
                        continue;
                    }
                    let cost = part
                        + layout.draw_cost(problem, *b, need - first) as f64
                        + guide.noise * random.unit()
                        + snugness(layout.room[*b] - need + first);
                    if cost < floor {
                        floor = cost;
                        let mut chunks = Chunks::one(*a, first);
                        chunks.push(*b, need - first);
                        best = Some(chunks);
                    }
                }
            }
        }
        let starved = best.is_none() && rival.is_none();
        if problem.max_join > 2
            && need >= 3 * least_chunk
            && rooms.len() > 2
            && (starved || rooms.len() <= FEW || random.below(8) == 0)
        {
            self.thrice(layout, &rooms, need, &mut floor, &mut best, guide, random);
        }
        if best.is_none() && rival.is_none() && problem.max_join > 3 {
            best = heaped(problem, layout, rooms, need);
            if let Some(chunks) = &best {
                floor = chunks.iter().map(|(r, dg)| layout.draw_cost(problem, r, dg)).sum::<i64>()
                    as f64
                    + join * (chunks.len() - 1) as f64;
            }
        }
        best.map(|chunks| (floor, chunks))
    }

    /// Two remnants used up, the rest from a third.
    #[allow(clippy::too_many_arguments, reason = "one step of `joined`, split off for reading")]
    fn thrice(
        &mut self,
        layout: &Layout,
        rooms: &[usize],
        need: i64,
        floor: &mut f64,
        best: &mut Option<Chunks>,
        guide: &Guide,
        random: &mut Random,
    ) {
        let problem = self.problem;
        let least_chunk = problem.min_chunk;
        let join = problem.join_cost as f64;
        let pairs = rooms.len() * (rooms.len() - 1) / 2;
        let tries = pairs.min(28);
        self.work += (tries * rooms.len()) as u64;
        for n in 0..tries {
            let (i, j) = if pairs <= 28 {
                nth_pair(n, rooms.len())
            } else {
                let i = random.below(rooms.len());
                (i, (i + 1 + random.below(rooms.len() - 1)) % rooms.len())
            };
            let (a, b) = (rooms[i], rooms[j]);
            let first = layout.room[a].min(need - 2 * least_chunk);
            let second = layout.room[b].min(need - first - least_chunk);
            if first < least_chunk || second < least_chunk {
                continue;
            }
            let rest = need - first - second;
            let part = (layout.draw_cost(problem, a, first) + layout.draw_cost(problem, b, second))
                as f64
                + 2.0 * join;
            for c in rooms {
                if *c == a || *c == b || layout.room[*c] < rest {
                    continue;
                }
                let cost = part
                    + layout.draw_cost(problem, *c, rest) as f64
                    + guide.noise * random.unit()
                    + snugness(layout.room[*c] - rest);
                if cost < *floor {
                    *floor = cost;
                    let mut chunks = Chunks::one(a, first);
                    chunks.push(b, second);
                    chunks.push(*c, rest);
                    *best = Some(chunks);
                }
            }
        }
    }
}

/// Whether the links to sections that are placed let `section` come from `group`.
pub(super) fn links_allow(
    problem: &Problem,
    layout: &Layout,
    section: usize,
    group: usize,
) -> bool {
    problem.sections[section].links.iter().all(|(other, same)| {
        layout.chunks[*other].first().is_none_or(|r| (problem.group_of[r] == group) == *same)
    })
}

/// Breaks ties towards the tighter fit; worth less than a tenth up to 10 g left.
fn snugness(left: i64) -> f64 {
    left as f64 * 0.01
}

fn nth_pair(mut n: usize, of: usize) -> (usize, usize) {
    let mut i = 0;
    while n >= of - 1 - i {
        n -= of - 1 - i;
        i += 1;
    }
    (i, i + 1 + n)
}

/// The largest remnants, used up one after the other.
fn heaped(problem: &Problem, layout: &Layout, mut rooms: Vec<usize>, need: i64) -> Option<Chunks> {
    rooms.sort_by_key(|r| std::cmp::Reverse(layout.room[*r]));
    let mut chunks = Chunks::default();
    let mut open = need;
    for r in rooms.into_iter().take(problem.max_join) {
        let mut dg = layout.room[r].min(open);
        if open - dg > 0 && open - dg < problem.min_chunk {
            dg = open - problem.min_chunk;
        }
        if dg < problem.min_chunk {
            return None;
        }
        chunks.push(r, dg);
        open -= dg;
        if open == 0 {
            return Some(chunks);
        }
    }
    None
}
