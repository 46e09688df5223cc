use super::WorkPlace;
use crate::program::{Action, Piece, Program, Step};

/// A program cut in two in the middle of a piece. It is knitted as before, stitch by stitch.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// The same program, with no step that lies on both sides of the place.
    pub program: Program,
    /// Steps of the piece at its top level that are done.
    pub done: usize,
}

/// Cuts a program where the work stands. What is done by hand after the last row done is still to do,
/// but for a place at the very beginning of a piece: there nothing of it is done.
pub fn cut(program: &Program, at: WorkPlace) -> Cut {
    let mut program = program.clone();
    let Some(piece) = program.pieces.get_mut(at.piece) else { return Cut { program, done: 0 } };
    let (done, rest) = cut_steps(&piece.steps, &mut { at.rows });
    let count = done.len();
    *piece = Piece { steps: done.into_iter().chain(rest).collect(), ..piece.clone() };
    Cut { program, done: count }
}

/// The steps up to so many rows, and the others. `left` is what is still to be found.
fn cut_steps(steps: &[Step], left: &mut u32) -> (Vec<Step>, Vec<Step>) {
    let (mut done, mut rest) = (Vec::new(), Vec::new());
    for step in steps {
        if *left == 0 {
            rest.push(step.clone());
            continue;
        }
        let with = |action: Action| Step { line: step.line, action };
        match &step.action {
            Action::Knit { rows } if rows > left => {
                done.push(with(Action::Knit { rows: *left }));
                rest.push(with(Action::Knit { rows: rows - *left }));
                *left = 0;
            }
            Action::Knit { rows } => {
                *left -= rows;
                done.push(step.clone());
            }
            Action::Repeat { times, steps } => {
                let each = rows_of(steps);
                // The round with the last row is cut: what is done by hand behind that row is to do.
                let whole = (*left - 1).checked_div(each).unwrap_or(*times).min(*times);
                let round = |times: u32| with(Action::Repeat { times, steps: steps.clone() });
                if whole == *times {
                    *left -= whole * each;
                    done.push(step.clone());
                    continue;
                }
                *left -= whole * each;
                let (first, second) = cut_steps(steps, left);
                done.extend((whole > 0).then(|| round(whole)));
                done.extend(first);
                rest.extend(second);
                rest.extend((times - whole > 1).then(|| round(times - whole - 1)));
            }
            _ => done.push(step.clone()),
        }
    }
    (done, rest)
}

/// Rows that the steps knit.
fn rows_of(steps: &[Step]) -> u32 {
    let of = |step: &Step| match &step.action {
        Action::Knit { rows } => *rows,
        Action::Repeat { times, steps } => times.saturating_mul(rows_of(steps)),
        _ => 0,
    };
    steps.iter().fold(0, |sum, step| sum.saturating_add(of(step)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(action: Action) -> Step {
        Step { line: 0, action }
    }

    fn knit(rows: u32) -> Step {
        step(Action::Knit { rows })
    }

    fn repeat(times: u32, steps: &[Step]) -> Step {
        step(Action::Repeat { times, steps: steps.to_vec() })
    }

    fn program(steps: Vec<Step>) -> Program {
        let piece = Piece { name: "hat".into(), title: "Hat".into(), section: "all".into(), steps };
        Program { pieces: vec![piece], ..Program::default() }
    }

    /// What is done, one action after the other, a row at a time.
    fn unrolled(steps: &[Step]) -> Vec<Action> {
        let of = |step: &Step| match &step.action {
            Action::Knit { rows } => vec![Action::Knit { rows: 1 }; *rows as usize],
            Action::Repeat { times, steps } => (0..*times).flat_map(|_| unrolled(steps)).collect(),
            action => vec![action.clone()],
        };
        steps.iter().flat_map(of).collect()
    }

    #[test]
    fn a_cut_program_does_the_same_and_no_step_lies_on_both_sides() {
        let wedge =
            repeat(3, &[step(Action::Wrap), knit(2), repeat(2, &[knit(1), step(Action::Wrap)])]);
        let steps = vec![knit(5), step(Action::ResetCounter), wedge, knit(3), step(Action::Wrap)];
        let whole = program(steps.clone());
        let all = unrolled(&steps);
        let rows_in = |actions: &[Action]| {
            actions.iter().filter(|a| matches!(a, Action::Knit { .. })).count() as u32
        };
        for rows in 0..=rows_in(&all) {
            let cut = cut(&whole, WorkPlace { piece: 0, rows });
            let steps = &cut.program.pieces[0].steps;
            assert_eq!(unrolled(steps), all, "{rows}");
            let done = unrolled(&steps[..cut.done]);
            assert_eq!(rows_in(&done), rows);
            // The last thing done is the row: what follows by hand is still to do.
            assert!(done.last().is_none_or(|last| matches!(last, Action::Knit { .. })), "{rows}");
        }
    }

    #[test]
    fn no_row_of_the_piece_is_lost_where_the_place_lies_behind_it() {
        let whole = program(vec![knit(5), repeat(0, &[knit(2)]), repeat(4, &[step(Action::Wrap)])]);
        let cut = cut(&whole, WorkPlace { piece: 0, rows: 9 });
        assert_eq!(cut.program, whole);
        assert_eq!(cut.done, 3);
    }
}
