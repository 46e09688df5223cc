//! Two or more balls in turn: a section of any garment knitted so many rows from each. The garment stays
//! what the script gave; its passes are split where the ball changes, and its repeats stay folded as far
//! as the stripes allow. Whether a ball is carried up the edge or broken, the bed finds out.

use super::garment::Garment;
use super::program::{Action, Piece, Step};
pub use super::turns::{InTurn, MOST_CARRIED};
use diag::{Code, Diagnostic};

/// Steps that a garment may come to: repeats that fit no stripe are written out.
const MOST_STEPS: usize = 100_000;

/// The garment with these sections knitted from balls in turn.
///
/// # Errors
/// A section in which nothing of the garment is knitted; stripes that fit no repeat of a very long program.
pub fn take_turns(garment: &mut Garment, turns: &[InTurn]) -> Result<(), Diagnostic> {
    for turn in turns {
        let knits = |piece: &Piece| {
            piece.section == turn.section || changes_to(&piece.steps, &turn.section)
        };
        if !garment.program.pieces.iter().any(knits) {
            return Err(Diagnostic::error(
                Code::InTurn,
                format!("nothing of this garment is knitted in its section `{}`", turn.section),
            )
            .hint("take a section that has rows with these options, or leave it out"));
        }
    }
    let mut budget = MOST_STEPS;
    for piece in &mut garment.program.pieces {
        let turn = turns.iter().position(|turn| turn.section == piece.section);
        let mut turning = Turning { turns, state: State { turn, row: 0, named: false }, budget };
        let notes = turns.iter().enumerate().filter(|(nth, turn)| {
            piece.section == turn.section && Some(*nth) == turning.state.turn
                || changes_to(&piece.steps, &turn.section)
        });
        let mut steps: Vec<Step> =
            notes.map(|(_, turn)| Step { line: 0, action: Action::Note(turn.told()) }).collect();
        steps.extend(turning.steps(&piece.steps).ok_or_else(too_many)?);
        budget = turning.budget;
        piece.steps = steps;
        if let Some(turn) = turn.and_then(|turn| turns.get(turn)) {
            piece.section = turn.ball(0);
        }
    }
    garment.program.turns = turns.to_vec();
    Ok(())
}

fn too_many() -> Diagnostic {
    Diagnostic::error(
        Code::InTurn,
        "the stripes take the garment's repeats apart into too many steps",
    )
    .hint("take rows that the garment's repeats are made of, such as 2,2")
}

fn changes_to(steps: &[Step], section: &str) -> bool {
    steps.iter().any(|step| match &step.action {
        Action::Section(name) => name == section,
        Action::Repeat { steps, .. } => changes_to(steps, section),
        _ => false,
    })
}

/// Where in which turn the knitting is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct State {
    turn: Option<usize>,
    row: u32,
    /// The ball of this row was named already, before its first row.
    named: bool,
}

struct Turning<'t> {
    turns: &'t [InTurn],
    state: State,
    /// Steps that may still be written.
    budget: usize,
}

