//! Tries all that a small part of the tree holds, one by one. The prices stay as they are, so
//! that a step costs next to nothing; they tell what each choice loses, and what loses more than
//! there is to lose is passed over.

use super::amounts;
use super::layout::{Chunks, Layout};
use super::problem::{FlatOption, Problem};
use super::relax::{Market, Prices, Relaxation, Scope, Scratch};
use super::stop::StopFlag;

/// What is looked for in a part, and how far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trial<'a> {
    /// The worth of the best plan known; only better ones are looked for.
    pub best: i64,
    /// Places looked at, at most, in trying all of the part.
    pub limit: u64,
    /// Places after which bounding a part goes no further.
    pub turn: u64,
    pub stop: &'a StopFlag,
}

impl Trial<'_> {
    /// What a plan must be worth to be better.
    pub fn target(&self) -> f64 {
        worth_more_than(self.best)
    }
}

/// The least that is worth more than so many whole tenths, a rounding error allowed for.
pub(super) fn worth_more_than(tenths: i64) -> f64 {
    (tenths + 1) as f64 - 1e-3
}

/// What came of it.
#[derive(Debug)]
pub(super) struct Exhausted {
    /// The best plan that is worth more than what was known.
    pub found: Option<Layout>,
    /// Whether all was tried.
    pub complete: bool,
    pub work: u64,
}

pub(super) struct Exhaust<'a> {
    problem: &'a Problem,
    relax: &'a Relaxation<'a>,
    prices: &'a Prices,
    allowed: Vec<bool>,
    made: Vec<bool>,
    group: Vec<Option<usize>>,
    /// By match, the group of its sections that are decided.
    matched: Vec<Option<usize>>,
    /// By group, what a remnant earns at most: by room, untouched and touched.
    worth: Vec<[Vec<f64>; 2]>,
    /// By section, what the margin of its option pays for it.
    paid: Vec<f64>,
    /// By option, its worth less the prices of its sections.
    margin: Vec<f64>,
    layout: Layout,
    joins: Vec<(usize, Vec<usize>)>,
    /// By remnant, the joins that chunks are to come from it for.
    pending: Vec<i64>,
    undecided: Vec<usize>,
    decided: Vec<Option<usize>>,
    /// Worth of all that is decided, prices of pending joins paid, and of remnants.
    settled: f64,
    target: f64,
    found: Option<Layout>,
    complete: bool,
    work: u64,
    limit: u64,
    stop: &'a StopFlag,
}

/// What may come of the gifts that are undecided.
struct Survey {
    /// Worth of all that is decided, and the most that the others may bring.
    bound: f64,
    /// The gift with the fewest ways, and how many.
    choice: Option<(u64, usize)>,
    /// Options that can be made, and their margins.
    can: Vec<(usize, f64)>,
    /// Gifts, and the most that each may bring.
    bests: Vec<(usize, f64)>,
}

impl Survey {
    fn best_of(&self, gift: usize) -> f64 {
        self.bests.iter().find(|(g, _)| *g == gift).map_or(0.0, |(_, best)| *best)
    }
}

/// A section and the group it is to come from, with what it needs of that.
#[derive(Clone, Copy)]
struct Source {
    section: usize,
    group: usize,
    need: i64,
}

/// The group of a section, and that of its match, where they are decided.
#[derive(Clone, Copy)]
struct Noted {
    group: Option<usize>,
    matched: Option<usize>,
}

/// What is tried once a section is knitted: the sections after it, beside what all other gifts may
/// bring.
#[derive(Clone, Copy)]
struct Then<'r> {
    rest: &'r [usize],
    others: f64,
}

/// By group, what a remnant earns at most: by room, untouched and touched. `None` where that is
/// known in coarse steps alone.
fn worths(relax: &Relaxation, market: Market, scratch: &mut Scratch) -> Option<Vec<[Vec<f64>; 2]>> {
    let problem = relax.problem;
    (0..problem.groups.len())
        .map(|group| {
            let top = relax.tops(group, market, scratch)?;
            Some(relax.end_worths(group, market.scope, &top, scratch))
        })
        .collect()
}

/// By option, its worth less the prices of its hours and of its open sections.
fn margins(relax: &Relaxation, market: Market, paid: &[f64]) -> Vec<f64> {
    let problem = relax.problem;
    let of_option = |(o, option): (usize, &FlatOption)| {
        let minute = market.prices.minute[problem.window(o)].iter().sum::<f64>();
        let open = option.sections.clone().filter(|s| market.scope.layout.chunks[*s].is_empty());
        option.gain as f64 - minute * option.minutes as f64 - open.map(|s| paid[s]).sum::<f64>()
    };
    problem.options.iter().enumerate().map(of_option).collect()
}

