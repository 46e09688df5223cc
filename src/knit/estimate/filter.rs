//! The joint update over a list of things seen, for every unevenness that is tried, and what each thing
//! looks like to the others.

use super::belief::Belief;
use super::matrix::{Solver, Square, dot};

/// Beyond so many standard deviations a record is asked about and not believed.
pub(super) const FAR: f64 = 3.5;

/// Something that was seen, one or several numbers at once.
pub(super) trait Seen {
    /// The effects of each number, and by how much it misses what `mean` makes of it.
    fn at(&self, mean: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>);
    /// Covariance of its own errors, where pieces are so uneven.
    fn noise(&self, unevenness: f64) -> Square;
    /// Whether it counts however far off it is.
    fn stood_by(&self) -> bool;
}

/// What is believed if pieces are so uneven, and how likely that is.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variant<K> {
    pub(super) weight: f64,
    pub(super) unevenness: f64,
    pub(super) belief: Belief<K>,
    /// What was taken in, as it was seen: rows, values and noise. `None` for what was left aside.
    taken: Vec<Option<Linear>>,
}

#[derive(Clone, Debug, PartialEq)]
struct Linear {
    rows: Vec<Vec<f64>>,
    values: Vec<f64>,
    noise: Square,
}

/// By how much a number misses what the others make of it, and the standard deviation of that.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Miss {
    pub(super) by: f64,
    pub(super) sd: f64,
}

impl Miss {
    /// In standard deviations.
    pub(super) fn far(self) -> f64 {
        if self.by == 0.0 { 0.0 } else { self.by.abs() / self.sd }
    }
}

/// All that came of some things seen.
pub(super) struct Settled<K> {
    pub(super) variants: Vec<Variant<K>>,
    /// For each thing whether it was taken in.
    pub(super) taken: Vec<bool>,
    /// For each of its numbers what the others make of it.
    pub(super) misses: Vec<Vec<Miss>>,
    /// How these misses spread together.
    pub(super) spreads: Vec<Square>,
}

/// How a thing is taken in.
#[derive(Clone, Debug, PartialEq)]
enum Taking {
    /// As it was seen.
    Whole,
    /// By each of its numbers so much nearer to what the others say.
    Nearer(Vec<f64>),
    /// Not at all.
    Aside,
}

/// Takes in all but what stands out: the one furthest off is left aside, as long as there is one beyond
/// [`FAR`]. Each is held against what all others say, so that no order makes a difference to that.
///
/// What stands out and is stood by comes back in the end, as if it were just not too far off: it pulls as
/// hard as anything that is believed unasked, and no harder. So one that is sure doesn't outvote all others,
/// nor make them stand out in its place.
pub(super) fn settle<K: Ord + Clone>(
    prior: &Belief<K>,
    things: &[impl Seen],
    tried: &[(f64, f64)],
) -> Settled<K> {
    let mut taking = vec![Taking::Whole; things.len()];
    loop {
        let settled = settled(prior, things, &taking, tried);
        let far = |i: usize| settled.misses[i].iter().map(|m| m.far()).fold(0.0, f64::max);
        let standing_out = (0..things.len()).filter(|i| settled.taken[*i] && far(*i) > FAR);
        match standing_out.reduce(|worst, i| if far(i) > far(worst) { i } else { worst }) {
            Some(worst) => taking[worst] = Taking::Aside,
            None => return with_the_sure(prior, things, taking, settled, tried),
        }
    }
}

fn with_the_sure<K: Ord + Clone>(
    prior: &Belief<K>,
    things: &[impl Seen],
    mut taking: Vec<Taking>,
    without: Settled<K>,
    tried: &[(f64, f64)],
) -> Settled<K> {
    let beyond = |miss: &Miss| miss.by - miss.by.clamp(-FAR * miss.sd, FAR * miss.sd);
    let mut came_back = false;
    for (i, thing) in things.iter().enumerate() {
        if thing.stood_by() && !without.taken[i] {
            taking[i] = Taking::Nearer(without.misses[i].iter().map(beyond).collect());
            came_back = true;
        }
    }
    if came_back { settled(prior, things, &taking, tried) } else { without }
}

fn settled<K: Ord + Clone>(
    prior: &Belief<K>,
    things: &[impl Seen],
    taking: &[Taking],
    tried: &[(f64, f64)],
) -> Settled<K> {
    let variants = run(prior, things, taking, tried);
    let looks = (0..things.len()).map(|i| look(&variants, i, &things[i]));
    let (mut misses, spreads): (Vec<Vec<Miss>>, Vec<Square>) = looks.unzip();
    for (misses, taking) in misses.iter_mut().zip(taking) {
        // What is told of it is how far it lies, not how far it was let pull.
        if let Taking::Nearer(by) = taking {
            misses.iter_mut().zip(by).for_each(|(miss, by)| miss.by += by);
        }
    }
    let taken = taking.iter().map(|taking| *taking != Taking::Aside).collect();
    Settled { variants, taken, misses, spreads }
}

