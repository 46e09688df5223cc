use std::collections::BTreeMap;
use std::ops::Range;

use super::{Instance, Section};

/// An instance as the solver wants it: flat, dense indices, and without what can't be part of
/// any plan. Masses are decigrams, gains tenths of a point.
#[derive(Debug)]
pub(super) struct Problem {
    /// By gift, its options in `options`.
    pub gifts: Vec<Range<usize>>,
    pub due: Vec<Option<usize>>,
    pub must: Vec<bool>,
    pub options: Vec<FlatOption>,
    pub sections: Vec<FlatSection>,
    /// By remnant.
    pub usable: Vec<i64>,
    pub group_of: Vec<usize>,
    /// By group, its remnants.
    pub groups: Vec<Vec<usize>>,
    /// Minutes until each deadline.
    pub minutes: Vec<i64>,
    pub min_chunk: i64,
    pub max_join: usize,
    pub drib: i64,
    pub join_cost: i64,
    pub drib_cost: i64,
    /// Added to the gain of a gift that must be made; more than all others could outweigh.
    pub must_bonus: i64,
}

#[derive(Debug)]
pub(super) struct FlatOption {
    pub gift: usize,
    /// Its index in the gift of the instance.
    pub original: usize,
    pub gain: i64,
    pub minutes: i64,
    pub sections: Range<usize>,
}

#[derive(Debug)]
pub(super) struct FlatSection {
    pub option: usize,
    /// Group and need, by rising group; groups that could never serve are left out.
    pub needs: Vec<(usize, i64)>,
    pub joinable: bool,
    /// Other sections, and whether they must be of the same group or of another.
    pub links: Vec<(usize, bool)>,
}

impl FlatSection {
    pub fn need(&self, group: usize) -> Option<i64> {
        self.needs.iter().find(|(g, _)| *g == group).map(|(_, need)| *need)
    }
}

impl Problem {
    pub fn new(instance: &Instance) -> Problem {
        let mut names: BTreeMap<usize, usize> = BTreeMap::new();
        for remnant in &instance.remnants {
            let next = names.len();
            names.entry(remnant.group).or_insert(next);
        }
        let mut problem = Problem {
            gifts: Vec::new(),
            due: instance.gifts.iter().map(|gift| gift.due).collect(),
            must: instance.gifts.iter().map(super::Gift::is_must).collect(),
            options: Vec::new(),
            sections: Vec::new(),
            usable: instance.remnants.iter().map(|r| i64::from(r.usable_dg)).collect(),
            group_of: instance.remnants.iter().map(|r| names[&r.group]).collect(),
            groups: vec![Vec::new(); names.len()],
            minutes: instance
                .deadlines
                .iter()
                .map(|d| i64::try_from(*d.minutes.first().unwrap_or(&0)).unwrap_or(i64::MAX))
                .collect(),
            min_chunk: i64::from(instance.min_chunk_dg),
            max_join: instance.max_join,
            drib: i64::from(instance.drib_dg),
            join_cost: instance.weights.join.0,
            drib_cost: instance.weights.drib.0,
            must_bonus: 0,
        };
        for (r, group) in problem.group_of.iter().enumerate() {
            problem.groups[*group].push(r);
        }
        for g in 0..instance.gifts.len() {
            let start = problem.options.len();
            for o in 0..instance.gifts[g].options.len() {
                problem.flatten(instance, g, o, &names);
            }
            problem.gifts.push(start..problem.options.len());
        }
        problem.must_bonus = problem.outweighing_all();
        for option in &mut problem.options {
            if problem.must[option.gift] {
                option.gain += problem.must_bonus;
            }
        }
        problem
    }

    /// Adds an option unless it can't be made even with the whole stash and all hours.
    fn flatten(&mut self, instance: &Instance, g: usize, o: usize, names: &BTreeMap<usize, usize>) {
        let gift = &instance.gifts[g];
        let option = &gift.options[o];
        let minutes = i64::from(option.minutes);
        let hours = gift.due.map_or(i64::MAX, |due| self.minutes[due]);
        if gift.pinned.is_some_and(|pinned| pinned != o) || minutes > hours {
            return;
        }
        let first = self.sections.len();
        let mut flat: Vec<FlatSection> =
            option.sections.iter().map(|section| self.flat_section(section, names)).collect();
        link(&mut flat, &option.sections, first);
        drop_unanswered(&mut flat, first);
        if flat.iter().any(|section| section.needs.is_empty()) {
            return;
        }
        self.sections.extend(flat);
        self.options.push(FlatOption {
            gift: g,
            original: o,
            gain: instance.gain(g, o).0,
            minutes,
            sections: first..self.sections.len(),
        });
    }

    /// A section of the next option, without its links.
    fn flat_section(&self, section: &Section, names: &BTreeMap<usize, usize>) -> FlatSection {
        let need_of = |(name, need): (&usize, &u32)| {
            let group = *names.get(name)?;
            let need = i64::from(*need);
            self.is_enough(group, section.joinable, need).then_some((group, need))
        };
        FlatSection {
            option: self.options.len(),
            needs: section.need_dg.iter().filter_map(need_of).collect(),
            joinable: section.joinable,
            links: Vec::new(),
        }
    }

    /// Whether the whole group, untouched, could serve a need.
    fn is_enough(&self, group: usize, joinable: bool, need: i64) -> bool {
        let mut rooms: Vec<i64> = self.groups[group].iter().map(|r| self.usable[*r]).collect();
        rooms.sort_unstable_by(|a, b| b.cmp(a));
        let most = if self.splits(joinable, need) { self.max_join } else { 1 };
        rooms.iter().take(most).sum::<i64>() >= need
    }

    /// Whether a need may be met from more than one remnant.
    pub fn splits(&self, joinable: bool, need: i64) -> bool {
        joinable && self.max_join > 1 && need >= 2 * self.min_chunk
    }

    fn outweighing_all(&self) -> i64 {
        let gifts: i64 = self
            .gifts
            .iter()
            .map(|options| {
                let spread = options.clone().map(|o| {
                    let joins = self.options[o].sections.len() * (self.max_join - 1);
                    self.options[o].gain.abs()
                        + i64::try_from(joins).unwrap_or(i64::MAX) * self.join_cost
                });
                spread.max().unwrap_or(0)
            })
            .sum();
        let ends: i64 = self.usable.iter().map(|u| (*u).min(self.drib) * self.drib_cost).sum();
        2 * (gifts + ends) + 1
    }
}

/// Notes links on both of their ends; `first` is the index that the first section will have.
fn link(flat: &mut [FlatSection], sections: &[Section], first: usize) {
    for (s, section) in sections.iter().enumerate() {
        let links = [(section.same_as, true), (section.differs_from, false)];
        for (other, same) in links {
            if let Some(other) = other.filter(|other| *other != s) {
                flat[s].links.push((first + other, same));
                flat[other].links.push((first + s, same));
            }
        }
    }
}

/// A group that no linked section can answer is no group for a section either.
fn drop_unanswered(flat: &mut [FlatSection], first: usize) {
    loop {
        let groups: Vec<Vec<usize>> =
            flat.iter().map(|f| f.needs.iter().map(|(group, _)| *group).collect()).collect();
        let mut changed = false;
        for section in flat.iter_mut() {
            let before = section.needs.len();
            let links = &section.links;
            section.needs.retain(|(group, _)| {
                links.iter().all(|(other, same)| {
                    let there = &groups[other - first];
                    if *same { there.contains(group) } else { there.iter().any(|g| g != group) }
                })
            });
            changed |= section.needs.len() != before;
        }
        if !changed {
            return;
        }
    }
}
