//! Plans of equal worth are told apart by what was named first. The instance is laid out anew in units so
//! fine that all ranks together weigh less than a tenth of the old: what is worth more there is worth no
//! less here, and keeps the same rules. A bound of the old one stands as it is.

use super::insertion::{Guide, Inserter};
use super::layout::Layout;
use super::problem::Problem;
use super::random::Random;
use super::{Gift, Instance, Points, Weights};

/// The same instance in finer units, with a gain for each place that a gift stands before the last of its
/// ranks. `None` where no gift has ranks, or where sums would be too large to be exact.
pub(super) fn finer(instance: &Instance) -> Option<Instance> {
    let spread: i64 = instance.gifts.iter().map(last_rank).sum();
    if spread == 0 {
        return None;
    }
    let times = |points: Points| points.0.checked_mul(spread + 1).map(Points);
    let Weights { priority, pref, join, drib, alike } = instance.weights;
    let mut finer = instance.clone();
    finer.weights = Weights {
        priority: times(priority)?,
        pref: times(pref)?,
        join: times(join)?,
        drib: times(drib)?,
        alike: times(alike)?,
    };
    for cost in finer.travel.iter_mut().flatten() {
        *cost = times(*cost)?;
    }
    for remnant in &mut finer.remnants {
        remnant.opening = times(remnant.opening)?;
    }
    for gift in &mut finer.gifts {
        let last = last_rank(gift);
        for option in &mut gift.options {
            let before = last - i64::from(option.rank);
            option.gain = Points(times(option.gain)?.0.checked_add(before)?);
            for gain in option.sections.iter_mut().flat_map(|section| section.gain.values_mut()) {
                *gain = times(*gain)?;
            }
        }
    }
    finer.validate().is_empty().then_some(finer)
}

/// Without ranks: plans of equal worth are equal.
pub(super) fn without_ranks(instance: &Instance) -> Instance {
    let mut plain = instance.clone();
    for option in plain.gifts.iter_mut().flat_map(|gift| &mut gift.options) {
        option.rank = 0;
    }
    plain
}

fn last_rank(gift: &Gift) -> i64 {
    gift.options.iter().map(|option| i64::from(option.rank)).max().unwrap_or(0)
}

/// Puts each gift in turn back where it fits best, all others as they are. Gives the places looked at too.
pub(super) fn settled(finer: &Problem, mut layout: Layout) -> (Layout, u64) {
    let price = vec![0.0; finer.groups.len()];
    let guide = Guide { price: &price, price_share: 0.0, noise: 0.0, floor: f64::NEG_INFINITY };
    let mut inserter = Inserter::new(finer);
    let mut random = Random::new(0);
    for gift in 0..finer.gifts.len() {
        let before = layout.value;
        let Some((option, chunks)) = layout.unmake(finer, gift) else { continue };
        if let Some(fit) = inserter.best(&mut layout, gift, &guide, &mut random) {
            layout.make(finer, fit.option, &fit.chunks);
            if layout.value > before {
                continue;
            }
            layout.unmake(finer, gift);
        }
        layout.make(finer, option, &chunks);
    }
    (layout, inserter.work)
}

/// A layout of an instance as that of the same instance in other units.
pub(super) fn carried_over(layout: &Layout, from: &Problem, to: &Problem) -> Layout {
    let mut own = Layout::new(to);
    for option in layout.choice.iter().flatten() {
        own.make(to, *option, &layout.chunks[from.options[*option].sections.clone()]);
    }
    own
}
