use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

use super::link::Link;
use super::{GiftOption, Instance, Remnant, Section};

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
    /// By remnant, the gifts that alone may have it, by rising index.
    pub kept_for: Vec<Option<Vec<usize>>>,
    /// By remnant, what is lost if it is used at all.
    pub opening: Vec<i64>,
    pub place: Vec<usize>,
    /// By remnant: those of one class differ in nothing but what they hold.
    pub class_of: Vec<usize>,
    /// By group, its remnants.
    pub groups: Vec<Vec<usize>>,
    /// By group, its yarn, of which it is a lot.
    pub yarn_of: Arc<[usize]>,
    /// How many matches there are between gifts.
    pub matches: usize,
    /// By gift, the others that it has a match with.
    pub mates: Vec<Vec<usize>>,
    /// Minutes until each deadline, knitter by knitter.
    pub minutes: Vec<i64>,
    /// How many deadlines there are.
    pub days: usize,
    /// By knitter and place, what a remnant from there costs a gift.
    pub travel: Vec<Vec<i64>>,
    /// Gifts that ought to differ, and by gift the set that it is in.
    pub sets: Vec<Vec<usize>>,
    pub set_of: Vec<Option<usize>>,
    pub alike_cost: i64,
    pub min_chunk: i64,
    /// By group and need: see [`Problem::most_joined`].
    max_join: usize,
    ball: Vec<i64>,
    pub drib: i64,
    pub join_cost: i64,
    pub drib_cost: i64,
    /// Added to the gain of a gift that must be made; more than all others could outweigh.
    pub must_bonus: i64,
    /// What a decigram more left over weighs where places cost the same.
    pub snug: f64,
}

/// Worth less than a tenth up to 10 g left.
const SNUG: f64 = 0.01;
/// The same in finer units: up to 200 g left.
const FINE_SNUG: f64 = 0.0005;

#[derive(Debug)]
pub(super) struct FlatOption {
    pub gift: usize,
    /// Its index in the gift of the instance.
    pub original: usize,
    /// With all that its sections could gain by their yarn; what they don't is a fee.
    pub gain: i64,
    pub minutes: i64,
    pub knitter: usize,
    pub kind: usize,
    pub sections: Range<usize>,
}

#[derive(Debug)]
pub(super) struct FlatSection {
    pub option: usize,
    /// Group and need, by rising group; groups that could never serve are left out.
    pub needs: Vec<(usize, i64)>,
    /// Beside each need, what is lost by taking that group rather than the one that gains most; empty
    /// where that is nothing.
    pub fees: Vec<i64>,
    /// The remnants that it may be knitted from, by rising index; none: all.
    pub only_from: Option<Vec<usize>>,
    pub joinable: bool,
    /// Other sections, and what their groups have to do with the own.
    pub links: Vec<(usize, Link)>,
    /// The match that it is part of: sections of one are of one group.
    pub matched: Option<usize>,
}

impl FlatSection {
    /// Whether its group has to do with that of other sections.
    pub fn is_bound(&self) -> bool {
        !self.links.is_empty() || self.matched.is_some()
    }

    pub fn need(&self, group: usize) -> Option<i64> {
        self.needs.iter().find(|(g, _)| *g == group).map(|(_, need)| *need)
    }

    /// What is lost by knitting it from a group.
    pub fn fee(&self, group: usize) -> i64 {
        if self.fees.is_empty() {
            return 0;
        }
        self.needs.iter().zip(&self.fees).find(|((g, _), _)| *g == group).map_or(0, |(_, fee)| *fee)
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
            kept_for: kept_for(instance),
            opening: instance.remnants.iter().map(|r| r.opening.0).collect(),
            place: instance.remnants.iter().map(|r| r.place).collect(),
            class_of: classes(instance),
            groups: vec![Vec::new(); names.len()],
            yarn_of: yarns(instance, &names),
            matches: 0,
            mates: vec![Vec::new(); instance.gifts.len()],
            minutes: minutes(instance),
            days: instance.deadlines.len(),
            travel: instance
                .travel
                .iter()
                .map(|places| places.iter().map(|points| points.0).collect())
                .collect(),
            sets: instance.variety.clone(),
            set_of: set_of(instance),
            alike_cost: instance.weights.alike.0,
            min_chunk: i64::from(instance.min_chunk_dg),
            max_join: instance.max_join,
            ball: balls(instance, &names),
            drib: i64::from(instance.drib_dg),
            join_cost: instance.weights.join.0,
            drib_cost: instance.weights.drib.0,
            must_bonus: 0,
            snug: SNUG,
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
        problem.number_matches();
        problem.must_bonus = problem.outweighing_all();
        for option in &mut problem.options {
            if problem.must[option.gift] {
                option.gain += problem.must_bonus;
            }
        }
        problem
    }

