//! Words for balls in turn.

use super::piece_words::PieceWords;
use knit::in_turn::InTurn;
use knit::run::StepTrace;

impl PieceWords<'_> {
    /// The ball that follows, and where its yarn comes from. `None` for what is no ball of a turn.
    pub(super) fn ball(&self, section: &str, trace: &StepTrace) -> Option<String> {
        let (_, nth) = InTurn::of_ball(&self.program.turns, section)?;
        let ball = nth + 1;
        Some(match (trace.balls.carried, trace.balls.joined) {
            (0, 0) => format!("Ball {ball} follows."),
            // In the feed already the first time.
            (carried, 0) if carried < trace.visits => {
                format!("Ball {ball} follows: take it up at the edge, all times but the first.")
            }
            (_, 0) => format!("Ball {ball} follows: take it up at the edge."),
            (0, _) => format!("Ball {ball} follows: join it."),
            (_, 1) => {
                format!("Ball {ball} follows: take it up at the edge; the first time, join it.")
            }
            (_, _) => format!(
                "Ball {ball} follows: take it up where it hangs at the edge within the last few rows, \
                 else join it."
            ),
        })
    }
}
