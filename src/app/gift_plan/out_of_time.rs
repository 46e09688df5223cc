//! What can't be done by its day, and what would help.

use std::time::Duration;

use super::PlanRequest;
use super::draft::{Draft, DraftGift, HeldGift};
use knit::gift_plan::OutOfTime;
use knit::stash::Date;
use plan::{GiftOption, Plan};

/// Gifts that are held and will be late, then those that are left out for want of hours. Nothing where the settings
/// name no hours.
pub(super) fn out_of_time(request: &PlanRequest<'_>, draft: &Draft, plan: &Plan) -> Vec<OutOfTime> {
    let left = draft.instance.left_by(plan);
    let times = draft.who.each(|knitter| {
        let rate = draft.who.hours_a_week(request, knitter)?;
        Some(Time { today: request.today, knitter, rate, draft, plan, left: &left })
    });
    let mut told: Vec<OutOfTime> = times.iter().flatten().flat_map(Time::held).collect();
    // Whoever has hours without end is never out of time.
    let gifts = draft.gifts.iter().enumerate().filter(|(g, _)| plan.gifts[*g].is_none());
    told.extend(gifts.filter_map(|(g, gift)| {
        let options = &draft.instance.gifts[g].options;
        let mut told: Vec<OutOfTime> = Vec::new();
        for (knitter, time) in times.iter().enumerate() {
            let mut own = options.iter().filter(|option| option.knitter == knitter).peekable();
            if own.peek().is_some() {
                told.extend(time.as_ref()?.left_out(g, gift)?);
            }
        }
        // Whoever could do it soonest.
        told.into_iter().min_by_key(|late| late.by)
    }));
    told
}

struct Time<'a> {
    today: Date,
    /// Whose.
    knitter: usize,
    /// Hours a week.
    rate: f64,
    draft: &'a Draft,
    plan: &'a Plan,
    /// By remnant, the decigrams that the plan leaves.
    left: &'a [u32],
}

