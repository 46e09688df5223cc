//! Words for shaping anywhere: stitches moved, rib amid a piece, loops picked up, the yarn broken.

use super::edges::{eased, edge_words, on_waste_yarn};
use super::instruction::{Count, Instruction};
use super::piece_words::PieceWords;
use super::words::{first_and_last, needles, stitches_left};
use knit::edge::{EdgePlace, EdgeRange, EdgeUnit};
use knit::needle::{BedSpan, Side, Span};
use knit::program::{Fashion, Inset, Structure, Transfer, WorkingEnds};
use knit::run::StepTrace;

fn where_at(ends: WorkingEnds) -> &'static str {
    match ends {
        WorkingEnds::One(Side::Left) => " on the left",
        WorkingEnds::One(Side::Right) => " on the right",
        WorkingEnds::Both => " on each side",
    }
}

/// Stitches taken in or made so many stitches in from an end.
pub(super) struct Shaped {
    /// " on the left".
    pub place: &'static str,
    pub count: u32,
    pub inset: u32,
}

pub(super) fn needle_word(count: u32) -> &'static str {
    if count == 1 { "needle" } else { "needles" }
}

/// How far in, and which stitches move.
fn moving(line: Instruction, inset: Inset, what: &str, inner: u32) -> Instruction {
    match inset {
        Inset::Stitches(inset) => {
            let line = if inset == 0 {
                line
            } else {
                line.word(", ").figure(inset).word(" in from the end")
            };
            match inner + inset {
                1 => line.word(format!(": move the last working stitch {what} ")),
                moved => line
                    .word(": move the ")
                    .figure(moved)
                    .word(format!(" last working stitches, together, {what} ")),
            }
        }
        Inset::Needle(needle) => {
            let line = line.word(" at ").figure(needle);
            let what = match inner {
                0 => format!(": move it and all working stitches outside it, together, {what} "),
                _ => format!(": move all working stitches outside it, together, {what} "),
            };
            line.word(what)
        }
    }
}

pub(super) fn narrow(line: Instruction, fashion: &Fashion, trace: &StepTrace) -> Instruction {
    let line = narrow_at(line, where_at(fashion.ends), fashion.count, fashion.inset);
    stitches_left(emptied(line, fashion.ends, trace), trace)
}

/// The words of stitches taken in, up to the needles it is.
pub(super) fn taken_in(line: Instruction, shaped: Shaped) -> Instruction {
    narrow_at(line, shaped.place, shaped.count, Inset::Stitches(shaped.inset))
}

fn narrow_at(line: Instruction, place: &str, count: u32, inset: Inset) -> Instruction {
    let line = line.word("Take ").figure(count).word(format!(" in{place}"));
    moving(line, inset, "inwards over", count).figure(count).word(format!(
        " {}, onto the stitches there, and push the empty {} back to non-working position",
        needle_word(count),
        needle_word(count)
    ))
}

/// Which needles are emptied or filled. Of both sides at once they are not one run.
fn emptied(line: Instruction, ends: WorkingEnds, trace: &StepTrace) -> Instruction {
    match ends {
        WorkingEnds::One(_) => first_and_last(line, trace).word("."),
        WorkingEnds::Both => line.word("."),
    }
}

pub(super) fn widen(line: Instruction, fashion: &Fashion, trace: &StepTrace) -> Instruction {
    let line = widen_at(line, where_at(fashion.ends), fashion.count, fashion.inset);
    stitches_left(emptied(line, fashion.ends, trace), trace)
}

/// The words of stitches made, up to the needles it is.
pub(super) fn made(line: Instruction, shaped: Shaped) -> Instruction {
    widen_at(line, shaped.place, shaped.count, Inset::Stitches(shaped.inset))
}

fn widen_at(line: Instruction, place: &str, count: u32, inset: Inset) -> Instruction {
    if inset == Inset::Stitches(0) {
        return if count == 1 {
            line.word(format!(
                "Bring the empty needle beside the last working stitch{place} into working \
                 position: the next row makes its stitch"
            ))
        } else {
            line.word("Bring ").figure(count).word(format!(
                " empty needles beside the last working stitch{place} into work, winding the yarn \
                 round each; where the carriage is on the other side, a length of spare yarn"
            ))
        };
    }
    let line = line.word("Make ").figure(count).word(place);
    moving(line, inset, "outwards over", 0).figure(count).word(format!(
        " {}, and hang the loop below the neighbouring stitch on the {} left empty amid the fabric",
        needle_word(count),
        needle_word(count)
    ))
}