    /// Of an instance in which a tenth is so small that a tight fit may not outweigh it.
    pub fn in_finer_units(instance: &Instance) -> Problem {
        Problem { snug: FINE_SNUG, ..Problem::new(instance) }
    }

    /// Adds an option unless it can't be made even with the whole stash and all hours.
    fn flatten(&mut self, instance: &Instance, g: usize, o: usize, names: &BTreeMap<usize, usize>) {
        let gift = &instance.gifts[g];
        let option = &gift.options[o];
        let minutes = i64::from(option.minutes);
        let hours = gift.due.map_or(i64::MAX, |due| self.minutes[option.knitter * self.days + due]);
        if gift.pinned.is_some_and(|pinned| pinned != o) || minutes > hours {
            return;
        }
        let first = self.sections.len();
        let mut flat: Vec<FlatSection> =
            option.sections.iter().map(|s| self.flat_section(instance, g, s, names)).collect();
        link(&mut flat, option, first);
        link_lots(&mut flat, option, first, &self.yarn_of);
        drop_unanswered(&mut flat, first);
        if flat.iter().any(|section| section.needs.is_empty()) {
            return;
        }
        let most: i64 = flat.iter_mut().map(FlatSection::gains_to_fees).sum();
        self.sections.extend(flat);
        self.options.push(FlatOption {
            gift: g,
            original: o,
            gain: instance.gain(g, o).0 + most,
            minutes,
            knitter: option.knitter,
            kind: option.kind,
            sections: first..self.sections.len(),
        });
    }

    /// Whether groups that are settled, by section and by match, let a section come from `to`.
    pub fn settled_allow(
        &self,
        group: &[Option<usize>],
        matched: &[Option<usize>],
        section: usize,
        to: usize,
    ) -> bool {
        let flat = &self.sections[section];
        let own = flat.matched.and_then(|number| matched[number]);
        own.is_none_or(|only| only == to)
            && group[section].is_none_or(|only| only == to)
            && flat
                .links
                .iter()
                .all(|(other, link)| group[*other].is_none_or(|there| link.allows(there, to)))
    }

    /// Numbers the matches that more than one gift is part of: of one alone nothing is to be kept.
    fn number_matches(&mut self) {
        let mut gifts: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for section in &self.sections {
            if let Some(name) = section.matched {
                gifts.entry(name).or_default().insert(self.options[section.option].gift);
            }
        }
        gifts.retain(|_, gifts| gifts.len() > 1);
        self.matches = gifts.len();
        let number: BTreeMap<usize, usize> = gifts.keys().copied().zip(0..).collect();
        for section in &mut self.sections {
            section.matched = section.matched.and_then(|name| number.get(&name).copied());
        }
        for (gift, mates) in self.mates.iter_mut().enumerate() {
            let own = gifts.values().filter(|all| all.contains(&gift)).flatten();
            let others: BTreeSet<usize> = own.copied().filter(|other| *other != gift).collect();
            *mates = others.into_iter().collect();
        }
    }

    /// A section of the next option, without its links.
    fn flat_section(
        &self,
        instance: &Instance,
        gift: usize,
        section: &Section,
        names: &BTreeMap<usize, usize>,
    ) -> FlatSection {
        let only_from: Option<Vec<usize>> =
            section.only_from.as_ref().map(|only| only.iter().copied().collect());
        let may = |r: usize| may_have(self.kept_for[r].as_deref(), gift, only_from.as_deref(), r);
        let only = section.matched.and_then(|name| instance.match_group.get(&name));
        let need_of = |(name, need): (&usize, &u32)| {
            if only.is_some_and(|only| only != name) {
                return None;
            }
            let group = *names.get(name)?;
            let need = i64::from(*need);
            self.is_enough(group, section.joinable, need, &may).then_some((group, need, *name))
        };
        let needs: Vec<(usize, i64, usize)> = section.need_dg.iter().filter_map(need_of).collect();
        // Gains for now.
        let gain = |name: &usize| section.gain.get(name).map_or(0, |points| points.0);
        FlatSection {
            option: self.options.len(),
            fees: needs.iter().map(|(_, _, name)| gain(name)).collect(),
            needs: needs.iter().map(|(group, need, _)| (*group, *need)).collect(),
            only_from,
            joinable: section.joinable,
            links: Vec::new(),
            matched: section.matched,
        }
    }

