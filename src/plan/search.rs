//! Annealed ruin and recreate: a few gifts are taken out and put back in other ways, the change
//! kept if it is better, or at times if it is little worse. Finds good plans, proves nothing.

use super::insertion::{Guide, Inserter};
use super::layout::{Chunks, Layout};
use super::problem::{FlatSection, Problem};
use super::random::Random;
use super::stop::StopFlag;

/// Puts in what fits, the most valuable first: those that gain most for what their yarn is worth, and
/// then, whatever that is, what still fits. Gives the places looked at too.
pub(super) fn greedy(problem: &Problem, price: &[f64], random: &mut Random) -> (Layout, u64) {
    let mut layout = Layout::new(problem);
    let mut inserter = Inserter::new(problem);
    let priced = price.iter().any(|price| *price > 0.0);
    let keyed = |g: usize| {
        let options = problem.gifts[g].clone();
        let worth = options.map(|o| {
            let gain = problem.options[o].gain as f64;
            if priced { gain / (yarn_worth(problem, o, price) + 1.0) } else { gain }
        });
        worth.fold(f64::NEG_INFINITY, f64::max)
    };
    let mut order: Vec<(f64, usize)> = (0..problem.gifts.len()).map(|g| (keyed(g), g)).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    for price_share in if priced { &[1.0, 0.0][..] } else { &[0.0][..] } {
        let guide = Guide { price, price_share: *price_share, noise: 0.0, floor: 0.0 };
        for (_, gift) in &order {
            if layout.choice[*gift].is_none()
                && let Some(fit) = inserter.best(&mut layout, *gift, &guide, random)
                && fit.score > 0.0
            {
                layout.make(problem, fit.option, &fit.chunks);
            }
        }
    }
    (layout, inserter.work)
}

/// What the yarn of an option is worth at least.
fn yarn_worth(problem: &Problem, option: usize, price: &[f64]) -> f64 {
    let sections = problem.sections[problem.options[option].sections.clone()].iter();
    let of = |section: &FlatSection| {
        let needs = section.needs.iter().map(|(group, need)| price[*group] * *need as f64);
        needs.fold(f64::INFINITY, f64::min)
    };
    sections.map(of).sum()
}

/// One chain of the search. It can be run in turns of any length; what it finds depends on its
/// generator, its turns and what it is handed, and on nothing else.
#[derive(Debug)]
pub(super) struct Chain<'p> {
    problem: &'p Problem,
    inserter: Inserter<'p>,
    random: Random,
    pub best: Layout,
    layout: Layout,
    change: Exchange,
    /// Work of the running cycle, from hot to cold, and how much it is to be.
    done: u64,
    cycle: u64,
    hot: f64,
    cycles: usize,
}

/// Temperatures at which cycles start, in turn, and at which all end, in tenths.
const HOT: [f64; 4] = [600.0, 60.0, 200.0, 12.0];
const COLD: f64 = 1.5;
/// Work of the first cycle for each option there is.
const FIRST_CYCLE: u64 = 4_000;
/// Of more gifts than this, those that suit are met by chance.
const FEW_GIFTS: usize = 100;
/// Up to this share of a cycle yarn left over counts for all that it is worth to others, then less and
/// less: in the end it is worth nothing.
const THRIFTY: f64 = 0.4;
/// Gifts of a match that are taken out with one of them, at most.
const MOST_MATES: usize = 4;
/// A step costs this much even if it looks at nothing.
const STEP: u64 = 20;

