//! The words of what is done on the bed, an action at a time.

use super::edges::words_of;
use super::instruction::{Instruction, note};
use super::loops::CastOn;
use super::piece_words::PieceWords;
use super::shaping::{break_yarn, join_yarn, narrow, transfer, widen};
use super::words::{counter, first_and_last, needles, side_code, stitches_left};
use knit::needle::{Needle, Side, Span};
use knit::program::{Action, Beds, HangLoops, Pitch, Structure, Which};
use knit::run::{Moment, StepTrace};

impl PieceWords<'_> {
    /// The words of an action, after what `line` already says. The trace may be of many visits or
    /// of one.
    pub(crate) fn say(
        &self,
        line: Instruction,
        action: &Action,
        trace: &StepTrace,
        first: Moment,
        after: Moment,
        inside: bool,
    ) -> Option<Instruction> {
        let depth = line.depth;
        // What yarn follows is said alike on needles and on the bed.
        if let Some(done) = trace.by_hand.filter(|_| !matches!(action, Action::Section(_))) {
            return Some(self.on_needles(
                Instruction::new(depth, true),
                done,
                action,
                trace,
                after,
            ));
        }
        // A cast-on says it in its own words, and rows have it said before them.
        let own = matches!(action, Action::CastOn { .. } | Action::Knit { .. });
        let line = match trace.mind.pitch.filter(|_| !own) {
            Some(pitch) => line.word(pitch_words(pitch)),
            None => line,
        };
        Some(match action {
            // Beside fabric on the bed the counter runs on.
            Action::CastOn { span, structure: Structure::Plain, .. }
                if trace.first_in_work > span.len() =>
            {
                cast_on_beside(line, *span)
            }
            Action::CastOn { span, structure, method, .. } => {
                let begin = CastOn { span: *span, structure: *structure, method: *method };
                self.cast_on(Instruction::new(depth, true), begin, trace.mind.pitch)
            }
            Action::Knit { rows } if inside => knit(line, *rows, trace, first),
            Action::Knit { rows } => knit(line, *rows, trace, first)
                .word(" RC ")
                .figure(counter(after.counter))
                .word(format!(", {}.", side_code(after.carriage))),
            Action::Hold(which) => hold(line, which, trace),
            Action::Return(which) => bring_back(line, which, trace),
            Action::Wrap => wrap(line, trace),
            Action::Hang { edge, needle, loops } => self.hang_due(line, edge, *needle, *loops),
            Action::TransferToMain if trace.over > 0 => self.latch_up(line, trace),
            Action::TransferToMain => self.transfer(line, trace),
            Action::Decrease { side, count } => decrease(line, *side, *count, trace),
            Action::Increase { side, count } => {
                increase(line, *side, *count, first.carriage, trace)
            }
            Action::ScrapOff { edge, .. } => self.scrap_off(line, edge, trace),
            Action::WorkBeds(beds) => work_beds(line, *beds),
            Action::Pitch(pitch) => line.word(pitch_words(*pitch).trim_end()),
            Action::Rehang { edge, beds, .. } => self.rehang(line, edge, *beds, trace),
            Action::CastOff { .. } => {
                line.word("Cast off ").figure(needles(trace)).word(" loosely.")
            }
            Action::Dial(dial) => line.word("Dial ").figure(dial).word("."),
            Action::Section(name) => match self.ball(name, trace) {
                Some(words) => line.word(words),
                None => line.word(format!("Change yarn: {} follows.", words_of(name, ""))),
            },
            Action::ResetCounter => line.word("Set the row counter to 000."),
            Action::Note(text) => note(Instruction::new(depth, true), text),
            // Seen in the counter or in the wording around them.
            Action::CarriageAt(_) | Action::Mark(_) | Action::Repeat { .. } => return None,
            shaping => return self.shaping(line, shaping, trace),
        })
    }

    /// The words of shaping anywhere; none for what is done off the bed.
    fn shaping(
        &self,
        line: Instruction,
        action: &Action,
        trace: &StepTrace,
    ) -> Option<Instruction> {
        Some(match action {
            Action::Narrow(fashion) => narrow(line, fashion, trace),
            Action::Widen(fashion) => widen(line, fashion, trace),
            Action::Transfer(moved) => transfer(line, moved),
            Action::ToRib { structure, .. } => self.to_rib(line, *structure, trace),
            Action::PickUp { edge, span } => self.pick_up(line, edge, *span, trace),
            Action::BreakYarn => break_yarn(line),
            Action::JoinYarn(side) => join_yarn(line, *side),
            _ => return None,
        })
    }

    fn hang_due(
        &self,
        line: Instruction,
        edge: &str,
        needle: Needle,
        loops: HangLoops,
    ) -> Instruction {
        let loops = match loops {
            HangLoops::Each(n) => n,
            HangLoops::SpreadOver(_) => 1,
        };
        self.hang(line, edge, needle, loops).word(self.hang_exception(edge))
    }

    fn hang(&self, line: Instruction, edge: &str, needle: Needle, loops: u32) -> Instruction {
        let what = self.loops_of(edge);
        match loops {
            1 => line.word(format!("Hang the next loop of {what} on ")),
            _ => line.word("Hang the next ").figure(loops).word(format!(" loops of {what} on ")),
        }
        .figure(needle)
    }

    /// One visit to hang loops, of which so many were due.
    pub(crate) fn hung(&self, edge: &str, needle: Needle, loops: u32) -> Instruction {
        self.hang(Instruction::new(0, true), edge, needle, loops).word(".")
    }

    fn transfer(&self, line: Instruction, trace: &StepTrace) -> Instruction {
        line.word("Transfer every ribber loop to the main-bed needle facing it: ")
            .figure(trace.in_work)
            .word(format!(
                " needles in work. Lower the ribber and cover it.{}",
                self.dial(Structure::Plain)
            ))
    }
}

