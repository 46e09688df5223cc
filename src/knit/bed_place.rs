//! Where on a bed a garment's pieces lie. A script thinks them out about the centre; on a bed that is
//! not whole each piece moves to where the needles knit.

use std::collections::BTreeMap;

use super::garment::{Extent, Garment};
use super::machine::Machine;
use super::needle::{BedSpan, Needle, Span};
use super::program::{Action, Fashion, Inset, Step, Transfer, Which};
use super::run::Run;
use super::view::{Form, Strand};
use diag::{Code, Diagnostic};

/// By the name of a piece: by how many needles it moves to the right.
type Moves = BTreeMap<String, i32>;

/// The garment with each piece on needles of the machine that all knit, moved as little as may be.
/// `run` is its run on [`Machine::centred`].
///
/// # Errors
/// A piece that lies nowhere on the bed.
pub fn place_on(garment: Garment, run: &Run, machine: &Machine) -> Result<Garment, Diagnostic> {
    place_from(garment, run, machine, 0)
}

/// The same from a piece on; those before it are done, and stay where they were.
///
/// # Errors
/// As [`place_on`].
pub fn place_from(
    garment: Garment,
    run: &Run,
    machine: &Machine,
    first: usize,
) -> Result<Garment, Diagnostic> {
    let mut moves = Moves::new();
    for piece in run.pieces.iter().skip(first) {
        let Some(needles) = piece.needles else { continue };
        let by = nearest(needles, machine).ok_or_else(|| {
            Diagnostic::error(
                Code::OffBed,
                format!(
                    "{} takes {} needles side by side, and the bed has {} that knit",
                    piece.title,
                    needles.len(),
                    machine.widest()
                ),
            )
            .hint("change a broken needle for one from the end of the bed, or take another size")
        })?;
        moves.insert(piece.name.clone(), by);
    }
    Ok(moved(garment, &moves))
}

/// By how much needles must move so that all knit: the least, to the right where both sides do.
fn nearest(needles: Span, machine: &Machine) -> Option<i32> {
    let into = |stretch: &Span| {
        let (least, most) = (stretch.left.0 - needles.left.0, stretch.right.0 - needles.right.0);
        (least <= most).then(|| 0.clamp(least, most))
    };
    machine.stretches().iter().filter_map(into).min_by_key(|by| (by.abs(), -by))
}

fn moved(mut garment: Garment, moves: &Moves) -> Garment {
    let by_of = |piece: &str| moves.get(piece).copied().unwrap_or(0);
    for piece in &mut garment.program.pieces {
        let by = by_of(&piece.name);
        if by != 0 {
            move_steps(&mut piece.steps, by);
        }
    }
    for part in garment.finished.iter_mut().flat_map(|spec| &mut spec.parts) {
        let by = by_of(&part.piece);
        match &mut part.what {
            Extent::Needles(span) => *span = span.moved(by),
            Extent::RowsOn { needle, .. } => *needle = Needle(needle.0 + by),
            Extent::Width | Extent::RowsAt(_) => {}
        }
    }
    for part in garment.views.iter_mut().flat_map(|view| &mut view.parts) {
        let by = by_of(&part.patch.piece);
        let move_strand = |strand: &mut Strand| {
            strand.needles = strand.needles.map(|span| span.moved(by));
        };
        move_strand(&mut part.patch.strand);
        if let Form::Tube { front, .. } = &mut part.form {
            move_strand(front);
        }
    }
    garment
}

fn move_steps(steps: &mut [Step], by: i32) {
    for step in steps {
        match &mut step.action {
            Action::Repeat { steps, .. } => move_steps(steps, by),
            Action::CastOn { span, .. }
            | Action::Rehang { span, .. }
            | Action::PickUp { span, .. } => {
                *span = span.moved(by);
            }
            Action::Hang { needle, .. } => *needle = Needle(needle.0 + by),
            Action::Hold(which)
            | Action::Return(which)
            | Action::ScrapOff { which, .. }
            | Action::CastOff { which }
            | Action::ToRib { which, .. } => {
                if let Which::Span(span) = which {
                    *span = span.moved(by);
                }
            }
            Action::Narrow(fashion) | Action::Widen(fashion) => move_fashion(fashion, by),
            Action::Transfer(Transfer { from, to, .. }) => {
                for end in [from, to] {
                    *end = BedSpan { span: end.span.moved(by), ..*end };
                }
            }
            Action::Knit { .. }
            | Action::CarriageAt(_)
            | Action::Wrap
            | Action::TransferToMain
            | Action::Decrease { .. }
            | Action::Increase { .. }
            | Action::WorkBeds(_)
            | Action::Pitch(_)
            | Action::Dial(_)
            | Action::Section(_)
            | Action::ResetCounter
            | Action::Note(_)
            | Action::Mark(_)
            | Action::Graft { .. }
            | Action::GatherEdge { .. }
            | Action::GatherSelvedge { .. }
            | Action::Seam { .. }
            | Action::SewOn { .. }
            | Action::BreakYarn
            | Action::JoinYarn(_)
            | Action::Join { .. }
            | Action::Gather(_)
            | Action::Block(_) => {}
        }
    }
}

fn move_fashion(fashion: &mut Fashion, by: i32) {
    if let Inset::Needle(needle) = &mut fashion.inset {
        *needle = Needle(needle.0 + by);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_moves_no_farther_than_it_must() {
        let bed = |text: &str| {
            Machine::new("test", "Test bed", 4.5, 100, false).without(text).expect("on the bed")
        };
        let by =
            |needles: &str, machine: &Machine| nearest(needles.parse().expect("needles"), machine);
        assert_eq!(by("L10-R10", &bed("L30")), Some(0));
        // L10 is broken: one to the right is enough.
        assert_eq!(by("L10-R10", &bed("L10")), Some(1));
        assert_eq!(by("L10-R10", &bed("R8")), Some(-3));
        // As far to either side: the right.
        assert_eq!(by("L10-R10", &bed("L1 R1")), Some(11));
        // 49 needles are the widest.
        assert_eq!(by("L25-R25", &bed("L1 R1")), None);
    }
}
