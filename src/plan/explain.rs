use std::collections::BTreeSet;

use super::fit::fit;
use super::insertion::{Guide, Inserter};
use super::layout::{Chunks, Layout};
use super::problem::Problem;
use super::random::Random;
use super::{
    Breach, Faults, Gift, GiftOption, Instance, Plan, Points, Remnant, SolveSettings, check,
    objective, solve,
};

/// Why an option of a gift is not in the plan. Sections, groups, gifts and deadlines are indices
/// of the instance; masses are decigrams.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reason {
    /// There is no yarn at all of a group that suits a section.
    NoYarn {
        /// Which section.
        section: usize,
        /// The groups that would suit.
        groups: Vec<usize>,
    },
    /// There is yarn of a group that suits, but even untouched too little in any one remnant, or
    /// in as many as may be joined. Told for the group that comes nearest.
    TooLittle {
        /// Which section.
        section: usize,
        /// The group that comes nearest.
        group: usize,
        /// What the section needs of it.
        need_dg: u32,
        /// The most that it could have.
        most_dg: u32,
    },
    /// The yarn would do, but others are made from it.
    Taken {
        /// Which section.
        section: usize,
        /// The groups that would do.
        groups: Vec<usize>,
        /// The gifts whose yarn would do: each that alone makes room for the option; where none
        /// does, all that are made from these groups.
        by: Vec<usize>,
        /// Whether each of them alone makes room.
        alone: bool,
    },
    /// It is to match what is made from another group than it can be made from, or one of which too little
    /// is left.
    Unmatched {
        /// Which section.
        section: usize,
        /// The group that it would have to be of.
        group: usize,
        /// The gifts that it is to match and that are made; none: what is there already.
        by: Vec<usize>,
    },
    /// Each section alone would do, but not all of them together (nor same or contrasting yarns
    /// where these are asked for).
    NotTogether {
        /// The gifts whose yarn would do, as in [`Reason::Taken`].
        by: Vec<usize>,
        /// Whether each of them alone makes room.
        alone: bool,
    },
    /// Too few minutes are left until a deadline.
    NoHours {
        /// Which deadline.
        deadline: usize,
        /// Minutes that the option takes.
        minutes: u32,
        /// Minutes that are left.
        spare: u64,
        /// The gifts that take the others.
        by: Vec<usize>,
    },
    /// The gift is pinned to another option.
    Pinned,
    /// It would fit as things are, but joins and useless ends would cost more than it gains.
    NotWorthIt,
}

/// An option and what stands in its way, first of all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Obstacle {
    /// Index of the option.
    pub option: usize,
    /// What stands in its way.
    pub reason: Reason,
}

/// A way to let a gift in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remedy {
    /// The option it would be made in.
    pub option: usize,
    /// Yarn to add: one new remnant of a group, with so many usable decigrams.
    pub add: Option<(usize, u32)>,
    /// Gifts that would no longer be made.
    pub displaced: Vec<usize>,
    /// Gifts made in another option or from other yarn than before.
    pub changed: Vec<usize>,
    /// What the plan would gain, or lose.
    pub change: Points,
    /// The plan as it would then be. A new remnant comes after all of the instance.
    pub plan: Plan,
}

/// Why a gift is not made, and what would let it in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// Index of the gift.
    pub gift: usize,
    /// Whether it is in the plan after all; then there is nothing else to say.
    pub made: bool,
    /// One for each option.
    pub obstacles: Vec<Obstacle>,
    /// Best first: those that displace nothing, by yarn to add; then those that do, by what the
    /// plan would lose. A loss says that the gift is worth less than what it displaces.
    pub remedies: Vec<Remedy>,
}