/// What is done to the beds before a step, with a blank behind it.
pub(super) fn pitch_words(pitch: Pitch) -> &'static str {
    match pitch {
        Pitch::Facing => "Set the beds to full pitch, so that their needles face each other. ",
        Pitch::Between => {
            "Set the beds half a pitch apart, so that the needles of each stand between those of the \
             other. "
        }
    }
}

/// What to mind where needles come back between the work and the carriage.
pub(super) fn under_yarn(line: Instruction, trace: &StepTrace) -> Instruction {
    if trace.mind.under_yarn { line.word(" Keep the yarn underneath.") } else { line }
}

fn cast_on_beside(line: Instruction, span: Span) -> Instruction {
    line.word("Cast on ")
        .figure(span.len())
        .word(" more needles, ")
        .figure(span)
        .word(", by winding the yarn round each. Hang a claw weight there after two rows.")
}

fn knit(line: Instruction, rows: u32, trace: &StepTrace, first: Moment) -> Instruction {
    let line = line.word("Knit ").figure(rows);
    if rows == 1 && trace.either_side {
        line.word(" row.")
    } else if rows == 1 {
        line.word(format!(" row to the {}.", first.carriage.other()))
    } else {
        line.word(" rows.")
    }
}

fn hold(line: Instruction, which: &Which, trace: &StepTrace) -> Instruction {
    let line = match which {
        Which::AtSide(side, 1) => line.word(format!("Push the end needle on the {side}")),
        Which::AtSide(side, count) => {
            line.word("Push the ").figure(count).word(format!(" end needles on the {side}"))
        }
        Which::Span(_) | Which::All => line
            .word("Push ")
            .figure(trace.first_needles.map_or(0, |span| span.len()))
            .word(" needles"),
    };
    first_and_last(line.word(" to holding position, hold lever on"), trace).word(".")
}

fn bring_back(line: Instruction, which: &Which, trace: &StepTrace) -> Instruction {
    let line = match which {
        Which::AtSide(side, 1) => line.word(format!("Bring the nearest held needle on the {side}")),
        Which::AtSide(side, count) => line
            .word("Bring the nearest ")
            .figure(count)
            .word(format!(" held needles on the {side}")),
        Which::Span(_) | Which::All => {
            let line = line.word("Bring needles ").figure(needles(trace));
            return under_yarn(line.word(" back to upper working position."), trace);
        }
    };
    let line = first_and_last(line.word(" back to upper working position"), trace).word(".");
    under_yarn(line, trace)
}

fn wrap(line: Instruction, trace: &StepTrace) -> Instruction {
    let line = line.word("Wrap: lay the yarn under the next held needle, so that no slit stays");
    first_and_last(line, trace).word(".")
}

fn decrease(line: Instruction, side: Side, count: u32, trace: &StepTrace) -> Instruction {
    let line = line.word("Take ").figure(count).word(format!(
        " in on the {side}: move the end stitch to its neighbour and push the empty needle back to \
         non-working position."
    ));
    stitches_left(line, trace)
}

fn increase(
    line: Instruction,
    side: Side,
    count: u32,
    carriage: Side,
    trace: &StepTrace,
) -> Instruction {
    if count == 1 {
        let line = line.word(format!(
            "Bring the empty needle beside the {side} end into working position: the next row \
             makes its stitch."
        ));
        return stitches_left(line, trace);
    }
    let yarn = if carriage == side { "the yarn" } else { "a length of spare yarn" };
    let line = line.word("Bring ").figure(count).word(format!(
        " empty needles beside the {side} end into work, winding {yarn} round each."
    ));
    stitches_left(line, trace)
}

fn work_beds(line: Instruction, beds: Beds) -> Instruction {
    line.word(match beds {
        Beds::Main => {
            "Let the ribber rest: set its carriage to slip both ways and the main carriage to knit \
             both ways."
        }
        Beds::Both => "Set both carriages to knit round again.",
    })
}
