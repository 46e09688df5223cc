use std::collections::BinaryHeap;
use std::sync::Arc;

use rayon::prelude::*;

use super::amounts;
use super::branch::{Brancher, Decision, Looked, Open, Part, whole};
use super::exhaust::Trial;
use super::layout::Layout;
use super::problem::Problem;
use super::random::Random;
use super::rank;
use super::relax::{Aim, Descent, Pace, Prices, Rates, Relaxation, Scope, Scratch};
use super::search::{self, Chain};
use super::work::{CELLS_TO_A_PLACE, PLACES_TO_A_UNIT};
use super::{Faults, Instance, InstanceFault, Plan, Points, StopFlag, Unmet, UnmetReason};

/// How a plan is looked for.
#[derive(Clone, Debug)]
pub struct SolveSettings {
    /// Of the solver's own generator: another seed, another search.
    pub seed: u64,
    /// Stops after about this much work, in units of 1,000 places looked at, over all threads.
    /// One core does some 20,000 to 40,000 a second.
    pub work_limit: u64,
    /// 0 for as many as there are cores. The result does not depend on it.
    pub threads: usize,
    /// Set by whoever has waited long enough.
    pub stop: StopFlag,
}

impl Default for SolveSettings {
    fn default() -> Self {
        SolveSettings { seed: 1, work_limit: 300_000, threads: 0, stop: StopFlag::new() }
    }
}

/// How far it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Worth of the best plan so far.
    pub objective: Points,
    /// No plan is worth more.
    pub bound: Points,
    /// In the units of [`SolveSettings::work_limit`].
    pub work: u64,
}

/// The best plan found.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// What is made of which yarn.
    pub plan: Plan,
    /// What it is worth.
    pub objective: Points,
    /// No plan that makes as many of the gifts that must be made is worth more.
    pub bound: Points,
    /// Bound less objective, as a share of the objective.
    pub gap: f64,
    /// Whether it is sure that there is no better plan.
    pub proven: bool,
    /// In the units of [`SolveSettings::work_limit`].
    pub work_done: u64,
    /// Gifts that must be made and are not. Empty: the plan keeps every rule.
    pub unmet: Vec<Unmet>,
}

const CHAINS: u64 = 4;
/// Work of one round on the tree, in places.
const ROUND: u64 = 2_000_000;
/// Trying all of a part, and gathering what its groups can do, takes at least as many places as bounding
/// it, and never goes beyond these.
const LEAST_TRIAL: u64 = 50_000;
const MOST_TRIAL: u64 = 4 * ROUND;
/// The same for all that the root left open.
const FIRST_TRIAL: u64 = 2 * ROUND;
/// Steps of the descent after which it is judged whether the root is worth more of them.
const ROOT_ROUNDS: usize = 60;
/// Steps that bounding a part takes, about.
const PART_STEPS: u64 = 120;
/// What share of the work is kept for choosing among plans of equal worth.
const RANKING: u64 = 8;
/// That may take as much work as the plan itself, or so many units.
const LEAST_RANKING: u64 = 2_000;
/// Bytes that the open parts of the tree may take.
const TREE_BYTES: usize = 400_000_000;

/// Plans as good a set of gifts as it can within the limit of work, and bounds how much better
/// any could be. The same instance, seed and limit give the same outcome on any number of
/// threads, unless it is stopped by the flag.
///
/// Gifts that must be made come before all else: if not all can be, the plan makes as many as it
/// can and [`Outcome::unmet`] names the others.
///
/// # Errors
/// What [`Instance::validate`] finds.
pub fn solve(
    instance: &Instance,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<Outcome, Faults<InstanceFault>> {
    instance.validate().into_result()?;
    let problem = Problem::new(instance);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(settings.threads).build().ok();
    let finer = rank::finer(instance);
    let kept = if finer.is_some() { settings.work_limit / RANKING } else { 0 };
    let first = SolveSettings { work_limit: settings.work_limit - kept, ..settings.clone() };
    let mut solver = Solver::new(&problem, &first);
    solver.run(pool.as_ref(), progress);
    if let Some(finer) = finer {
        let finer = Problem::in_finer_units(&finer);
        solver.rank(&finer, settings.work_limit, pool.as_ref(), progress);
    }
    Ok(solver.outcome(instance))
}

struct Solver<'p> {
    problem: &'p Problem,
    relax: Relaxation<'p>,
    settings: &'p SolveSettings,
    best: Layout,
    chains: Vec<Chain<'p>>,
    root: Root,
    tree: BinaryHeap<Open>,
    created: u64,
    /// The highest bound of parts that can't be looked into.
    unresolved: Option<i64>,
    /// Work of evaluating the root once, in places.
    step_work: u64,
    /// Average work of a part, in places.
    part_work: u64,
    /// Work of the last round beside the chains, in places.
    other_work: u64,
    /// Work of the chains, and how much it was when a better plan was last found.
    searched: u64,
    fruitful: u64,
    most_open: usize,
    /// Places looked at, at most, in trying all of a part.
    trial: u64,
    /// Whether that came to an end often enough in the last round.
    tree_pays: bool,
    price: Vec<f64>,
    /// The bound by rates alone.
    rated: f64,
    /// How many plans were built by prices, and the work of the first, in places.
    built: u64,
    build_work: u64,
    /// Whether prices have changed much since the last of them.
    news: bool,
    work: u64,
}