impl Time<'_> {
    /// What is held and can't be done by its day, even before all that is planned.
    fn held(&self) -> Vec<OutOfTime> {
        let hours = &self.draft.hours;
        let mut all: Vec<_> =
            self.all_held().filter_map(|gift| Some((gift.slot?, gift.due?, gift))).collect();
        all.sort_by_key(|(slot, due, _)| (*slot, *due));
        let (mut done, mut late) = (0.0, Vec::new());
        for (slot, due, gift) in all {
            let minutes = gift.minutes.mean();
            let spare = hours.until[slot][self.knitter] as f64 - done;
            done += minutes;
            // Of a day that is past nothing helps.
            if minutes > spare && due > self.today {
                late.push(OutOfTime {
                    gift: gift.id.clone(),
                    knitter: self.name(),
                    due,
                    held: true,
                    minutes,
                    spare: spare.max(0.0),
                    hours_a_week: self.needed_rate(done, due),
                    by: self.day_after(done),
                    later: None,
                });
            }
        }
        late
    }

    fn all_held(&self) -> impl Iterator<Item = &HeldGift> {
        self.draft.hours.held.iter().filter(|held| held.knitter == self.knitter)
    }

    /// A gift that there would be yarn for, if it is too late for each way that this knitter could make it:
    /// `None` if it is not, and nothing within where there would be no yarn.
    fn left_out(&self, g: usize, drawn: &DraftGift) -> Option<Option<OutOfTime>> {
        let gift = &self.draft.instance.gifts[g];
        let due = gift.due?;
        let own = gift.options.iter().filter(|option| option.knitter == self.knitter);
        let with_yarn = own.filter(|option| self.has_yarn(g, option));
        let Some(minutes) = with_yarn.map(|option| u64::from(option.minutes)).min() else {
            return Some(None);
        };
        let spare = self.spare(due, None);
        if i128::from(minutes) <= spare {
            return None;
        }
        let days = &self.draft.hours.due;
        let rates = (due..days.len()).map(|d| {
            let work = self.load(d, None) + minutes;
            self.needed_rate(work as f64 + self.held_until(d), days[d])
        });
        Some(Some(OutOfTime {
            gift: drawn.id.clone(),
            knitter: self.name(),
            due: days[due],
            held: false,
            minutes: minutes as f64,
            spare: spare.max(0) as f64,
            hours_a_week: rates.fold(0.0, f64::max),
            by: self.first_day(due, minutes),
            later: self.makes_way(g, due, minutes),
        }))
    }

    fn name(&self) -> Option<String> {
        self.draft.who.knitter(self.knitter).map(|knitter| knitter.name.clone())
    }

    /// Minutes of planned gifts until a deadline, one of them taken out.
    fn load(&self, deadline: usize, without: Option<usize>) -> u64 {
        let gifts = self.draft.instance.gifts.iter().zip(&self.plan.gifts).enumerate();
        let in_time = gifts.filter(|(g, (gift, _))| {
            Some(*g) != without && gift.due.is_some_and(|due| due <= deadline)
        });
        let minutes = in_time.filter_map(|(_, (gift, made))| {
            let option = gift.options.get(made.as_ref()?.option)?;
            (option.knitter == self.knitter).then_some(u64::from(option.minutes))
        });
        minutes.sum()
    }

    fn held_until(&self, deadline: usize) -> f64 {
        let in_time = self.all_held().filter(|gift| gift.slot.is_some_and(|slot| slot <= deadline));
        in_time.map(|gift| gift.minutes.mean()).sum()
    }

    /// Minutes that are left for one more gift due by a deadline.
    fn spare(&self, due: usize, without: Option<usize>) -> i128 {
        let free = &self.draft.hours.free;
        let left = |d: usize| i128::from(free[d][self.knitter]) - i128::from(self.load(d, without));
        (due..free.len()).map(left).min().unwrap_or(i128::MAX)
    }

    /// Hours a week for so many minutes until a day, up to the next tenth.
    fn needed_rate(&self, minutes: f64, day: Date) -> f64 {
        let weeks = f64::from((day - self.today).get_days()) / 7.0;
        (minutes / 60.0 / weeks * 10.0 - 1e-9).ceil() / 10.0
    }

    /// The day by which so many minutes are there.
    fn day_after(&self, minutes: f64) -> Date {
        const LONGEST: f64 = 36_500.0;
        let days = (minutes / 60.0 / self.rate * 7.0).ceil().clamp(0.0, LONGEST) as u64;
        self.today.saturating_add(Duration::from_secs(days * 24 * 60 * 60))
    }

    /// The first day after its own by which a gift can be done without another being late.
    fn first_day(&self, due: usize, minutes: u64) -> Date {
        let days = &self.draft.hours.due;
        let done = |last: usize| {
            self.day_after((self.load(last, None) + minutes) as f64 + self.held_until(last))
        };
        for (next, day) in days.iter().enumerate().skip(due + 1) {
            let by = done(next - 1);
            if by <= *day && i128::from(minutes) <= self.spare(next, None) {
                return by;
            }
        }
        done(days.len() - 1)
    }

    /// A planned gift that matters no more and without which there are hours enough: of those the one that
    /// matters least.
    fn makes_way(&self, g: usize, due: usize, minutes: u64) -> Option<String> {
        let gifts = &self.draft.instance.gifts;
        let matters_no_more = |other: &usize| {
            !gifts[*other].is_must()
                && gifts[*other].priority <= gifts[g].priority
                && gifts[*other].due.is_some()
                && self.plan.gifts[*other].is_some()
        };
        let enough = |other: &usize| i128::from(minutes) <= self.spare(due, Some(*other));
        let all = (0..gifts.len()).filter(matters_no_more).filter(enough);
        let one = all.min_by_key(|other| gifts[*other].priority)?;
        Some(self.draft.gifts[one].id.clone())
    }

    /// Whether each section of an option of a gift, looked at alone, could be knitted from what the plan
    /// leaves.
    fn has_yarn(&self, gift: usize, option: &GiftOption) -> bool {
        let instance = &self.draft.instance;
        option.sections.iter().all(|section| {
            let mut needs = section.need_dg.iter();
            needs.any(|(group, need)| instance.most_dg(gift, section, *group, self.left) >= *need)
        })
    }
}
