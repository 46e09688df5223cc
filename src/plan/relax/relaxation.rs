//! What is priced, and at what.

use crate::problem::Problem;
use crate::relax::scope::Scope;

/// Prices: of each section (or, where a link binds its group, of each section in each group) and
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
    /// By section, the first of its cells; by need of the section if linked.
    pub(super) first_cell: Vec<usize>,
    pub(super) cells: usize,
    /// By section, whether each of its chunks costs a join and it is given one back.
    pub(super) splits: Vec<bool>,
}

/// Shares of what a decigram could gain on average, to start prices from.
const FIRST_SHARES: [f64; 6] = [0.0, 0.2, 0.35, 0.5, 0.7, 1.0];

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
            let apart = usize::from(!section.links.is_empty());
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

    /// Prices to start from: each section costs what it needs at least, times a share of what all
    /// gifts could gain for each decigram there is. Nothing costs anything in the first.
    pub fn first_prices(&self, gains: i64) -> Vec<Prices> {
        let room: i64 = self.problem.usable.iter().sum();
        let most = gains as f64 / room.max(1) as f64;
        FIRST_SHARES
            .iter()
            .map(|share| Prices {
                cell: self.needs().map(|need| need as f64 * share * most).collect(),
                minute: vec![0.0; self.problem.minutes.len()],
            })
            .collect()
    }

    /// By cell, what its section needs at least.
    fn needs(&self) -> impl Iterator<Item = i64> + '_ {
        self.problem.sections.iter().flat_map(|section| {
            let mut needs: Vec<i64> = section.needs.iter().map(|(_, need)| *need).collect();
            if section.links.is_empty() {
                needs = needs.into_iter().min().into_iter().collect();
            }
            needs
        })
    }

    /// The price of a section in a group.
    pub fn price(&self, section: usize, group: usize, prices: &Prices) -> f64 {
        let flat = &self.problem.sections[section];
        let first = self.first_cell[section];
        if flat.links.is_empty() {
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