/// The descent at the root, taken in turns until it gets nowhere, and then anew with more patience: where
/// the first is held up, the second may go round.
struct Root {
    descent: Descent,
    /// Where the second begins, and how the first ended once it has.
    starts: Vec<Prices>,
    first: Option<Descent>,
    scope: Scope,
    /// The bound and the steps when it was last judged.
    judged: (f64, usize),
    bound: i64,
    /// Whether it was judged in the last turn, so that there are prices worth building a plan by.
    news: bool,
    done: bool,
}

/// What is done in one turn of a thread.
enum Task<'a, 'p> {
    Chain(&'a mut Chain<'p>, u64),
    Root(&'a mut Root),
    Part(Open),
    /// Building a plan by the prices as they are.
    Greedy(Random),
}

/// What came of a task, with its work in places.
enum TaskDone {
    Chain(u64),
    /// With what yarn is worth by group.
    Root(u64, Vec<f64>),
    Part(Looked),
    Greedy(Layout, u64),
}

/// What came of a round beside the chains.
#[derive(Default)]
struct Tally {
    parts: u64,
    exhausted: u64,
    work: u64,
    found: Vec<Layout>,
}

impl<'p> Solver<'p> {
    fn new(problem: &'p Problem, settings: &'p SolveSettings) -> Solver<'p> {
        let relax = Relaxation::new(problem);
        let most = (0..problem.gifts.len())
            .map(|g| {
                problem.gifts[g].clone().map(|o| problem.options[o].gain).max().unwrap_or(0).max(0)
            })
            .sum();
        let rates = relax.rates(most);
        let mut random = Random::of(settings.seed, 0, u64::MAX);
        let (best, work) = search::greedy(problem, &rates.rate, &mut random);
        let chains = (0..CHAINS)
            .map(|n| Chain::new(problem, &best, Random::of(settings.seed, 1, n)))
            .collect();
        let step_work = relax.cells_to_evaluate() / CELLS_TO_A_PLACE + 1;
        let part_bytes = problem.sections.len() * 110 + problem.usable.len() * 12 + 1_000;
        Solver {
            problem,
            settings,
            best,
            chains,
            root: Root::new(&relax, &rates, most),
            tree: BinaryHeap::new(),
            created: 0,
            unresolved: None,
            step_work,
            part_work: 4 * step_work,
            trial: (PART_STEPS * step_work).clamp(LEAST_TRIAL, ROUND),
            tree_pays: false,
            other_work: 0,
            searched: 0,
            fruitful: 0,
            most_open: TREE_BYTES / part_bytes,
            relax,
            price: rates.rate,
            rated: rates.bound,
            built: 0,
            build_work: work,
            news: false,
            work: work + rates.work / CELLS_TO_A_PLACE,
        }
    }

    fn run(&mut self, pool: Option<&rayon::ThreadPool>, progress: &mut dyn FnMut(Progress)) {
        loop {
            let more = self.more();
            progress(self.progress(0));
            if !more {
                return;
            }
            match pool {
                Some(pool) => pool.install(|| self.round()),
                None => self.round(),
            }
        }
    }

    /// How far it is, with so many places looked at elsewhere.
    fn progress(&self, more: u64) -> Progress {
        Progress {
            objective: self.told(self.best.value),
            bound: self.told_bound(),
            work: (self.work + more) / PLACES_TO_A_UNIT,
        }
    }

