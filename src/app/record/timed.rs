//! Minutes of a finished piece, against what was expected of it.

use crate::records::Again;
use diag::{Code, Diagnostic, Diagnostics};
use knit::record::TimeTaken;
use knit::stash::{FinishedPiece, WholePiece};

/// Reads minutes of work: `95`.
///
/// # Errors
/// No number, or one that can't be so.
pub(crate) fn read_minutes(text: &str) -> Result<f64, Diagnostic> {
    let number = units::number(text).ok();
    number.filter(|minutes| FinishedPiece::MINUTES.contains(minutes)).ok_or_else(|| {
        Diagnostic::error(Code::Range, format!("`{text}` can't be minutes of work"))
            .hint(FinishedPiece::MINUTES_HINT)
    })
}

/// What the records of one piece say of its minutes, and what stands out.
///
/// # Errors
/// Minutes that can't be so; a piece that can't be knitted.
pub(super) fn timed(
    again: Again<'_>,
    pieces: &[FinishedPiece],
    took: f64,
) -> Result<(TimeTaken, Diagnostics), Diagnostics> {
    if !FinishedPiece::MINUTES.contains(&took) {
        return Err(Diagnostic::error(Code::Range, format!("{took} minutes can't be so"))
            .hint(FinishedPiece::MINUTES_HINT)
            .into());
    }
    let Some(piece) = pieces.first() else {
        return Err(Diagnostic::error(Code::Usage, "nothing was weighed").into());
    };
    let (mut before, told) = again.working_time(&again.contents.records);
    let of_earlier =
        |record: &FinishedPiece| record.piece == piece.piece && record.garment == piece.garment;
    if again.contents.records.iter().any(of_earlier) {
        // The piece was counted when it was begun.
        before.made.entry(piece.garment.clone()).and_modify(|made| *made = made.saturating_sub(1));
    }
    let own = WholePiece::all(pieces);
    let whole = own.first().map_or(Ok(0.0), |own| again.minutes_by_operations(own));
    let model = whole?;
    let mut records = again.contents.records.clone();
    records.extend(pieces.iter().cloned());
    let (after, tells) = again.working_time(&records);
    let time = TimeTaken {
        took,
        expected: before.minutes("this", &piece.garment, model),
        next: after.minutes("next", &piece.garment, model),
    };
    // What stood out before was told with every command since.
    let mut doubts = Diagnostics::new();
    doubts.extend(tells.into_iter().filter(|fault| told.iter().all(|own| own != fault)));
    Ok((time, doubts))
}
