//! Branch and bound over what the relaxation leaves open: first which option each gift takes,
//! then which remnants each section is knitted from.

use std::cmp::Ordering;
use std::sync::Arc;

use super::amounts;
use super::exhaust::{Exhaust, Trial};
use super::layout::{Chunks, Layout};
use super::pooled::{Left, Pooled};
use super::problem::Problem;
use super::relax::{Aim, Descent, Market, Pace, Prices, Relaxation, Scope, Scratch, Verdict};
use super::work::CELLS_TO_A_PLACE;

/// A choice that leads from a part of the tree to a smaller one.
#[derive(Clone, Debug)]
pub(super) enum Decision {
    /// Nothing: the part itself.
    Root,
    Take(usize),
    Refuse(usize),
    /// A section comes from a group.
    From(usize, usize),
    /// A section is knitted from one remnant.
    Knit(usize, usize),
    /// A section is joined from just these.
    Join(usize, Vec<usize>),
}

/// What is settled in a part of the tree, and the prices that bound it.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub scope: Scope,
    pub prices: Prices,
}

impl Part {
    fn market(&self) -> Market<'_> {
        Market { scope: &self.scope, prices: &self.prices }
    }
}

/// A part of the tree that is still to be looked at.
#[derive(Clone, Debug)]
pub(super) struct Open {
    pub parent: Arc<Part>,
    pub decision: Decision,
    /// No plan in it is worth more.
    pub bound: i64,
    pub depth: u32,
    /// In order of creation, to break ties.
    pub number: u64,
}

/// Highest bound first, then deepest, then oldest.
impl Ord for Open {
    fn cmp(&self, other: &Open) -> Ordering {
        (self.bound, self.depth, std::cmp::Reverse(self.number)).cmp(&(
            other.bound,
            other.depth,
            std::cmp::Reverse(other.number),
        ))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Open) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Open {
    fn eq(&self, other: &Open) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Open {}

/// What came of looking at a part.
#[derive(Debug, Default)]
pub(super) struct Looked {
    pub children: Vec<Open>,
    /// A whole plan, and whether it is sure to be the best of its part.
    pub found: Option<Layout>,
    /// The bound of what could not be looked into.
    pub unresolved: Option<i64>,
    pub work: u64,
    /// Whether all of it was tried.
    pub exhausted: bool,
}

/// Ways to join a section that are looked at one by one; past these the part stays unresolved.
const MOST_SETS: usize = 20_000;
/// Places looked at in finding them.
const MOST_SET_WORK: u64 = 500_000;
/// Places after which no further section is looked at, once one is known that the part can be split by.
const ENOUGH: u64 = 200_000;
/// A section with this many ways or fewer is settled before any gift.
const FEW_WAYS: usize = 3;
/// Steps of the descent at a part.
const ROUNDS: usize = 30;
/// Times that a part is bounded anew after something was settled.
const MOST_PASSES: usize = 4;
/// Past this many ways a section's group is chosen first.
const MANY_WAYS: usize = 48;

/// A part that has been bounded and may still hold a better plan.
struct Bounded {
    part: Part,
    verdict: Verdict,
    bound: f64,
    /// The bound in whole tenths, never above that of the part it was split from.
    whole: i64,
}

impl Bounded {
    /// With so much to lose.
    fn left(&self, slack: f64) -> Left<'_> {
        Left { prices: &self.part.prices, verdict: &self.verdict, slack }
    }
}

/// A way to split a part, and the bound of what it leads to.
type Branch = (Decision, f64);

#[derive(Debug)]
pub(super) struct Brancher<'p> {
    pub problem: &'p Problem,
    pub relax: &'p Relaxation<'p>,
}

