//! What to buy: the least that makes the gifts wanted, or the best that a budget buys.
//!
//! Balls that could be bought are remnants whose opening is their cost. Those of one offer differ in
//! nothing, and no more of them are laid out than could be needed.

use std::collections::BTreeSet;

use super::rank::without_ranks;
use super::{
    Faults, Gift, Instance, InstanceFault, Outcome, Plan, Points, Progress, Remnant, Section,
    SolveSettings, Unmet, Weights, solve,
};

/// A ball that can be bought, as often as it is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Offer {
    /// Its yarn group. All balls of an offer are of one dye lot; no two offers share a group, and no
    /// remnant of the stash is of it.
    pub group: usize,
    /// What a ball holds, in decigrams.
    pub ball_dg: u32,
    /// What a ball costs, in whole units of whatever is to be spared: balls, decigrams, coins.
    pub cost: u32,
}

/// A list of balls to buy, and the plan that it makes possible.
#[derive(Clone, Debug, PartialEq)]
pub struct Shopping {
    /// By offer, how many balls to buy.
    pub balls: Vec<u32>,
    /// What they cost together.
    pub cost: u64,
    /// No list that does as much costs less; of a budget: nothing is said of the cost, and this is 0.
    pub least: u64,
    /// What the plan is worth.
    pub worth: Points,
    /// Of a budget: no list within it makes a plan worth more. Of gifts wanted: of no plan from these
    /// balls.
    pub bound: Points,
    /// Whether it is sure that there is no cheaper list, or for a budget no better one.
    pub proven: bool,
    /// The stash with the balls bought, which come after all that was there.
    pub instance: Instance,
    /// What is made of it.
    pub plan: Plan,
    /// Gifts wanted that are not made: no yarn on offer lets them in, or hours are short.
    pub unmet: Vec<Unmet>,
    /// In the units of [`SolveSettings::work_limit`].
    pub work_done: u64,
}

/// What may be spent, in the units of [`Offer::cost`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget(pub u64);

/// Shares of the work: the first look for a cheap list, the proof, and the plan from it.
const FIRST_LOOK: u64 = 5;
const LAST_LOOK: u64 = 4;
/// Prices of money tried.
const PRICES: u64 = 14;