pub(super) fn transfer(line: Instruction, transfer: &Transfer) -> Instruction {
    let Transfer { from, to, eyelets, .. } = *transfer;
    let one = from.span.len() == 1;
    let bed = |on: BedSpan| if on.ribber { "the ribber" } else { "the main bed" };
    let line = line.word(if one { "Move the loop of " } else { "Move the loops of " });
    let line = line.figure(from.span);
    let line = if from.ribber != to.ribber {
        line.word(format!(" from {} to ", bed(from)))
            .figure(to.span)
            .word(format!(" on {}", bed(to)))
    } else if from.ribber {
        line.word(" on the ribber to ").figure(to.span)
    } else {
        line.word(" to ").figure(to.span)
    };
    line.word(match (eyelets, one) {
        (true, true) => {
            ", and leave the emptied needle in working position: the next row makes an eyelet there."
        }
        (true, false) => {
            ", and leave the emptied needles in working position: the next row makes an eyelet on \
             each."
        }
        (false, true) => ", and push the emptied needle back to non-working position.",
        (false, false) => ", and push the emptied needles back to non-working position.",
    })
}

/// Which of the stitches of a rib are purl, in words.
fn purl_stitches(structure: Structure) -> &'static str {
    match structure {
        Structure::Rib2x2 => "of every four stitches from the left the third and the fourth",
        _ => "every second stitch, from the second on the left",
    }
}

impl PieceWords<'_> {
    pub(super) fn to_rib(
        &self,
        line: Instruction,
        structure: Structure,
        trace: &StepTrace,
    ) -> Instruction {
        let (which, dial) = (purl_stitches(structure), self.dial(structure));
        let line = line.word(format!("For {structure} over ")).figure(needles(trace));
        if trace.loops > 0 {
            return line.word(format!(": move {which}, ")).figure(trace.loops).word(format!(
                " in all, to the ribber needles facing them, and push the emptied needles of \
                     the main bed back to non-working position. Set both carriages to knit.{dial}"
            ));
        }
        line.word(format!(
            ", by hand: knit the rows that follow plain.{dial} When they are done, {which}, is to be \
             dropped and latched up: "
        ))
        .figure(trace.over)
        .word(" in all.")
    }

    /// The end of a rib: back from the ribber, or latched up on a bed without one.
    pub(super) fn latch_up(&self, line: Instruction, trace: &StepTrace) -> Instruction {
        line.word("Latch the rib over ")
            .figure(needles(trace))
            .word(" up: one after the other, drop each of the ")
            .figure(trace.loops)
            .word(" stitches that are to be purl by ")
            .figure(trace.over)
            .word(format!(
                " rows, latch it up again from the other side and hang it back on its needle.{}",
                self.dial(Structure::Plain)
            ))
    }

    pub(super) fn pick_up(
        &self,
        line: Instruction,
        edge: &EdgeRange,
        span: Span,
        trace: &StepTrace,
    ) -> Instruction {
        let unit = match edge.place {
            EdgePlace::Open(_) => EdgeUnit::Loops,
            EdgePlace::Selvedge(..) | EdgePlace::Inner(..) | EdgePlace::Marked(_) => EdgeUnit::Rows,
            EdgePlace::CastOn(_) | EdgePlace::CastOff(_) => EdgeUnit::Stitches,
        };
        let line = edge_words(line.word("Pick up along "), (self.program, self.run), edge)
            .word(" onto ")
            .figure(span)
            .word(": ")
            .count(of_edge(trace.over, unit))
            .word(" onto ")
            .count(on_needles(span.len()))
            .word(", ")
            .figure(eased((span.len(), "needle"), (trace.over, unit)))
            .word(".");
        // On an empty bed it begins the fabric, as a cast-on does.
        let begins = trace.in_work == span.len();
        let line = if begins {
            line.word(" Hang claw weights under them.").word(self.dial(Structure::Plain))
        } else {
            line
        };
        match &edge.place {
            EdgePlace::Open(name) if on_waste_yarn(self.program, name) => {
                line.word(" Take the waste yarn out.")
            }
            _ => line,
        }
    }
}

fn on_needles(n: u32) -> Count {
    Count { n, one: "1 needle".into(), before: String::new(), many: " needles".into() }
}

fn of_edge(n: u32, unit: EdgeUnit) -> Count {
    let (one, many) = (format!("1 {}", unit.word(1)), format!(" {}", unit.word(2)));
    Count { n, one, before: String::new(), many }
}

pub(super) fn break_yarn(line: Instruction) -> Instruction {
    line.word("Break the yarn, leaving an end to darn in.")
}

pub(super) fn join_yarn(line: Instruction, side: Option<Side>) -> Instruction {
    match side {
        Some(side) => line.word(format!(
            "Take the carriage to the {side} without knitting, and join the yarn there."
        )),
        None => line.word("Join the yarn."),
    }
}
