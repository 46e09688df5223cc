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
    /// Nothing that scores no more than this is of use.
    pub floor: f64,
}

impl Guide<'_> {
    /// What yarn is worth to others, as far as that counts.
    fn yarn(&self, group: usize, dg: i64) -> f64 {
        self.price[group] * self.price_share * dg as f64
    }
}

/// A way to make a gift.
#[derive(Clone, Debug)]
pub(super) struct Insertion {
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
    /// What a section can spare at most, by using up useless ends.
    spared: f64,
    options: Vec<(f64, usize)>,
    /// Places looked at so far.
    pub work: u64,
}

/// A section in one group, and what that costs.
type Candidate = (f64, Chunks);

/// What a gift is put into, and what colours the choice.
struct Insert<'a> {
    layout: &'a mut Layout,
    guide: &'a Guide<'a>,
    random: &'a mut Random,
}

impl Insert<'_> {
    /// What drawing so much from a remnant costs, joins left aside: ties are broken by chance as far
    /// as the guide wants, then towards the tighter fit.
    fn cost(
        &mut self,
        problem: &Problem,
        section: usize,
        (r, dg): (usize, i64),
        before: f64,
    ) -> f64 {
        let noise = self.guide.noise;
        let noise = if noise > 0.0 { noise * self.random.unit() } else { 0.0 };
        before
            + self.layout.draw_cost(problem, section, r, dg) as f64
            + noise
            + (self.layout.room[r] - dg) as f64 * problem.snug
    }
}

/// The cheapest way so far to knit all sections of an option.
struct Cheapest {
    option: usize,
    cost: f64,
    chunks: Option<Vec<Chunks>>,
}

/// The cheapest way so far to join a section.
struct Joined {
    cost: f64,
    chunks: Option<Chunks>,
}

