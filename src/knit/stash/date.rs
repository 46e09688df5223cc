use std::fmt;

/// A day of the Gregorian calendar. Reading one from text, and what day it is today, are for the
/// edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    year: i16,
    month: u8,
    day: u8,
}

impl Date {
    /// `None` where there is no such day.
    pub const fn new(year: i16, month: u8, day: u8) -> Option<Date> {
        if year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 {
            return None;
        }
        if day > days_in(year, month) {
            return None;
        }
        Some(Date { year, month, day })
    }

    pub const fn year(self) -> i16 {
        self.year
    }

    pub const fn month(self) -> u8 {
        self.month
    }

    pub const fn day(self) -> u8 {
        self.day
    }

    /// Days from this one to `other`; negative where `other` is earlier.
    pub fn days_until(self, other: Date) -> i32 {
        other.number() - self.number()
    }

    /// Days since a day long ago, counting in years that begin with March so that the leap day
    /// comes last.
    fn number(self) -> i32 {
        let (month, year) = match self.month {
            m @ 3.. => (i32::from(m) - 3, i32::from(self.year)),
            m => (i32::from(m) + 9, i32::from(self.year) - 1),
        };
        let leap_days = year / 4 - year / 100 + year / 400;
        365 * year + leap_days + (153 * month + 2) / 5 + i32::from(self.day)
    }
}

const fn days_in(year: i16, month: u8) -> u8 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => 31,
    }
}

/// ISO 8601: `2026-12-24`.
impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_over_months_and_leap_years() {
        let date = |y, m, d| Date::new(y, m, d).expect("a day");
        assert_eq!(date(2026, 12, 24).days_until(date(2027, 1, 6)), 13);
        assert_eq!(date(2024, 2, 28).days_until(date(2024, 3, 1)), 2);
        assert_eq!(date(2026, 3, 1).days_until(date(2026, 2, 28)), -1);
        assert_eq!(date(2000, 1, 1).days_until(date(2400, 1, 1)), 146_097);
        assert_eq!(Date::new(2026, 2, 29), None);
        assert_eq!(Date::new(1900, 2, 29), None);
        assert_eq!(date(987, 6, 5).to_string(), "0987-06-05");
    }
}
