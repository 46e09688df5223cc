//! The cheapest way to knit a few sections from one yarn group that nothing else draws on, where no yarn
//! has to be brought from elsewhere: what has been placed loses then by its state alone.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use super::amounts;
use super::layout::{Chunks, Layout};
use super::problem::Problem;

/// What came of packing a set of sections.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Packed {
    /// They can't all be knitted from the group.
    Never,
    /// What it loses in joins and ends at least, and by section, in the order given, how.
    Best(i64, Vec<Chunks>),
    /// Not told within the limit of work; it loses this at least.
    Unknown(i64),
}

/// Packs sets of sections, one after the other. Keeps its scratch space between them.
#[derive(Debug)]
pub(super) struct Packer<'p> {
    problem: &'p Problem,
    /// Holds what is being tried, and nothing between two sets.
    layout: Layout,
    joins: Vec<(usize, Vec<usize>)>,
    /// By remnant, the joins that chunks are to come from it for.
    pending: Vec<i64>,
    best: Option<(i64, Layout)>,
    /// The states that were tried, where no join is pending: how many sections are open, and by
    /// remnant its room and whether it is touched.
    tried: BTreeSet<Vec<i64>>,
    /// What the set that is being packed loses at least, however it is packed.
    least: i64,
    /// As little as it need lose, and what it may lose at most.
    enough: i64,
    most: i64,
    limit: u64,
    /// Places looked at so far.
    pub work: u64,
}

/// More than any packing loses.
pub(super) const ANYTHING: i64 = i64::MAX / 4;

/// A set that is being packed.
struct Set<'s> {
    group: usize,
    /// Sections and what they need of the group, the largest first.
    open: &'s [(usize, i64)],
}

