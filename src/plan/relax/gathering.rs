//! Gathers the pool of a group: all sets of sections that could be part of a better plan.

use crate::link::Link;
use crate::packing::{Packed, Packer};
use crate::relax::pool::Pool;
use crate::relax::relaxation::{Item, Market, Relaxation};
use crate::relax::scope::Scope;

/// Past this many remnants in a group its sets are not gathered: they are packed too slowly.
const MOST_REMNANTS: usize = 12;
/// Sets of a pool at most.
const MOST_SETS: usize = 60_000;
/// Places looked at in packing one set.
const PACKING: u64 = 4_000;
/// Cells of the table that tells what may still be earned.
const MOST_CELLS: i64 = 500;

/// How an item of a group stands in a part of the tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Standing {
    Open,
    /// Its section must come from this group.
    Forced,
    /// Its section can't come from it.
    Closed,
}

/// A search through the sets of a group.
struct Gathering<'a, 'p> {
    relax: &'a Relaxation<'p>,
    group: usize,
    packer: Packer<'p>,
    /// The items that are not closed: forced ones first, then the most valuable by weight.
    order: Vec<u32>,
    value: &'a [f64],
    /// By place in `order` and cells left, what the items from there on may earn at most.
    table: Vec<f64>,
    width: usize,
    grain: i64,
    /// What a set must earn at least.
    floor: f64,
    picked: Vec<u32>,
    pool: Pool,
    limit: u64,
    /// Whether all sets were looked at.
    complete: bool,
}

impl<'p> Relaxation<'p> {
    /// By item of a group, what it earns its remnants: its price, less what its gift is given back.
    pub fn item_values(&self, group: usize, market: Market, value: &mut Vec<f64>) {
        value.clear();
        value.extend(
            self.items[group]
                .iter()
                .map(|item| market.prices.cell[item.cell] - self.refund(item.section)),
        );
    }

    /// By item of a group, how it stands.
    pub fn standings(&self, group: usize, scope: &Scope) -> Vec<Standing> {
        let problem = self.problem;
        let stands = |item: &Item| {
            let option = problem.sections[item.section].option;
            let fixed = scope.fixed[problem.options[option].gift];
            if !self.is_open(item, group, i64::MAX, scope) {
                Standing::Closed
            } else if fixed == Some(option) && scope.group[item.section] == Some(group) {
                Standing::Forced
            } else {
                Standing::Open
            }
        };
        self.items[group].iter().map(stands).collect()
    }

    /// The section of an item, by its place among those of its group.
    pub fn section_of(&self, group: usize, item: u32) -> usize {
        self.items[group][item as usize].section
    }

    /// How many items a group has.
    pub fn items_of(&self, group: usize) -> usize {
        self.items[group].len()
    }

    /// The place of a section among the items of a group.
    pub fn item_of(&self, section: usize, group: usize) -> Option<usize> {
        self.items[group].binary_search_by_key(&section, |item| item.section).ok()
    }

    /// All sets of a group that earn `floor` or more, each exactly; `None` where that takes more
    /// than `limit` places. What was looked at is added to `work`.
    pub fn gather(
        &self,
        group: usize,
        market: Market,
        floor: f64,
        limit: u64,
        work: &mut u64,
    ) -> Option<Pool> {
        // Where yarn travels, what a set loses depends on who knits it: packing doesn't tell.
        if self.problem.groups[group].len() > MOST_REMNANTS || self.problem.travels() {
            return None;
        }
        let mut value = Vec::new();
        self.item_values(group, market, &mut value);
        let standings = self.standings(group, market.scope);
        let mut gathering = Gathering::new(self, group, &value, &standings, floor, limit);
        if gathering.packer.work < limit {
            gathering.run(&standings);
        } else {
            gathering.complete = false;
        }
        *work += gathering.packer.work;
        gathering.complete.then_some(gathering.pool)
    }
}

impl<'a, 'p> Gathering<'a, 'p> {
    fn new(
        relax: &'a Relaxation<'p>,
        group: usize,
        value: &'a [f64],
        standings: &[Standing],
        floor: f64,
        limit: u64,
    ) -> Gathering<'a, 'p> {
        let problem = relax.problem;
        let items = &relax.items[group];
        let mut order: Vec<u32> = (0..).take(items.len()).collect();
        order.retain(|n| standings[*n as usize] != Standing::Closed);
        let density = |n: u32| value[n as usize] / items[n as usize].need as f64;
        order.sort_by(|a, b| {
            let free = |n: u32| standings[n as usize] != Standing::Forced;
            free(*a).cmp(&free(*b)).then(density(*b).total_cmp(&density(*a)))
        });
        let room: i64 = problem.groups[group].iter().map(|r| problem.usable[*r]).sum();
        let grain = room / MOST_CELLS + 1;
        let width = usize::try_from(room / grain).unwrap_or(0) + 1;
        let mut packer = Packer::new(problem);
        packer.work += ((order.len() + 1) * width) as u64 / 16 + 1;
        let mut gathering = Gathering {
            relax,
            group,
            packer,
            order,
            value,
            table: Vec::new(),
            width,
            grain,
            floor,
            picked: Vec::new(),
            pool: Pool::default(),
            limit,
            complete: true,
        };
        if gathering.packer.work < limit {
            gathering.fill_table();
        }
        gathering
    }

