//! Balls in turn: the one that rests hangs at the edge, and is taken up there where its next row is near.

use super::*;
use crate::turns::MOST_CARRIED;

/// A ball that hangs at an edge.
pub(super) struct Resting {
    section: usize,
    side: Side,
    /// The needle that the yarn left last.
    at: Option<i32>,
    /// Rows of the piece done by then.
    rows: usize,
}

impl Bed<'_> {
    /// Whether the ball in the feed and that one are of one turn.
    pub(super) fn in_one_turn(&self, name: &str) -> bool {
        let turn = |name: &str| InTurn::of_ball(self.turns, name).map(|(turn, _)| turn);
        turn(name).is_some_and(|to| turn(&self.sections[self.section].name) == Some(to))
    }

    /// Another ball of the same turn into the feed. The one that was there rests.
    pub(super) fn change_ball(&mut self, section: usize) {
        // With nothing on the bed there is no yarn in the feed: what is hung there begins its own.
        if self.live_loops() == 0 {
            self.section = section;
            return;
        }
        if !std::mem::take(&mut self.broken) {
            let (side, at, rows) = (self.carriage, self.yarn_at, self.rows.len());
            self.resting.push(Resting { section: self.section, side, at, rows });
        }
        let waiting = self.resting.iter().position(|ball| ball.section == section);
        let waiting = waiting.map(|nth| self.resting.swap_remove(nth));
        self.section = section;
        let near = waiting.as_ref().and_then(|ball| self.carried_over(ball));
        if let (Some(rows), Some(ball)) = (near, &waiting) {
            // A row is about as high as a needle is wide.
            self.lay(Laying::Floats(rows));
            self.took(Operation::YarnTakenUp, 1);
            self.yarn_at = ball.at;
            self.balls.carried += 1;
            return;
        }
        // Of one that hangs too far off, the end where it was broken too.
        self.lay(Laying::Tails(if waiting.is_some() { 2 } else { 1 }));
        self.took(Operation::YarnChanged, 1);
        self.yarn_at = None;
        self.balls.joined += 1;
    }

    /// Over how many rows a ball is carried up; `None` where it hangs too far from the next row.
    fn carried_over(&self, ball: &Resting) -> Option<u32> {
        let rows = (self.rows.len() - ball.rows) as u32;
        let (first, last) = self.knitting_ends();
        let entry = match self.carriage {
            Side::Left => first,
            Side::Right => last,
        };
        let beside = (ball.at? - self.needle(entry).0).abs() <= LONG_FLOAT;
        (ball.side == self.carriage && rows <= MOST_CARRIED && beside).then_some(rows)
    }

    /// The piece is off the bed: what hung at its edges is broken.
    pub(super) fn end_resting(&mut self) {
        let piece = Some(self.done.len() as u32);
        for ball in std::mem::take(&mut self.resting) {
            self.lay_for(ball.section, piece, Laying::Tails(1));
        }
    }
}
