//! Gathers the pool of a group: all sets of sections that could be part of a better plan.

use crate::link::Link;
use crate::packing::{ANYTHING, Packed, Packer};
use crate::relax::pool::{EXACT, Pool};
use crate::relax::relaxation::{Item, Market, NEVER, Relaxation};
use crate::relax::scope::Scope;

/// Past this many remnants in a group its sets are not gathered: they are packed too slowly.
const MOST_REMNANTS: usize = 12;
/// Sets of a pool at most.
const MOST_SETS: usize = 60_000;
/// Places looked at in packing one set.
const PACKING: u64 = 1_000;
/// Cells of a row of the table that tells what may still be earned, and of all of it.
const MOST_CELLS: i64 = 4_000;
const MOST_TABLE: i64 = 2_000_000;
/// Sections of an option that a group may serve, at most: all sets of them are looked at.
const MOST_OF_OPTION: usize = 10;

/// How an item of a group stands in a part of the tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Standing {
    Open,
    /// Its section must come from this group.
    Forced,
    /// Its section can't come from it.
    Closed,
}

/// Items of one option that a set may have together.
struct Way {
    items: Vec<u32>,
    need: i64,
    value: f64,
}

/// What a gift may have from the group: one of its ways or, unless it must have one, nothing.
struct Choice {
    ways: Vec<Way>,
    forced: bool,
}