impl<'p> Packer<'p> {
    pub fn new(problem: &'p Problem) -> Packer<'p> {
        Packer {
            problem,
            layout: Layout::new(problem),
            joins: Vec::new(),
            pending: vec![0; problem.usable.len()],
            best: None,
            tried: BTreeSet::new(),
            least: 0,
            enough: 0,
            most: 0,
            limit: 0,
            work: 0,
        }
    }

    /// Whether sections go into the remnants of a group, whatever that loses; also where that is not
    /// told within about `limit` places.
    pub fn may_go(&mut self, group: usize, sections: &[usize], limit: u64) -> bool {
        self.pack_to(group, sections, limit, ANYTHING..=ANYTHING) != Packed::Never
    }

    /// Packs sections into the remnants of a group so that they lose no more than `most`, looking at
    /// about `limit` places at most.
    pub fn pack(&mut self, group: usize, sections: &[usize], limit: u64, most: i64) -> Packed {
        self.pack_to(group, sections, limit, 0..=most)
    }

    /// The same, content with a packing that loses no more than `range` begins with.
    pub fn pack_to(
        &mut self,
        group: usize,
        sections: &[usize],
        limit: u64,
        range: RangeInclusive<i64>,
    ) -> Packed {
        let problem = self.problem;
        let mut open = Vec::with_capacity(sections.len());
        for s in sections {
            let Some(need) = problem.sections[*s].need(group) else { return Packed::Never };
            open.push((*s, need));
        }
        open.sort_by_key(|(_, need)| std::cmp::Reverse(*need));
        let there: i64 = problem.groups[group].iter().map(|r| problem.usable[*r]).sum();
        let left = there - open.iter().map(|(_, need)| need).sum::<i64>();
        if left < 0 {
            return Packed::Never;
        }
        // Where less is left than makes an end of use, and less than any remnant untouched, all that
        // is left is useless.
        let untouched = problem.groups[group].iter().any(|r| problem.usable[*r] <= left);
        let useless = left <= problem.drib && !untouched && !open.is_empty();
        self.least = if useless { left * problem.drib_cost } else { 0 };
        if self.least > *range.end() || !self.may_fit(&open, group) {
            return Packed::Never;
        }
        self.enough = self.least.max(*range.start());
        self.most = *range.end();
        self.best = None;
        self.tried.clear();
        self.limit = self.work + limit;
        self.place(&Set { group, open: &open });
        let over = self.work >= self.limit;
        match self.best.take() {
            Some((cost, _)) if over && cost > self.enough => Packed::Unknown(self.least),
            Some((cost, layout)) => {
                Packed::Best(cost, sections.iter().map(|s| layout.chunks[*s]).collect())
            }
            None if over => Packed::Unknown(self.least),
            None => Packed::Never,
        }
    }

    /// Nothing can be better than what loses the least.
    fn is_done(&self) -> bool {
        self.work >= self.limit || self.best.as_ref().is_some_and(|(cost, _)| *cost <= self.enough)
    }

    /// What is left of a remnant for other sections.
    fn free(&self, r: usize) -> i64 {
        self.layout.room[r] - self.pending[r] * self.problem.min_chunk
    }

    fn join_cost(&self) -> i64 {
        let joined: usize = self.joins.iter().map(|(_, from)| from.len() - 1).sum();
        i64::try_from(joined).unwrap_or(i64::MAX) * self.problem.join_cost
    }

    /// What a packing must lose less than, to be of use.
    fn cap(&self) -> i64 {
        self.best.as_ref().map_or(self.most + 1, |(cost, _)| *cost)
    }

    /// Whether the joins, and the ends at least, lose little enough.
    fn joins_pay(&self) -> bool {
        self.join_cost() + self.least < self.cap()
    }

    /// Whether the sections that can't be joined, each of them beside the larger ones, may find a place.
    fn may_fit(&mut self, open: &[(usize, i64)], group: usize) -> bool {
        let problem = self.problem;
        let whole = open
            .iter()
            .filter(|(s, need)| !problem.splits(group, problem.sections[*s].joinable, *need));
        let mut count = 0;
        for (_, need) in whole {
            count += 1;
            self.work += 1;
            let places: i64 =
                problem.groups[group].iter().map(|r| problem.usable[*r] / (*need).max(1)).sum();
            if places < count {
                return false;
            }
        }
        true
    }

    /// Whether something new and better than the best may come of what is placed: joins are paid
    /// for, and ends too small for all that is open stay as they are.
    fn may_pay(&mut self, set: &Set) -> bool {
        let problem = self.problem;
        let remnants = &problem.groups[set.group];
        self.work += 1 + remnants.len() as u64 / 4;
        let least = set.open.iter().map(|(section, need)| {
            let splits = problem.splits(set.group, problem.sections[*section].joinable, *need);
            if splits { problem.min_chunk } else { *need }
        });
        let least = least.min().unwrap_or(0);
        let left: i64 = remnants.iter().map(|r| self.free(*r)).filter(|free| *free >= least).sum();
        let open: i64 = set.open.iter().map(|(_, need)| need).sum();
        let pending: i64 = self
            .joins
            .iter()
            .map(|(section, from)| {
                let need = problem.sections[*section].need(set.group).unwrap_or(0);
                need - i64::try_from(from.len()).unwrap_or(0) * problem.min_chunk
            })
            .sum();
        if open > left || open + pending > remnants.iter().map(|r| self.free(*r)).sum() {
            return false;
        }
        if self.cap() < ANYTHING {
            let ends = remnants.iter().filter(|r| self.pending[**r] == 0).map(|r| {
                let (room, takers) = (self.layout.room[*r], self.layout.takers[*r]);
                if room < least { Layout::end_cost(problem, room, takers) } else { 0 }
            });
            if self.join_cost() + ends.sum::<i64>().max(self.least) >= self.cap() {
                return false;
            }
        }
        if self.joins.is_empty() && set.open.len() > 1 {
            let count = i64::try_from(set.open.len()).unwrap_or(i64::MAX);
            let mut state = vec![count];
            for r in remnants {
                state.push(2 * self.layout.room[*r] + i64::from(self.layout.takers[*r] > 0));
            }
            return self.tried.insert(state);
        }
        true
    }

    /// Tries all ways to knit what is open.
    fn place(&mut self, set: &Set) {
        let problem = self.problem;
        let Some(((section, need), rest)) = set.open.split_first() else {
            self.finish();
            return;
        };
        if !self.may_pay(set) {
            return;
        }
        let then = Set { group: set.group, open: rest };
        let mut seen: Vec<(i64, u32, i64, usize)> = Vec::new();
        let mut order: Vec<usize> = problem.groups[set.group].clone();
        order.retain(|r| self.free(*r) >= *need && problem.may(*section, *r));
        order.sort_by_key(|r| {
            (self.layout.draw_cost(problem, *section, *r, *need), self.layout.room[*r])
        });
        for r in &order {
            self.work += 1;
            if self.is_done() {
                return;
            }
            // Remnants that are alike need only be tried once.
            let (room, takers) = (self.layout.room[*r], self.layout.takers[*r]);
            let likeness = (room, takers, self.pending[*r], problem.class_of[*r]);
            if self.pending[*r] == 0 && seen.contains(&likeness) {
                continue;
            }
            seen.push(likeness);
            self.layout.place(problem, *section, Chunks::one(*r, *need));
            self.place(&then);
            self.layout.lift(problem, *section);
        }
        if problem.splits(set.group, problem.sections[*section].joinable, *need) {
            self.join((*section, *need), &then, 0, &mut Vec::new(), 0);
        }
    }

    /// Tries all sets of remnants that begin with the chosen ones, which hold `held`, and go on
    /// with those from place `from` of the group.
    fn join(
        &mut self,
        (section, need): (usize, i64),
        then: &Set,
        from: usize,
        chosen: &mut Vec<usize>,
        held: i64,
    ) {
        let problem = self.problem;
        if self.is_done() {
            return;
        }
        if chosen.len() >= 2 && held >= need {
            self.joins.push((section, chosen.clone()));
            for r in chosen.iter() {
                self.pending[*r] += 1;
            }
            if self.joins_pay() {
                self.place(then);
            }
            for r in chosen.iter() {
                self.pending[*r] -= 1;
            }
            self.joins.pop();
        }
        let count = i64::try_from(chosen.len()).unwrap_or(i64::MAX) + 1;
        if chosen.len() == problem.most_joined(then.group, need) || count * problem.min_chunk > need
        {
            return;
        }
        for n in from..problem.groups[then.group].len() {
            let r = problem.groups[then.group][n];
            self.work += 1;
            let free = self.free(r);
            if free < problem.min_chunk || !problem.may(section, r) {
                continue;
            }
            chosen.push(r);
            self.join((section, need), then, n + 1, chosen, held + free);
            chosen.pop();
        }
    }

    /// Shares out the joins and keeps the whole if it is the best so far.
    fn finish(&mut self) {
        let problem = self.problem;
        // Amounts are shared out by a flow for each way to use up or keep the remnants joined.
        let joined = self.pending.iter().filter(|chunks| **chunks > 0).count().min(12);
        self.work += if self.joins.is_empty() { 2 } else { 20 << joined };
        let joins = std::mem::take(&mut self.joins);
        if let Some(amounts) = amounts::settle(problem, &self.layout, &joins) {
            for ((section, _), chunks) in joins.iter().zip(&amounts.chunks) {
                self.layout.place(problem, *section, *chunks);
            }
            let cost = -self.layout.value;
            if cost < self.cap() {
                self.best = Some((cost, self.layout.clone()));
            }
            for (section, _) in &joins {
                self.layout.lift(problem, *section);
            }
        }
        self.joins = joins;
    }
}