/// The cheapest list of balls that makes all gifts of `wanted`, and the best plan from it. What more
/// a dearer list could make is not weighed: of lists that cost the same one is taken.
///
/// # Errors
/// What [`Instance::validate`] finds.
pub fn shop_for(
    instance: &Instance,
    offers: &[Offer],
    wanted: &BTreeSet<usize>,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<Shopping, Faults<InstanceFault>> {
    let stash = with_musts(instance, wanted);
    let (outcome, laid, work_done) =
        least(&without_ranks(&stash), offers, wanted, settings, progress)?;
    let balls = laid.used(&outcome.plan, offers.len());
    let cost = cost(offers, &balls);
    let bought = Laid::out(&stash, offers, &balls, &vec![Points::ZERO; offers.len()]);
    let plan = solve(&bought.instance, &share(settings, LAST_LOOK), progress)?;
    // The cheapest list's own plan makes all gifts wanted; the one found now makes as many.
    let last = if plan.unmet.len() > outcome.unmet.len() {
        let from = laid.renumbered(&outcome.plan, &bought, instance.remnants.len());
        Last::of_plan(&bought.instance, from, &plan)
    } else {
        Last::of(&plan)
    };
    let least = u64::try_from((-outcome.bound.0).max(0)).unwrap_or(0).min(cost);
    Ok(Shopping {
        least,
        balls,
        cost,
        worth: last.worth,
        bound: last.bound,
        proven: outcome.proven,
        instance: bought.instance,
        plan: last.plan,
        unmet: outcome.unmet,
        work_done: work_done + plan.work_done,
    })
}

fn share(settings: &SolveSettings, part: u64) -> SolveSettings {
    SolveSettings { work_limit: settings.work_limit / part, ..settings.clone() }
}

/// The cheapest list found, with the bound on what any costs, how it is laid out and the work it took.
fn least(
    stash: &Instance,
    offers: &[Offer],
    wanted: &BTreeSet<usize>,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<(Outcome, Laid, u64), Faults<InstanceFault>> {
    // Buying nothing costs nothing: that is proof enough where it does. The worth of gifts leads the
    // search better than costs do, so it is looked for in the stash as it is valued.
    let none = vec![0; offers.len()];
    let laid = Laid::out(stash, offers, &none, &costs(offers));
    let mut outcome = solve(&laid.instance, &share(settings, LAST_LOOK), progress)?;
    let mut work_done = outcome.work_done;
    if outcome.unmet.is_empty() {
        outcome.objective = Points::ZERO;
        outcome.bound = Points::ZERO;
        outcome.proven = true;
        return Ok((outcome, laid, work_done));
    }
    let bare = bare(stash, wanted);
    let mut most: Vec<u32> =
        offers.iter().map(|offer| most_needed(stash, wanted, offer, false)).collect();
    let mut laid = Laid::out(&bare, offers, &most, &costs(offers));
    let mut outcome = solve(&laid.instance, &share(settings, FIRST_LOOK), progress)?;
    work_done += outcome.work_done;
    if outcome.proven {
        return Ok((outcome, laid, work_done));
    }
    // A cheaper list has no more of any ball than the money for this one buys.
    let cost = cost(offers, &laid.used(&outcome.plan, offers.len()));
    for (most, offer) in most.iter_mut().zip(offers) {
        let affordable = cost / u64::from(offer.cost.max(1));
        *most = (*most).min(u32::try_from(affordable).unwrap_or(u32::MAX));
    }
    let fewer = Laid::out(&bare, offers, &most, &costs(offers));
    let again = solve(&fewer.instance, settings, progress)?;
    work_done += again.work_done;
    if again.unmet.len() == outcome.unmet.len() {
        let bound = outcome.bound.min(again.bound.max(outcome.objective));
        if again.objective >= outcome.objective {
            (outcome, laid) = (again, fewer);
        }
        outcome.bound = bound;
        outcome.proven = bound == outcome.objective;
    }
    Ok((outcome, laid, work_done))
}

/// The balls within a budget that make the best plan found, and a bound on how good any could be:
/// the best plan where money has a price, plus the budget at that price.
///
/// # Errors
/// What [`Instance::validate`] finds.
pub fn shop_within(
    instance: &Instance,
    offers: &[Offer],
    budget: Budget,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<Shopping, Faults<InstanceFault>> {
    let all: BTreeSet<usize> = (0..instance.gifts.len()).collect();
    let most: Vec<u32> = offers
        .iter()
        .map(|offer| {
            let affordable = budget.0 / u64::from(offer.cost.max(1));
            let affordable = u32::try_from(affordable).unwrap_or(u32::MAX);
            most_needed(instance, &all, offer, true).min(affordable)
        })
        .collect();
    let share = share(settings, PRICES + 2);
    let plain = without_ranks(instance);
    let mut search =
        Within { instance: &plain, offers, budget: budget.0, most, best: None, bound: None };
    let mut work_done = search.prices(&share, progress)?;
    search.fill(&share, progress, &mut work_done)?;
    let balls = search.best.as_ref().map_or_else(|| vec![0; offers.len()], |best| best.0.clone());
    let bought = Laid::out(instance, offers, &balls, &vec![Points::ZERO; offers.len()]);
    let outcome = solve(&bought.instance, &share, progress)?;
    work_done += outcome.work_done;
    let worth = outcome.objective;
    let bound = search.bound.unwrap_or(worth).max(worth);
    let used = bought.used(&outcome.plan, offers.len());
    // A ball that the last plan leaves untouched is not bought.
    let (instance, plan) = if used == balls {
        (bought.instance.clone(), outcome.plan.clone())
    } else {
        let fewer = Laid::out(instance, offers, &used, &vec![Points::ZERO; offers.len()]);
        let plan = bought.renumbered(&outcome.plan, &fewer, instance.remnants.len());
        (fewer.instance, plan)
    };
    Ok(Shopping {
        cost: cost(offers, &used),
        balls: used,
        least: 0,
        worth,
        bound,
        proven: bound == worth && outcome.unmet.is_empty(),
        instance,
        plan,
        unmet: outcome.unmet,
        work_done,
    })
}

/// The search for the best plan within a budget.
struct Within<'a> {
    instance: &'a Instance,
    offers: &'a [Offer],
    budget: u64,
    most: Vec<u32>,
    /// Balls and what they are worth, of the best within the budget.
    best: Option<(Vec<u32>, (usize, Points))>,
    bound: Option<Points>,
}

/// Parts of a tenth in which money is priced.
const PARTS: i64 = 1024;

impl Within<'_> {
    /// A price of money at which nothing is bought that need not be.
    fn dearest(&self) -> i64 {
        let weights = &self.instance.weights;
        let gain = |gift: &Gift| {
            let liked = gift.options.iter().map(|o| {
                weights.pref.0.saturating_mul(o.pref.abs()).saturating_add(o.gain.0.abs())
            });
            weights
                .priority
                .0
                .saturating_mul(gift.priority.abs())
                .saturating_add(liked.max().unwrap_or(0))
        };
        let all: i64 = self.instance.gifts.iter().map(gain).fold(1, i64::saturating_add);
        // Beyond this a ball's opening would be no weight any more.
        let dearest =
            self.offers.iter().map(|offer| i64::from(offer.cost)).max().unwrap_or(1).max(1);
        all.min(90_000_000 / dearest).saturating_mul(PARTS)
    }

    /// Tries prices of money, from nothing on and then halved from the dearest; gives the work done.
    fn prices(
        &mut self,
        settings: &SolveSettings,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<u64, Faults<InstanceFault>> {
        let mut work_done = 0;
        // Tenths of a point for a unit of money, in 1024ths.
        let (mut cheap, mut dear) = (0i64, self.dearest());
        let mut price = 0;
        for _ in 0..PRICES {
            let (spent, outcome) = self.at(price, settings, progress)?;
            work_done += outcome.work_done;
            if spent <= self.budget {
                if price == 0 {
                    break;
                }
                dear = price;
            } else {
                cheap = price;
            }
            if self.is_proven() || dear - cheap <= 1 {
                break;
            }
            price = cheap + (dear - cheap) / 2;
        }
        Ok(work_done)
    }

    /// Solves at a price of money; gives what is spent.
    fn at(
        &mut self,
        price: i64,
        settings: &SolveSettings,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<(u64, Outcome), Faults<InstanceFault>> {
        // Rounded down: what a list costs at these prices is no more than its money at `price`.
        let openings: Vec<Points> = self
            .offers
            .iter()
            .map(|offer| Points(price.saturating_mul(i64::from(offer.cost)) / PARTS))
            .collect();
        let laid = Laid::out(self.instance, self.offers, &self.most, &openings);
        let outcome = solve(&laid.instance, settings, progress)?;
        let balls = laid.used(&outcome.plan, self.offers.len());
        let spent = cost(self.offers, &balls);
        if outcome.unmet.is_empty() {
            let budget = i64::try_from(self.budget).unwrap_or(i64::MAX);
            let money = price.saturating_mul(budget).div_euclid(PARTS);
            let bound = outcome.bound + Points(money);
            self.bound = Some(self.bound.map_or(bound, |before| before.min(bound)));
        }
        if spent <= self.budget {
            let paid: Points =
                openings.iter().zip(&balls).map(|(o, n)| Points(o.0 * i64::from(*n))).sum();
            self.keep(balls, (outcome.unmet.len(), outcome.objective + paid));
        }
        Ok((spent, outcome))
    }

    fn keep(&mut self, balls: Vec<u32>, (unmet, worth): (usize, Points)) {
        let better = self.best.as_ref().is_none_or(|(_, (fewest, most))| {
            (std::cmp::Reverse(unmet), worth) > (std::cmp::Reverse(*fewest), *most)
        });
        if better {
            self.best = Some((balls, (unmet, worth)));
        }
    }

    fn is_proven(&self) -> bool {
        self.best.as_ref().zip(self.bound).is_some_and(|((_, (_, worth)), bound)| *worth >= bound)
    }

    /// Prices leave some money over where lists are few: what is left is spent ball by ball, as long
    /// as a ball gains something.
    fn fill(
        &mut self,
        settings: &SolveSettings,
        progress: &mut dyn FnMut(Progress),
        work_done: &mut u64,
    ) -> Result<(), Faults<InstanceFault>> {
        if self.best.is_none() {
            let none = vec![0; self.offers.len()];
            self.try_balls(none, settings, progress, work_done)?;
        }
        let lean = SolveSettings { work_limit: settings.work_limit / 8 + 1, ..settings.clone() };
        for _ in 0..FILLED {
            if self.is_proven() || settings.stop.is_set() {
                return Ok(());
            }
            let Some((before, worth)) = self.best.clone() else { return Ok(()) };
            let spent = cost(self.offers, &before);
            for n in 0..self.offers.len() {
                let mut more = before.clone();
                more[n] += 1;
                let money = spent + u64::from(self.offers[n].cost);
                if more[n] <= self.most[n] && money <= self.budget {
                    self.try_balls(more, &lean, progress, work_done)?;
                }
            }
            if self.best.as_ref().is_some_and(|(_, now)| *now == worth) {
                return Ok(());
            }
        }
        Ok(())
    }

    fn try_balls(
        &mut self,
        balls: Vec<u32>,
        settings: &SolveSettings,
        progress: &mut dyn FnMut(Progress),
        work_done: &mut u64,
    ) -> Result<(), Faults<InstanceFault>> {
        let free = vec![Points::ZERO; self.offers.len()];
        let laid = Laid::out(self.instance, self.offers, &balls, &free);
        let outcome = solve(&laid.instance, settings, progress)?;
        *work_done += outcome.work_done;
        self.keep(balls, (outcome.unmet.len(), outcome.objective));
        Ok(())
    }
}

/// Balls that left money buys, at most, one after the other.
const FILLED: usize = 4;

/// A stash with balls laid out behind it.
struct Laid {
    instance: Instance,
    /// By remnant beyond the stash, its offer.
    offer_of: Vec<usize>,
}

impl Laid {
    fn out(stash: &Instance, offers: &[Offer], balls: &[u32], openings: &[Points]) -> Laid {
        let mut laid = Laid { instance: stash.clone(), offer_of: Vec::new() };
        for (n, offer) in offers.iter().enumerate() {
            for _ in 0..balls[n] {
                laid.instance.remnants.push(Remnant {
                    group: offer.group,
                    usable_dg: offer.ball_dg,
                    mass_dg: offer.ball_dg,
                    opening: openings[n],
                    ..Remnant::default()
                });
                laid.offer_of.push(n);
            }
        }
        laid
    }

    /// The balls that a plan is knitted from, by index of the remnant.
    fn touched(&self, plan: &Plan) -> BTreeSet<usize> {
        let first = self.instance.remnants.len() - self.offer_of.len();
        let chunks = plan.gifts.iter().flatten().flat_map(|made| made.sections.iter().flatten());
        chunks.map(|chunk| chunk.remnant).filter(|r| *r >= first).collect()
    }

    /// By offer, how many balls a plan is knitted from.
    fn used(&self, plan: &Plan, offers: usize) -> Vec<u32> {
        let first = self.instance.remnants.len() - self.offer_of.len();
        let mut used = vec![0; offers];
        for r in self.touched(plan) {
            used[self.offer_of[r - first]] += 1;
        }
        used
    }

    /// The same plan from the balls of another lay-out that has just those it uses; `first` is the
    /// index of the first ball in both.
    fn renumbered(&self, plan: &Plan, to: &Laid, first: usize) -> Plan {
        let mut next: Vec<Option<usize>> = vec![None; self.instance.remnants.len()];
        let mut taken = BTreeSet::new();
        for r in self.touched(plan) {
            let offer = self.offer_of[r - first];
            let same =
                (0..to.offer_of.len()).find(|n| to.offer_of[*n] == offer && !taken.contains(n));
            if let Some(n) = same {
                taken.insert(n);
                next[r] = Some(first + n);
            }
        }
        let mut plan = plan.clone();
        for chunk in
            plan.gifts.iter_mut().flatten().flat_map(|made| made.sections.iter_mut().flatten())
        {
            if let Some(new) = next[chunk.remnant] {
                chunk.remnant = new;
            }
        }
        plan
    }
}

/// The plan told at the end.
struct Last {
    plan: Plan,
    worth: Points,
    bound: Points,
}

impl Last {
    fn of(outcome: &Outcome) -> Last {
        Last { plan: outcome.plan.clone(), worth: outcome.objective, bound: outcome.bound }
    }

    fn of_plan(instance: &Instance, plan: Plan, bounded: &Outcome) -> Last {
        let worth = super::objective(instance, &plan);
        Last { plan, worth, bound: bounded.bound.max(worth) }
    }
}

fn costs(offers: &[Offer]) -> Vec<Points> {
    offers.iter().map(|offer| Points(i64::from(offer.cost))).collect()
}

fn cost(offers: &[Offer], balls: &[u32]) -> u64 {
    offers.iter().zip(balls).map(|(offer, n)| u64::from(offer.cost) * u64::from(*n)).sum()
}

/// The wanted gifts must be made, whatever else is.
fn with_musts(instance: &Instance, wanted: &BTreeSet<usize>) -> Instance {
    let mut stash = instance.clone();
    for g in wanted {
        stash.gifts[*g].must = true;
    }
    stash
}

/// The same with nothing in it but what is wanted and what balls cost.
fn bare(stash: &Instance, wanted: &BTreeSet<usize>) -> Instance {
    let none = Points::ZERO;
    let weights = Weights { priority: none, pref: none, join: none, drib: none, alike: none };
    let mut bare = Instance { weights, travel: Vec::new(), variety: Vec::new(), ..stash.clone() };
    for remnant in &mut bare.remnants {
        remnant.opening = none;
    }
    for (g, gift) in bare.gifts.iter_mut().enumerate() {
        if !wanted.contains(&g) && !gift.is_must() {
            gift.options.clear();
        }
        for option in &mut gift.options {
            option.gain = none;
            for section in &mut option.sections {
                section.gain.clear();
            }
        }
    }
    bare
}

/// Balls of an offer that could be of use at most. For the least of them: enough for each gift to have
/// its own. `roomy`: for the best plan, as many as could be joined, since a ball more may save a
/// useless end.
fn most_needed(instance: &Instance, wanted: &BTreeSet<usize>, offer: &Offer, roomy: bool) -> u32 {
    let of_section = |section: &Section| {
        let need = section.need_dg.get(&offer.group).copied().unwrap_or(0);
        let balls = need.div_ceil(offer.ball_dg.max(1));
        let splits = section.joinable && need >= instance.min_chunk_dg.saturating_mul(2);
        let joined = instance.most_joined(offer.group, need);
        let most = if splits { u32::try_from(joined).unwrap_or(u32::MAX) } else { 1 };
        match balls {
            _ if section.only_from.is_some() || balls > most => 0,
            1.. if roomy => most,
            balls => balls,
        }
    };
    let gifts = instance.gifts.iter().enumerate();
    let gifts = gifts.filter(|(g, gift)| wanted.contains(g) || gift.is_must());
    gifts
        .map(|(_, gift)| {
            let of_option = |sections: &[Section]| sections.iter().map(of_section).sum::<u32>();
            gift.options.iter().map(|option| of_option(&option.sections)).max().unwrap_or(0)
        })
        .sum()
}
