//! How loops come onto the bed, off it, and back.

use super::edges::on_waste_yarn;
use super::instruction::Instruction;
use super::piece_words::PieceWords;
use super::words::needles;
use knit::needle::Span;
use knit::program::{Beds, CastOnMethod, Structure};
use knit::run::StepTrace;

impl PieceWords<'_> {
    pub(super) fn cast_on(
        &self,
        line: Instruction,
        span: Span,
        structure: Structure,
        method: CastOnMethod,
    ) -> Instruction {
        let on = line.word("Cast on ").figure(span.len()).word(" needles, ").figure(span);
        let dial = self.dial(structure);
        let share = match structure {
            Structure::Plain => String::new(),
            Structure::Rib1x1 => {
                format!(
                    ", for {structure}: one needle on the main bed, one on the ribber, in turn, the first on the left on the main bed"
                )
            }
            Structure::Rib2x2 => {
                format!(
                    ", for {structure}: two needles on the main bed, two on the ribber, in turn, the first on the left on the main bed"
                )
            }
            Structure::Circular => ", to knit round: the same needles on both beds".to_owned(),
        };
        let on = on.word(share);
        let on = match method {
            CastOnMethod::Waste => on
                .word(", with waste yarn, and knit ")
                .figure(knit::bed::WASTE_ROWS)
                .word(" rows, ending with the carriage on the right. Thread the good yarn."),
            CastOnMethod::Wound => {
                on.word(", by winding the yarn round each needle; carriage on the right.")
            }
            CastOnMethod::Rib => on.word(
                ". Knit the zigzag row to the right, hang the comb and weights, then two tubular rows.",
            ),
        };
        on.word(format!("{dial} Set the row counter to 000, COR."))
    }

    pub(super) fn scrap_off(
        &self,
        line: Instruction,
        edge: &str,
        trace: &StepTrace,
    ) -> Instruction {
        let line = match (trace.in_work == 0, self.is_sewn(edge)) {
            _ if trace.broken => line.word("Knit "),
            (true, true) => line.word(
                "Break the yarn, leaving an end three times as long as the row is wide. Knit ",
            ),
            (true, false) => line.word("Break the yarn. Knit "),
            (false, _) => line.word("Leave the yarn hanging. Knit "),
        };
        line.figure(knit::bed::WASTE_ROWS)
            .word(" rows of waste yarn over ")
            .figure(needles(trace))
            .word(if trace.in_work == 0 {
                " and take the fabric off: the open loops wait on the waste yarn."
            } else {
                " only and take those loops off: they wait on the waste yarn. Push the empty \
                 needles back to non-working position."
            })
    }

    pub(super) fn rehang(
        &self,
        line: Instruction,
        edge: &str,
        beds: Beds,
        trace: &StepTrace,
    ) -> Instruction {
        if beds == Beds::Both {
            return line
                .word(format!("Hang {} back as a tube on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(
                    ": the first half on the main bed, left to right, the second half on the \
                     ribber, right to left. Take the waste yarn out.",
                );
        }
        if self.casts_on(edge) {
            return line
                .word(
                    "Close the hem: fold it with the purl sides together and hang the loops of the \
                     first row back on needles ",
                )
                .figure(needles(trace))
                .word(", one beside each loop there. Take the waste yarn out.");
        }
        line.word(format!("Hang {} back on needles ", self.loops_of(edge)))
            .figure(needles(trace))
            .word(if on_waste_yarn(self.program, edge) {
                ", one on each, the first on the left. Take the waste yarn out."
            } else {
                ", one on each, the first on the left."
            })
    }
}
