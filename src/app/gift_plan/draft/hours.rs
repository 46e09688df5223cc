use std::cmp::Reverse;

use super::{HeldGift, Who, minutes_until};
use crate::PlanRequest;
use knit::stash::{Date, GiftWish};
use plan::Gift;

/// The days that gifts are due by, and the hours there are until each.
#[derive(Clone, Debug, Default)]
pub struct Hours {
    /// By rising day.
    pub due: Vec<Date>,
    /// Minutes at the machine until each, knitter by knitter.
    pub until: Vec<Vec<u64>>,
    /// What of that is left for gifts that are planned: what is held takes its own.
    pub free: Vec<Vec<u64>>,
    pub held: Vec<HeldGift>,
}

impl Hours {
    pub fn of(request: &PlanRequest<'_>, who: &Who, due: Vec<Date>, held: Vec<HeldGift>) -> Hours {
        let of_knitter = |own, day| minutes_until(request, who.hours_a_week(request, own), day);
        let until: Vec<Vec<u64>> =
            due.iter().map(|day| who.each(|own| of_knitter(own, *day))).collect();
        let free = until.iter().enumerate().map(|(d, minutes)| {
            let minutes = minutes.iter().enumerate();
            minutes.map(|(own, minutes)| minutes.saturating_sub(taken_by(&held, own, d))).collect()
        });
        let mut free: Vec<Vec<u64>> = free.collect();
        // What is taken later can't be taken before either: whatever is done by a day is done by the next.
        for d in (1..free.len()).rev() {
            let (before, after) = free.split_at_mut(d);
            for (before, after) in before[d - 1].iter_mut().zip(&after[0]) {
                *before = (*before).min(*after);
            }
        }
        Hours { due, until, free, held }
    }

    /// Gives each gift whose day is past the first deadline by which it can be done without those that have a
    /// day to come and matter as much or more being late, the hours of all knitters taken together. Without
    /// such a deadline it takes what is left.
    pub fn place_overdue(&self, wishes: &[&GiftWish], gifts: &mut [Gift]) {
        let late = |g: &usize| wishes[*g].due.is_some() && gifts[*g].due.is_none();
        let mut overdue: Vec<usize> = (0..wishes.len()).filter(late).collect();
        let urgency = |g: &usize| {
            let wish = wishes[*g];
            (Reverse(wish.must), Reverse(wish.priority), wish.due)
        };
        overdue.sort_by_key(urgency);
        for g in overdue {
            let own = minutes(&gifts[g], true);
            let before = |other: &Gift, d: usize| {
                let matters = other.must || other.priority >= gifts[g].priority;
                matters && other.due.is_some_and(|due| due <= d)
            };
            let fits = |d: usize| {
                let others = gifts.iter().filter(|other| before(other, d));
                let taken: u64 = others.map(|other| minutes(other, false)).sum();
                taken + own <= self.free[d].iter().fold(0u64, |sum, own| sum.saturating_add(*own))
            };
            // Until a deadline that is too full it can't be done, nor by any day before it.
            let from = (0..self.free.len()).rev().take_while(|d| fits(*d)).last();
            gifts[g].due = from;
        }
    }
}

fn taken_by(held: &[HeldGift], knitter: usize, deadline: usize) -> u64 {
    let own = held.iter().filter(|gift| gift.knitter == knitter);
    let in_time = own.filter(|gift| gift.slot.is_some_and(|slot| slot <= deadline));
    in_time.map(|gift| gift.minutes.mean().ceil() as u64).sum()
}

/// Of the way to make it that takes longest, or least.
fn minutes(gift: &Gift, longest: bool) -> u64 {
    let all = gift.options.iter().map(|option| u64::from(option.minutes));
    let one = if longest { all.max() } else { all.min() };
    one.unwrap_or(0)
}