impl Brancher<'_> {
    /// Bounds a part, settles what the bound settles, tries all that is left if that is little,
    /// and splits it if not.
    pub fn look(&self, open: &Open, trial: &Trial, scratch: &mut Scratch) -> Looked {
        let before = scratch.work;
        let mut looked = Looked::default();
        if let Some(bounded) = self.bound(open, trial, scratch) {
            let scope = &bounded.part.scope;
            if scope.pools.iter().any(Option::is_some) {
                looked.exhausted = scope.is_pooled();
                self.split_pooled(open, bounded, trial, scratch, &mut looked);
            } else {
                self.try_out(&bounded, trial, scratch, &mut looked);
                if !looked.exhausted {
                    self.split(open, bounded, trial, scratch, &mut looked);
                }
            }
        }
        looked.work += (scratch.work - before) / CELLS_TO_A_PLACE + 1;
        looked
    }

    /// Bounds a part and settles what the bound settles; `None` if no better plan is in it.
    fn bound(&self, open: &Open, trial: &Trial, scratch: &mut Scratch) -> Option<Bounded> {
        let Part { mut scope, mut prices } = Part::clone(&open.parent);
        if !self.apply(&mut scope, &open.decision) {
            return None;
        }
        let mut verdict = Verdict::default();
        let target = trial.target();
        let before = scratch.work;
        let mut bound = f64::INFINITY;
        if !scope.apart {
            let known =
                Left { prices: &prices, verdict: &self.known(&scope), slack: f64::INFINITY };
            self.pooled().thin(&mut scope, known, 0, scratch)?;
        }
        for pass in 0..MOST_PASSES {
            let spent = scratch.work - before;
            let work = (trial.turn * CELLS_TO_A_PLACE).saturating_sub(spent);
            let over = pass > 0 && work == 0;
            if over {
                break;
            }
            let aim = Aim { target, rounds: ROUNDS, work, stop: trial.stop };
            let pace = if pass == 0 { Pace::NEAR } else { Pace::NEXT };
            let mut descent = Descent::from(self.relax, prices, pace);
            let reached = descent.run(self.relax, &scope, &aim, scratch);
            Descent { prices, verdict, .. } = descent;
            if reached < target {
                return None;
            }
            let gained = bound - reached;
            bound = reached;
            let mut settled = self.settle_by_loss(&mut scope, &verdict, bound - target)?;
            if scope.apart {
                if settled == 0 || gained < 1.0 || pass == 2 || trial.stop.is_set() {
                    break;
                }
                continue;
            }
            let known = (&prices, verdict.earned.as_mut_slice());
            let (new, slack) =
                self.pooled().gather(&mut scope, known, bound - target, trial, scratch);
            if slack < 0.0 {
                return None;
            }
            let left = Left { prices: &prices, verdict: &verdict, slack };
            settled += self.pooled().thin(&mut scope, left, trial.limit, scratch)?;
            if (settled == 0 || gained < 1.0) && new == 0 || trial.stop.is_set() {
                break;
            }
        }
        let whole = whole(bound).min(open.bound);
        let part = Part { scope, prices };
        (whole > trial.best).then_some(Bounded { part, verdict, bound, whole })
    }

    /// Tries all of a part, as far as the trial goes.
    fn try_out(
        &self,
        bounded: &Bounded,
        trial: &Trial,
        scratch: &mut Scratch,
        looked: &mut Looked,
    ) {
        if let Some(tried) = Exhaust::run(self.relax, bounded.part.market(), trial, scratch) {
            looked.work += tried.work;
            looked.found = tried.found;
            looked.exhausted = tried.complete;
        }
    }

    fn pooled(&self) -> Pooled<'_> {
        Pooled { problem: self.problem, relax: self.relax }
    }

    /// A verdict that rules nothing out.
    fn known(&self, scope: &Scope) -> Verdict {
        Verdict { earned: vec![0.0; scope.pools.len()], ..Verdict::default() }
    }

    /// Splits a part by options and groups alone, or ends it where these make a plan.
    fn split_pooled(
        &self,
        open: &Open,
        mut bounded: Bounded,
        trial: &Trial,
        scratch: &mut Scratch,
        looked: &mut Looked,
    ) {
        // What was settled last is not in the verdict yet.
        let Part { scope, prices } = &bounded.part;
        let reached = self.relax.evaluate(scope, prices, &mut bounded.verdict, scratch);
        bounded.bound = bounded.bound.min(reached);
        bounded.whole = whole(bounded.bound).min(bounded.whole);
        if bounded.whole <= trial.best {
            return;
        }
        if let Some(layout) =
            self.pooled().whole_plan(&bounded.part.scope, bounded.left(0.0), scratch)
        {
            let best = layout.value >= bounded.whole;
            looked.found = (layout.value > trial.best).then_some(layout);
            if best {
                return;
            }
        }
        let gift = self.unsettled(&bounded.part.scope, &bounded.verdict);
        let groups: Vec<Branch> = self
            .pooled()
            .ways_by_group(bounded.part.market(), bounded.bound, trial.target())
            .into_iter()
            .map(|(section, group, bound)| (Decision::From(section, group), bound))
            .collect();
        let ways = match gift {
            Some(gift) if groups.is_empty() || groups.len() > FEW_WAYS => {
                self.ways_of_gift(gift, &bounded)
            }
            None if groups.is_empty() => {
                // All is settled but what the sets did not tell exactly.
                let part = &mut bounded.part;
                part.scope.tell_apart();
                let Part { scope, prices } = &bounded.part;
                bounded.bound = self.relax.evaluate(scope, prices, &mut bounded.verdict, scratch);
                self.try_out(&bounded, trial, scratch, looked);
                if !looked.exhausted {
                    self.split(open, bounded, trial, scratch, looked);
                }
                return;
            }
            _ => groups,
        };
        Self::branch(open, bounded, ways, trial, looked);
    }

    /// Splits a part, or ends it where only amounts are open.
    fn split(
        &self,
        open: &Open,
        bounded: Bounded,
        trial: &Trial,
        scratch: &mut Scratch,
        looked: &mut Looked,
    ) {
        let whole = bounded.whole;
        let gift = self.unsettled(&bounded.part.scope, &bounded.verdict);
        let knitting = self.ways_of_section(&bounded, trial.target(), scratch);
        let ways = match (knitting, gift) {
            (Ways::Nothing, _) => return,
            (Ways::All(ways), None) => ways,
            (Ways::All(ways), Some(_)) if ways.len() <= FEW_WAYS => ways,
            (_, Some(gift)) => self.ways_of_gift(gift, &bounded),
            (Ways::Settled, None) => {
                if let Some((layout, exact)) = self.finish(&bounded.part.scope) {
                    looked.unresolved = (!exact).then_some(whole);
                    if looked.found.as_ref().is_none_or(|found| found.value < layout.value) {
                        looked.found = Some(layout);
                    }
                }
                return;
            }
            (Ways::TooMany, None) => {
                looked.unresolved = Some(whole);
                return;
            }
        };
        Self::branch(open, bounded, ways, trial, looked);
    }

    /// Makes parts of the ways that may lead to a better plan.
    fn branch(
        open: &Open,
        bounded: Bounded,
        ways: Vec<Branch>,
        trial: &Trial,
        looked: &mut Looked,
    ) {
        let whole = bounded.whole;
        let part = Arc::new(bounded.part);
        for (decision, bound) in ways {
            let bound = self::whole(bound).min(whole);
            if bound > trial.best {
                looked.children.push(Open {
                    parent: Arc::clone(&part),
                    decision,
                    bound,
                    depth: open.depth + 1,
                    number: 0,
                });
            }
        }
    }

    /// Makes a decision; `false` if it can't be.
    fn apply(&self, scope: &mut Scope, decision: &Decision) -> bool {
        let problem = self.problem;
        match decision {
            Decision::Root => true,
            Decision::Take(option) => self.take(scope, *option),
            Decision::Refuse(gift) => {
                for option in problem.gifts[*gift].clone() {
                    scope.allowed[option] = false;
                }
                true
            }
            Decision::From(section, group) => {
                scope.settle_group(problem, *section, *group);
                true
            }
            Decision::Knit(section, r) => {
                let group = problem.group_of[*r];
                let Some(need) = problem.sections[*section].need(group) else { return false };
                scope.tell_apart();
                scope.settle_group(problem, *section, group);
                scope.layout.place(problem, *section, Chunks::one(*r, need));
                true
            }
            Decision::Join(section, from) => {
                scope.tell_apart();
                scope.settle_group(problem, *section, problem.group_of[from[0]]);
                scope.joins.push((*section, from.clone()));
                true
            }
        }
    }

    /// Fixes a gift's option if there are hours for it. Hours of fixed gifts are booked at once.
    fn take(&self, scope: &mut Scope, option: usize) -> bool {
        let gift = self.problem.options[option].gift;
        if scope.fixed[gift] == Some(option) {
            return true;
        }
        let hours = scope.layout.has_hours(self.problem, option);
        scope.fixed[gift] = Some(option);
        scope.layout.book(self.problem, option, self.problem.options[option].minutes);
        hours
    }

    /// Rules out what would lose more than there is to lose, and fixes what then has no choice.
    /// Gives the number of things settled, or `None` if nothing is left.
    fn settle_by_loss(&self, scope: &mut Scope, verdict: &Verdict, slack: f64) -> Option<usize> {
        let mut settled = 0;
        for g in 0..self.problem.gifts.len() {
            if scope.fixed[g].is_some() {
                continue;
            }
            let mut left = Vec::new();
            for o in self.problem.gifts[g].clone() {
                if !scope.allowed[o] {
                    continue;
                }
                if verdict.option_loss[o] > slack || !scope.layout.has_hours(self.problem, o) {
                    scope.allowed[o] = false;
                    settled += 1;
                } else {
                    left.push(o);
                }
            }
            if !scope.made[g] && verdict.none_loss[g] > slack {
                scope.made[g] = true;
                settled += 1;
            }
            if scope.made[g] {
                match left.as_slice() {
                    [] => return None,
                    [only] => {
                        settled += 1;
                        if !self.take(scope, *only) {
                            return None;
                        }
                    }
                    _ => {}
                }
            }
        }
        Some(settled)
    }

    /// The gift whose choice is the most open.
    fn unsettled(&self, scope: &Scope, verdict: &Verdict) -> Option<usize> {
        let mut best: Option<(f64, usize)> = None;
        for g in 0..self.problem.gifts.len() {
            if scope.fixed[g].is_some() {
                continue;
            }
            let options = self.problem.gifts[g].clone().filter(|o| scope.allowed[*o]);
            let shares: Vec<f64> = options.map(|o| verdict.often[o]).collect();
            if shares.is_empty() {
                continue;
            }
            let none = (1.0 - shares.iter().sum::<f64>()).max(0.0);
            let most = shares.iter().copied().fold(none, f64::max);
            if best.is_none_or(|(least, _)| most < least) {
                best = Some((most, g));
            }
        }
        best.map(|(_, g)| g)
    }

    fn ways_of_gift(&self, gift: usize, bounded: &Bounded) -> Vec<Branch> {
        let Bounded { part: Part { scope, .. }, verdict, bound, .. } = bounded;
        let mut ways = Vec::new();
        for o in self.problem.gifts[gift].clone().filter(|o| scope.allowed[*o]) {
            ways.push((Decision::Take(o), bound - verdict.option_loss[o]));
        }
        if !scope.made[gift] {
            ways.push((Decision::Refuse(gift), bound - verdict.none_loss[gift]));
        }
        ways
    }

    /// The open section with the fewest ways to be knitted, and those ways.
    fn ways_of_section(&self, bounded: &Bounded, target: f64, scratch: &mut Scratch) -> Ways {
        let problem = self.problem;
        let market = bounded.part.market();
        let scope = market.scope;
        let open: Vec<usize> = scope
            .fixed
            .iter()
            .flatten()
            .flat_map(|o| problem.options[*o].sections.clone())
            .filter(|s| scope.layout.chunks[*s].is_empty() && !scope.is_joined(*s))
            .collect();
        if open.is_empty() {
            return Ways::Settled;
        }
        let worths = (0..problem.groups.len())
            .map(|group| {
                let top = self.relax.tops(group, market, scratch)?;
                Some(self.relax.end_worths(group, scope, &top, scratch))
            })
            .collect();
        let bound = bounded.bound;
        let mut knitting = Knitting { relax: self.relax, market, bound, target, worths, work: 0 };
        // Any section will do where there are too many to look at all.
        let mut best: Option<Vec<Branch>> = None;
        let mut too_many = false;
        for section in open {
            if knitting.work > ENOUGH && best.is_some() {
                break;
            }
            match knitting.ways(section) {
                None => too_many = true,
                Some(ways) => {
                    if best.as_ref().is_none_or(|least| ways.len() < least.len()) {
                        let done = ways.len() <= 1;
                        best = Some(ways);
                        if done {
                            break;
                        }
                    }
                }
            }
        }
        scratch.work += knitting.work * CELLS_TO_A_PLACE;
        match best {
            None if too_many => Ways::TooMany,
            None => Ways::Nothing,
            Some(ways) if ways.is_empty() => Ways::Nothing,
            Some(ways) => Ways::All(by_group_if_many(problem, scope, ways)),
        }
    }

    /// The plan of a scope in which all but amounts is settled, and whether it is its best.
    fn finish(&self, scope: &Scope) -> Option<(Layout, bool)> {
        let problem = self.problem;
        let amounts = amounts::settle(problem, &scope.layout, &scope.joins)?;
        let mut layout = Layout::new(problem);
        for option in scope.fixed.iter().flatten() {
            if !layout.has_hours(problem, *option) {
                return None;
            }
            for section in problem.options[*option].sections.clone() {
                let chunks = scope.joins.iter().position(|(s, _)| *s == section);
                let chunks = chunks.map_or(scope.layout.chunks[section], |n| amounts.chunks[n]);
                layout.place(problem, section, chunks);
            }
            layout.choose(problem, *option);
        }
        Some((layout, amounts.exact))
    }
}

