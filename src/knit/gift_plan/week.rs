use super::GiftPlan;
use crate::stash::Date;

/// A week of work by a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanWeek {
    /// Its first day.
    pub begins: Date,
    /// What is knitted in it, one after the other.
    pub work: Vec<WeekWork>,
}

/// Work on one gift in one week.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeekWork {
    /// The gift, by its place in the plan.
    pub gift: usize,
    /// Minutes of it in this week, on average.
    pub minutes: f64,
    /// Whether it is done in this week.
    pub done: bool,
}

/// Weeks that are laid out: a year. What comes later nobody can tell.
const MOST_WEEKS: u32 = 53;

/// Less work than this in a week goes without saying, in minutes: hours are told in tenths.
const LEAST_MINUTES: f64 = 3.0;

impl GiftPlan {
    /// What a knitter does in which week from `from` on, at so many hours a week: their gifts one after the
    /// other, in the order of work, at their average times. Yarn that is set aside already is knitted between
    /// them; its weeks are left blank. A year at most, weeks without work left out.
    pub fn weeks(&self, knitter: Option<&str>, from: Date, hours_a_week: f64) -> Vec<PlanWeek> {
        let week = hours_a_week * 60.0;
        if !(week.is_finite() && week > 0.0) {
            return Vec::new();
        }
        let mut weeks: Vec<PlanWeek> = Vec::new();
        for nth in 0..MOST_WEEKS {
            let (opens, closes) = (f64::from(nth) * week, f64::from(nth + 1) * week);
            let own =
                self.gifts.iter().enumerate().filter(|(_, g)| g.knitter.as_deref() == knitter);
            let work = own.filter_map(|(gift, planned)| {
                let ends = planned.done_after.mean();
                let begins = ends - planned.minutes.mean();
                let minutes = ends.min(closes) - begins.max(opens);
                let done = ends <= closes + LEAST_MINUTES;
                (minutes >= LEAST_MINUTES).then_some(WeekWork { gift, minutes, done })
            });
            let work: Vec<WeekWork> = work.collect();
            let days = jiff::Span::new().try_days(i64::from(nth) * 7);
            let begins = days.and_then(|days| from.checked_add(days));
            if let (Ok(begins), false) = (begins, work.is_empty()) {
                weeks.push(PlanWeek { begins, work });
            }
        }
        weeks
    }
}