    /// Whether all of a group that may be used, untouched, could serve a need.
    fn is_enough(
        &self,
        group: usize,
        joinable: bool,
        need: i64,
        may: &impl Fn(usize) -> bool,
    ) -> bool {
        let own = self.groups[group].iter().filter(|r| may(**r));
        let mut rooms: Vec<i64> = own.map(|r| self.usable[*r]).collect();
        rooms.sort_unstable_by(|a, b| b.cmp(a));
        let most =
            if self.splits(group, joinable, need) { self.most_joined(group, need) } else { 1 };
        rooms.iter().take(most).sum::<i64>() >= need
    }

    /// The most remnants of a group that a need may be met from.
    pub fn most_joined(&self, group: usize, need: i64) -> usize {
        let balls = match self.ball[group] {
            0 => 0,
            ball => usize::try_from(need / ball).unwrap_or(0),
        };
        (self.max_join + balls).min(Instance::MOST_JOINED)
    }

    /// Whether a need may be met from more than one remnant of a group.
    pub fn splits(&self, group: usize, joinable: bool, need: i64) -> bool {
        joinable && need >= 2 * self.min_chunk && self.most_joined(group, need) > 1
    }

    /// Whether a section may be knitted from a remnant of a group that suits.
    pub fn may(&self, section: usize, r: usize) -> bool {
        let flat = &self.sections[section];
        let (kept, only) = (self.kept_for[r].as_deref(), flat.only_from.as_deref());
        (kept.is_none() && only.is_none())
            || may_have(kept, self.options[flat.option].gift, only, r)
    }

    /// Whether bringing yarn costs anything.
    pub fn travels(&self) -> bool {
        self.travel.iter().flatten().any(|cost| *cost > 0)
    }

    /// What it costs to bring a remnant to whoever knits a section.
    pub fn travel_cost(&self, section: usize, r: usize) -> i64 {
        let knitter = self.options[self.sections[section].option].knitter;
        let places = self.travel.get(knitter);
        places.and_then(|places| places.get(self.place[r])).copied().unwrap_or(0)
    }

    /// The entries of `minutes` that an option counts against.
    pub fn window(&self, option: usize) -> Range<usize> {
        let option = &self.options[option];
        let first = option.knitter * self.days;
        self.due[option.gift].map_or(0..0, |due| first + due..first + self.days)
    }

    /// The most remnants that any section may have.
    fn most_in_any(&self) -> usize {
        let balls = self.ball.iter().any(|ball| *ball > 0);
        if balls { Instance::MOST_JOINED } else { self.max_join }
    }

    fn outweighing_all(&self) -> i64 {
        let most_travel = self.travel.iter().flatten().copied().max().unwrap_or(0);
        let most = self.most_in_any();
        let gifts: i64 = self
            .gifts
            .iter()
            .map(|options| {
                let spread = options.clone().map(|o| {
                    let joins = self.options[o].sections.len() * (most - 1);
                    let chunks = self.options[o].sections.len() * most;
                    let times = |n: usize, cost: i64| i64::try_from(n).unwrap_or(i64::MAX) * cost;
                    let fees = self.options[o].sections.clone();
                    let fees = fees.map(|s| self.sections[s].fees.iter().max().unwrap_or(&0));
                    self.options[o].gain.abs()
                        + times(joins, self.join_cost)
                        + times(chunks, most_travel)
                        + fees.sum::<i64>()
                });
                spread.max().unwrap_or(0)
            })
            .sum();
        let ends: i64 = self.usable.iter().map(|u| (*u).min(self.drib) * self.drib_cost).sum();
        let opened: i64 = self.opening.iter().sum();
        let pairs: usize = self.sets.iter().map(|set| set.len() * set.len()).sum();
        let alike = i64::try_from(pairs).unwrap_or(i64::MAX) * self.alike_cost;
        2 * (gifts + ends + opened + alike) + 1
    }
}

impl FlatSection {
    /// Turns what each group gains into what is lost by not taking the best of them, which is given.
    fn gains_to_fees(&mut self) -> i64 {
        let most = self.fees.iter().copied().max().unwrap_or(0);
        for fee in &mut self.fees {
            *fee = most - *fee;
        }
        if self.fees.iter().all(|fee| *fee == 0) {
            self.fees.clear();
        }
        most
    }
}

/// Whether a gift may have remnant `r` for a section, lists by rising index.
fn may_have(kept_for: Option<&[usize]>, gift: usize, only: Option<&[usize]>, r: usize) -> bool {
    kept_for.is_none_or(|gifts| gifts.binary_search(&gift).is_ok())
        && only.is_none_or(|remnants| remnants.binary_search(&r).is_ok())
}

fn kept_for(instance: &Instance) -> Vec<Option<Vec<usize>>> {
    let of = |r: &Remnant| r.kept_for.as_ref().map(|gifts| gifts.iter().copied().collect());
    instance.remnants.iter().map(of).collect()
}