/// The options that may be taken, and the gifts that are made in any case.
fn choices(problem: &Problem, scope: &Scope) -> (Vec<bool>, Vec<bool>) {
    let mut allowed = scope.allowed.clone();
    let mut made = scope.made.clone();
    for option in scope.fixed.iter().flatten() {
        let gift = problem.options[*option].gift;
        made[gift] = true;
        for o in problem.gifts[gift].clone() {
            allowed[o] = o == *option;
        }
    }
    (allowed, made)
}

impl<'a> Exhaust<'a> {
    /// Tries all of a part that is not split below the choice of options. `None` where remnants
    /// are so heavy that what they earn is known in coarse steps alone.
    pub fn run(
        relax: &'a Relaxation<'a>,
        market: Market<'a>,
        trial: &Trial<'a>,
        scratch: &mut Scratch,
    ) -> Option<Exhausted> {
        let Market { scope, prices } = market;
        let problem = relax.problem;
        let worth = worths(relax, market, scratch)?;
        let paid: Vec<f64> =
            (0..problem.sections.len()).map(|s| relax.cheapest(s, scope, prices)).collect();
        let margin = margins(relax, market, &paid);
        let (allowed, made) = choices(problem, scope);
        let mut layout = scope.layout.clone();
        // Hours are booked here as gifts are decided.
        layout.minutes.fill(0);
        let mut pending = vec![0; problem.usable.len()];
        for (_, from) in &scope.joins {
            for r in from {
                pending[*r] += 1;
            }
        }
        let mut exhaust = Exhaust {
            problem,
            relax,
            prices,
            undecided: (0..problem.gifts.len())
                .filter(|g| made[*g] || problem.gifts[*g].clone().any(|o| allowed[o]))
                .collect(),
            allowed,
            made,
            group: scope.group.clone(),
            matched: scope.matched.clone(),
            worth,
            paid,
            margin,
            layout,
            joins: scope.joins.clone(),
            pending,
            decided: vec![None; problem.gifts.len()],
            settled: 0.0,
            target: trial.target(),
            found: None,
            complete: true,
            work: 0,
            limit: trial.limit,
            stop: trial.stop,
        };
        exhaust.settled = (0..problem.usable.len()).map(|r| exhaust.earns(r)).sum::<f64>()
            + prices.minute.iter().zip(&problem.minutes).map(|(p, m)| p * *m as f64).sum::<f64>();
        exhaust.next_gift();
        Some(Exhausted { found: exhaust.found, complete: exhaust.complete, work: exhaust.work })
    }

    fn is_over(&mut self) -> bool {
        let over = self.work > self.limit || self.stop.is_set();
        self.complete &= !over;
        over
    }

    fn earns(&self, r: usize) -> f64 {
        let touched = usize::from(self.layout.takers[r] > 0);
        let room = usize::try_from(self.layout.room[r]).unwrap_or(0);
        self.worth[self.problem.group_of[r]][touched][room]
    }

    /// What is left of a remnant for other sections.
    fn free(&self, r: usize) -> i64 {
        self.layout.room[r] - self.pending[r] * self.problem.min_chunk
    }

    /// Notes the group of a section; gives what was noted before.
    fn bind(&mut self, section: usize, group: usize) -> Noted {
        let number = self.problem.sections[section].matched;
        let before = Noted {
            group: self.group[section],
            matched: number.and_then(|number| self.matched[number]),
        };
        self.note(section, Noted { group: Some(group), matched: Some(group) });
        before
    }

    fn note(&mut self, section: usize, noted: Noted) {
        self.group[section] = noted.group;
        if let Some(number) = self.problem.sections[section].matched {
            self.matched[number] = noted.matched;
        }
    }

    fn links_allow(&self, section: usize, group: usize) -> bool {
        self.problem.settled_allow(&self.group, &self.matched, section, group)
    }

    fn is_open(&self, section: usize) -> bool {
        self.layout.chunks[section].is_empty() && self.joins.iter().all(|(s, _)| *s != section)
    }

