//! What is priced, and at what.

use crate::problem::Problem;
use crate::relax::scope::Scope;

/// Prices: of each section (or, where its group is bound to others, of each section in each group) and
/// of the minutes until each deadline, these at least 0. In tenths.
#[derive(Clone, Debug)]
pub(crate) struct Prices {
    pub cell: Vec<f64>,
    pub minute: Vec<f64>,
}

/// What is open to be sold, and at what prices.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Market<'a> {
    pub scope: &'a Scope,
    pub prices: &'a Prices,
}

/// A section that could be knitted from a group.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    pub section: usize,
    pub cell: usize,
    pub need: i64,
    pub splits: bool,
}

/// The problem with its sections sold by price.
#[derive(Debug)]
pub(crate) struct Relaxation<'p> {
    pub problem: &'p Problem,
    /// By group, the sections it could serve.
    pub(super) items: Vec<Vec<Item>>,
    /// By section, the first of its cells; by need of the section if it is bound.
    pub(super) first_cell: Vec<usize>,
    pub(super) cells: usize,
    /// By section, whether each of its chunks costs a join and it is given one back.
    pub(super) splits: Vec<bool>,
}

/// What can't be earned.
pub(super) const NEVER: f64 = -1e18;

impl<'p> Relaxation<'p> {
    pub fn new(problem: &'p Problem) -> Relaxation<'p> {
        let mut items = vec![Vec::new(); problem.groups.len()];
        let mut first_cell = Vec::new();
        let mut splits = Vec::new();
        let mut cells = 0;
        for (s, section) in problem.sections.iter().enumerate() {
            first_cell.push(cells);
            let apart = usize::from(section.is_bound());
            for (n, (group, need)) in section.needs.iter().enumerate() {
                items[*group].push(Item {
                    section: s,
                    cell: cells + n * apart,
                    need: *need,
                    splits: problem.splits(*group, section.joinable, *need),
                });
            }
            splits.push(
                section
                    .needs
                    .iter()
                    .any(|(group, need)| problem.splits(*group, section.joinable, *need)),
            );
            cells += if apart == 1 { section.needs.len() } else { 1 };
        }
        Relaxation { problem, items, first_cell, cells, splits }
    }

    /// The price of a section in a group.
    pub fn price(&self, section: usize, group: usize, prices: &Prices) -> f64 {
        let flat = &self.problem.sections[section];
        let first = self.first_cell[section];
        if !flat.is_bound() {
            prices.cell[first]
        } else {
            let nth = flat.needs.iter().position(|(g, _)| *g == group);
            nth.map_or(0.0, |n| prices.cell[first + n])
        }
    }

    /// What a gift is given back for a section, since each of its chunks is charged as a join.
    pub fn refund(&self, section: usize) -> f64 {
        if self.splits[section] { self.problem.join_cost as f64 } else { 0.0 }
    }

    /// The cheapest price of a section in the groups it may still come from.
    pub fn cheapest(&self, section: usize, scope: &Scope, prices: &Prices) -> f64 {
        self.problem.sections[section]
            .needs
            .iter()
            .filter(|(group, _)| scope.links_allow(self.problem, section, *group))
            .map(|(group, _)| self.price(section, *group, prices))
            .fold(f64::INFINITY, f64::min)
    }
}
