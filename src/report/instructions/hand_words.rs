//! Words for rib that is knitted by hand.

use super::instruction::Instruction;
use super::piece_words::PieceWords;
use super::words::{counter, needles};
use knit::program::{Action, Structure};
use knit::run::{ByHand, Moment, StepTrace};

/// Which needles are taken (common practice: a rib draws in on smaller ones).
const NEEDLES: &str = "a pair of knitting needles, a size or two smaller than for plain fabric";

impl PieceWords<'_> {
    /// A step that is done on a pair of needles, or between them and the bed.
    pub(super) fn on_needles(
        &self,
        line: Instruction,
        done: ByHand,
        action: &Action,
        trace: &StepTrace,
        after: Moment,
    ) -> Instruction {
        match done {
            ByHand::CastOn(structure) => line
                .word("By hand: on ")
                .word(NEEDLES)
                .word(", cast on ")
                .figure(trace.first_in_work)
                .word(format!(" stitches loosely, for {structure} at the gauge given for it.")),
            ByHand::Rows(structure) => rows_by_hand(line, action, structure),
            ByHand::FromBed(structure) => line
                .word("By hand: take the stitches of ")
                .figure(needles(trace))
                .word(", ")
                .figure(trace.in_work)
                .word(" in all, off the machine onto ")
                .word(NEEDLES)
                .word(format!(", in their order, for {structure}.")),
            ByHand::OntoBed => line
                .word("Hang the ")
                .figure(trace.in_work)
                .word(" stitches from the knitting needle onto ")
                .figure(needles(trace))
                .word(", one on each, in their order. Set the row counter to ")
                .figure(counter(after.counter))
                .word(format!(
                    ", carriage on the {}, where the yarn hangs.{}",
                    after.carriage,
                    self.dial(Structure::Plain)
                )),
            ByHand::Stay => line.word("Leave the stitches on the knitting needle."),
            ByHand::Off => self.off_needles(line, action, trace),
        }
    }

    fn off_needles(&self, line: Instruction, action: &Action, trace: &StepTrace) -> Instruction {
        let loops = trace.first_needles.map_or(0, |span| span.len());
        match action {
            Action::ScrapOff { .. } => {
                let line = if trace.broken { line } else { self.broken_here(line) };
                line.word("Take the ").figure(loops).word(
                    " stitches off the knitting needle on a strand of waste yarn: they wait there.",
                )
            }
            _ => {
                line.word("Cast off the ").figure(loops).word(" stitches by hand, loosely, in rib.")
            }
        }
    }
}

fn rows_by_hand(line: Instruction, action: &Action, structure: Structure) -> Instruction {
    let Action::Knit { rows } = action else { return line };
    let word = if *rows == 1 { " row" } else { " rows" };
    line.word("By hand, knit ").figure(rows).word(format!("{word} of {structure}."))
}
