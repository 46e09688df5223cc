//! Small words: what the counter shows, where the carriage is, which needles.

use super::instruction::Instruction;
use knit::needle::Side;
use knit::run::StepTrace;

/// How many stitches a repeated shaping leaves, the first and the last time.
pub(super) fn stitches_left(line: Instruction, trace: &StepTrace) -> Instruction {
    if trace.visits > 1 {
        line.word(" ")
            .figure(trace.first_in_work)
            .word(" in work after the first time, ")
            .figure(trace.in_work)
            .word(" after the last.")
    } else {
        line.word(" ").figure(trace.in_work).word(" in work.")
    }
}

pub(crate) fn counter(rows: u32) -> String {
    format!("{rows:03}")
}

pub(crate) fn side_code(side: Side) -> &'static str {
    match side {
        Side::Left => "COL",
        Side::Right => "COR",
    }
}

pub(super) fn needles(trace: &StepTrace) -> String {
    trace.first_needles.map_or_else(String::new, |span| span.to_string())
}

/// Which needles a repeated step deals with, the first and the last time.
pub(super) fn first_and_last(line: Instruction, trace: &StepTrace) -> Instruction {
    match (trace.first_needles, trace.last_needles) {
        (Some(first), Some(last)) if first != last => {
            line.word(": first ").figure(first).word(", last ").figure(last)
        }
        (Some(first), _) => line.word(": ").figure(first),
        _ => line,
    }
}
