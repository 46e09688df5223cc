use serde::{Deserialize, Serialize};

use super::place::Place;
use diag::{Code, Diagnostic};

/// Time worked on a piece at the machine, kept beside its place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Worked {
    /// Seconds between steps that were told, pauses left out.
    pub seconds: u64,
    /// When the latest step was told, in seconds since 1970.
    pub told: i64,
}

impl Worked {
    /// Whoever tells no step for longer than this is taken to have gone away (practice).
    pub const PAUSE_S: u64 = 300;
    /// What each of several steps told at once may have taken beside that (practice).
    const STEP_S: u64 = 10;
    /// Thirty years: more than anyone works on a piece.
    const MOST_S: u64 = 1_000_000_000;

    /// With a step that is told now: the time since the one before is work, or it was a pause. The clock is
    /// one for all devices, so that two of them count the time once. Where the piece is begun anew, so is
    /// its time.
    #[must_use]
    pub fn after(self, before: Option<&Place>, to: &Place, now: i64) -> Worked {
        let anew = match before {
            None => true,
            Some(before) => to.stop == 0 || (before.stop == before.of && to.stop <= 1),
        };
        if anew {
            return Worked { seconds: 0, told: now };
        }
        let steps = before.map_or(0, |before| to.stop.saturating_sub(before.stop));
        let most = Worked::PAUSE_S + Worked::STEP_S * u64::from(steps);
        // A clock that was set back tells nothing of what lies between.
        let gap = u64::try_from(now.saturating_sub(self.told)).unwrap_or_default();
        let worked = if gap <= most { gap } else { 0 };
        Worked { seconds: self.seconds.saturating_add(worked).min(Worked::MOST_S), told: now }
    }

    /// Whole minutes; `None` where nothing was counted.
    pub fn minutes(self) -> Option<f64> {
        (self.seconds > 0).then(|| (self.seconds as f64 / 60.0).round().max(1.0))
    }

    /// Whether it can be so.
    ///
    /// # Errors
    /// One diagnostic where it can't.
    pub fn check(self) -> Result<(), Diagnostic> {
        if self.seconds <= Worked::MOST_S {
            return Ok(());
        }
        Err(Diagnostic::error(Code::Place, "nobody works so long on a piece"))
    }
}

/// The time by the machine's clock, in seconds since 1970.
#[allow(clippy::disallowed_methods, reason = "time worked is told by the clock")]
pub fn now_s() -> i64 {
    jiff::Timestamp::now().as_second()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(stop: u32) -> Place {
        Place { query: "garment=tam".into(), title: "Tam".into(), stop, of: 900, revision: 1 }
    }

    /// Steps at these seconds: what is counted in the end.
    fn counted(steps: &[(u32, i64)]) -> u64 {
        let mut worked = Worked::default();
        let mut before = None;
        for (stop, at) in steps {
            let to = place(*stop);
            worked = worked.after(before.as_ref(), &to, *at);
            before = Some(to);
        }
        worked.seconds
    }

    #[test]
    fn work_is_counted_and_pauses_are_not() {
        assert_eq!(counted(&[(1, 1_000)]), 0);
        assert_eq!(counted(&[(1, 1_000), (2, 1_010), (3, 1_310)]), 310);
        assert_eq!(counted(&[(1, 1_000), (2, 1_010), (3, 1_321)]), 10);
        // Ripping back is work; a clock that is set back is none.
        assert_eq!(counted(&[(1, 1_000), (9, 1_060), (5, 1_100), (6, 500), (7, 520)]), 120);
        // A hundred rows told at once.
        assert_eq!(counted(&[(1, 1_000), (101, 2_200)]), 1_200);
        assert_eq!(counted(&[(1, 1_000), (101, 2_400)]), 0);
    }

    #[test]
    fn a_piece_begun_anew_has_its_own_time() {
        assert_eq!(counted(&[(1, 0), (2, 60), (900, 300), (1, 320), (2, 350)]), 30);
        assert_eq!(counted(&[(1, 0), (2, 60), (0, 90), (1, 100)]), 10);
        assert_eq!(counted(&[(5, 0), (2, 60), (1, 90)]), 90);
    }

    #[test]
    fn minutes_are_whole_and_none_where_nothing_was_counted() {
        let minutes = |seconds| Worked { seconds, told: 0 }.minutes();
        assert_eq!(minutes(0), None);
        assert_eq!(minutes(10), Some(1.0));
        assert_eq!(minutes(4_340), Some(72.0));
        assert!(Worked { seconds: u64::MAX, told: 0 }.check().is_err());
    }
}
