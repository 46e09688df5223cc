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
        let guide = Guide { price, price_share: *price_share, noise: 0.0 };
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
const HOT: [f64; 4] = [3000.0, 300.0, 1000.0, 60.0];
const COLD: f64 = 1.5;
/// Work of the first cycle for each option there is.
const FIRST_CYCLE: u64 = 4_000;
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
            idle += STEP;
            let looked = self.inserter.work;
            let share = self.done as f64 / self.cycle as f64;
            let heat = self.hot * (COLD / self.hot).powf(share.min(1.0));
            self.step(price, heat);
            self.done += STEP + self.inserter.work - looked;
        }
        self.inserter.work - before + idle
    }

    fn step(&mut self, price: &[f64], heat: f64) {
        let problem = self.problem;
        let before = self.layout.value;
        self.change.ruin(problem, &mut self.layout, &mut self.random);
        self.change.recreate(
            problem,
            &mut self.layout,
            &mut self.inserter,
            price,
            heat,
            &mut self.random,
        );
        let gain = (self.layout.value - before) as f64;
        if gain >= 0.0 || self.random.unit() < (gain / heat).exp() {
            if self.layout.value > self.best.value {
                self.best.clone_from(&self.layout);
            }
        } else {
            self.change.restore(problem, &mut self.layout);
        }
    }
}

/// One change: what was taken out and what was put in.
#[derive(Debug, Default)]
struct Exchange {
    out: Vec<(usize, Vec<Chunks>)>,
    put: Vec<usize>,
    queue: Vec<usize>,
    pool: Vec<usize>,
    /// A gift that this change is to let in.
    wanted: Option<usize>,
}

impl Exchange {
    fn ruin(&mut self, problem: &Problem, layout: &mut Layout, random: &mut Random) {
        self.out.clear();
        self.put.clear();
        self.queue.clear();
        self.wanted = None;
        self.pool.clear();
        self.pool.extend(
            (0..problem.gifts.len())
                .filter(|g| layout.choice[*g].is_none() && !problem.gifts[*g].is_empty()),
        );
        let kind = random.below(8);
        if kind < 3 && !self.pool.is_empty() {
            self.wanted = Some(self.pool[random.below(self.pool.len())]);
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
        self.pool.clear();
        self.pool.extend((0..problem.gifts.len()).filter(|g| {
            layout.choice[*g].is_some_and(|option| {
                groups.is_empty()
                    || problem.options[option].sections.clone().any(|s| {
                        layout.chunks[s]
                            .first()
                            .is_some_and(|r| groups.contains(&problem.group_of[r]))
                    })
            })
        }));
        let most = if self.wanted.is_some() { 4 } else { 6 };
        let count = (1 + random.below(most)).min(self.pool.len());
        for n in 0..count {
            let pick = n + random.below(self.pool.len() - n);
            self.pool.swap(n, pick);
            let gift = self.pool[n];
            if let Some(made) = layout.unmake(problem, gift) {
                self.out.push(made);
            }
        }
    }

    fn recreate(
        &mut self,
        problem: &Problem,
        layout: &mut Layout,
        inserter: &mut Inserter,
        price: &[f64],
        heat: f64,
        random: &mut Random,
    ) {
        self.pool.clear();
        self.pool.extend((0..problem.gifts.len()).filter(|g| {
            layout.choice[*g].is_none()
                && Some(*g) != self.wanted
                && self.out.iter().all(|(option, _)| problem.options[*option].gift != *g)
        }));
        random.shuffle(&mut self.pool);
        self.queue.extend(self.out.iter().map(|(option, _)| problem.options[*option].gift));
        self.queue.extend(self.pool.iter().take(8));
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
            price_share: [0.0, 0.5, 1.0][random.below(3)],
            noise: [0.0, 2.0, heat.min(100.0)][random.below(3)],
        };
        for n in 0..self.queue.len() {
            let gift = self.queue[n];
            let fit = inserter.best(layout, gift, &guide, random);
            if let Some(fit) = fit.filter(|fit| fit.score > 0.0) {
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
