//! A finished piece goes into the records, and its yarn out of the stash.

use std::collections::BTreeMap;

use super::gift_plan::setups::Setups;
use super::{Workbench, WorkspaceEdit, unknown};
use diag::{Code, Diagnostic, Diagnostics};
use knit::record::{Learnt, TakenSection};
use knit::stash::{Date, FinishedPiece, WeighedSection};
use store::workspace::{Contents, Edit, List};
use units::Mass;

/// What was knitted and what the remnants weigh now.
#[derive(Clone, Debug)]
pub struct RecordRequest {
    pub garment: String,
    /// A size of the table or a person's name.
    pub size: String,
    pub options: Vec<(String, String)>,
    /// Section, remnant, and its weight after; a section may name several remnants.
    pub used: Vec<(String, String, Mass)>,
    /// The gift it was, whose reservations end.
    pub gift: Option<String>,
    pub note: Option<String>,
    pub today: Date,
}

/// What was noted.
#[derive(Clone, Debug)]
pub struct Recorded {
    pub sections: Vec<TakenSection>,
    /// The yarn in a stitch, before the record and after it.
    pub learnt: Vec<Learnt>,
}

/// Notes the piece, reweighs the remnants (one that is used up goes), and ends the reservations of
/// its gift.
///
/// # Errors
/// Unknown names; a remnant that weighs more than before; a piece that can't be knitted, since
/// nothing could be learnt from it. Nothing is written then.
pub fn record(edit: &mut WorkspaceEdit, request: &RecordRequest) -> Result<Recorded, Diagnostics> {
    let garments = edit.garments();
    edit.edits(&format!("record {}", request.garment), |contents| {
        let bench = WorkspaceEdit::bench(contents, garments)?;
        Noting { bench: &bench, contents, request }.note()
    })
}

/// Reads `SECTION:REMNANT=AFTER`, as in `hat:shoreline-2=12 g`.
///
/// # Errors
/// Another form, or a weight that is none.
pub fn weighing(text: &str) -> Result<(String, String, Mass), Diagnostic> {
    let wrong = || {
        Diagnostic::error(Code::Usage, format!("`{text}` can't be read as a weighing"))
            .hint("write it like \"hat:shoreline-2=12 g\": section, remnant, what it weighs now")
    };
    let (section, rest) = text.split_once(':').ok_or_else(wrong)?;
    let (remnant, after) = rest.split_once('=').ok_or_else(wrong)?;
    let after = after.parse::<Mass>().map_err(units::UnitError::into_diagnostic)?;
    Ok((section.trim().to_owned(), remnant.trim().to_owned(), after))
}

struct Noting<'a> {
    bench: &'a Workbench,
    contents: &'a Contents,
    request: &'a RecordRequest,
}

impl Noting<'_> {
    fn note(&self) -> Result<(Vec<Edit>, Recorded), Diagnostics> {
        let request = self.request;
        let mut faults = Diagnostics::new();
        if request.used.is_empty() {
            faults.push(
                Diagnostic::error(Code::Usage, "nothing was weighed")
                    .hint("add --used \"hat:shoreline-2=12 g\" for each section and remnant"),
            );
        }
        if let Some(id) = &request.gift
            && self.contents.gift(id).is_none()
        {
            let known = self.contents.gifts.iter().map(|gift| gift.id.as_str());
            faults.push(unknown("gift", id, known, "gifts"));
        }
        // Sections by yarn: before and after, over all remnants of the section.
        let mut weighed: BTreeMap<(&str, &str), (f64, f64)> = BTreeMap::new();
        let mut edits = Vec::new();
        for (section, id, after) in &request.used {
            let Some(remnant) = self.contents.remnant(id) else {
                let known = self.contents.remnants.iter().map(|r| r.id.as_str());
                faults.push(unknown("remnant", id, known, "stash"));
                continue;
            };
            if after.grams() > remnant.weight.grams() {
                faults.push(
                    Diagnostic::error(
                        Code::Heavier,
                        format!("{id} weighed {} and can't weigh {after} now", remnant.weight),
                    )
                    .hint("yarn only leaves a remnant: weigh again, or `oddments stash change`"),
                );
                continue;
            }
            let sums = weighed.entry((&remnant.yarn, section)).or_default();
            sums.0 += remnant.weight.grams();
            sums.1 += after.grams();
            edits.push(if after.grams() > 0.0 {
                Edit::reweigh(id, *after)
            } else {
                Edit::Remove { list: List::Stash, key: id.clone() }
            });
        }
        faults.into_result(())?;
        let pieces = self.pieces(&weighed);
        let mut setups = Setups::of(self.contents);
        let mut told = Recorded { sections: Vec::new(), learnt: Vec::new() };
        for piece in &pieces {
            self.judge(piece, &mut setups, &mut told)?;
            edits.push(Edit::record(piece));
        }
        if let Some(gift) = &request.gift {
            let kept = self.contents.reservations.iter().filter(|r| r.gift != *gift).cloned();
            let _ = kept;
        }
        Ok((edits, told))
    }

    /// One record for each yarn of the piece.
    fn pieces(&self, weighed: &BTreeMap<(&str, &str), (f64, f64)>) -> Vec<FinishedPiece> {
        let mut pieces: Vec<FinishedPiece> = Vec::new();
        for ((yarn, section), (before, after)) in weighed {
            let mass = |grams: f64| Mass::from_grams(grams).unwrap_or_default();
            let section = WeighedSection {
                name: (*section).to_owned(),
                before: mass(*before),
                after: mass(*after),
            };
            match pieces.iter_mut().find(|piece| piece.yarn == *yarn) {
                Some(piece) => piece.sections.push(section),
                None => pieces.push(FinishedPiece {
                    garment: self.request.garment.clone(),
                    size: self.request.size.clone(),
                    options: self.request.options.clone(),
                    yarn: (*yarn).to_owned(),
                    machine: None,
                    swatch: None,
                    sections: vec![section],
                    date: Some(self.request.today),
                    note: self.request.note.clone(),
                }),
            }
        }
        pieces
    }

    /// What the piece took against what was expected, and what is learnt of it.
    fn judge(
        &self,
        piece: &FinishedPiece,
        setups: &mut Setups,
        told: &mut Recorded,
    ) -> Result<(), Diagnostics> {
        let gauge = setups.learnt(self.bench, self.contents, &piece.yarn)?;
        let found =
            self.bench.weighed_against(self.contents, piece, &gauge.machine, &gauge.file)?;
        let before = &gauge.file.set;
        let mut all = before.records().to_vec();
        let mut structures = Vec::new();
        for (weighed, (expected, record)) in piece.sections.iter().zip(found) {
            told.sections.push(TakenSection {
                section: weighed.name.clone(),
                yarn: piece.yarn.clone(),
                took_g: weighed.used_g(),
                expected,
            });
            structures.extend(record.stitches.keys().copied());
            all.push(record);
        }
        let after = before.clone().with_records(all);
        told.learnt.extend(Learnt::between(&piece.yarn, before, &after, &structures));
        Ok(())
    }
}