fn run<K: Ord + Clone>(
    prior: &Belief<K>,
    things: &[impl Seen],
    taking: &[Taking],
    tried: &[(f64, f64)],
) -> Vec<Variant<K>> {
    let mut logs = Vec::new();
    let mut variants: Vec<Variant<K>> = Vec::new();
    for (unevenness, log_prior) in tried {
        let mut belief = prior.clone();
        let mut log = *log_prior;
        let mut take = |thing: &_, nearer: Option<&[f64]>| {
            let (linear, density) = take_in(&mut belief, thing, nearer, *unevenness);
            log += density;
            linear
        };
        let taken = things.iter().zip(taking).map(|(thing, taking)| match taking {
            Taking::Whole => Some(take(thing, None)),
            Taking::Nearer(by) => Some(take(thing, Some(by))),
            Taking::Aside => None,
        });
        let taken = taken.collect();
        logs.push(log);
        variants.push(Variant { weight: 0.0, unevenness: *unevenness, belief, taken });
    }
    for (variant, weight) in variants.iter_mut().zip(weights(&logs)) {
        variant.weight = weight;
    }
    variants
}

fn take_in<K: Ord + Clone>(
    belief: &mut Belief<K>,
    thing: &impl Seen,
    nearer: Option<&[f64]>,
    unevenness: f64,
) -> (Linear, f64) {
    let (rows, mut misses) = thing.at(belief.mean());
    for (miss, by) in misses.iter_mut().zip(nearer.unwrap_or_default()) {
        *miss -= by;
    }
    let values = rows.iter().zip(&misses).map(|(row, miss)| dot(row, belief.mean()) + miss);
    let values = values.collect();
    let noise = thing.noise(unevenness);
    let density = belief.update(&rows, &misses, &noise);
    (Linear { rows, values, noise }, density)
}

/// Shares of one from logarithms of any size.
fn weights(logs: &[f64]) -> Vec<f64> {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let raw: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|w| w / sum).collect()
}

/// How one thing looks to the others under one variant.
struct Look {
    misses: Vec<f64>,
    /// Spread of the misses: of what is believed, and their own.
    spread: Square,
    /// Logarithm of how likely the variant is without it.
    log_weight: f64,
}

/// What the others make of one thing, over all variants: each of its numbers, and how they spread together.
fn look<K: Ord + Clone>(
    variants: &[Variant<K>],
    index: usize,
    thing: &impl Seen,
) -> (Vec<Miss>, Square) {
    let of_variant = |variant: &Variant<K>| {
        let log_weight = variant.weight.max(f64::MIN_POSITIVE).ln();
        match &variant.taken[index] {
            Some(linear) => without(&variant.belief, linear, log_weight),
            None => {
                let (rows, misses) = thing.at(variant.belief.mean());
                let known = variant.belief.seen_by(&rows);
                let noise = thing.noise(variant.unevenness);
                let spread = Square::of(rows.len(), |r, c| known.at(r, c) + noise.at(r, c));
                Look { misses, spread, log_weight }
            }
        }
    };
    let looks: Vec<Look> = variants.iter().map(of_variant).collect();
    let logs: Vec<f64> = looks.iter().map(|look| look.log_weight).collect();
    let weighed: Vec<(f64, &Look)> = weights(&logs).into_iter().zip(&looks).collect();
    let size = looks.first().map_or(0, |look| look.misses.len());
    let middle = |i: usize| weighed.iter().map(|(w, look)| w * look.misses[i]).sum::<f64>();
    let by: Vec<f64> = (0..size).map(middle).collect();
    let spread = Square::of(size, |r, c| {
        let of_look = |look: &Look| {
            look.spread.at(r, c) + (look.misses[r] - by[r]) * (look.misses[c] - by[c])
        };
        weighed.iter().map(|(w, look)| w * of_look(look)).sum()
    });
    let miss = |(i, by): (usize, &f64)| Miss { by: *by, sd: spread.at(i, i).sqrt() };
    (by.iter().enumerate().map(miss).collect(), spread)
}

/// How something that was taken in looks to what is believed without it. Taking it out again is exact: with
/// C = noise - H P H', the miss is noise C^-1 times what is left of it, and its spread noise C^-1 noise.
fn without<K: Ord + Clone>(belief: &Belief<K>, linear: &Linear, log_weight: f64) -> Look {
    let Linear { rows, values, noise } = linear;
    let size = rows.len();
    let seen = belief.seen_by(rows);
    let solver = Solver::of(&Square::of(size, |r, c| noise.at(r, c) - seen.at(r, c)));
    let left: Vec<f64> =
        rows.iter().zip(values).map(|(row, value)| value - dot(row, belief.mean())).collect();
    let misses = noise.times(&solver.solve(&left));
    let columns: Vec<Vec<f64>> = (0..size).map(|c| solver.solve(noise.row(c))).collect();
    let spread = Square::of(size, |r, c| dot(noise.row(r), &columns[c]));
    let log_weight = log_weight - Solver::of(&spread).log_density(&misses);
    Look { misses, spread, log_weight }
}