    /// Needs are rounded down to cells, so that no set earns more than the table says.
    fn fill_table(&mut self) {
        let (width, count) = (self.width, self.order.len());
        self.table = vec![0.0; (count + 1) * width];
        for n in (0..count).rev() {
            let item = self.order[n] as usize;
            let need = self.relax.items[self.group][item].need / self.grain;
            let need = usize::try_from(need).unwrap_or(usize::MAX);
            let value = self.value[item];
            let (before, after) = self.table[n * width..].split_at_mut(width);
            let after = &after[..width];
            before.copy_from_slice(after);
            if value > 0.0 && need < width {
                for (to, from) in before[need..].iter_mut().zip(after) {
                    *to = to.max(from + value);
                }
            }
        }
    }

    /// Takes in what must be in every set, then goes through all.
    fn run(&mut self, standings: &[Standing]) {
        let forced =
            self.order.iter().take_while(|n| standings[**n as usize] == Standing::Forced).count();
        let items = &self.relax.items[self.group];
        let room: i64 = self.relax.problem.groups[self.group]
            .iter()
            .map(|r| self.relax.problem.usable[*r])
            .sum();
        self.picked.extend(self.order.iter().take(forced));
        let used: i64 = self.picked.iter().map(|n| items[*n as usize].need).sum();
        let value: f64 = self.picked.iter().map(|n| self.value[*n as usize]).sum();
        if used <= room && self.take_in(value) {
            self.extend(forced, room - used, value);
        }
    }

    /// Packs what is picked and keeps it if it earns enough; whether it can be knitted at all.
    fn take_in(&mut self, value: f64) -> bool {
        self.packer.work += 2;
        if !self.goes_together() {
            return false;
        }
        let sections: Vec<usize> =
            self.picked.iter().map(|n| self.relax.section_of(self.group, *n)).collect();
        let mut exact = true;
        let cost = match self.packer.pack(self.group, &sections, PACKING) {
            Packed::Never => return false,
            Packed::Best(cost, _) => cost as f64,
            Packed::Unknown(least) => {
                exact = false;
                least as f64
            }
        };
        if value - cost >= self.floor && self.is_closed() {
            self.pool.push(&self.picked, cost, exact);
            self.complete &= self.pool.len() <= MOST_SETS;
        }
        true
    }

    /// Whether the item picked last goes with the others: one option a gift, and contrasts apart.
    fn goes_together(&self) -> bool {
        let problem = self.relax.problem;
        let Some((last, others)) = self.picked.split_last() else { return true };
        let section = self.relax.section_of(self.group, *last);
        let option = problem.sections[section].option;
        others.iter().all(|other| {
            let other = self.relax.section_of(self.group, *other);
            let there = problem.sections[other].option;
            let mut links = problem.sections[section].links.iter();
            let apart = links.any(|(to, link)| *to == other && matches!(link, Link::Other));
            there == option && !apart || problem.options[there].gift != problem.options[option].gift
        })
    }

    /// Whether all that must come from the same group as a section picked is picked too.
    fn is_closed(&self) -> bool {
        let problem = self.relax.problem;
        let sections = || self.picked.iter().map(|n| self.relax.section_of(self.group, *n));
        sections().all(|s| {
            let links = problem.sections[s].links.iter();
            let mut same = links.filter(|(_, link)| matches!(link, Link::Same));
            same.all(|(other, _)| sections().any(|there| there == *other))
        })
    }

    /// Adds each item from place `from` on, then those after it.
    fn extend(&mut self, from: usize, room: i64, value: f64) {
        for n in from..self.order.len() {
            self.packer.work += 1;
            let cells = usize::try_from(room / self.grain).unwrap_or(0).min(self.width - 1);
            if value + self.table[n * self.width + cells] < self.floor {
                return;
            }
            if self.packer.work >= self.limit || !self.complete {
                self.complete = false;
                return;
            }
            let item = self.order[n];
            let need = self.relax.items[self.group][item as usize].need;
            if need > room {
                continue;
            }
            let with = value + self.value[item as usize];
            self.picked.push(item);
            if self.take_in(with) {
                self.extend(n + 1, room - need, with);
            }
            self.picked.pop();
        }
    }
}