/// Places looked at, at most, to tell whether an option fits.
const FIT_LIMIT: u64 = 20_000;
/// Places looked at, at most, to tell whether one gift makes room for another.
const ROOM_LIMIT: u64 = 2_000;
/// Gifts times remnants of an instance small enough to be planned anew for each gift left out.
const SMALL: usize = 600;
/// Work allowed for that, in the solver's units.
const SMALL_WORK: u64 = 2_000;
/// Pairs of gifts tried as those that make room.
const MOST_PAIRS: usize = 400;
const MOST_REMEDIES: usize = 6;

/// Explains why `gift` is not made in `plan`, which must keep the rules (save that gifts that
/// must be made may be missing). The work is bounded and the answer always the same.
///
/// # Errors
/// What [`check()`] finds wrong with the plan, or that there is no such gift.
pub fn explain(
    instance: &Instance,
    plan: &Plan,
    gift: usize,
) -> Result<Explanation, Faults<Breach>> {
    let must = |breach: &Breach| matches!(breach, Breach::Must { .. });
    let mut faults: Faults<Breach> =
        check(instance, plan).into_iter().filter(|breach| !must(breach)).collect();
    if gift >= instance.gifts.len() {
        faults.push(Breach::NoGift(gift));
    }
    faults.into_result()?;
    if plan.gifts[gift].is_some() {
        return Ok(Explanation { gift, made: true, obstacles: Vec::new(), remedies: Vec::new() });
    }
    let untouched = instance.left_by(&Plan::empty(instance.gifts.len()));
    let question = Question { instance, plan, gift, untouched, left: instance.left_by(plan) };
    let obstacles = (0..instance.gifts[gift].options.len())
        .map(|option| Obstacle { option, reason: question.reason(option) })
        .collect();
    let mut remedies = question.additions();
    remedies.sort_by_key(|r| (r.add.map(|(group, dg)| (dg, group)), r.option));
    remedies.truncate(MOST_REMEDIES - 1);
    remedies.extend(question.displacement());
    Ok(Explanation { gift, made: false, obstacles, remedies })
}

struct Question<'a> {
    instance: &'a Instance,
    plan: &'a Plan,
    gift: usize,
    /// By remnant, the decigrams that there are, and those that the plan leaves.
    untouched: Vec<u32>,
    left: Vec<u32>,
}

