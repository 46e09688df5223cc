//! A figure that differs from round to round of a repeat, and how it is told.

/// A figure for each round of a repeat, in order; what comes several times running is kept once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Turns(Vec<(u32, u32)>);

/// Figures a round that may be written out one by one.
const LONGEST: usize = 120;
/// Stretches a reader keeps apart; what falls into more is written out.
const MOST_STRETCHES: usize = 4;
/// Figures that may take turns.
const MOST_IN_TURN: usize = 3;

/// Rounds told together.
#[derive(Debug, PartialEq, Eq)]
struct Stretch {
    /// One figure, or several in turn.
    figures: Vec<u32>,
    rounds: u32,
}

impl Turns {
    /// The same figure in so many rounds.
    pub fn of(figure: u32, rounds: u32) -> Turns {
        Turns(vec![(figure, rounds)])
    }

    /// Of no round yet.
    pub fn none() -> Turns {
        Turns(Vec::new())
    }

    /// The figures of `other`, each in so many times as many rounds.
    pub fn join_all(&mut self, other: &Turns, times: u32) {
        for (figure, rounds) in &other.0 {
            self.join(*figure, rounds.saturating_mul(times));
        }
    }

    /// What is done in so many rounds more.
    pub fn join(&mut self, figure: u32, rounds: u32) {
        match self.0.last_mut() {
            Some((last, times)) if *last == figure => *times = times.saturating_add(rounds),
            _ => self.0.push((figure, rounds)),
        }
    }

    /// The figure, where it is the same in all rounds.
    pub fn one(&self) -> Option<u32> {
        match self.0.as_slice() {
            [(figure, _)] => Some(*figure),
            _ => None,
        }
    }

    pub fn runs(&self) -> &[(u32, u32)] {
        &self.0
    }

    /// Whether it can be told: not where it would be a page of figures.
    pub fn tellable(&self) -> bool {
        self.one().is_some() || self.stretches().is_some() || self.all().len() <= LONGEST
    }

    /// "6 rows in the first 8 rounds, 8 rows in the last 14"; each figure as `unit` says it. Where
    /// that would be a long tale, the figures one by one, and `many` behind them.
    pub fn told(&self, unit: impl Fn(u32) -> String, many: &str) -> String {
        let Some(stretches) = self.stretches() else {
            let all: Vec<String> = self.all().iter().map(u32::to_string).collect();
            return format!("round by round {}{many}", all.join(" "));
        };
        let mut told = Vec::new();
        for (nth, stretch) in stretches.iter().enumerate() {
            let figures: Vec<String> = stretch.figures.iter().map(|n| unit(*n)).collect();
            let figures = match figures.as_slice() {
                [one] => one.clone(),
                [before @ .., last] => format!("{} and {last} in turn", before.join(", ")),
                [] => continue,
            };
            told.push(match (stretches.len(), nth, stretch.rounds) {
                (1, ..) => figures,
                (_, 0, 1) => format!("{figures} in the first round"),
                (_, 0, rounds) => format!("{figures} in the first {rounds} rounds"),
                (all, _, 1) if nth + 1 == all => format!("{figures} in the last"),
                (all, _, rounds) if nth + 1 == all => format!("{figures} in the last {rounds}"),
                (_, _, 1) => format!("{figures} in the next"),
                (_, _, rounds) => format!("{figures} in the next {rounds}"),
            });
        }
        told.join(", ")
    }

    /// A figure for each round; no more than are ever written out.
    fn all(&self) -> Vec<u32> {
        let each = self.0.iter().flat_map(|(n, rounds)| std::iter::repeat_n(*n, *rounds as usize));
        each.take(LONGEST * 4).collect()
    }

    /// Few stretches of one figure, or of figures in turn. `None` where it takes more.
    fn stretches(&self) -> Option<Vec<Stretch>> {
        let mut stretches = Vec::new();
        let mut at = 0;
        while at < self.0.len() {
            if stretches.len() == MOST_STRETCHES {
                return None;
            }
            let period = (2..=MOST_IN_TURN)
                .map(|period| (period, self.in_turn(at, period)))
                .filter(|(period, rounds)| *rounds >= 2 * period)
                .max_by_key(|(_, rounds)| *rounds);
            if let Some((period, rounds)) = period {
                let figures = self.0[at..at + period].iter().map(|(n, _)| *n).collect();
                stretches.push(Stretch { figures, rounds: rounds as u32 });
                at += rounds;
            } else {
                let (figure, rounds) = self.0[at];
                stretches.push(Stretch { figures: vec![figure], rounds });
                at += 1;
            }
        }
        Some(stretches)
    }

    /// How many rounds from run `at` on are the first `period` figures in turn.
    fn in_turn(&self, at: usize, period: usize) -> usize {
        let runs = &self.0[at..];
        if runs.len() < period {
            return 0;
        }
        (0..runs.len())
            .take_while(|nth| runs[*nth].1 == 1 && runs[*nth].0 == runs[nth % period].0)
            .count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(figures: &[u32]) -> String {
        let mut turns = Turns(Vec::new());
        for figure in figures {
            turns.join(*figure, 1);
        }
        turns.told(|n| format!("{n} rows"), " rows")
    }

    #[test]
    fn figures_are_told_by_stretches_of_rounds() {
        assert_eq!(told(&[6, 6, 6]), "6 rows");
        assert_eq!(told(&[4, 5, 4, 5, 4]), "4 rows and 5 rows in turn");
        assert_eq!(told(&[6, 6, 8, 8, 8]), "6 rows in the first 2 rounds, 8 rows in the last 3");
        assert_eq!(
            told(&[4, 6, 4, 6, 4, 6, 6, 6, 8]),
            "4 rows and 6 rows in turn in the first 5 rounds, 6 rows in the next 3, 8 rows in the last"
        );
    }

    #[test]
    fn what_has_no_order_is_written_out() {
        assert_eq!(
            told(&[1, 2, 2, 1, 3, 3, 1, 2, 1, 1]),
            "round by round 1 2 2 1 3 3 1 2 1 1 rows"
        );
        let long: Vec<u32> = (0..200).map(|n| n * n % 7).collect();
        let mut turns = Turns(Vec::new());
        for figure in long {
            turns.join(figure, 1);
        }
        assert!(!turns.tellable());
    }
}