impl Turning<'_> {
    /// `None` where they come to too many.
    fn steps(&mut self, steps: &[Step]) -> Option<Vec<Step>> {
        let mut all: Vec<Step> = Vec::with_capacity(steps.len());
        for step in steps {
            match &step.action {
                Action::Knit { rows } => all.extend(self.knit(*rows, step.line)),
                Action::Repeat { times, steps } => {
                    all.extend(self.repeat(*times, steps, step.line)?);
                }
                Action::Section(name) => {
                    let turn = self.turns.iter().position(|turn| turn.section == *name);
                    self.state = State { turn, row: 0, named: false };
                    let ball = turn.and_then(|turn| self.turns.get(turn)).map(|turn| turn.ball(0));
                    let name = ball.unwrap_or_else(|| name.clone());
                    all.push(Step { line: step.line, action: Action::Section(name) });
                }
                // What puts loops on an empty bed threads the yarn too: the ball whose row comes next.
                Action::Rehang { .. } | Action::PickUp { .. } => {
                    all.extend(self.next_ball(step.line));
                    all.push(step.clone());
                }
                _ => all.push(step.clone()),
            }
            self.budget = self.budget.checked_sub(1)?;
        }
        // Said once where a section and its first ball begin together.
        all.dedup_by(|b, a| matches!(&a.action, Action::Section(_)) && a.action == b.action);
        Some(all)
    }

    /// Rows, with a change of ball before the first row of each.
    fn knit(&mut self, rows: u32, line: u32) -> Vec<Step> {
        let Some(turn) = self.state.turn.and_then(|turn| self.turns.get(turn)) else {
            return vec![Step { line, action: Action::Knit { rows } }];
        };
        let cycle = turn.cycle();
        let mut all = Vec::new();
        let mut left = rows;
        while left > 0 {
            if self.state.row == 0 && left / cycle > 1 {
                let steps = self.stripes(turn, cycle, line);
                all.push(Step { line, action: Action::Repeat { times: left / cycle, steps } });
                left %= cycle;
                continue;
            }
            let now = left.min(turn.at(self.state.row).2);
            all.extend(self.stripes(turn, now, line));
            left -= now;
        }
        all
    }

    /// The ball whose first row comes next, where it isn't named yet.
    fn next_ball(&mut self, line: u32) -> Option<Step> {
        let turn = self.state.turn.and_then(|turn| self.turns.get(turn))?;
        let (ball, done, _) = turn.at(self.state.row);
        let first = done == 0 && !std::mem::replace(&mut self.state.named, true);
        first.then(|| Step { line, action: Action::Section(turn.ball(ball)) })
    }

    /// So many rows, stripe by stripe.
    fn stripes(&mut self, turn: &InTurn, rows: u32, line: u32) -> Vec<Step> {
        let mut all = Vec::new();
        let mut left = rows;
        while left > 0 {
            all.extend(self.next_ball(line));
            let now = left.min(turn.at(self.state.row).2);
            all.push(Step { line, action: Action::Knit { rows: now } });
            let row = (self.state.row + now) % turn.cycle();
            self.state = State { row, named: false, ..self.state };
            left -= now;
        }
        all
    }

    /// A repeat: as few rounds written out as there are before the stripes fall as they did.
    fn repeat(&mut self, times: u32, steps: &[Step], line: u32) -> Option<Vec<Step>> {
        let mut all = Vec::new();
        let mut rounds: Vec<Vec<Step>> = Vec::new();
        let mut begun: Vec<State> = Vec::new();
        let mut left = times;
        while left > 0 {
            let seen = begun.iter().position(|state| *state == self.state);
            if let Some(from) = seen
                && left as usize >= rounds.len() - from
            {
                let body = rounds.split_off(from);
                let each = body.len() as u32;
                all.extend(together(std::mem::take(&mut rounds), line));
                let again = Action::Repeat { times: 1 + left / each, steps: once(body, line) };
                all.push(Step { line, action: again });
                left %= each;
                begun.clear();
                continue;
            }
            begun.push(self.state);
            rounds.push(self.steps(steps)?);
            left -= 1;
        }
        all.extend(together(rounds, line));
        Some(all)
    }
}

/// What is done in a repeat: one round as it is, several each by itself.
fn once(mut rounds: Vec<Vec<Step>>, line: u32) -> Vec<Step> {
    match rounds.pop() {
        Some(only) if rounds.is_empty() => only,
        Some(last) => {
            rounds.push(last);
            together(rounds, line)
        }
        None => Vec::new(),
    }
}

