//! Parts of the tree in which it is known what each yarn group can do as a whole: no remnant need be
//! chosen there, only options and groups.

use std::sync::Arc;

use super::exhaust::Trial;
use super::insertion::links_allow;
use super::layout::Layout;
use super::packing::{ANYTHING, Packed, Packer};
use super::problem::Problem;
use super::relax::{
    EXACT, Failure, Market, Pool, Prices, Relaxation, Scope, Scratch, Standing, Verdict,
};
use super::work::CELLS_TO_A_PLACE;

/// Places looked at in packing a set of a whole plan.
const PACKING: u64 = 800_000;
/// Sets are packed anew only where each can be given this many.
const LEAST_PACKING: u64 = 2_000;

/// What a bound left open: prices, what came of them, and how much there is to lose.
#[derive(Clone, Copy)]
pub(super) struct Left<'a> {
    pub prices: &'a Prices,
    pub verdict: &'a Verdict,
    pub slack: f64,
}

/// What a group of known sets earns: at most, and by item with it and without it.
struct Earnings {
    most: f64,
    with: Vec<f64>,
    without: Vec<f64>,
}

impl Earnings {
    fn of(pool: &Pool, value: &[f64]) -> Option<Earnings> {
        let (most, best) = pool.best(value)?;
        let mut with = vec![f64::NEG_INFINITY; value.len()];
        let mut without = vec![most; value.len()];
        for item in best {
            without[*item as usize] = f64::NEG_INFINITY;
        }
        for (worth, set) in pool.worths(value) {
            for item in set {
                let known = &mut with[*item as usize];
                *known = known.max(worth);
            }
            for item in best.iter().filter(|item| !set.contains(*item)) {
                let known = &mut without[*item as usize];
                *known = known.max(worth);
            }
        }
        Some(Earnings { most, with, without })
    }
}

/// A section, a group that it may come from, and the bound that leaves.
pub(super) type GroupWay = (usize, usize, f64);

/// Works on what groups can do as a whole.
#[derive(Debug)]
pub(super) struct Pooled<'p> {
    pub problem: &'p Problem,
    pub relax: &'p Relaxation<'p>,
}