/// The bound in whole tenths.
pub(super) fn whole(bound: f64) -> i64 {
    // Sums of some thousand doubles below 2^45: far less than this is lost to rounding.
    #[allow(clippy::cast_possible_truncation, reason = "far below 2^63")]
    let whole = (bound + 1e-3).floor() as i64;
    whole
}

enum Ways {
    All(Vec<Branch>),
    /// Nothing is left to settle.
    Settled,
    /// A section can't be knitted.
    Nothing,
    TooMany,
}

/// How open sections may be knitted in a part, and what each way leaves of its bound.
struct Knitting<'a> {
    relax: &'a Relaxation<'a>,
    market: Market<'a>,
    bound: f64,
    /// Ways whose bound falls below this lead to nothing better.
    target: f64,
    /// By group, what [`Relaxation::end_worths`] gives.
    worths: Vec<Option<[Vec<f64>; 2]>>,
    /// Places looked at.
    work: u64,
}

impl Knitting<'_> {
    /// All ways to knit a section that may lead to a plan worth the target, best first; `None` if
    /// they are too many.
    fn ways(&mut self, section: usize) -> Option<Vec<Branch>> {
        let problem = self.relax.problem;
        let flat = &problem.sections[section];
        let mut ways = Vec::new();
        for (group, need) in &flat.needs {
            if !self.market.scope.links_allow(problem, section, *group) {
                continue;
            }
            self.out_of_one(section, *group, *need, &mut ways);
            if problem.splits(*group, flat.joinable, *need) {
                self.out_of_several(section, *group, *need, &mut ways)?;
            }
        }
        ways.sort_by(|a, b| b.1.total_cmp(&a.1));
        Some(ways)
    }

    fn cheapest(&self, section: usize) -> f64 {
        self.relax.cheapest(section, self.market.scope, self.market.prices)
    }

    /// What a remnant of a group is worth by room, if no join is to come from it.
    fn worth(&self, group: usize, r: usize) -> Option<&[Vec<f64>; 2]> {
        let pending = || self.market.scope.joins.iter().any(|(_, from)| from.contains(&r));
        self.worths[group].as_ref().filter(|_| !pending())
    }

    /// Ways to knit a section from one remnant of a group.
    fn out_of_one(&mut self, section: usize, group: usize, need: i64, ways: &mut Vec<Branch>) {
        let layout = &self.market.scope.layout;
        let mut looked = 0;
        // What the gift pays for it now, and would not have to once it is settled.
        let paid = self.cheapest(section);
        let problem = self.relax.problem;
        let mut seen: Vec<(i64, bool, usize)> = Vec::new();
        for r in problem.groups[group].iter().copied() {
            let room = layout.room[r];
            let touched = layout.takers[r] > 0;
            looked += 8;
            if room < need || !problem.may(section, r) {
                continue;
            }
            let likeness = (room, touched, problem.class_of[r]);
            let bound = match self.worth(group, r) {
                Some([untouched, worn]) => {
                    // Remnants that are alike need only be tried once.
                    if seen.contains(&likeness) {
                        continue;
                    }
                    seen.push(likeness);
                    let at = |dg: i64| usize::try_from(dg).unwrap_or(0);
                    let before = if touched { worn } else { untouched };
                    self.bound - before[at(room)] + worn[at(room - need)] + paid
                }
                None => self.bound,
            };
            if bound >= self.target {
                ways.push((Decision::Knit(section, r), bound));
            }
        }
        self.work += looked;
    }

    /// Ways to join a section from remnants of a group; `None` if they are too many.
    fn out_of_several(
        &mut self,
        section: usize,
        group: usize,
        need: i64,
        ways: &mut Vec<Branch>,
    ) -> Option<()> {
        let problem = self.relax.problem;
        let layout = &self.market.scope.layout;
        let price = self.relax.price(section, group, self.market.prices);
        let rises = price - self.cheapest(section);
        for parts in 2..=problem.most_joined(group, need) {
            let count = i64::try_from(parts).unwrap_or(i64::MAX);
            if count * problem.min_chunk > need {
                break;
            }
            let kept = (count - 1) * problem.min_chunk;
            let lost = ((count - 1) * problem.join_cost) as f64;
            let rooms: Vec<(usize, f64)> = problem.groups[group]
                .iter()
                .copied()
                .filter(|r| layout.room[*r] >= problem.min_chunk && problem.may(section, *r))
                .map(|r| {
                    let room = layout.room[r];
                    let touched = layout.takers[r] > 0;
                    let change = self.worth(group, r).map_or(0.0, |[untouched, worn]| {
                        let before = if touched { worn } else { untouched };
                        self.relax.worth_with_chunk(worn, room, (price - lost, need), kept)
                            - before[usize::try_from(room).unwrap_or(0)]
                    });
                    (r, change.min(0.0))
                })
                .collect();
            self.work += rooms.len() as u64 * u64::try_from(need).unwrap_or(0) / CELLS_TO_A_PLACE;
            let mut sets = Sets {
                rooms: &rooms,
                room: &layout.room,
                parts,
                need,
                target: self.target,
                work: 0,
                found: Vec::new(),
                chosen: Vec::new(),
            };
            let few = sets.gather(0, 0, self.bound - rises);
            self.work += sets.work;
            if !few {
                return None;
            }
            let found = sets.found.into_iter();
            ways.extend(found.map(|(from, bound)| (Decision::Join(section, from), bound)));
        }
        Some(())
    }
}

