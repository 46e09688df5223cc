//! What the minutes of finished pieces say of the pace of whoever knits.

use rayon::prelude::*;

use super::records::Again;
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::{Judged, Pace, PaceRecord, Standing};
use knit::stash::{FinishedPiece, WholePiece};
use knit::working_time::WorkingTime;

impl Again<'_> {
    /// How long work takes, with what these records say of it. A piece that can't be knitted
    /// again, or whose minutes are out of all proportion, is left aside with a warning.
    pub fn working_time(self, records: &[FinishedPiece]) -> (WorkingTime, Diagnostics) {
        let mut warnings = Diagnostics::new();
        let mut working = WorkingTime::of_anybody(self.contents.times.clone());
        working.made = WholePiece::made(records);
        let all = WholePiece::all(records);
        let timed: Vec<(&WholePiece<'_>, f64)> =
            all.iter().filter_map(|piece| Some((piece, piece.minutes()?))).collect();
        if timed.is_empty() {
            return (working, warnings);
        }
        let found: Vec<Result<PaceRecord, Diagnostic>> =
            timed.into_par_iter().map(|(piece, took)| self.pace_record(piece, took)).collect();
        let mut records = Vec::new();
        for record in found {
            match record {
                Ok(record) => records.push(record),
                Err(fault) => warnings.push(fault),
            }
        }
        working.pace = Pace::from(&records);
        warnings.extend(working.pace.judged().iter().filter_map(asked));
        (working, warnings)
    }

    fn pace_record(self, piece: &WholePiece<'_>, took: f64) -> Result<PaceRecord, Diagnostic> {
        let model = self.knit(piece.first()).map_err(|faults| {
            let fault = format!(
                "the minutes of {} teach nothing: {}",
                told(piece.first()),
                faults.first_message()
            );
            Diagnostic::warning(Code::RecordUnused, fault)
                .hint("correct the record in records.toml, or remove it")
        })?;
        Ok(PaceRecord {
            id: told(piece.first()),
            kind: piece.first().garment.clone(),
            nth: piece.nth,
            model: model.work_minutes,
            took,
            stood_by: piece.records.iter().any(|record| record.sure),
        })
    }
}

fn told(piece: &FinishedPiece) -> String {
    let day = piece.date.map_or(String::new(), |day| format!(", {day}"));
    format!("{} in {}{day}", piece.garment, piece.size)
}

/// Minutes that nobody would expect, in words.
fn asked(judged: &Judged) -> Option<Diagnostic> {
    if judged.standing == Standing::Taken {
        return None;
    }
    let expected = judged
        .expected
        .map_or(String::new(), |minutes| format!(", where {minutes:.0} were expected"));
    let fault = format!("{} took {:.0} minutes{expected}", judged.record, judged.taken);
    Some(
        Diagnostic::warning(Code::RecordUnused, fault)
            .hint("nothing is learnt of it; correct `minutes` in records.toml if it is a slip, or write `sure = true` beside them"),
    )
}
