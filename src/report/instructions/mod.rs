//! One size's program and run as lines of instruction. Every number comes from the run's traces;
//! tokens that may differ from size to size are kept apart, so that sizes can be merged.

mod chapter;
mod edges;
mod finishing;
mod folded;
mod hand_words;
mod instruction;
mod loops;
mod piece_words;
mod remarks;
mod rounds;
mod say;
mod sewing_ends;
mod shaping;
mod step_data;
mod titles;
mod turn_words;
mod turns;
mod words;

pub(crate) use chapter::{SET_OUT, sets_out};
pub(crate) use finishing::finishing_line;
pub use instruction::{Chapter, Count, Instruction, PieceNames, Token};
pub(crate) use piece_words::PieceWords;
pub(crate) use remarks::Remarks;
pub(crate) use sewing_ends::sewing_ends;
pub(crate) use step_data::{finishing_step, hang_points, step_tree};
pub(crate) use words::{counter, side_code};

use finishing::said_once;
use knit::garment::Garment;
use knit::run::Run;
use knit::swatch::Gauge;
use units::LengthUnit;

/// How a piece is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Telling {
    /// Step by step, as the program has them.
    AsProgrammed,
    /// What is alike but for its figures is told once.
    Folded,
}

/// The pieces in knitting order, then the finishing, from a piece on of which so many steps of its top
/// level are done. Pieces that read alike are one chapter.
pub(crate) fn chapters(
    garment: &Garment,
    run: &Run,
    gauges: &[Gauge],
    unit: LengthUnit,
    telling: Telling,
    (first, done): (usize, usize),
) -> Vec<Chapter> {
    let mut all: Vec<(Chapter, u32)> = Vec::new();
    let ends = sewing_ends(&garment.program, run, gauges);
    let pieces = garment.program.pieces.iter().zip(&run.pieces);
    for (index, (piece, knitted)) in pieces.enumerate().skip(first) {
        let writer =
            PieceWords { program: &garment.program, run, knitted, gauges, unit, ends: &ends };
        let done = if index == first { done } else { 0 };
        let chapter = match telling {
            Telling::AsProgrammed => writer.piece(piece, done),
            Telling::Folded => writer.folded_piece(piece, done),
        };
        match all.last_mut() {
            Some((last, times)) if *last == chapter => {
                last.pieces.0.extend(chapter.pieces.0);
                *times += 1;
            }
            _ => all.push((chapter, 1)),
        }
    }
    let mut chapters: Vec<Chapter> = all
        .into_iter()
        .map(|(mut chapter, times)| {
            if times > 1 {
                chapter.title = format!("{} (knit {times} alike)", chapter.title);
            }
            chapter
        })
        .collect();
    let lines = garment
        .program
        .finishing
        .iter()
        .enumerate()
        .map(|(number, _)| finishing_line(number, &garment.program, run, &ends, unit))
        .collect();
    let pieces = PieceNames::default();
    chapters.push(Chapter { title: "Finishing".to_owned(), pieces, lines: said_once(lines) });
    chapters
}
