//! What to buy so that gifts can be made: yarns of the workspace as balls on offer, the solver's list
//! back in grams and money.

use std::collections::BTreeSet;

use super::PlanRequest;
use super::draft::Draft;
use super::result;
use diag::{Code, Diagnostic, Diagnostics};
use knit::gift_plan::{ShoppingFor, ShoppingList, Sparing, ToBuy};
use knit::stash::Yarn;
use plan::{Budget, Offer, Outcome, Progress, Shopping, SolveSettings, shop_for, shop_within};

/// What to look for.
#[derive(Clone, Copy, Debug)]
pub struct ShopRequest<'a> {
    /// What to plan from.
    pub plan: PlanRequest<'a>,
    pub wanted: ShoppingFor,
    pub sparing: Sparing,
}

/// More money than any list could cost.
const MOST_MONEY: f64 = 10_000_000.0;

/// As much as so much money buys.
///
/// # Errors
/// It is no sum of money.
pub fn money_to_spend(money: f64) -> Result<ShoppingFor, Diagnostic> {
    if (0.0..=MOST_MONEY).contains(&money) {
        return Ok(ShoppingFor::Money(money));
    }
    Err(Diagnostic::error(Code::Price, format!("`{money}` is no sum of money to spend"))
        .hint("write it like 20 or 12.50"))
}

/// The most that a ball may cost in cents and still be reckoned with exactly.
const DEAREST: f64 = 10_000_000.0;

/// The least to buy for gifts, or the best that some money buys, in whole balls of the workspace's
/// yarns.
///
/// # Errors
/// As [`plan_gifts`](super::plan_gifts); money is asked for and no yarn has a price.
pub fn shop(
    request: &ShopRequest<'_>,
    settings: &SolveSettings,
    progress: &mut dyn FnMut(Progress),
) -> Result<ShoppingList, Diagnostics> {
    let yarns = on_offer(request)?;
    let offered: Vec<(String, u32)> =
        yarns.iter().map(|yarn| (yarn.id.clone(), ball_dg(yarn))).collect();
    let draft = Draft::with_offers(&request.plan, &offered)?;
    let offers: Vec<Offer> = yarns
        .iter()
        .zip(&draft.on_offer)
        .map(|(yarn, group)| Offer {
            group: *group,
            ball_dg: ball_dg(yarn),
            cost: cost(yarn, request.sparing()),
        })
        .collect();
    let part = |of: u64| SolveSettings { work_limit: settings.work_limit / of, ..settings.clone() };
    // What is made without buying anything.
    let today = plan::solve(&draft.instance, &part(4), progress)?;
    let told = match request.wanted {
        ShoppingFor::Gifts(least) => {
            let wanted = request.wanted_gifts(&draft, least);
            shop_for(&draft.instance, &offers, &wanted, settings, progress)?
        }
        ShoppingFor::Money(money) => {
            let budget = Budget((money * 100.0 + 1e-6).floor().clamp(0.0, 1e12) as u64);
            shop_within(&draft.instance, &offers, budget, settings, progress)?
        }
    };
    Ok(List { request, draft, yarns, told }.written(&today, settings.stop.is_set()))
}

impl ShopRequest<'_> {
    /// Money is spared where it is money that is spent.
    fn sparing(&self) -> Sparing {
        match self.wanted {
            ShoppingFor::Money(_) => Sparing::Money,
            ShoppingFor::Gifts(_) => self.sparing,
        }
    }

    fn wanted_gifts(&self, draft: &Draft, least: u8) -> BTreeSet<usize> {
        let wanted = |(_, drawn): &(usize, &super::draft::DraftGift)| {
            let wish = self.plan.contents.gift(&drawn.id);
            wish.is_some_and(|wish| wish.priority >= least)
        };
        draft.gifts.iter().enumerate().filter(wanted).map(|(g, _)| g).collect()
    }
}