    /// Takes the plan of equal worth that is best in finer units, as far as the work goes, of which no more
    /// than `limit` may be done in all. Where there is no time, each gift is looked at once.
    fn rank(
        &mut self,
        finer: &Problem,
        limit: u64,
        pool: Option<&rayon::ThreadPool>,
        progress: &mut dyn FnMut(Progress),
    ) {
        let start = rank::carried_over(&self.best, self.problem, finer);
        let (best, work) = rank::settled(finer, start);
        self.work += work;
        let best = if self.settings.stop.is_set() {
            best
        } else {
            let done = self.work / PLACES_TO_A_UNIT;
            let (left, own) = (limit.saturating_sub(done), done.max(LEAST_RANKING));
            let settings = SolveSettings { work_limit: left.min(own), ..self.settings.clone() };
            let mut solver = Solver::new(finer, &settings);
            if best.value > solver.best.value {
                solver.chains.iter_mut().for_each(|chain| chain.restart(&best));
                solver.best = best;
            }
            solver.run(pool, &mut |at| progress(self.progress(at.work * PLACES_TO_A_UNIT)));
            self.work += solver.work;
            solver.best
        };
        // What is worth no less in finer units is worth no less in these.
        self.best = rank::carried_over(&best, finer, self.problem);
    }

    /// No plan is worth more, in tenths with bonuses.
    fn bound(&self) -> i64 {
        let open = if self.root.done {
            self.tree.peek().map_or(i64::MIN, |open| open.bound)
        } else {
            self.root.bound
        };
        open.max(self.unresolved.unwrap_or(i64::MIN)).max(self.best.value)
    }

    /// Work that may still be done, in places.
    fn left(&self) -> u64 {
        (self.settings.work_limit.saturating_mul(PLACES_TO_A_UNIT)).saturating_sub(self.work)
    }

    fn proven(&self) -> bool {
        self.bound() <= self.best.value
    }

    fn more(&self) -> bool {
        !self.proven()
            && self.work / PLACES_TO_A_UNIT < self.settings.work_limit
            && !self.settings.stop.is_set()
    }

    /// The chains search, and beside them the root is bounded or parts of the tree looked at.
    /// All tasks of a round start from the same state and are folded in order.
    fn round(&mut self) {
        let problem = self.problem;
        let relax = &self.relax;
        let stop = &self.settings.stop;
        let best = self.best.value;
        // The search gets twice the work of the tree, or half of it where that is about to prove
        // the best.
        // It gets little where nothing better has come of it for long.
        let idle = self.searched > 4 * self.fruitful + 100_000 * problem.options.len() as u64;
        let share = match (self.root.done && idle, self.tree_pays) {
            (true, _) => self.other_work / 8,
            (false, true) => self.other_work / 2,
            (false, false) => self.other_work * 2,
        };
        let least = (20_000 + 4_000 * problem.options.len() as u64).min(ROUND / 4);
        // Of the work that is left, chains may do one half and all others together the other.
        let half = self.left() / 2;
        let turn = (share.clamp(least, 4 * ROUND) / CHAINS).min(half / CHAINS + 1);
        let mut tasks: Vec<Task<'_, 'p>> = Vec::new();
        // Nothing is begun whose least step would go beyond the limit of work.
        if self.root.done {
            let room = self.tree.len() < self.most_open;
            let part = self.part_work.max(1);
            let count = (ROUND / part).clamp(2, 64).min(half / part);
            for _ in 0..if room { count } else { 0 } {
                tasks.extend(self.tree.pop().map(Task::Part));
            }
        } else if half >= self.step_work {
            tasks.push(Task::Root(&mut self.root));
        }
        if std::mem::take(&mut self.news) && half >= self.build_work {
            self.built += 1;
            tasks.push(Task::Greedy(Random::of(self.settings.seed, 2, self.built)));
        }
        let each = half / (tasks.len() as u64).max(1);
        tasks.extend(self.chains.iter_mut().map(|chain| Task::Chain(chain, turn)));
        let (price, leader) = (&self.price, &self.best);
        let trial =
            Trial { best, limit: self.trial.min(each / 2), turn: ROUND.min(each / 2), stop };
        let brancher = Brancher { problem, relax };
        let finished: Vec<TaskDone> = tasks
            .into_par_iter()
            .map_init(Scratch::default, |scratch, task| match task {
                Task::Chain(chain, work) => TaskDone::Chain(chain.run(work, price, leader, stop)),
                Task::Root(root) => {
                    let before = scratch.work;
                    let price = root.descend(relax, &trial, scratch);
                    TaskDone::Root((scratch.work - before) / CELLS_TO_A_PLACE, price)
                }
                Task::Greedy(mut random) => {
                    let (layout, work) = search::greedy(problem, price, &mut random);
                    TaskDone::Greedy(layout, work)
                }
                Task::Part(open) => TaskDone::Part(brancher.look(&open, &trial, scratch)),
            })
            .collect();
        self.fold(finished);
    }

