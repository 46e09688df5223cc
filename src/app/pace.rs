//! What the minutes of finished pieces say of the pace of whoever knits.

use rayon::prelude::*;

use super::entry_places::EntryPlaces;
use super::records::Again;
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::{Judged, Pace, PaceRecord, Standing};
use knit::stash::{Contents, FinishedPiece, WholePiece};
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
        let places = EntryPlaces::of(records);
        let record = |(piece, took)| self.pace_record(piece, places.first_timed(piece), took);
        let found: Vec<Result<PaceRecord, Diagnostic>> =
            timed.into_par_iter().map(record).collect();
        let mut known = Vec::new();
        for record in found {
            match record {
                Ok(record) => known.push(record),
                Err(fault) => warnings.push(fault),
            }
        }
        working.pace = Pace::from(&known);
        let judged = working.pace.judged().iter();
        warnings.extend(judged.filter_map(|judged| asked(self.contents, records, judged)));
        (working, warnings)
    }

    /// `entry` names it: the place in the records of the one that has its minutes.
    fn pace_record(
        self,
        piece: &WholePiece<'_>,
        entry: usize,
        took: f64,
    ) -> Result<PaceRecord, Diagnostic> {
        let model = self.minutes_by_operations(piece).map_err(|faults| {
            let fault = format!(
                "the minutes of {} teach nothing: {}",
                said(piece.first()),
                faults.first_message()
            );
            Diagnostic::warning(Code::RecordUnused, fault)
                .hint("correct the record in records.toml, or remove it")
        })?;
        Ok(PaceRecord {
            id: entry.to_string(),
            kind: piece.first().garment.clone(),
            nth: piece.nth,
            model,
            took,
            stood_by: piece.records.iter().any(|record| record.sure.minutes),
        })
    }

    /// What the sections take that the minutes of a piece are of, by the times of today: each as its record
    /// has it, or knitted again.
    ///
    /// # Errors
    /// A piece that can't be knitted again; no section of that name.
    pub fn minutes_by_operations(self, piece: &WholePiece<'_>) -> Result<f64, Diagnostics> {
        let times = &self.contents.times;
        let mut minutes = 0.0;
        for (section, record, share) in piece.timed() {
            let noted = record.work.iter().find(|(own, _)| own == section);
            let work = match noted {
                Some((_, work)) => work.clone(),
                None => {
                    let knitted = self.knit(record)?;
                    knitted.section(section)?;
                    knitted.work_in(section, times)
                }
            };
            let each = work.iter().map(|(operation, n)| times.minutes_of(*operation, *n));
            minutes += share * each.sum::<f64>();
        }
        Ok(minutes)
    }
}

/// "hat in women-m, 2026-04-01".
pub(super) fn said(piece: &FinishedPiece) -> String {
    let day = piece.date.map_or(String::new(), |day| format!(", {day}"));
    format!("{} in {}{day}", piece.garment, piece.size)
}

/// Minutes that nobody would expect, in words.
fn asked(contents: &Contents, records: &[FinishedPiece], judged: &Judged) -> Option<Diagnostic> {
    if judged.standing == Standing::Taken {
        return None;
    }
    let entry = judged.record.parse::<usize>().ok()?;
    let piece = said(records.get(entry)?);
    let place = line_of(contents, entry).map_or_else(String::new, |place| format!(" ({place})"));
    let (fault, hint) = match judged.expected {
        Some(minutes) => (
            format!(
                "{piece} took {:.0} minutes, and half of such pieces take {} than {minutes:.0}",
                judged.taken,
                if judged.taken < minutes { "more" } else { "less" }
            ),
            format!(
                "nothing is learnt of it; correct `minutes` in records.toml{place} if it is a slip, or write \
                 `sure = [\"minutes\"]` beside them"
            ),
        ),
        None => (
            format!("{piece} can't have taken {:.0} minutes", judged.taken),
            format!("nothing is learnt of it; correct `minutes` in records.toml{place}"),
        ),
    };
    Some(Diagnostic::warning(Code::RecordUnused, fault).hint(hint))
}

/// Where an entry of the records stands: "records.toml:41".
pub(super) fn line_of(contents: &Contents, entry: usize) -> Option<String> {
    contents.record_lines.get(entry).map(|line| format!("records.toml:{line}"))
}