/// The yarns that could be bought: where money is spared, those with a price.
fn on_offer<'a>(request: &ShopRequest<'a>) -> Result<Vec<&'a Yarn>, Diagnostic> {
    let all = request.plan.contents.yarns.values();
    let priced = request.sparing() == Sparing::Money;
    let yarns: Vec<&Yarn> = all.filter(|yarn| !priced || yarn.price.is_some()).collect();
    if priced && yarns.is_empty() {
        return Err(Diagnostic::error(Code::Price, "no yarn has a price")
            .hint("write `price = 4.50`, what a new ball costs, into the files of the yarns"));
    }
    Ok(yarns)
}

fn ball_g(yarn: &Yarn) -> f64 {
    yarn.ball.map_or(Yarn::USUAL_BALL_G, units::Mass::grams)
}

fn ball_dg(yarn: &Yarn) -> u32 {
    (ball_g(yarn) * 10.0).round() as u32
}

/// What a ball costs in balls, decigrams or cents.
fn cost(yarn: &Yarn, sparing: Sparing) -> u32 {
    match sparing {
        Sparing::Balls => 1,
        Sparing::Grams => ball_dg(yarn),
        Sparing::Money => {
            let cents = yarn.price.unwrap_or(0.0) * 100.0;
            cents.ceil().clamp(1.0, DEAREST) as u32
        }
    }
}

/// What the solver found, and what it stands for.
struct List<'a> {
    request: &'a ShopRequest<'a>,
    draft: Draft,
    yarns: Vec<&'a Yarn>,
    told: Shopping,
}

impl List<'_> {
    fn written(mut self, today: &Outcome, stopped: bool) -> ShoppingList {
        let told = &self.told;
        let mut balls = Vec::new();
        for (yarn, n) in self.yarns.iter().zip(&told.balls) {
            balls.extend((1..=*n).map(|nth| (yarn.id.clone(), format!("new {} {nth}", yarn.id))));
        }
        self.draft.instance = told.instance.clone();
        self.draft.remnants.extend(balls.iter().map(|(_, id)| id.clone()));
        let outcome = self.outcome();
        let request = PlanRequest { explain: false, ..self.request.plan };
        let plan = result::gift_plan(&request, &self.draft, &outcome, stopped);
        let left_of = |yarn: &str| {
            let own = plan
                .remnants
                .iter()
                .zip(&self.draft.remnants)
                .filter(|(_, id)| balls.iter().any(|(of, ball)| of == yarn && ball == *id));
            own.map(|(remnant, _)| remnant.left_g).sum()
        };
        let rows = self.yarns.iter().zip(&told.balls).filter(|(_, n)| **n > 0);
        let rows = rows.map(|(yarn, n)| ToBuy {
            yarn: yarn.id.clone(),
            name: yarn.name.clone(),
            balls: *n,
            ball_g: ball_g(yarn),
            assumed: yarn.ball.is_none(),
            price: yarn.price.map(|price| price * f64::from(*n)),
            left_g: left_of(&yarn.id),
        });
        let unit = match self.request.sparing() {
            Sparing::Balls => 1.0,
            Sparing::Grams => 10.0,
            Sparing::Money => 100.0,
        };
        let id = |g: usize| self.draft.gifts[g].id.clone();
        let made = |g: &usize| told.plan.gifts[*g].is_some() && today.plan.gifts[*g].is_none();
        ShoppingList {
            wanted: self.request.wanted,
            sparing: self.request.sparing(),
            rows: rows.collect(),
            cost: told.cost as f64 / unit,
            least: told.least as f64 / unit,
            proven: told.proven,
            possible: (0..told.plan.gifts.len()).filter(made).map(id).collect(),
            missing: told.unmet.iter().map(|unmet| id(unmet.gift)).collect(),
            plan,
        }
    }

    /// The same as a plan's outcome. What is missing is told with the list.
    fn outcome(&self) -> Outcome {
        let told = &self.told;
        let gap = told.bound - told.worth;
        Outcome {
            plan: told.plan.clone(),
            objective: told.worth,
            bound: told.bound,
            gap: gap.as_f64() / told.worth.as_f64().abs().max(0.1),
            proven: gap == plan::Points::ZERO,
            work_done: told.work_done,
            unmet: Vec::new(),
        }
    }
}
