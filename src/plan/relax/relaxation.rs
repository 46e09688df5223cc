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
    /// Where it may be joined, the cell of what each of its chunks is charged.
    pub charge: Option<usize>,
    /// The most chunks that it may be joined from.
    pub most: i64,
}

/// The problem with its sections sold by price.
#[derive(Debug)]
pub(crate) struct Relaxation<'p> {
    pub problem: &'p Problem,
    /// By group, the sections it could serve.
    pub(super) items: Vec<Vec<Item>>,
    /// By section, the first of its cells; by need of the section if it is bound.
    pub(super) first_cell: Vec<usize>,
    /// Those of sections, then those of charges.
    pub(super) cells: usize,
}

/// What can't be earned.
pub(super) const NEVER: f64 = -1e18;

fn count(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

impl<'p> Relaxation<'p> {
    pub fn new(problem: &'p Problem) -> Relaxation<'p> {
        let mut items = vec![Vec::new(); problem.groups.len()];
        let mut first_cell = Vec::new();
        let mut cells = 0;
        for (s, section) in problem.sections.iter().enumerate() {
            first_cell.push(cells);
            let apart = usize::from(section.is_bound());
            for (n, (group, need)) in section.needs.iter().enumerate() {
                items[*group].push(Item {
                    section: s,
                    cell: cells + n * apart,
                    need: *need,
                    charge: None,
                    most: count(problem.most_joined(*group, *need)),
                });
            }
            cells += if apart == 1 { section.needs.len() } else { 1 };
        }
        for (group, items) in items.iter_mut().enumerate() {
            for item in items {
                let joinable = problem.sections[item.section].joinable;
                if problem.splits(group, joinable, item.need) {
                    item.charge = Some(cells);
                    cells += 1;
                }
            }
        }
        Relaxation { problem, items, first_cell, cells }
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