    /// How many ways there are for an option, roughly: 0 if there is none.
    fn ways(&mut self, option: usize) -> u64 {
        let problem = self.problem;
        if !self.layout.has_hours(problem, option) {
            return 0;
        }
        let mut product = 1u64;
        for s in problem.options[option].sections.clone() {
            if !self.is_open(s) {
                continue;
            }
            let flat = &problem.sections[s];
            let mut ways = 0;
            for (group, need) in &flat.needs {
                if !self.links_allow(s, *group) {
                    continue;
                }
                let splits = problem.splits(*group, flat.joinable, *need);
                let least = if splits { problem.min_chunk.min(*need) } else { *need };
                let mut held = 0;
                self.work += 8 + problem.groups[*group].len() as u64;
                for r in &problem.groups[*group] {
                    let free = self.free(*r);
                    if free < least || !problem.may(s, *r) {
                        continue;
                    }
                    if free >= *need {
                        ways += 1;
                    }
                    if splits && free >= problem.min_chunk {
                        held += free;
                    }
                }
                if splits && held >= *need {
                    ways += 3;
                }
            }
            if ways == 0 {
                return 0;
            }
            product = product.saturating_mul(ways);
        }
        product
    }

    /// Decides the gift with the fewest ways in all its ways, then the next, as long as a better
    /// plan may come of it.
    fn next_gift(&mut self) {
        self.work += 10;
        if self.is_over() {
            return;
        }
        let Some(survey) = self.survey() else { return };
        if survey.bound < self.target {
            return;
        }
        let Some((_, gift)) = survey.choice else {
            self.finish();
            return;
        };
        // What all the others may still bring.
        let others = survey.bound - self.settled - survey.best_of(gift);
        let place = self.undecided.iter().position(|g| *g == gift).unwrap_or(0);
        self.undecided.remove(place);
        let problem = self.problem;
        let mut options = survey.can;
        options.retain(|(o, _)| problem.options[*o].gift == gift);
        options.sort_by(|a, b| b.1.total_cmp(&a.1));
        for (o, margin) in options {
            if self.settled + others + margin >= self.target {
                self.try_option(gift, o, margin, others);
            }
        }
        if !self.made[gift] && self.settled + others >= self.target {
            self.next_gift();
        }
        self.undecided.insert(place, gift);
    }

    /// Looks at all gifts that are undecided; `None` if one of them must be made and can't be.
    fn survey(&mut self) -> Option<Survey> {
        let mut survey =
            Survey { bound: self.settled, choice: None, can: Vec::new(), bests: Vec::new() };
        for n in 0..self.undecided.len() {
            let gift = self.undecided[n];
            let mut best = if self.made[gift] { f64::NEG_INFINITY } else { 0.0 };
            let mut ways = u64::from(!self.made[gift]);
            for o in self.problem.gifts[gift].clone() {
                if !self.allowed[o] {
                    continue;
                }
                let own = self.ways(o);
                if own > 0 {
                    ways += own;
                    best = best.max(self.margin[o]);
                    survey.can.push((o, self.margin[o]));
                }
            }
            if ways == 0 {
                return None;
            }
            survey.bound += best;
            survey.bests.push((gift, best));
            if survey.choice.is_none_or(|(least, _)| ways < least) {
                survey.choice = Some((ways, gift));
            }
        }
        Some(survey)
    }

    /// Makes a gift in an option for as long as all ways to knit it are tried.
    fn try_option(&mut self, gift: usize, option: usize, margin: f64, others: f64) {
        let problem = self.problem;
        let minutes = problem.options[option].minutes;
        self.settled += margin;
        self.layout.book(problem, option, minutes);
        self.decided[gift] = Some(option);
        let mut open: Vec<usize> =
            problem.options[option].sections.clone().filter(|s| self.is_open(*s)).collect();
        open.sort_by_key(|s| {
            let needs = problem.sections[*s].needs.iter();
            std::cmp::Reverse(needs.map(|(_, need)| *need).min())
        });
        self.knit(&open, others);
        self.decided[gift] = None;
        self.layout.book(problem, option, -minutes);
        self.settled -= margin;
    }

    /// Tries all ways to knit the open sections of the gift just decided, then the next gift.
    fn knit(&mut self, open: &[usize], others: f64) {
        if self.is_over() {
            return;
        }
        let problem = self.problem;
        let Some((section, rest)) = open.split_first() else {
            self.next_gift();
            return;
        };
        let flat = &problem.sections[*section];
        for (group, need) in &flat.needs {
            if !self.links_allow(*section, *group) {
                continue;
            }
            let source = Source { section: *section, group: *group, need: *need };
            let then = Then { rest, others };
            self.knit_from_one(source, then);
            if problem.splits(*group, flat.joinable, *need) {
                self.knit_from_several(source, then);
            }
        }
    }

