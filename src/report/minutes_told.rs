use knit::estimate::Minutes;

/// Minutes of work as they are told: the average to expect, and between what the next piece of work
/// will lie, 95 times in a hundred. Whole minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct MinutesTold {
    pub mean: f64,
    pub low: f64,
    pub high: f64,
}

impl MinutesTold {
    pub fn of(minutes: &Minutes) -> MinutesTold {
        let within = minutes.next_within();
        MinutesTold {
            mean: minutes.mean().round(),
            low: within.low.floor(),
            high: within.high.ceil(),
        }
    }

    /// "about 5 h (3 to 8)": as near as such a figure can be known, and no nearer.
    pub fn about(self) -> String {
        let [mean, low, high] = [self.mean, self.low, self.high].map(halves);
        format!("about {mean} h ({low} to {high})")
    }
}

/// Minutes in hours, to a half below ten, to a whole above, and below an hour to a tenth.
fn halves(minutes: f64) -> String {
    match minutes / 60.0 {
        hours if hours < 0.95 => format!("{hours:.1}"),
        hours if hours < 9.75 => format!("{}", (hours * 2.0).round() / 2.0),
        hours => format!("{hours:.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_told_no_nearer_than_they_are_known() {
        let told = |mean, low, high| MinutesTold { mean, low, high }.about();
        assert_eq!(told(290.0, 170.0, 492.0), "about 5 h (3 to 8)");
        assert_eq!(told(62.0, 25.0, 140.0), "about 1 h (0.4 to 2.5)");
        assert_eq!(told(1_190.0, 583.0, 2_000.0), "about 20 h (9.5 to 33)");
    }

    #[test]
    fn no_work_takes_no_time() {
        let told = MinutesTold::of(&Minutes::none());
        assert_eq!((told.mean, told.low, told.high), (0.0, 0.0, 0.0));
    }
}