/// Groups with this many remnants or fewer are always searched for joins.
const FEW: usize = 8;
/// With more remnants than this, so many are tried as the first of two.
const MANY: usize = 12;

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
        let spared = (problem.drib * problem.drib_cost) as f64;
        Inserter { problem, orders, spared, options: Vec::new(), work: 0 }
    }

    /// The best way found to make `gift`, which is not made. The layout comes back as it was.
    pub fn best(
        &mut self,
        layout: &mut Layout,
        gift: usize,
        guide: &Guide,
        random: &mut Random,
    ) -> Option<Insertion> {
        let mut best: Option<Insertion> = None;
        let mut into = Insert { layout, guide, random };
        // The most promising first, so that the others need hardly be looked at.
        let mut options = std::mem::take(&mut self.options);
        options.clear();
        options.extend(self.problem.gifts[gift].clone().map(|option| {
            let gain = self.problem.options[option].gain as f64;
            (gain - self.least_cost(option, guide), option)
        }));
        options.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (most, option) in &options {
            let option = *option;
            let floor = best.as_ref().map_or(guide.floor, |found| found.score);
            if *most <= floor {
                break;
            }
            if !into.layout.has_hours(self.problem, option) {
                continue;
            }
            let gain = self.problem.options[option].gain as f64;
            let order = std::mem::take(&mut self.orders[option]);
            let mut cheapest = Cheapest { option, cost: gain - floor, chunks: None };
            self.descend(&mut into, &order, 0.0, &mut cheapest);
            self.orders[option] = order;
            if let Some(chunks) = cheapest.chunks {
                best = Some(Insertion { score: gain - cheapest.cost, option, chunks });
            }
        }
        self.options = options;
        best
    }

    /// What an option costs at least, as the guide sees it.
    fn least_cost(&mut self, option: usize, guide: &Guide) -> f64 {
        let sections = self.problem.options[option].sections.clone();
        self.work += sections.len() as u64;
        let of = |section: usize| {
            let needs = self.problem.sections[section].needs.iter();
            let costs = needs.map(|(group, need)| guide.yarn(*group, *need));
            costs.fold(f64::INFINITY, f64::min) - self.spared
        };
        sections.map(of).sum()
    }

    /// Knits the sections in `order` in all ways that may be cheaper than the cheapest.
    fn descend(&mut self, into: &mut Insert, order: &[usize], cost: f64, cheapest: &mut Cheapest) {
        let Some((section, rest)) = order.split_first() else {
            let cost = cost + into.layout.alike_cost(self.problem, cheapest.option) as f64;
            if cost < cheapest.cost {
                let sections = self.problem.options[cheapest.option].sections.clone();
                cheapest.cost = cost;
                cheapest.chunks = Some(into.layout.chunks[sections].to_vec());
            }
            return;
        };
        let candidates = self.candidates(into, *section);
        for (own, chunks) in candidates {
            if cost + own >= cheapest.cost && own >= 0.0 {
                break;
            }
            into.layout.place(self.problem, *section, chunks);
            self.descend(into, rest, cost + own, cheapest);
            into.layout.lift(self.problem, *section);
        }
    }

    /// Ways to knit a section, cheapest first: the best of each group where a choice of group
    /// binds other sections, the best of all otherwise.
    fn candidates(&mut self, into: &mut Insert, section: usize) -> Vec<Candidate> {
        let problem = self.problem;
        let flat = &problem.sections[section];
        let binds = flat.is_bound() || problem.set_of[problem.options[flat.option].gift].is_some();
        let mut all: Vec<Candidate> = Vec::new();
        let base = |(group, need): &(usize, i64)| {
            (into.guide.yarn(*group, *need) + flat.fee(*group) as f64, *group, *need)
        };
        let mut groups: Vec<(f64, usize, i64)> = flat.needs.iter().map(base).collect();
        groups.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (base, group, need) in groups {
            if !binds && all.first().is_some_and(|(least, _)| base - self.spared >= *least) {
                break;
            }
            if !links_allow(problem, into.layout, section, group) {
                continue;
            }
            let mut best = self.single(into, section, group, need);
            if problem.splits(group, flat.joinable, need) {
                let joined = self.joined(into, section, (group, need), best.as_ref());
                best = joined.or(best);
            }
            let Some((cost, chunks)) = best else { continue };
            let cost = cost + base;
            if binds {
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
        into: &mut Insert,
        section: usize,
        group: usize,
        need: i64,
    ) -> Option<Candidate> {
        let mut best: Option<(f64, usize)> = None;
        if into.layout.most[group] < need {
            self.work += 1;
            return None;
        }
        let remnants = &self.problem.groups[group];
        self.work += remnants.len() as u64;
        let mut most = 0;
        for r in remnants {
            let room = into.layout.room[*r];
            most = most.max(room);
            if room < need || !self.problem.may(section, *r) {
                continue;
            }
            let cost = into.cost(self.problem, section, (*r, need), 0.0);
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, *r));
            }
        }
        into.layout.most[group] = most;
        best.map(|(cost, r)| (cost, Chunks::one(r, need)))
    }

    /// A way to join remnants that costs less than `rival`.
    fn joined(
        &mut self,
        into: &mut Insert,
        section: usize,
        (group, need): (usize, i64),
        rival: Option<&Candidate>,
    ) -> Option<Candidate> {
        let problem = self.problem;
        let most = problem.most_joined(group, need);
        if into.layout.most[group].saturating_mul(i64::try_from(most).unwrap_or(i64::MAX)) < need {
            return None;
        }
        let rooms: Vec<usize> = problem.groups[group]
            .iter()
            .copied()
            .filter(|r| into.layout.room[*r] >= problem.min_chunk && problem.may(section, *r))
            .collect();
        let many = rooms.len() > FEW;
        if rooms.len() < 2 || (many && rival.is_some() && into.random.below(4) > 0) {
            return None;
        }
        let mut best =
            Joined { cost: rival.map_or(f64::INFINITY, |(cost, _)| *cost), chunks: None };
        self.work += problem.groups[group].len() as u64;
        // The largest three, to tell how many it takes.
        let mut top = [0; 3];
        for r in &rooms {
            let mut room = into.layout.room[*r];
            for high in &mut top {
                if room > *high {
                    std::mem::swap(&mut room, high);
                }
            }
        }
        if top[0] + top[1] >= need {
            self.twice(into, section, (&rooms, need), &mut best);
        }
        let starved = best.chunks.is_none() && rival.is_none();
        if most > 2
            && need >= 3 * problem.min_chunk
            && rooms.len() > 2
            && top.iter().sum::<i64>() >= need
            && (starved || !many || into.random.below(8) == 0)
        {
            self.thrice(into, section, (&rooms, need), &mut best);
        }
        if best.chunks.is_none() && rival.is_none() && most > 3 {
            best.chunks = heaped(problem, into.layout, rooms, (group, need));
            if let Some(chunks) = &best.chunks {
                let ends =
                    chunks.iter().map(|(r, dg)| into.layout.draw_cost(problem, section, r, dg));
                best.cost =
                    ends.sum::<i64>() as f64 + problem.join_cost as f64 * (chunks.len() - 1) as f64;
            }
        }
        best.chunks.map(|chunks| (best.cost, chunks))
    }

    /// One remnant used up, or but for what is of use, or drawn from as little as may be; the rest
    /// from another.
    fn twice(
        &mut self,
        into: &mut Insert,
        section: usize,
        (rooms, need): (&[usize], i64),
        best: &mut Joined,
    ) {
        let problem = self.problem;
        let least_chunk = problem.min_chunk;
        let join = problem.join_cost as f64;
        // In large groups a few will do.
        let count = rooms.len().min(MANY);
        let start = if count < rooms.len() { into.random.below(rooms.len()) } else { 0 };
        self.work += (count * rooms.len()) as u64;
        for n in 0..count {
            let a = &rooms[(start + n) % rooms.len()];
            let all = into.layout.room[*a];
            for first in [all, all - problem.drib - 1, least_chunk] {
                let first = first.min(need - least_chunk);
                if first < least_chunk || (first == least_chunk && first != all.min(first)) {
                    continue;
                }
                let part = into.layout.draw_cost(problem, section, *a, first) as f64 + join;
                if part - (problem.drib * problem.drib_cost) as f64 >= best.cost {
                    continue;
                }
                for b in rooms {
                    if b == a || into.layout.room[*b] < need - first {
                        continue;
                    }
                    let cost = into.cost(problem, section, (*b, need - first), part);
                    if cost < best.cost {
                        let mut chunks = Chunks::one(*a, first);
                        chunks.push(*b, need - first);
                        *best = Joined { cost, chunks: Some(chunks) };
                    }
                }
            }
        }
    }

    /// Two remnants used up, the rest from a third.
    fn thrice(
        &mut self,
        into: &mut Insert,
        section: usize,
        (rooms, need): (&[usize], i64),
        best: &mut Joined,
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
                let i = into.random.below(rooms.len());
                (i, (i + 1 + into.random.below(rooms.len() - 1)) % rooms.len())
            };
            let (a, b) = (rooms[i], rooms[j]);
            let first = into.layout.room[a].min(need - 2 * least_chunk);
            let second = into.layout.room[b].min(need - first - least_chunk);
            if first < least_chunk || second < least_chunk {
                continue;
            }
            let rest = need - first - second;
            let ends = into.layout.draw_cost(problem, section, a, first)
                + into.layout.draw_cost(problem, section, b, second);
            let part = ends as f64 + 2.0 * join;
            for c in rooms {
                if *c == a || *c == b || into.layout.room[*c] < rest {
                    continue;
                }
                let cost = into.cost(problem, section, (*c, rest), part);
                if cost < best.cost {
                    let mut chunks = Chunks::one(a, first);
                    chunks.push(b, second);
                    chunks.push(*c, rest);
                    *best = Joined { cost, chunks: Some(chunks) };
                }
            }
        }
    }
}

/// Whether the sections that are placed let `section` come from `group`.
pub(super) fn links_allow(
    problem: &Problem,
    layout: &Layout,
    section: usize,
    group: usize,
) -> bool {
    layout.matches(problem, section, group)
        && problem.sections[section].links.iter().all(|(other, link)| {
            layout.chunks[*other].first().is_none_or(|r| link.allows(problem.group_of[r], group))
        })
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
fn heaped(
    problem: &Problem,
    layout: &Layout,
    mut rooms: Vec<usize>,
    (group, need): (usize, i64),
) -> Option<Chunks> {
    rooms.sort_by_key(|r| std::cmp::Reverse(layout.room[*r]));
    let mut chunks = Chunks::default();
    let mut open = need;
    for r in rooms.into_iter().take(problem.most_joined(group, need)) {
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