    fn knit_from_one(&mut self, source: Source, then: Then) {
        let Source { section, group, need } = source;
        let problem = self.problem;
        let paid = self.paid[section];
        let mut seen: Vec<(i64, u32, i64, usize)> = Vec::new();
        for n in 0..problem.groups[group].len() {
            let r = problem.groups[group][n];
            self.work += 8;
            let touched = self.layout.takers[r].min(1);
            let likeness = (self.layout.room[r], touched, self.pending[r], problem.class_of[r]);
            if !problem.may(section, r)
                || self.free(r) < need
                || (self.pending[r] == 0 && seen.contains(&likeness))
            {
                continue;
            }
            seen.push(likeness);
            let before = self.earns(r);
            self.layout.place(problem, section, Chunks::one(r, need));
            let change = self.earns(r) - before + paid;
            if self.settled + change + then.others >= self.target && self.joins_fit(group) {
                self.settled += change;
                let before = self.bind(section, group);
                self.knit(then.rest, then.others);
                self.note(section, before);
                self.settled -= change;
            }
            self.layout.lift(problem, section);
        }
    }

    fn knit_from_several(&mut self, source: Source, then: Then) {
        let Source { section, group, .. } = source;
        // The section stays priced, now at this group's price.
        let change = self.paid[section] - self.relax.price(section, group, self.prices);
        if self.settled + change + then.others < self.target {
            return;
        }
        self.settled += change;
        let before = self.bind(section, group);
        self.join(source, then, 0, &mut Vec::new(), 0);
        self.note(section, before);
        self.settled -= change;
    }

    /// Tries all sets of remnants that begin with the chosen ones, which hold `held`, and go on
    /// with those from place `from` of the group.
    fn join(
        &mut self,
        source: Source,
        then: Then,
        from: usize,
        chosen: &mut Vec<usize>,
        held: i64,
    ) {
        let Source { section, group, need } = source;
        let problem = self.problem;
        if self.is_over() {
            return;
        }
        if chosen.len() >= 2 && held >= need {
            self.joins.push((section, chosen.clone()));
            for r in chosen.iter() {
                self.pending[*r] += 1;
            }
            if self.joins_fit(group) {
                self.knit(then.rest, then.others);
            }
            for r in chosen.iter() {
                self.pending[*r] -= 1;
            }
            self.joins.pop();
        }
        let count = i64::try_from(chosen.len()).unwrap_or(i64::MAX) + 1;
        if chosen.len() == problem.most_joined(group, need) || count * problem.min_chunk > need {
            return;
        }
        for n in from..problem.groups[group].len() {
            let r = problem.groups[group][n];
            self.work += 1;
            let free = self.free(r);
            if free < problem.min_chunk || !problem.may(section, r) {
                continue;
            }
            chosen.push(r);
            self.join(source, then, n + 1, chosen, held + free);
            chosen.pop();
        }
    }

    /// Whether the joins pending in a group can be met from the rooms as they are.
    fn joins_fit(&mut self, group: usize) -> bool {
        let problem = self.problem;
        let of_group = |from: &[usize]| problem.group_of[from[0]] == group;
        let mut own = self.joins.iter().filter(|(_, from)| of_group(from));
        let Some(first) = own.next() else { return true };
        if own.next().is_none() {
            // One join alone: its remnants together, and the least from each.
            let need = problem.sections[first.0].need(group).unwrap_or(0);
            let rooms = || first.1.iter().map(|r| self.layout.room[*r]);
            return rooms().all(|room| room >= problem.min_chunk) && rooms().sum::<i64>() >= need;
        }
        self.work += 20;
        let own: Vec<(usize, Vec<usize>)> =
            self.joins.iter().filter(|(_, from)| of_group(from)).cloned().collect();
        amounts::fits(problem, &self.layout, &own)
    }

    fn finish(&mut self) {
        let problem = self.problem;
        self.work += 100;
        let Some(amounts) = amounts::settle(problem, &self.layout, &self.joins) else { return };
        self.complete &= amounts.exact;
        let mut layout = Layout::new(problem);
        for option in self.decided.iter().flatten() {
            for section in problem.options[*option].sections.clone() {
                let join = self.joins.iter().position(|(s, _)| *s == section);
                let chunks = join.map_or(self.layout.chunks[section], |n| amounts.chunks[n]);
                layout.place(problem, section, chunks);
            }
            layout.choose(problem, *option);
        }
        if layout.value as f64 >= self.target {
            self.target = worth_more_than(layout.value);
            self.found = Some(layout);
        }
    }
}