impl Question<'_> {
    fn option(&self, option: usize) -> &GiftOption {
        &self.instance.gifts[self.gift].options[option]
    }

    /// The most that a section could draw from a group.
    fn most(&self, option: usize, section: usize, group: usize, left: bool) -> u32 {
        let section = &self.option(option).sections[section];
        let rooms = if left { &self.left } else { &self.untouched };
        self.instance.most_dg(self.gift, section, group, rooms)
    }

    /// Gifts made from these groups.
    fn takers(&self, groups: &BTreeSet<usize>) -> Vec<usize> {
        let takes = |made: &super::Made| {
            let mut chunks = made.sections.iter().flatten();
            chunks.any(|chunk| groups.contains(&self.instance.remnants[chunk.remnant].group))
        };
        let made = self.plan.gifts.iter().enumerate();
        made.filter(|(_, m)| m.as_ref().is_some_and(takes)).map(|(g, _)| g).collect()
    }

    /// The gifts that make room for an option, each alone; where none does, all that are made from
    /// `groups`. Says which of the two.
    fn who_makes_room(&self, option: usize, groups: &BTreeSet<usize>) -> (Vec<usize>, bool) {
        let problem = Problem::new(self.instance);
        let flat = flat_option(&problem, self.gift, option);
        let Some((flat, mut layout)) = flat.zip(layout_of(&problem, self.plan)) else {
            return (self.takers(groups), false);
        };
        let made = (0..problem.gifts.len()).filter(|g| layout.choice[*g].is_some());
        let mut by = Vec::new();
        for g in made.collect::<Vec<_>>() {
            let Some((was, chunks)) = layout.unmake(&problem, g) else { continue };
            if fit(&problem, &layout, flat, ROOM_LIMIT).is_some() {
                by.push(g);
            }
            layout.make(&problem, was, &chunks);
        }
        if by.is_empty() { (self.takers(groups), false) } else { (by, true) }
    }

    fn reason(&self, option: usize) -> Reason {
        let gift = &self.instance.gifts[self.gift];
        if gift.pinned.is_some_and(|pinned| pinned != option) {
            return Reason::Pinned;
        }
        let sections = &self.option(option).sections;
        for (s, section) in sections.iter().enumerate() {
            let groups: Vec<usize> = section.need_dg.keys().copied().collect();
            let there = |group: &usize| {
                self.instance.remnants_for(self.gift, section, *group).next().is_some()
            };
            if !groups.iter().any(there) {
                return Reason::NoYarn { section: s, groups };
            }
        }
        for (s, section) in sections.iter().enumerate() {
            let short = |(group, need): (&usize, &u32)| {
                let most = self.most(option, s, *group, false);
                (need.saturating_sub(most), *group, *need, most)
            };
            let nearest = section.need_dg.iter().map(short).min();
            if let Some((1.., group, need_dg, most_dg)) = nearest {
                return Reason::TooLittle { section: s, group, need_dg, most_dg };
            }
        }
        if let Some(reason) = self.hours(option) {
            return reason;
        }
        if let Some(reason) = self.unmatched(option) {
            return reason;
        }
        let mut all = BTreeSet::new();
        for (s, section) in sections.iter().enumerate() {
            let enough = |left: bool| {
                let needs = section.need_dg.iter();
                needs.filter(move |(g, need)| self.most(option, s, **g, left) >= **need)
            };
            all.extend(enough(false).map(|(group, _)| *group));
            if enough(true).next().is_none() {
                let groups: BTreeSet<usize> = enough(false).map(|(group, _)| *group).collect();
                let (by, alone) = self.who_makes_room(option, &groups);
                let groups = groups.into_iter().collect();
                return Reason::Taken { section: s, groups, by, alone };
            }
        }
        let problem = Problem::new(self.instance);
        let flat = flat_option(&problem, self.gift, option);
        let fits = flat
            .zip(layout_of(&problem, self.plan))
            .and_then(|(flat, layout)| fit(&problem, &layout, flat, FIT_LIMIT));
        if fits.is_some() {
            Reason::NotWorthIt
        } else {
            let (by, alone) = self.who_makes_room(option, &all);
            Reason::NotTogether { by, alone }
        }
    }

    /// A section that can't be made from the group which it would have to match.
    fn unmatched(&self, option: usize) -> Option<Reason> {
        for (s, section) in self.option(option).sections.iter().enumerate() {
            let Some(number) = section.matched else { continue };
            let (group, by) = match self.instance.match_group.get(&number) {
                Some(group) => (*group, Vec::new()),
                None => match self.matching(number) {
                    Some(found) => found,
                    None => continue,
                },
            };
            let enough = section
                .need_dg
                .get(&group)
                .is_some_and(|need| *need <= self.most(option, s, group, true));
            if !enough {
                return Some(Reason::Unmatched { section: s, group, by });
            }
        }
        None
    }

    /// The group of what is made of a match, and the gifts.
    fn matching(&self, number: usize) -> Option<(usize, Vec<usize>)> {
        let mut found: Option<(usize, Vec<usize>)> = None;
        for (g, made) in self.plan.gifts.iter().enumerate() {
            let Some(made) = made else { continue };
            let sections = &self.instance.gifts[g].options[made.option].sections;
            let own = sections.iter().zip(&made.sections).find(|(s, _)| s.matched == Some(number));
            if let Some(chunk) = own.and_then(|(_, chunks)| chunks.first()) {
                let group = self.instance.remnants[chunk.remnant].group;
                found.get_or_insert((group, Vec::new())).1.push(g);
            }
        }
        found
    }

    fn hours(&self, option: usize) -> Option<Reason> {
        let due = self.instance.gifts[self.gift].due?;
        let GiftOption { minutes, knitter, .. } = *self.option(option);
        for (d, deadline) in self.instance.deadlines.iter().enumerate().skip(due) {
            let mut booked = 0u64;
            let mut by = Vec::new();
            for (g, made) in self.plan.gifts.iter().enumerate() {
                let gift = &self.instance.gifts[g];
                if let Some(made) = made
                    && gift.due.is_some_and(|due| due <= d)
                    && gift.options[made.option].knitter == knitter
                {
                    booked += u64::from(gift.options[made.option].minutes);
                    by.push(g);
                }
            }
            let spare = deadline.minutes.get(knitter).unwrap_or(&0).saturating_sub(booked);
            if u64::from(minutes) > spare {
                return Some(Reason::NoHours { deadline: d, minutes, spare, by });
            }
        }
        None
    }

    /// For each group that could help, the least new remnant that lets the gift in while all
    /// others stay as they are.
    fn additions(&self) -> Vec<Remedy> {
        let groups: BTreeSet<usize> = self.instance.gifts[self.gift]
            .options
            .iter()
            .flat_map(|option| option.sections.iter().flat_map(|s| s.need_dg.keys().copied()))
            .collect();
        groups.into_iter().filter_map(|group| self.addition(group)).collect()
    }

    fn addition(&self, group: usize) -> Option<Remedy> {
        let options = &self.instance.gifts[self.gift].options;
        let need = |option: &GiftOption| {
            let needs = option.sections.iter().filter_map(|s| s.need_dg.get(&group));
            needs.fold(0u32, |sum, need| sum.saturating_add(*need)).min(Instance::HEAVIEST_DG)
        };
        let most = options.iter().map(need).max()?;
        let mut richer = self.instance.clone();
        richer.remnants.push(Remnant {
            group,
            usable_dg: most,
            mass_dg: most,
            ..Remnant::default()
        });
        let problem = Problem::new(&richer);
        let mut layout = layout_of(&problem, self.plan)?;
        let new = problem.usable.len() - 1;
        let mut best: Option<(u32, usize, Vec<Chunks>)> = None;
        for o in problem.gifts[self.gift].clone() {
            let mut fits = |dg: u32| {
                layout.refill(&problem, new, i64::from(dg));
                fit(&problem, &layout, o, FIT_LIMIT)
            };
            // More never fits worse: halve until the least is found.
            let mut enough = need(&options[problem.options[o].original]);
            if let Some((least, ..)) = &best {
                enough = enough.min(least - 1);
            }
            let Some(mut chunks) = fits(enough) else { continue };
            let mut short = 0;
            while enough - short > 1 {
                let middle = short + (enough - short) / 2;
                match fits(middle) {
                    Some(found) => {
                        enough = middle;
                        chunks = found;
                    }
                    None => short = middle,
                }
            }
            best = Some((enough, o, chunks));
            if enough <= 1 {
                break;
            }
        }
        let (dg, o, chunks) = best?;
        richer.remnants[new] = Remnant { group, usable_dg: dg, mass_dg: dg, ..Remnant::default() };
        layout.refill(&problem, new, i64::from(dg));
        layout.make(&problem, o, &chunks);
        let plan = layout.to_plan(&problem);
        Some(Remedy {
            option: problem.options[o].original,
            add: Some((group, dg)),
            displaced: Vec::new(),
            changed: Vec::new(),
            change: objective(&richer, &plan) - objective(self.instance, self.plan),
            plan,
        })
    }

    /// The cheapest way found to let the gift in from the stash as it is: one or two gifts are
    /// taken out and put back, if they can be, in other ways.
    fn displacement(&self) -> Option<Remedy> {
        let problem = Problem::new(self.instance);
        let before = layout_of(&problem, self.plan)?;
        let price = vec![0.0; problem.groups.len()];
        let guide = Guide { price: &price, price_share: 0.0, noise: 0.0, floor: f64::NEG_INFINITY };
        let mut inserter = Inserter::new(&problem);
        let mut random = Random::new(0);
        let made: Vec<usize> =
            (0..problem.gifts.len()).filter(|g| before.choice[*g].is_some()).collect();
        let mut ways: Vec<Vec<usize>> = made.iter().map(|g| vec![*g]).collect();
        let pairs = made
            .iter()
            .enumerate()
            .flat_map(|(n, a)| made[n + 1..].iter().map(move |b| vec![*a, *b]));
        ways.extend(pairs.take(MOST_PAIRS));
        let mut best: Option<Layout> = None;
        for out in ways {
            let mut layout = before.clone();
            for g in &out {
                layout.unmake(&problem, *g);
            }
            let wanted = inserter.best(&mut layout, self.gift, &guide, &mut random);
            let Some(wanted) = wanted else { continue };
            layout.make(&problem, wanted.option, &wanted.chunks);
            for g in &out {
                let back = inserter.best(&mut layout, *g, &guide, &mut random);
                if let Some(back) = back.filter(|back| back.score > 0.0) {
                    layout.make(&problem, back.option, &back.chunks);
                }
            }
            let keeps_musts = out.iter().all(|g| !problem.must[*g] || layout.choice[*g].is_some());
            if keeps_musts && best.as_ref().is_none_or(|best| layout.value > best.value) {
                best = Some(layout);
            }
        }
        let near = best.map(|layout| layout.to_plan(&problem));
        let plan = [near, self.anew()].into_iter().flatten().reduce(|near, anew| {
            let better = objective(self.instance, &anew) > objective(self.instance, &near);
            if better { anew } else { near }
        })?;
        let pairs = || self.plan.gifts.iter().zip(&plan.gifts).enumerate();
        Some(Remedy {
            option: plan.gifts[self.gift].as_ref()?.option,
            add: None,
            displaced: pairs()
                .filter(|(_, (a, b))| a.is_some() && b.is_none())
                .map(|p| p.0)
                .collect(),
            changed: pairs()
                .filter(|(_, (a, b))| a.is_some() && b.is_some() && a != b)
                .map(|p| p.0)
                .collect(),
            change: objective(self.instance, &plan) - objective(self.instance, self.plan),
            plan,
        })
    }

    /// The best plan that makes the gift and all that must be made and is: for small instances,
    /// planned from the start.
    fn anew(&self) -> Option<Plan> {
        if self.instance.gifts.len() * self.instance.remnants.len() > SMALL {
            return None;
        }
        let mut wanted = self.instance.clone();
        for (g, gift) in wanted.gifts.iter_mut().enumerate() {
            let unmet = gift.is_must() && self.plan.gifts[g].is_none();
            if g == self.gift {
                gift.must = true;
            } else if unmet {
                // It isn't made now, and need not be: it may not push this one out.
                *gift = Gift { must: false, pinned: None, options: Vec::new(), ..gift.clone() };
            }
        }
        let settings =
            SolveSettings { work_limit: SMALL_WORK, threads: 1, ..SolveSettings::default() };
        let outcome = solve(&wanted, &settings, &mut |_| {}).ok()?;
        outcome.unmet.is_empty().then_some(outcome.plan)
    }
}

fn flat_option(problem: &Problem, gift: usize, original: usize) -> Option<usize> {
    problem.gifts[gift].clone().find(|o| problem.options[*o].original == original)
}

fn layout_of(problem: &Problem, plan: &Plan) -> Option<Layout> {
    let mut layout = Layout::new(problem);
    for (g, made) in plan.gifts.iter().enumerate() {
        let Some(made) = made else { continue };
        let option = flat_option(problem, g, made.option)?;
        let chunks: Vec<Chunks> = made
            .sections
            .iter()
            .map(|section| {
                let mut chunks = Chunks::default();
                for chunk in section {
                    chunks.push(chunk.remnant, i64::from(chunk.dg));
                }
                chunks
            })
            .collect();
        layout.make(problem, option, &chunks);
    }
    Some(layout)
}
