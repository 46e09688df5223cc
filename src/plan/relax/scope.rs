//! The part of the search tree that is bounded.

use crate::layout::Layout;
use crate::problem::Problem;

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
    /// Sections that are to be joined from just these remnants, the amounts open.
    pub joins: Vec<(usize, Vec<usize>)>,
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
            joins: Vec::new(),
        }
    }

    pub fn is_joined(&self, section: usize) -> bool {
        self.joins.iter().any(|(s, _)| *s == section)
    }

    /// Whether linked sections whose group is settled let `section` come from `group`.
    pub fn links_allow(&self, problem: &Problem, section: usize, group: usize) -> bool {
        self.group[section].is_none_or(|only| only == group)
            && problem.sections[section].links.iter().all(|(other, link)| {
                self.group[*other].is_none_or(|there| link.allows(there, group))
            })
    }
}
