//! The part of the search tree that is bounded.

use std::sync::Arc;

use crate::layout::Layout;
use crate::problem::Problem;
use crate::relax::pool::Pool;

/// An attempt to find the sets of a group that came to no end.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Failure {
    /// How much there was to lose.
    pub slack: f64,
    /// Places looked at, at most.
    pub limit: u64,
    /// Items that were open.
    pub open: usize,
}

impl Failure {
    /// Whether another attempt is about as hopeless.
    pub fn again(&self, next: &Failure) -> bool {
        next.slack > 0.7 * self.slack
            && next.limit < 2 * self.limit
            && next.open * 5 > self.open * 4
    }
}

/// What is settled and what is open, in the part of the search tree that is bounded.
#[derive(Clone, Debug)]
pub(crate) struct Scope {
    /// By option, whether its gift may still take it.
    pub allowed: Vec<bool>,
    /// By gift, the option it takes in any case.
    pub fixed: Vec<Option<usize>>,
    /// By gift, whether it is made in any case.
    pub made: Vec<bool>,
    /// Chunks that are settled are drawn here; by section, empty while it is open.
    pub layout: Layout,
    /// By section of a fixed option, the group it must come from, once that is settled.
    pub group: Vec<Option<usize>>,
    /// By match, the group of those of its sections whose group is settled.
    pub matched: Vec<Option<usize>>,
    /// Sections that are to be joined from just these remnants, the amounts open.
    pub joins: Vec<(usize, Vec<usize>)>,
    /// By group, all sets of open sections that it may serve in a better plan, where they are known.
    /// Only while no chunk is settled.
    pub pools: Vec<Option<Arc<Pool>>>,
    /// By group, how the last attempt to find its sets failed.
    pub failed: Vec<Option<Failure>>,
    /// Whether the part is split by remnants, so that pools are of no use.
    pub apart: bool,
}

impl Scope {
    /// Everything open.
    pub fn open(problem: &Problem) -> Scope {
        Scope {
            allowed: vec![true; problem.options.len()],
            fixed: vec![None; problem.gifts.len()],
            made: vec![false; problem.gifts.len()],
            layout: Layout::new(problem),
            group: vec![None; problem.sections.len()],
            matched: vec![None; problem.matches],
            joins: Vec::new(),
            pools: vec![None; problem.groups.len()],
            failed: vec![None; problem.groups.len()],
            apart: false,
        }
    }

    /// From here on remnants are told apart, which sets don't do.
    pub fn tell_apart(&mut self) {
        self.apart = true;
        self.pools.fill(None);
    }

    /// Whether all that remnants can do is known by sets.
    pub fn is_pooled(&self) -> bool {
        self.pools.iter().all(Option::is_some)
    }

    pub fn is_joined(&self, section: usize) -> bool {
        self.joins.iter().any(|(s, _)| *s == section)
    }

    /// Settles the group of a section of an option that is taken.
    pub fn settle_group(&mut self, problem: &Problem, section: usize, group: usize) {
        self.group[section] = Some(group);
        if let Some(number) = problem.sections[section].matched {
            self.matched[number] = Some(group);
        }
    }

    /// Whether sections whose group is settled let `section` come from `group`.
    pub fn links_allow(&self, problem: &Problem, section: usize, group: usize) -> bool {
        problem.settled_allow(&self.group, &self.matched, section, group)
    }
}
