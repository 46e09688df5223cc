//! Whether an option can be knitted from what is left, tried exactly up to a limit of work.

use super::amounts;
use super::layout::{Chunks, Layout};
use super::problem::Problem;

struct FitSearch<'a> {
    problem: &'a Problem,
    layout: Layout,
    group: Vec<Option<usize>>,
    joins: Vec<(usize, Vec<usize>)>,
    pending: Vec<i64>,
    work: u64,
}

/// The chunks of an option's sections if it fits beside what the layout holds. What can't be
/// told within `limit` places looked at counts as no fit.
pub(super) fn fit(
    problem: &Problem,
    layout: &Layout,
    option: usize,
    limit: u64,
) -> Option<Vec<Chunks>> {
    if !layout.has_hours(problem, option) {
        return None;
    }
    let mut sections: Vec<usize> = problem.options[option].sections.clone().collect();
    sections.sort_by_key(|s| {
        std::cmp::Reverse(problem.sections[*s].needs.iter().map(|(_, need)| *need).min())
    });
    let mut search = FitSearch {
        problem,
        layout: layout.clone(),
        group: vec![None; problem.sections.len()],
        joins: Vec::new(),
        pending: vec![0; problem.usable.len()],
        work: limit,
    };
    search.place(&sections).then(|| {
        let amounts = amounts::settle(problem, &search.layout, &search.joins);
        let of = |section: usize| {
            let join = search.joins.iter().position(|(s, _)| *s == section);
            match (join, &amounts) {
                (Some(n), Some(amounts)) => amounts.chunks[n],
                _ => search.layout.chunks[section],
            }
        };
        problem.options[option].sections.clone().map(of).collect()
    })
}

impl FitSearch<'_> {
    /// Leaves the sections placed if they can be.
    fn place(&mut self, sections: &[usize]) -> bool {
        let problem = self.problem;
        let Some((section, rest)) = sections.split_first() else {
            return amounts::settle(problem, &self.layout, &self.joins).is_some();
        };
        let flat = &problem.sections[*section];
        for (group, need) in &flat.needs {
            let links = flat.links.iter().all(|(other, link)| {
                self.group[*other].is_none_or(|there| link.allows(there, *group))
            });
            if !links || !self.layout.matches(problem, *section, *group) {
                continue;
            }
            self.group[*section] = Some(*group);
            let mut snug: Vec<usize> = problem.groups[*group].clone();
            snug.sort_by_key(|r| self.layout.room[*r]);
            for r in &snug {
                self.work = self.work.saturating_sub(1);
                let free = self.layout.room[*r] - self.pending[*r] * problem.min_chunk;
                if free < *need || self.work == 0 || !problem.may(*section, *r) {
                    continue;
                }
                self.layout.place(problem, *section, Chunks::one(*r, *need));
                if self.joins_fit() && self.place(rest) {
                    return true;
                }
                self.layout.lift(problem, *section);
            }
            if problem.splits(*group, flat.joinable, *need)
                && self.join(*section, &snug, *need, 0, &mut Vec::new(), rest)
            {
                return true;
            }
            self.group[*section] = None;
        }
        false
    }

    fn join(
        &mut self,
        section: usize,
        remnants: &[usize],
        need: i64,
        from: usize,
        chosen: &mut Vec<usize>,
        rest: &[usize],
    ) -> bool {
        let problem = self.problem;
        let held: i64 = chosen.iter().map(|r| self.layout.room[*r]).sum();
        if chosen.len() >= 2 && held >= need {
            let mut set = chosen.clone();
            set.sort_unstable();
            for r in &set {
                self.pending[*r] += 1;
            }
            self.joins.push((section, set));
            if self.joins_fit() && self.place(rest) {
                return true;
            }
            for r in chosen.iter() {
                self.pending[*r] -= 1;
            }
            self.joins.pop();
        }
        let parts = i64::try_from(chosen.len()).unwrap_or(i64::MAX) + 1;
        let most = remnants.first().map_or(0, |r| problem.most_joined(problem.group_of[*r], need));
        if chosen.len() >= most || parts * problem.min_chunk > need {
            return false;
        }
        for n in from..remnants.len() {
            self.work = self.work.saturating_sub(1);
            let r = remnants[n];
            let free = self.layout.room[r] - self.pending[r] * problem.min_chunk;
            if free < problem.min_chunk || self.work == 0 || !problem.may(section, r) {
                continue;
            }
            chosen.push(r);
            if self.join(section, remnants, need, n + 1, chosen, rest) {
                return true;
            }
            chosen.pop();
        }
        false
    }

    fn joins_fit(&mut self) -> bool {
        self.work = self.work.saturating_sub(10 * self.joins.len() as u64);
        self.joins.is_empty() || amounts::fits(self.problem, &self.layout, &self.joins)
    }
}