impl Choice {
    /// The most that a decigram earns.
    fn density(&self) -> f64 {
        let of = |way: &Way| way.value / way.need.max(1) as f64;
        self.ways.iter().map(of).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// A search through the sets of a group.
struct Gathering<'a, 'p> {
    relax: &'a Relaxation<'p>,
    group: usize,
    packer: Packer<'p>,
    /// By gift that may have anything: forced ones first, then the most valuable by weight.
    choices: Vec<Choice>,
    /// By place in `choices` and cells left, what the gifts from there on may earn at most.
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
    /// By item of a group, what it earns its remnants: its price.
    pub fn item_values(&self, group: usize, market: Market, value: &mut Vec<f64>) {
        value.clear();
        value.extend(self.items[group].iter().map(|item| market.prices.cell[item.cell]));
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
        let choices = self.choices(group, &value, &standings)?;
        let mut gathering = Gathering::new(self, group, choices, floor, limit);
        gathering.run();
        *work += gathering.packer.work;
        gathering.complete.then_some(gathering.pool)
    }

    /// By gift, what it may have from a group; `None` where an option has too many sections for that.
    fn choices(&self, group: usize, value: &[f64], standings: &[Standing]) -> Option<Vec<Choice>> {
        let problem = self.problem;
        let option_of = |n: &u32| problem.sections[self.section_of(group, *n)].option;
        let mut open: Vec<u32> = (0..).take(standings.len()).collect();
        open.retain(|n| standings[*n as usize] != Standing::Closed);
        let mut choices: Vec<Choice> = Vec::new();
        let mut last = None;
        for own in open.chunk_by(|a, b| option_of(a) == option_of(b)) {
            if own.len() > MOST_OF_OPTION {
                return None;
            }
            let gift = problem.options[option_of(&own[0])].gift;
            if last != Some(gift) {
                choices.push(Choice { ways: Vec::new(), forced: false });
                last = Some(gift);
            }
            let Some(choice) = choices.last_mut() else { continue };
            let is_forced = |n: &u32| standings[*n as usize] == Standing::Forced;
            choice.forced |= own.iter().any(is_forced);
            for mask in 1..1u32 << own.len() {
                let items: Vec<u32> =
                    (0..own.len()).filter(|n| mask >> n & 1 == 1).map(|n| own[n]).collect();
                let all_forced = own.iter().filter(|n| is_forced(n)).all(|n| items.contains(n));
                if all_forced && self.goes_together(group, &items) {
                    choice.ways.push(Way {
                        need: items.iter().map(|n| self.items[group][*n as usize].need).sum(),
                        value: items.iter().map(|n| value[*n as usize]).sum(),
                        items,
                    });
                }
            }
        }
        choices.sort_by(|a, b| b.forced.cmp(&a.forced).then(b.density().total_cmp(&a.density())));
        Some(choices)
    }

    /// Whether items of one option may come from a group together: contrasts apart, and all that must
    /// come from the same group as one of them is there.
    fn goes_together(&self, group: usize, items: &[u32]) -> bool {
        let there = |section: &usize| items.iter().any(|n| self.section_of(group, *n) == *section);
        items.iter().all(|n| {
            let links = &self.problem.sections[self.section_of(group, *n)].links;
            links.iter().all(|(other, link)| match link {
                Link::Same => there(other),
                Link::Other => !there(other),
                Link::OneLot(_) => true,
            })
        })
    }
}

impl<'a, 'p> Gathering<'a, 'p> {
    fn new(
        relax: &'a Relaxation<'p>,
        group: usize,
        choices: Vec<Choice>,
        floor: f64,
        limit: u64,
    ) -> Gathering<'a, 'p> {
        let problem = relax.problem;
        let room: i64 = problem.groups[group].iter().map(|r| problem.usable[*r]).sum();
        let most = MOST_TABLE / (i64::try_from(choices.len()).unwrap_or(i64::MAX) + 1);
        let grain = room / most.clamp(1, MOST_CELLS) + 1;
        Gathering {
            relax,
            group,
            packer: Packer::new(problem),
            choices,
            table: Vec::new(),
            width: usize::try_from(room / grain).unwrap_or(0) + 1,
            grain,
            floor,
            picked: Vec::new(),
            pool: Pool::default(),
            limit,
            complete: true,
        }
    }

    /// Goes through all sets.
    fn run(&mut self) {
        let ways: usize = self.choices.iter().map(|choice| choice.ways.len()).sum();
        self.packer.work += (ways + self.choices.len() + 1) as u64 * self.width as u64 / 16 + 1;
        if self.packer.work >= self.limit {
            self.complete = false;
            return;
        }
        self.fill_table();
        let problem = self.relax.problem;
        let room: i64 = problem.groups[self.group].iter().map(|r| problem.usable[*r]).sum();
        self.take_in(0, 0.0);
        self.extend(0, room, 0.0);
    }

    /// Needs are rounded down to cells, so that no set earns more than the table says.
    fn fill_table(&mut self) {
        let (width, count) = (self.width, self.choices.len());
        self.table = vec![0.0; (count + 1) * width];
        for (n, choice) in self.choices.iter().enumerate().rev() {
            let (before, after) = self.table[n * width..].split_at_mut(width);
            let after = &after[..width];
            if choice.forced {
                before.fill(NEVER);
            } else {
                before.copy_from_slice(after);
            }
            for way in &choice.ways {
                let need = usize::try_from(way.need / self.grain).unwrap_or(usize::MAX);
                if need < width {
                    for (to, from) in before[need..].iter_mut().zip(after) {
                        *to = to.max(from + way.value);
                    }
                }
            }
        }
    }

    /// The most that a set may earn which has `value` so far, `room` left, and goes on with the gifts
    /// from place `from` on.
    fn most(&self, from: usize, room: i64, value: f64) -> f64 {
        let cells = usize::try_from(room / self.grain).unwrap_or(0).min(self.width - 1);
        value + self.table[from * self.width + cells]
    }

    /// Packs what is picked and keeps it if it earns enough and all gifts from place `from` on may
    /// have nothing; whether it can be knitted at all.
    fn take_in(&mut self, from: usize, value: f64) -> bool {
        let sections: Vec<usize> =
            self.picked.iter().map(|n| self.relax.section_of(self.group, *n)).collect();
        self.packer.work += 2;
        let whole = self.choices.get(from).is_none_or(|choice| !choice.forced);
        if !whole || value < self.floor {
            // It is only on the way to others.
            return self.packer.may_go(self.group, &sections, PACKING);
        }
        let mut packed = EXACT;
        #[allow(clippy::cast_possible_truncation, reason = "a difference of sums of gains")]
        let most = (value - self.floor).min(ANYTHING as f64) as i64;
        let cost = match self.packer.pack(self.group, &sections, PACKING, most) {
            // It may still be on the way to others.
            Packed::Never => return self.packer.may_go(self.group, &sections, PACKING),
            Packed::Best(cost, _) => cost as f64,
            Packed::Unknown(least) => {
                packed = PACKING;
                least as f64
            }
        };
        if value - cost >= self.floor {
            self.pool.push(&self.picked, cost, packed);
            self.complete &= self.pool.len() <= MOST_SETS;
        }
        true
    }

    /// Adds each way of each gift from place `from` on, then those of the gifts after it.
    fn extend(&mut self, from: usize, room: i64, value: f64) {
        for n in from..self.choices.len() {
            self.packer.work += 1;
            if self.most(n, room, value) < self.floor {
                return;
            }
            for w in 0..self.choices[n].ways.len() {
                if self.packer.work >= self.limit || !self.complete {
                    self.complete = false;
                    return;
                }
                self.packer.work += 1;
                let way = &self.choices[n].ways[w];
                let (need, with) = (way.need, value + way.value);
                if need > room || self.most(n + 1, room - need, with) < self.floor {
                    continue;
                }
                let before = self.picked.len();
                self.picked.extend_from_slice(&way.items);
                if self.take_in(n + 1, with) {
                    self.extend(n + 1, room - need, with);
                }
                self.picked.truncate(before);
            }
            if self.choices[n].forced {
                return;
            }
        }
    }
}
