use crate::needle::Side;
use crate::program::{Action, Step, Which};

/// What shaping consists of: the steps of a program that these functions make.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Move {
    /// So many passes.
    Knit(u32),
    /// The outermost working needle of that side goes to holding position.
    Hold(Side),
    /// The held needle of that side nearest the working ones comes back.
    BringBack(Side),
    /// The carriage is on that side, and what is done next is meant to be done there.
    CarriageAt(Side),
    /// Yarn round the held needle beside the yarn.
    Wrap,
    /// A tally mark of that name.
    Mark(String),
    /// So many needles put to work beside that end.
    Increase(Side, u32),
    /// So many stitches taken in at that end.
    Decrease(Side, u32),
    /// So many times these moves.
    Again(u32, Vec<Move>),
}

impl Move {
    /// The step of a program, and of those inside it, that came from a script's `line`.
    pub fn into_step(self, line: u32) -> Step {
        let action = match self {
            Move::Knit(rows) => Action::Knit { rows },
            Move::Hold(side) => Action::Hold(Which::AtSide(side, 1)),
            Move::BringBack(side) => Action::Return(Which::AtSide(side, 1)),
            Move::CarriageAt(side) => Action::CarriageAt(side),
            Move::Wrap => Action::Wrap,
            Move::Mark(name) => Action::Mark(name),
            Move::Increase(side, count) => Action::Increase { side, count },
            Move::Decrease(side, count) => Action::Decrease { side, count },
            Move::Again(times, moves) => Action::Repeat {
                times,
                steps: moves.into_iter().map(|each| each.into_step(line)).collect(),
            },
        };
        Step { line, action }
    }
}

/// Strings groups of moves together; where `period` groups come again and again, they are folded
/// into one repeat.
pub(super) fn fold(groups: &[Vec<Move>], period: usize) -> Vec<Move> {
    let mut folded = Vec::new();
    let mut at = 0;
    while at < groups.len() {
        let unit = &groups[at..(at + period).min(groups.len())];
        let times = groups[at..].chunks(period).take_while(|chunk| *chunk == unit).count();
        if times > 1 {
            folded.push(Move::Again(times as u32, unit.concat()));
            at += times * period;
        } else {
            folded.extend_from_slice(&groups[at]);
            at += 1;
        }
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_again_is_folded_and_nothing_is_lost() {
        let row = |rows| vec![Move::Knit(rows)];
        let groups = [row(1), row(2), row(1), row(2), row(1), row(3), row(3), row(3)];
        let pairs = [
            Move::Again(2, vec![Move::Knit(1), Move::Knit(2)]),
            Move::Knit(1),
            Move::Knit(3),
            Move::Knit(3),
            Move::Knit(3),
        ];
        assert_eq!(fold(&groups, 2), pairs);
        let ones = fold(&groups, 1);
        assert_eq!(ones.last(), Some(&Move::Again(3, vec![Move::Knit(3)])));
        assert_eq!(ones.len(), 6);
        assert_eq!(fold(&[], 2), []);
    }
}
