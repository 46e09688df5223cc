//! What the hands mind at the machine that no step says: weights under short rows, held needles on
//! the way of the yarn, loops that are hung. Each is told once in a piece, where it begins.

use std::collections::BTreeMap;

use super::edges::edge_phrase;
use super::instruction::Instruction;
use super::piece_words::PieceWords;
use super::say::pitch_words;
use super::step_data::remark_step;
use knit::bed::step_size;
use knit::program::{Action, Piece, Step};

/// Remarks by the number of the step that they stand before.
#[derive(Debug, Default)]
pub(crate) struct Remarks(BTreeMap<usize, Vec<String>>);

impl Remarks {
    /// Those before that step, once.
    pub(crate) fn take(&mut self, step: usize) -> Vec<String> {
        self.0.remove(&step).unwrap_or_default()
    }

    /// Writes out those of the steps before `end` that have not been told.
    pub(super) fn tell(&mut self, end: usize, lines: &mut Vec<Instruction>) {
        let later = self.0.split_off(&end);
        for remark in std::mem::replace(&mut self.0, later).into_values().flatten() {
            let step = remark_step(&remark);
            lines.push(Instruction::new(0, true).word(remark).with_step(step));
        }
    }

    /// Leaves out what stands before a step: it was told.
    pub(super) fn from(mut self, step: usize) -> Remarks {
        self.0 = self.0.split_off(&step);
        self
    }
}

/// All steps in order, those inside repeats once.
fn flat<'s>(steps: &'s [Step], mut id: usize, all: &mut Vec<(usize, &'s Action)>) {
    for step in steps {
        all.push((id, &step.action));
        if let Action::Repeat { steps, .. } = &step.action {
            flat(steps, id + 1, all);
        }
        id += step_size(step);
    }
}

/// Whether rows are knitted while the needles rest that the first of these steps holds.
fn rests(steps: &[(usize, &Action)]) -> bool {
    let next = steps
        .iter()
        .skip(1)
        .find(|(_, action)| matches!(action, Action::Knit { .. } | Action::Return(_)));
    next.is_some_and(|(_, action)| matches!(action, Action::Knit { .. }))
}

impl PieceWords<'_> {
    /// What is to be minded in a piece.
    pub(crate) fn remarks(&self, piece: &Piece) -> Remarks {
        let mut steps = Vec::new();
        flat(&piece.steps, 0, &mut steps);
        let mut remarks = Remarks::default();
        let (mut held, mut crossed, mut hung) = (false, false, Vec::new());
        for (nth, (id, action)) in steps.iter().enumerate() {
            let Some(trace) = self.knitted.traces.get(*id).filter(|t| t.visits > 0) else {
                continue;
            };
            let mut add = |text: String| remarks.0.entry(*id).or_default().push(text);
            match action {
                Action::Hold(_) if !held && rests(&steps[nth..]) => {
                    held = true;
                    add(SHORT_ROWS.to_owned());
                }
                Action::Hang { edge, .. } if !hung.contains(&edge.as_str()) => {
                    hung.push(edge);
                    let edge = edge_phrase(self.program, edge);
                    add(format!(
                        "See that the first loop of {edge} and the last one are caught: each lies on \
                         top of the stitch there, behind the latch."
                    ));
                }
                Action::Knit { .. } => {
                    if let Some(pitch) = trace.mind.pitch {
                        add(pitch_words(pitch).trim_end().to_owned());
                    }
                    if let Some(side) = trace.mind.past_held.filter(|_| !crossed) {
                        crossed = true;
                        add(format!(
                            "Held needles lie between the carriage and the work, on the {side}: for \
                             the first row lead the yarn underneath them by hand, and hold it down \
                             until the first stitches are made."
                        ));
                    }
                }
                _ => {}
            }
        }
        remarks
    }
}

const SHORT_ROWS: &str = "Some needles rest from here: hang a claw weight close under those that knit, and \
                          move it with them at each turn and each wedge. What is held wants none.";
