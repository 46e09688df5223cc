//! Stretches between tally marks, put into the program as numbers once the bed has counted them: what is
//! read of a program later knows rows alone.

use std::collections::BTreeSet;

use super::edge::{EdgePlace, EdgeRange, RowAt};
use super::needle::Side;
use super::program::{Action, Program, Step};
use super::run::{PieceRun, Run};

/// Puts rows in place of marks, where the run passed them. What it did not pass is left as it is: the bed
/// has refused it.
pub fn settle(program: &mut Program, run: &Run) {
    edges(program, &mut |edge| settle_edge(edge, run));
}

/// The marks that stretches of a program begin or end at.
pub fn marks_of(program: &mut Program) -> BTreeSet<String> {
    let mut marks = BTreeSet::new();
    edges(program, &mut |edge| {
        let EdgePlace::Marked(marked) = &edge.place else { return };
        for at in [Some(&marked.from), marked.to.as_ref()].into_iter().flatten() {
            if let RowAt::Mark(name, _) = at {
                marks.insert(name.clone());
            }
        }
    });
    marks
}

/// Does something to each edge that is picked up, joined or gathered.
fn edges(program: &mut Program, each: &mut impl FnMut(&mut EdgeRange)) {
    for piece in &mut program.pieces {
        edges_in(&mut piece.steps, each);
    }
    edges_in(&mut program.finishing, each);
}

fn edges_in(steps: &mut [Step], each: &mut impl FnMut(&mut EdgeRange)) {
    for step in steps {
        match &mut step.action {
            Action::Repeat { steps, .. } => edges_in(steps, each),
            Action::PickUp { edge, .. } | Action::Gather(edge) => each(edge),
            Action::Join { first, second, .. } => {
                each(first);
                each(second);
            }
            _ => {}
        }
    }
}

fn settle_edge(edge: &mut EdgeRange, run: &Run) {
    let EdgePlace::Marked(marked) = &edge.place else { return };
    let piece: Option<&PieceRun> = run.pieces.iter().find(|piece| piece.name == marked.piece);
    let Some(piece) = piece else { return };
    let (left, right) = if marked.inner { piece.sides.inner } else { piece.selvedges };
    let whole = if marked.side == Side::Left { left } else { right };
    let Some((from, to)) = piece.sides.stretch(marked, whole) else { return };
    let (Ok(from), Ok(to)) = (u32::try_from(from), u32::try_from(to)) else { return };
    let (name, side) = (marked.piece.clone(), marked.side);
    let place = match marked.inner {
        true => EdgePlace::Inner(name, side),
        false => EdgePlace::Selvedge(name, side),
    };
    // To its end, where that is meant: so it reads as the script has it.
    let to = marked.to.is_some().then_some(to);
    *edge = EdgeRange { place, from, to };
}