impl<'p> Chain<'p> {
    pub fn new(problem: &'p Problem, start: &Layout, random: Random) -> Chain<'p> {
        Chain {
            problem,
            inserter: Inserter::new(problem),
            random,
            best: start.clone(),
            layout: start.clone(),
            change: Exchange::default(),
            done: 0,
            cycle: FIRST_CYCLE * problem.options.len() as u64,
            hot: HOT[0],
            cycles: 0,
        }
    }

    /// Goes on from a plan that came from elsewhere, with a new cycle.
    pub fn restart(&mut self, from: &Layout) {
        self.layout.clone_from(from);
        self.done = 0;
        self.hot = HOT[1];
    }

    /// Runs for about `work` places looked at; gives how many it were. A cycle that begins
    /// starts from `leader`, every other time.
    pub fn run(&mut self, work: u64, price: &[f64], leader: &Layout, stop: &StopFlag) -> u64 {
        let problem = self.problem;
        if problem.options.is_empty() {
            return work;
        }
        let before = self.inserter.work;
        let mut idle = 0;
        let mut steps = 0u64;
        while self.inserter.work - before + idle < work {
            steps += 1;
            if steps.is_multiple_of(64) && stop.is_set() {
                break;
            }
            if self.done >= self.cycle {
                self.cycles += 1;
                self.done = 0;
                self.cycle += self.cycle / 2;
                self.hot = HOT[self.cycles % HOT.len()];
                if self.random.below(2) == 0 {
                    self.layout.clone_from(leader);
                } else if self.random.below(2) == 0 {
                    self.layout.clone_from(&self.best);
                }
            }
            let looked = self.inserter.work;
            self.change.looked = 0;
            let share = self.done as f64 / self.cycle as f64;
            let heat = self.hot * (COLD / self.hot).powf(share.min(1.0));
            self.step(price, heat, thrift(share));
            let own = STEP + self.change.looked;
            idle += own;
            self.done += own + self.inserter.work - looked;
        }
        self.inserter.work - before + idle
    }

    fn step(&mut self, price: &[f64], heat: f64, thrift: f64) {
        let problem = self.problem;
        let before = self.layout.value;
        self.change.saved = 0.0;
        self.change.ruin(problem, &mut self.layout, price, &mut self.random);
        self.change.recreate(
            problem,
            &mut self.layout,
            &mut self.inserter,
            price,
            (heat, thrift),
            &mut self.random,
        );
        let gain = (self.layout.value - before) as f64 + thrift * self.change.saved;
        if gain >= 0.0 || self.random.unit() < (gain / heat).exp() {
            if self.layout.value > self.best.value {
                self.best.clone_from(&self.layout);
            }
        } else {
            self.change.restore(problem, &mut self.layout);
        }
    }
}

/// How much what yarn is worth counts when so much of a cycle is done.
fn thrift(done: f64) -> f64 {
    ((1.0 - done) / (1.0 - THRIFTY)).clamp(0.0, 1.0)
}

/// One change: what was taken out and what was put in.
#[derive(Debug, Default)]
struct Exchange {
    out: Vec<(usize, Vec<Chunks>)>,
    put: Vec<usize>,
    queue: Vec<usize>,
    pool: Vec<usize>,
    /// Gifts looked at.
    looked: u64,
    /// What the yarn is worth that lies free now and did not before, less what no longer does.
    saved: f64,
    /// A gift that this change is to let in.
    wanted: Option<usize>,
}

impl Exchange {
    fn ruin(&mut self, problem: &Problem, layout: &mut Layout, price: &[f64], random: &mut Random) {
        self.out.clear();
        self.put.clear();
        self.queue.clear();
        self.wanted = None;
        let kind = random.below(8);
        if kind < 3 {
            let left_out = |g: usize| layout.choice[g].is_none() && !problem.gifts[g].is_empty();
            self.draw(problem, 1, left_out, random);
            self.wanted = self.pool.first().copied();
        }
        let groups: Vec<usize> = if let Some(gift) = self.wanted {
            let options = problem.gifts[gift].clone();
            let option = &problem.options[options.start + random.below(options.len())];
            option
                .sections
                .clone()
                .map(|s| {
                    let needs = &problem.sections[s].needs;
                    needs[random.below(needs.len())].0
                })
                .collect()
        } else if kind < 7 {
            let count = 1 + random.below(2);
            (0..count).map(|_| problem.group_of[random.below(problem.group_of.len())]).collect()
        } else {
            Vec::new()
        };
        let touches = |g: usize| {
            layout.choice[g].is_some_and(|option| {
                let sections = problem.options[option].sections.clone();
                let mut firsts = sections.filter_map(|s| layout.chunks[s].first());
                groups.is_empty() || firsts.any(|r| groups.contains(&problem.group_of[r]))
            })
        };
        let most = if self.wanted.is_some() { 4 } else { 6 };
        let count = 1 + random.below(most);
        self.draw(problem, count, touches, random);
        if problem.matches > 0 {
            self.add_mates(problem, layout, random);
        }
        for n in 0..self.pool.len() {
            let gift = self.pool[n];
            if let Some(made) = layout.unmake(problem, gift) {
                self.saved += yarn(problem, layout, price, &made.1);
                self.out.push(made);
            }
        }
    }