    fn fold(&mut self, finished: Vec<TaskDone>) {
        let tally = self.tally(finished);
        self.work += tally.work;
        self.other_work = tally.work;
        if let Some(average) = tally.work.checked_div(tally.parts) {
            self.part_work = average;
            // Where trying all comes to an end often enough, more of it is worth while.
            self.tree_pays = tally.exhausted * 4 >= tally.parts;
            let least = (PART_STEPS * self.step_work).clamp(LEAST_TRIAL, ROUND);
            self.trial = if self.tree_pays { self.trial * 2 } else { self.trial / 2 }
                .clamp(least, MOST_TRIAL);
        }
        self.take_best(&tally.found);
        if self.root.done && self.created == 0 {
            self.plant();
        }
        if self.tree.peek().is_some_and(|open| open.bound <= self.best.value) {
            self.tree.clear();
        }
    }

    /// Takes in what the tasks give, in their order.
    fn tally(&mut self, finished: Vec<TaskDone>) -> Tally {
        let mut tally = Tally::default();
        for task in finished {
            match task {
                TaskDone::Chain(places) => {
                    self.work += places;
                    self.searched += places;
                }
                TaskDone::Root(places, price) => {
                    tally.work += places;
                    // Until the descent does better, the rates tell what yarn is worth.
                    if self.root.lower().bound < self.rated {
                        self.price = price;
                    }
                    self.news |= std::mem::take(&mut self.root.news);
                }
                TaskDone::Greedy(layout, places) => {
                    self.work += places;
                    // What is better than all that the chains have is what they go on from.
                    if layout.value > self.best.value {
                        self.chains.iter_mut().for_each(|chain| chain.restart(&layout));
                    }
                    tally.found.push(layout);
                }
                TaskDone::Part(looked) => {
                    tally.parts += 1;
                    tally.exhausted += u64::from(looked.exhausted);
                    tally.work += looked.work;
                    tally.found.extend(looked.found);
                    self.unresolved = self.unresolved.max(looked.unresolved);
                    for mut child in looked.children {
                        self.created += 1;
                        child.number = self.created;
                        self.tree.push(child);
                    }
                }
            }
        }
        tally
    }

    /// The best of the chains' plans and of those found in the tree, if it is better.
    fn take_best(&mut self, found: &[Layout]) {
        let mut best = None;
        for layout in self.chains.iter().map(|chain| &chain.best).chain(found) {
            if layout.value > best.map_or(self.best.value, |best: &Layout| best.value) {
                best = Some(layout);
            }
        }
        if let Some(best) = best {
            self.fruitful = self.searched;
            self.best = best.clone();
            amounts::resettle(self.problem, &mut self.best);
        }
    }

    /// Begins the tree with all that the root left open.
    fn plant(&mut self) {
        self.created = 1;
        // What is known of all groups at once shortens everything after it.
        self.trial = FIRST_TRIAL;
        let prices = self.root.descent.prices.clone();
        let part = Part { scope: Scope::open(self.problem), prices };
        self.tree.push(Open {
            parent: Arc::new(part),
            decision: Decision::Root,
            bound: self.root.bound,
            depth: 0,
            number: 0,
        });
    }

    fn musts_made(&self) -> i64 {
        let made = (0..self.problem.gifts.len())
            .filter(|g| self.problem.must[*g] && self.best.choice[*g].is_some());
        i64::try_from(made.count()).unwrap_or(i64::MAX)
    }

    /// A worth without the bonuses of the musts that the best plan makes.
    fn told(&self, value: i64) -> Points {
        Points(value - self.musts_made() * self.problem.must_bonus)
    }