/// Many ways in several groups: choose the group first.
fn by_group_if_many(problem: &Problem, scope: &Scope, ways: Vec<Branch>) -> Vec<Branch> {
    if ways.len() <= MANY_WAYS {
        return ways;
    }
    let mut groups: Vec<Branch> = Vec::new();
    for (decision, bound) in &ways {
        let (section, r) = match decision {
            Decision::Knit(section, r) => (*section, *r),
            Decision::Join(section, from) => (*section, from[0]),
            _ => return ways,
        };
        if scope.group[section].is_some() {
            return ways;
        }
        let group = problem.group_of[r];
        let known =
            groups.iter_mut().find(|(d, _)| matches!(d, Decision::From(_, g) if *g == group));
        match known {
            Some((_, highest)) => *highest = highest.max(*bound),
            None => groups.push((Decision::From(section, group), *bound)),
        }
    }
    groups
}

/// Sets of remnants to join.
struct Sets<'a> {
    /// Remnants and what choosing each changes in the bound, never upwards.
    rooms: &'a [(usize, f64)],
    room: &'a [i64],
    parts: usize,
    need: i64,
    target: f64,
    /// Places looked at.
    work: u64,
    found: Vec<(Vec<usize>, f64)>,
    chosen: Vec<usize>,
}

impl Sets<'_> {
    /// `false` if there are too many.
    fn gather(&mut self, from: usize, held: i64, bound: f64) -> bool {
        self.work += 1;
        if self.work > MOST_SET_WORK {
            return false;
        }
        if bound < self.target {
            return true;
        }
        if self.chosen.len() == self.parts {
            if held >= self.need {
                self.found.push((self.chosen.clone(), bound));
            }
            return self.found.len() <= MOST_SETS;
        }
        for n in from..self.rooms.len() {
            let (r, change) = self.rooms[n];
            self.chosen.push(r);
            let few = self.gather(n + 1, held + self.room[r], bound + change);
            self.chosen.pop();
            if !few {
                return false;
            }
        }
        true
    }
}