/// Rounds one after the other; those that are alike as a repeat. Each stays a repeat, if of one: what a
/// round begins with, such as its mark, names the whole of no more than it.
fn together(rounds: Vec<Vec<Step>>, line: u32) -> Vec<Step> {
    let mut all: Vec<(u32, Vec<Step>)> = Vec::new();
    for round in rounds {
        match all.last_mut() {
            Some((times, last)) if *last == round => *times += 1,
            _ => all.push((1, round)),
        }
    }
    let folded = all.into_iter().map(|(times, steps)| Action::Repeat { times, steps });
    folded.map(|action| Step { line, action }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turned(rows: &str, steps: &[Action]) -> String {
        let turn = InTurn::parse("hat", rows).expect("rows").expect("some");
        let turns = [turn];
        let mut turning = Turning {
            turns: &turns,
            state: State { turn: Some(0), row: 0, named: false },
            budget: 1000,
        };
        let steps: Vec<Step> =
            steps.iter().map(|action| Step { line: 1, action: action.clone() }).collect();
        told(&turning.steps(&steps).expect("few"))
    }

    fn told(steps: &[Step]) -> String {
        let one = |step: &Step| match &step.action {
            Action::Knit { rows } => rows.to_string(),
            Action::Section(name) => name.replace("hat ", "b"),
            Action::Repeat { times, steps } => format!("{times}({})", told(steps)),
            Action::Wrap => "w".to_owned(),
            other => format!("{other:?}"),
        };
        steps.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    fn again(times: u32, actions: &[Action]) -> Action {
        let steps = actions.iter().map(|a| Step { line: 1, action: a.clone() }).collect();
        Action::Repeat { times, steps }
    }

    #[test]
    fn rows_are_split_and_stripes_folded() {
        let knit = |rows| Action::Knit { rows };
        assert_eq!(turned("4,4", &[knit(6)]), "b1 4 b2 2");
        assert_eq!(turned("4,4", &[knit(43)]), "5(b1 4 b2 4) b1 3");
        assert_eq!(turned("4,4", &[knit(1), knit(18)]), "b1 1 3 b2 4 b1 4 b2 4 b1 3");
        assert_eq!(turned("2,2,2", &[knit(12)]), "2(b1 2 b2 2 b3 2)");
    }

    #[test]
    fn repeats_stay_folded_as_far_as_the_stripes_let_them() {
        let round = |rows| [Action::Wrap, Action::Knit { rows }];
        // The stripes fall alike in every round.
        assert_eq!(turned("2,2", &[again(9, &round(4))]), "9(w b1 2 b2 2)");
        // In every second one.
        assert_eq!(turned("2,2", &[again(9, &round(2))]), "4(1(w b1 2) 1(w b2 2)) 1(w b1 2)");
        assert_eq!(
            turned("4,4", &[again(6, &round(2))]),
            "1(w b1 2) 1(w 2) 1(w b2 2) 1(w 2) 1(w b1 2) 1(w 2)"
        );
        // No row in it: nothing falls anywhere.
        assert_eq!(turned("2,2", &[again(9, &[Action::Wrap])]), "9(w)");
    }

    #[test]
    fn what_nobody_would_knit_is_refused() {
        for bad in ["4", "0,4", "4,,4", "4,4,4,4,4,4,4", "x", "-2,4", "4;4", "999999999999,2"] {
            let fault = InTurn::parse("hat", bad).expect_err(bad);
            assert!(!fault.hints.is_empty(), "{bad}");
        }
        assert_eq!(InTurn::parse("hat", "off").expect("off"), None);
        let turn = InTurn::parse("hat", " 4, 2 ").expect("rows").expect("some");
        assert_eq!((turn.typed().as_str(), turn.ball(1).as_str()), ("4,2", "hat 2"));
        assert!(turn.carries(0) && turn.carries(1));
        let wide = InTurn { rows: vec![6, 6], ..turn.clone() };
        let odd = InTurn { rows: vec![3, 2], ..turn };
        assert!(!wide.carries(0) && odd.carries(0) && !odd.carries(1));
    }
}