impl Pooled<'_> {
    /// Gathers the sets of groups that are not known yet, as far as the trial goes, groups of few
    /// remnants first. What these then earn less is noted in `earned`, and leaves the others less to
    /// lose. Says how many are new, and how much is left to lose.
    pub fn gather(
        &self,
        scope: &mut Scope,
        (prices, earned): (&Prices, &mut [f64]),
        mut slack: f64,
        trial: &Trial,
        scratch: &mut Scratch,
    ) -> (usize, f64) {
        let mut work = 0;
        let mut new = 0;
        let mut order: Vec<usize> = (0..self.problem.groups.len()).collect();
        order.sort_by_key(|group| self.problem.groups[*group].len());
        let mut value = Vec::new();
        for group in order {
            if scope.pools[group].is_some() || scope.apart || work >= trial.limit {
                continue;
            }
            let floor = earned[group] - slack;
            let limit = trial.limit / 4;
            let standings = self.relax.standings(group, scope);
            let open = standings.iter().filter(|stands| **stands != Standing::Closed).count();
            let attempt = Failure { slack, limit, open };
            if scope.failed[group].is_some_and(|last| last.again(&attempt)) {
                continue;
            }
            let market = Market { scope, prices };
            let Some(pool) = self.relax.gather(group, market, floor, limit, &mut work) else {
                scope.failed[group] = Some(attempt);
                continue;
            };
            self.relax.item_values(group, market, &mut value);
            // Where there is no set at all there is no better plan either.
            let best = pool.best(&value).map_or(f64::NEG_INFINITY, |(best, _)| best);
            if best < earned[group] {
                slack -= earned[group] - best;
                earned[group] = best;
            }
            new += 1;
            scope.pools[group] = Some(Arc::new(pool));
        }
        scratch.work += work * CELLS_TO_A_PLACE;
        (new, slack)
    }

    /// Thins the known sets down to those that may still be part of a better plan, and settles what
    /// then has no choice. Gives the number of things settled, or `None` if nothing is left.
    pub fn thin(
        &self,
        scope: &mut Scope,
        left: Left,
        limit: u64,
        scratch: &mut Scratch,
    ) -> Option<usize> {
        let mut limit = limit;
        let mut settled = 0;
        loop {
            for group in 0..self.problem.groups.len() {
                self.thin_group(group, scope, left, scratch)?;
                self.look_into(group, scope, left, &mut limit, scratch)?;
            }
            match self.settle_by_sets(scope)? {
                0 => return Some(settled),
                more => settled += more,
            }
        }
    }

    fn thin_group(
        &self,
        group: usize,
        scope: &mut Scope,
        left: Left,
        scratch: &mut Scratch,
    ) -> Option<()> {
        let Some(pool) = &scope.pools[group] else { return Some(()) };
        let standings = self.relax.standings(group, scope);
        let forced = standings.iter().filter(|stands| **stands == Standing::Forced).count();
        let mut value = Vec::new();
        self.relax.item_values(group, Market { scope, prices: left.prices }, &mut value);
        let floor = left.verdict.earned[group] - left.slack;
        scratch.work += 2 * pool.length() as u64;
        let thinned = pool.filtered(&value, |worth, set| {
            let stands = |item: &u32| standings[*item as usize];
            worth >= floor
                && set.iter().all(|item| stands(item) != Standing::Closed)
                && set.iter().filter(|item| stands(item) == Standing::Forced).count() == forced
        });
        if let Some(thinned) = thinned {
            if thinned.len() == 0 {
                return None;
            }
            scope.pools[group] = Some(Arc::new(thinned));
        }
        Some(())
    }

    /// Packs the sets that are not known exactly, if they are few enough to try half of `limit` places
    /// for them in all; takes off what that took.
    fn look_into(
        &self,
        group: usize,
        scope: &mut Scope,
        left: Left,
        limit: &mut u64,
        scratch: &mut Scratch,
    ) -> Option<()> {
        let Some(pool) = &scope.pools[group] else { return Some(()) };
        // Only where it can be tried much harder than before.
        let mut share = 0;
        let mut places = PACKING;
        while places >= LEAST_PACKING && share == 0 {
            let count = pool.packed_below(places / 2) as u64;
            if count > 0 && count * places <= *limit / 2 {
                share = places;
            }
            places /= 4;
        }
        if share == 0 {
            return Some(());
        }
        let mut value = Vec::new();
        self.relax.item_values(group, Market { scope, prices: left.prices }, &mut value);
        let floor = left.verdict.earned[group] - left.slack;
        let mut packer = Packer::new(self.problem);
        let pool = pool.packed_anew(share / 2, |set| {
            // Those that lose more are in no better plan.
            let worth: f64 = set.iter().map(|item| value[*item as usize]).sum();
            #[allow(clippy::cast_possible_truncation, reason = "a difference of sums of gains")]
            let most = (worth - floor).min(ANYTHING as f64) as i64;
            let sections: Vec<usize> =
                set.iter().map(|item| self.relax.section_of(group, *item)).collect();
            match packer.pack(group, &sections, share, most) {
                Packed::Never => None,
                Packed::Best(cost, _) => Some((cost as f64, EXACT)),
                Packed::Unknown(least) => Some((least as f64, share)),
            }
        });
        scratch.work += packer.work * CELLS_TO_A_PLACE;
        *limit = limit.saturating_sub(packer.work);
        scope.pools[group] = (pool.len() > 0).then(|| Arc::new(pool));
        scope.pools[group].as_ref().map(|_| ())
    }

    /// By group, whether each of its items is in a set that is left; `None` where that is not known.
    fn present(&self, scope: &Scope) -> Vec<Option<Vec<bool>>> {
        let of = |(group, pool): (usize, &Option<Arc<Pool>>)| {
            let pool = pool.as_ref()?;
            let mut there = vec![false; self.relax.items_of(group)];
            for item in pool.all_items() {
                there[*item as usize] = true;
            }
            Some(there)
        };
        scope.pools.iter().enumerate().map(of).collect()
    }

    /// Rules out options with a section that no set serves, and settles the group of sections that
    /// one alone serves.
    fn settle_by_sets(&self, scope: &mut Scope) -> Option<usize> {
        let problem = self.problem;
        let present = self.present(scope);
        let mut settled = 0;
        for (o, option) in problem.options.iter().enumerate() {
            let fixed = scope.fixed[option.gift];
            if fixed.map_or(!scope.allowed[o], |fixed| fixed != o) {
                continue;
            }
            for s in option.sections.clone() {
                let mut groups =
                    problem.sections[s].needs.iter().map(|(group, _)| *group).filter(|group| {
                        let there = present[*group].as_ref();
                        scope.links_allow(problem, s, *group)
                            && there.is_none_or(|there| {
                                self.relax.item_of(s, *group).is_some_and(|item| there[item])
                            })
                    });
                match (groups.next(), groups.next()) {
                    (None, _) if fixed.is_some() => return None,
                    (None, _) => {
                        scope.allowed[o] = false;
                        settled += 1;
                        break;
                    }
                    (Some(only), None) if fixed.is_some() && scope.group[s].is_none() => {
                        scope.settle_group(problem, s, only);
                        settled += 1;
                    }
                    _ => {}
                }
            }
        }
        Some(settled)
    }

    /// The plan that sets and options make together, if they do.
    pub fn whole_plan(&self, scope: &Scope, left: Left, scratch: &mut Scratch) -> Option<Layout> {
        let Left { prices, verdict, .. } = left;
        if verdict.surplus.iter().any(|over| over.abs() > 1e-6) {
            return None;
        }
        let problem = self.problem;
        let mut layout = Layout::new(problem);
        let mut packer = Packer::new(problem);
        let mut value = Vec::new();
        for (group, pool) in scope.pools.iter().enumerate() {
            self.relax.item_values(group, Market { scope, prices }, &mut value);
            let (worth, set) = pool.as_ref()?.best(&value)?;
            let earned: f64 = set.iter().map(|item| value[*item as usize]).sum();
            let sections: Vec<usize> =
                set.iter().map(|item| self.relax.section_of(group, *item)).collect();
            // What it loses at least is known; where that is all, the first packing will do.
            #[allow(clippy::cast_possible_truncation, reason = "a sum of costs")]
            let cost = (earned - worth).round() as i64;
            let packed = packer.pack_to(group, &sections, PACKING, cost..=ANYTHING);
            scratch.work += packer.work * CELLS_TO_A_PLACE;
            packer.work = 0;
            let Packed::Best(_, chunks) = packed else { return None };
            for (section, chunks) in sections.iter().zip(chunks) {
                layout.place(problem, *section, chunks);
            }
        }
        for option in verdict.chosen.iter().flatten() {
            // Sets know nothing of sections of the same gift in other groups.
            let mut sections = problem.options[*option].sections.clone();
            let linked = sections.all(|s| {
                let group = layout.chunks[s].first().map(|r| problem.group_of[r]);
                group.is_some_and(|group| links_allow(problem, &layout, s, group))
            });
            if !linked || !layout.has_hours(problem, *option) {
                return None;
            }
            layout.choose(problem, *option);
        }
        Some(layout)
    }

    /// The ways to split a part by the groups of a section, of which there are at least two and as
    /// few as can be; none where all groups are settled.
    pub fn ways_by_group(&self, market: Market, bound: f64, target: f64) -> Vec<GroupWay> {
        let problem = self.problem;
        let scope = market.scope;
        let mut value = Vec::new();
        let mut earnings = Vec::new();
        for (group, pool) in scope.pools.iter().enumerate() {
            self.relax.item_values(group, market, &mut value);
            earnings.push(pool.as_ref().and_then(|pool| Earnings::of(pool, &value)));
        }
        let mut best: Option<(usize, f64, Vec<GroupWay>)> = None;
        let fixed = scope.fixed.iter().flatten();
        for s in fixed.flat_map(|o| problem.options[*o].sections.clone()) {
            if scope.group[s].is_some() {
                continue;
            }
            let items: Vec<(usize, usize)> = problem.sections[s]
                .needs
                .iter()
                .filter(|(group, _)| scope.links_allow(problem, s, *group))
                .filter_map(|(group, _)| Some((*group, self.relax.item_of(s, *group)?)))
                .collect();
            let lost = |(group, item): &(usize, usize)| {
                earnings[*group].as_ref().map_or(0.0, |own| own.most - own.without[*item])
            };
            let ways: Vec<GroupWay> = items
                .iter()
                .map(|way| {
                    let own = earnings[way.0].as_ref();
                    let own = own.map_or(0.0, |own| own.most - own.with[way.1]);
                    let others = items.iter().filter(|other| *other != way).map(lost);
                    let loss = own + others.sum::<f64>();
                    (s, way.0, bound - loss)
                })
                .filter(|(_, _, bound)| *bound >= target)
                .collect();
            let sum: f64 = ways.iter().map(|(_, _, bound)| bound).sum();
            let fewer = best.as_ref().is_none_or(|(count, least, _)| {
                ways.len() < *count || ways.len() == *count && sum < *least
            });
            if fewer {
                best = Some((ways.len(), sum, ways));
            }
        }
        best.map(|(_, _, ways)| ways).unwrap_or_default()
    }
}