    fn told_bound(&self) -> Points {
        let gains = (0..self.problem.gifts.len()).map(|g| {
            let bonus = if self.problem.must[g] { self.problem.must_bonus } else { 0 };
            let best = self.problem.gifts[g].clone().map(|o| self.problem.options[o].gain - bonus);
            best.max().unwrap_or(0).max(0)
        });
        // A plan that makes more of the musts may be worth up to this, whatever the best is.
        self.told(self.bound()).min(Points(gains.sum::<i64>()).max(self.told(self.best.value)))
    }

    fn outcome(&self, instance: &Instance) -> Outcome {
        let proven = self.proven();
        let objective = self.told(self.best.value);
        let bound = self.told_bound();
        let over = (bound - objective).as_f64();
        Outcome {
            plan: self.best.to_plan(self.problem),
            objective,
            bound,
            gap: if over > 0.0 { over / objective.as_f64().abs().max(0.1) } else { 0.0 },
            proven,
            work_done: self.work / PLACES_TO_A_UNIT,
            unmet: self.unmet(instance, proven),
        }
    }

    fn unmet(&self, instance: &Instance, proven: bool) -> Vec<Unmet> {
        let musts = instance.gifts.iter().enumerate().filter(|(_, gift)| gift.is_must());
        musts
            .filter(|(g, _)| self.best.choice[*g].is_none())
            .map(|(gift, _)| {
                let why = if self.problem.gifts[gift].is_empty() {
                    UnmetReason::NotEvenAlone
                } else if proven {
                    UnmetReason::NotBesideOthers
                } else {
                    UnmetReason::NotFound
                };
                Unmet { gift, why }
            })
            .collect()
    }
}

impl Root {
    fn new(relax: &Relaxation, rates: &Rates, most: i64) -> Root {
        let none = vec![0.0; rates.rate.len()];
        let starts = vec![relax.at_rates(&none, 2.0), relax.at_rates(&rates.rate, 0.5)];
        Root {
            descent: Descent::from_best_of(relax, starts.clone(), Pace::FIRST),
            starts,
            first: None,
            scope: Scope::open(relax.problem),
            judged: (f64::INFINITY, 0),
            bound: whole(rates.bound).min(most),
            news: false,
            done: false,
        }
    }

    /// A turn of the descent. Gives what yarn is worth by group.
    fn descend(&mut self, relax: &Relaxation, trial: &Trial, scratch: &mut Scratch) -> Vec<f64> {
        let work = trial.turn * CELLS_TO_A_PLACE;
        let target = trial.target();
        let aim = Aim { target, rounds: ROOT_ROUNDS, work, stop: trial.stop };
        let begun = (self.descent.bound < f64::INFINITY).then_some(self.descent.steps);
        let reached = self.descent.run(relax, &self.scope, &aim, scratch);
        self.bound = self.bound.min(whole(reached));
        let worth = relax.yarn_prices(&self.lower().verdict);
        let (before, steps) = self.judged;
        // Where no step leads anywhere, none was made.
        let stuck = begun == Some(self.descent.steps);
        let judge = self.descent.steps >= steps + ROOT_ROUNDS || reached <= target || stuck;
        if judge && !trial.stop.is_set() {
            self.judged = (reached, self.descent.steps);
            self.news = true;
            // Little gained of what there was to gain: the tree does better.
            let little = (before - reached) * 20.0 < (reached - target).max(1.0);
            self.done = reached <= target || stuck;
            if !self.done && little {
                self.end_descent(relax);
            }
            if self.done && self.lower().bound < self.descent.bound {
                self.descent = self.lower().clone();
            }
        }
        self.done |= self.bound <= trial.best;
        worth
    }

    /// The descent that came lower so far.
    fn lower(&self) -> &Descent {
        self.first
            .as_ref()
            .filter(|first| first.bound < self.descent.bound)
            .unwrap_or(&self.descent)
    }

    /// Begins the second descent where the first got nowhere; ends where that gets nowhere either.
    fn end_descent(&mut self, relax: &Relaxation) {
        match self.first {
            None => {
                let starts = std::mem::take(&mut self.starts);
                let second = Descent::from_best_of(relax, starts, Pace::SECOND);
                self.first = Some(std::mem::replace(&mut self.descent, second));
                self.judged = (f64::INFINITY, 0);
            }
            Some(_) => self.done = self.descent.is_near(),
        }
    }
}