/// Knitter by knitter, the minutes until each deadline.
fn minutes(instance: &Instance) -> Vec<i64> {
    let knitters = instance.deadlines.first().map_or(0, |day| day.minutes.len());
    let of = |knitter: usize| {
        let days = instance.deadlines.iter();
        days.map(move |day| i64::try_from(day.minutes[knitter]).unwrap_or(i64::MAX))
    };
    (0..knitters).flat_map(of).collect()
}

fn set_of(instance: &Instance) -> Vec<Option<usize>> {
    let mut set_of = vec![None; instance.gifts.len()];
    for (n, set) in instance.variety.iter().enumerate() {
        for gift in set {
            set_of[*gift] = Some(n);
        }
    }
    set_of
}

/// Remnants that are named by a section stand alone; the others are alike by place, opening and whom
/// they are kept for.
fn classes(instance: &Instance) -> Vec<usize> {
    let sections = instance.gifts.iter().flat_map(|g| &g.options).flat_map(|o| &o.sections);
    let named: BTreeSet<usize> =
        sections.filter_map(|s| s.only_from.as_ref()).flatten().copied().collect();
    let mut known = BTreeMap::new();
    let of = |(r, remnant): (usize, &Remnant)| {
        let alone = named.contains(&r).then_some(r);
        let key = (alone, remnant.place, remnant.opening, remnant.kept_for.clone());
        let next = known.len();
        *known.entry(key).or_insert(next)
    };
    instance.remnants.iter().enumerate().map(of).collect()
}

/// Notes links on both of their ends; `first` is the index that the first section will have.
fn link(flat: &mut [FlatSection], option: &GiftOption, first: usize) {
    let mut both = |a: usize, b: usize, link: Link| {
        flat[a].links.push((first + b, link.clone()));
        flat[b].links.push((first + a, link));
    };
    for (s, section) in option.sections.iter().enumerate() {
        let links = [(section.same_as, Link::Same), (section.differs_from, Link::Other)];
        for (other, link) in links {
            if let Some(other) = other.filter(|other| *other != s) {
                both(s, other, link);
            }
        }
    }
    for (a, b) in &option.contrasts {
        both(*a, *b, Link::Other);
    }
    for (a, section) in option.sections.iter().enumerate().filter(|(_, s)| s.matched.is_some()) {
        let next = option.sections.iter().skip(a + 1).position(|s| s.matched == section.matched);
        if let Some(next) = next {
            both(a, a + 1 + next, Link::Same);
        }
    }
}

/// Links sections that must be of one lot where they are of one yarn, if they could be of two.
fn link_lots(flat: &mut [FlatSection], option: &GiftOption, first: usize, yarn_of: &Arc<[usize]>) {
    for (a, b) in option.one_lot.iter().filter(|(a, b)| a != b) {
        let link = Link::OneLot(yarn_of.clone());
        let (of_a, of_b) = (&flat[*a].needs, &flat[*b].needs);
        if of_a.iter().all(|(one, _)| of_b.iter().all(|(other, _)| link.allows(*one, *other))) {
            continue;
        }
        flat[*a].links.push((first + b, link.clone()));
        flat[*b].links.push((first + a, link));
    }
}

/// By group, what a whole ball weighs; 0 where that is not known.
fn balls(instance: &Instance, names: &BTreeMap<usize, usize>) -> Vec<i64> {
    let mut balls = vec![0; names.len()];
    for (group, dg) in &instance.ball_dg {
        if let Some(own) = names.get(group) {
            balls[*own] = i64::from(*dg);
        }
    }
    balls
}

/// By dense group, its yarn: a group of which nothing is said is a yarn of its own.
fn yarns(instance: &Instance, names: &BTreeMap<usize, usize>) -> Arc<[usize]> {
    let mut known: BTreeMap<(bool, usize), usize> = BTreeMap::new();
    let mut yarn_of = vec![0; names.len()];
    for (name, group) in names {
        let key = instance.yarn_of.get(name).map_or((false, *name), |yarn| (true, *yarn));
        let next = known.len();
        yarn_of[*group] = *known.entry(key).or_insert(next);
    }
    yarn_of.into()
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
            let answered = |group: &usize| {
                links.iter().all(|(other, link)| {
                    groups[other - first].iter().any(|there| link.allows(*there, *group))
                })
            };
            let pairs = section.needs.drain(..).zip(section.fees.drain(..));
            let kept: Vec<_> = pairs.filter(|((group, _), _)| answered(group)).collect();
            (section.needs, section.fees) = kept.into_iter().unzip();
            changed |= section.needs.len() != before;
        }
        if !changed {
            return;
        }
    }
}