    /// Takes some of those out too that gifts are to match: alone they could only go back as they were.
    fn add_mates(&mut self, problem: &Problem, layout: &Layout, random: &mut Random) {
        let first = self.wanted.into_iter().chain(self.pool.iter().copied());
        for gift in first.collect::<Vec<_>>() {
            let mates = &problem.mates[gift];
            if mates.is_empty() || random.below(2) == 0 {
                continue;
            }
            let start = random.below(mates.len());
            for n in 0..mates.len().min(MOST_MATES) {
                let mate = mates[(start + n) % mates.len()];
                if layout.choice[mate].is_some() && !self.pool.contains(&mate) {
                    self.pool.push(mate);
                }
            }
        }
    }

    /// Draws so many gifts of a kind at random, or as many as there are; of very many, only those that
    /// are soon met.
    fn draw(
        &mut self,
        problem: &Problem,
        count: usize,
        fits: impl Fn(usize) -> bool,
        random: &mut Random,
    ) {
        let gifts = problem.gifts.len();
        self.pool.clear();
        if gifts > FEW_GIFTS {
            for _ in 0..FEW_GIFTS {
                let gift = random.below(gifts);
                self.looked += 1;
                if !self.pool.contains(&gift) && fits(gift) {
                    self.pool.push(gift);
                    if self.pool.len() == count {
                        return;
                    }
                }
            }
            return;
        }
        self.looked += gifts as u64;
        self.pool.extend((0..gifts).filter(|gift| fits(*gift)));
        for n in 0..count.min(self.pool.len()) {
            let pick = n + random.below(self.pool.len() - n);
            self.pool.swap(n, pick);
        }
        self.pool.truncate(count);
    }

    fn recreate(
        &mut self,
        problem: &Problem,
        layout: &mut Layout,
        inserter: &mut Inserter,
        price: &[f64],
        (heat, thrift): (f64, f64),
        random: &mut Random,
    ) {
        let out: Vec<usize> =
            self.out.iter().map(|(option, _)| problem.options[*option].gift).collect();
        let wanted = self.wanted;
        let left_out =
            |g: usize| layout.choice[g].is_none() && Some(g) != wanted && !out.contains(&g);
        self.draw(problem, 8, left_out, random);
        self.queue.extend(self.out.iter().map(|(option, _)| problem.options[*option].gift));
        self.queue.extend(&self.pool);
        match random.below(3) {
            0 => random.shuffle(&mut self.queue),
            1 => {
                let keyed = |g: &usize| {
                    problem.gifts[*g].clone().map(|o| problem.options[o].gain).max().unwrap_or(0)
                };
                self.queue.sort_by_key(|g| std::cmp::Reverse(keyed(g)));
            }
            _ => {}
        }
        if let Some(wanted) = self.wanted {
            self.queue.insert(0, wanted);
        }
        let guide = Guide {
            price,
            price_share: thrift * [1.0, 1.0, 0.5][random.below(3)],
            noise: [0.0, 2.0, heat.min(100.0)][random.below(3)],
            floor: 0.0,
        };
        for n in 0..self.queue.len() {
            let gift = self.queue[n];
            let fit = inserter.best(layout, gift, &guide, random);
            if let Some(fit) = fit.filter(|fit| fit.score > 0.0) {
                self.saved -= yarn(problem, layout, price, &fit.chunks);
                layout.make(problem, fit.option, &fit.chunks);
                self.put.push(gift);
            }
        }
    }

    fn restore(&mut self, problem: &Problem, layout: &mut Layout) {
        for gift in self.put.drain(..) {
            layout.unmake(problem, gift);
        }
        for (option, chunks) in self.out.drain(..) {
            layout.make(problem, option, &chunks);
        }
    }
}

/// What the yarn of a gift that is not made is worth where it lies. What is too little to be joined is
/// worth nothing.
fn yarn(problem: &Problem, layout: &Layout, price: &[f64], sections: &[Chunks]) -> f64 {
    let mut drawn: Vec<(usize, i64)> = Vec::with_capacity(8);
    for (r, dg) in sections.iter().flat_map(Chunks::iter) {
        match drawn.iter_mut().find(|(other, _)| *other == r) {
            Some((_, all)) => *all += dg,
            None => drawn.push((r, dg)),
        }
    }
    let of = |(r, dg): &(usize, i64)| {
        let room = layout.room[*r];
        let useful = |room: i64| if room < problem.min_chunk { 0 } else { room };
        (useful(room) - useful(room - dg)) as f64 * price[problem.group_of[*r]]
    };
    drawn.iter().map(of).sum()
}
