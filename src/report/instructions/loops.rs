//! How loops come onto the bed, off it, and back.

use super::edges::{Origin, called_later, made_edges, on_waste_yarn};
use super::instruction::Instruction;
use super::piece_words::PieceWords;
use super::sewing_ends::{From, about};
use super::words::needles;
use knit::bed::{ROWS_TO_A_WEIGHT, WASTE_ROWS};
use knit::needle::Span;
use knit::program::{Beds, CastOnMethod, Piece, Pitch, Structure};
use knit::run::StepTrace;

/// A cast-on that begins a piece.
pub(super) struct CastOn {
    pub span: Span,
    pub structure: Structure,
    pub method: CastOnMethod,
}

/// Which needles of which bed, and how the beds stand where the cast-on sets them.
fn share(structure: Structure, pitch: Option<Pitch>) -> String {
    let each = match structure {
        Structure::Plain => return String::new(),
        Structure::Circular => {
            let apart = if pitch.is_some() { ", half a pitch apart" } else { "" };
            return format!(", to knit round: the same needles on both beds{apart}");
        }
        Structure::Rib1x1 => "one needle on the main bed, one",
        Structure::Rib2x2 => "two needles on the main bed, two",
    };
    let facing =
        if pitch.is_some() { ", each facing an empty one of the other (full pitch)" } else { "" };
    format!(
        ", for {structure}: {each} on the ribber, in turn, the first on the left on the main bed{facing}"
    )
}

impl PieceWords<'_> {
    pub(super) fn cast_on(
        &self,
        line: Instruction,
        begin: CastOn,
        pitch: Option<Pitch>,
    ) -> Instruction {
        let CastOn { span, structure, method } = begin;
        let on = line.word("Cast on ").figure(span.len()).word(" needles, ").figure(span);
        let on = on.word(share(structure, pitch));
        let on = match method {
            CastOnMethod::Waste => on
                .word(
                    ", with waste yarn in a colour that is nowhere in the garment, hang claw weights, \
                     and knit ",
                )
                .figure(WASTE_ROWS)
                .word(
                    " rows, the last of them with a ravel cord if you have one, ending with the \
                     carriage on the right. Thread the good yarn.",
                ),
            CastOnMethod::Wound => self
                .end_at_cast_on(
                    on.word(", by winding the yarn round each needle; carriage on the right."),
                )
                .word(" Hold the fabric down by hand for two rows, then hang claw weights."),
            CastOnMethod::Rib => self.end_at_cast_on(on.word(".")).word(
                " Knit the zigzag row to the right at the smallest stitch size, hang the comb and \
                 weights, then two tubular rows a size larger; after them both beds knit every row.",
            ),
        };
        on.word(format!(
            " Move the weights up about every {ROWS_TO_A_WEIGHT} rows.{} Set the row counter to 000, \
             COR.",
            self.dial(structure)
        ))
    }

    /// The end that the side is sewn with, where it is left at the cast-on edge.
    fn end_at_cast_on(&self, line: Instruction) -> Instruction {
        let here = From::CastOn(self.knitted.name.clone());
        match self.ends.iter().flatten().find(|end| end.from == here) {
            Some(end) => about(line.word(" Leave an end of "), end.mm, self.unit)
                .word(format!(", {}.", end.to.words())),
            None => line,
        }
    }

    /// Whether the garment's first waste yarn is that of this edge, at the end of a piece. Pieces of one
    /// title are told alike.
    fn wastes_first(&self, edge: &str) -> bool {
        let first = |piece: &'_ Piece| {
            let mut made = Vec::new();
            made_edges(&piece.steps, &mut made);
            let waste = made.iter().find(|(_, by)| *by != Origin::WoundCastOn);
            waste.map(|(name, by)| ((*name).to_owned(), *by))
        };
        let begins = self.program.pieces.iter().find(|piece| first(piece).is_some());
        begins.is_some_and(|piece| piece.title == self.knitted.title)
            && self
                .own()
                .and_then(first)
                .is_some_and(|(name, by)| name == edge && by == Origin::ScrapOff)
    }

    /// How the yarn is broken where the last edge of the piece is taken off.
    pub(super) fn broken_here(&self, line: Instruction) -> Instruction {
        let here = From::TakenOff(self.knitted.name.clone());
        let line = line.word("Break the yarn, leaving an end ");
        match self.ends.iter().flatten().find(|end| end.from == here) {
            Some(end) => {
                about(line.word("of "), end.mm, self.unit).word(format!(" {}. ", end.to.words()))
            }
            None => line.word("to darn in. "),
        }
    }

    pub(super) fn scrap_off(
        &self,
        line: Instruction,
        edge: &str,
        trace: &StepTrace,
    ) -> Instruction {
        let line = match trace.in_work {
            _ if trace.broken => line.word("Knit "),
            0 => self.broken_here(line).word("Knit "),
            _ => line.word("Leave the yarn hanging. Knit "),
        };
        let called = self.own().and_then(|piece| called_later(piece, edge));
        let line = line.figure(WASTE_ROWS).word(" rows of waste yarn over ").figure(needles(trace));
        if trace.in_work > 0 {
            let called = called.unwrap_or_else(|| "they".to_owned());
            return line.word(format!(
                " only and take those loops off: {called} wait on the waste yarn. Push the empty \
                 needles back to non-working position."
            ));
        }
        let called = called.unwrap_or_else(|| "the open loops".to_owned());
        let line = line.word(format!(" and take the fabric off: {called} wait on the waste yarn."));
        if self.wastes_first(edge) {
            return line.word(" Take waste yarn in a colour that is nowhere in the garment.");
        }
        line
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
                .word(format!("Hang {} as a tube on needles ", self.loops_of(edge)))
                .figure(needles(trace))
                .word(
                    ": the first half on the main bed, left to right, the second half on the \
                     ribber, right to left. Take the waste yarn out, and hang weights on both halves.",
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
        let line = line
            .word(format!("Hang {} on needles ", self.loops_of(edge)))
            .figure(needles(trace))
            .word(if on_waste_yarn(self.program, edge) {
                ", one on each, the first on the left. Take the waste yarn out, and hang claw weights \
                 under them."
            } else {
                ", one on each, the first on the left. Hang claw weights under them."
            });
        let here = From::Rejoined(edge.to_owned());
        match self.ends.iter().flatten().find(|end| end.from == here) {
            Some(end) => {
                let line = line.word(" Thread the good yarn again, leaving an end of ");
                about(line, end.mm, self.unit).word(format!(" {}.", end.to.words()))
            }
            None => line,
        }
    }
}
