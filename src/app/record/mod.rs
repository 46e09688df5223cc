//! A finished piece goes into the records, and its yarn out of the stash.

mod chain;
mod ending;
mod timed;

use std::path::PathBuf;

use super::WorkspaceEdit;
use super::learning::{Learning, odd, parts_of};
use super::records::{Again, Kept};
use super::removed::Removed;
use chain::{Chain, Weighings};
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::Piece;
use knit::program::Structure;
use knit::record::{Learnt, Recorded, TakenSection};
use knit::stash::{Contents, Date, FinishedPiece};
use store::workspace::{Edit, List};
pub(super) use timed::read_minutes;
use timed::timed;
use units::Mass;

/// How the knitter says that a piece about to be noted is right.
const STAND_BY: &str = "record it with `--sure`, or once it is noted write `sure = true` beside it in \
    records.toml";

/// What was knitted and what the remnants weigh now.
#[derive(Clone, Debug)]
pub struct RecordRequest {
    pub garment: String,
    /// A size of the table or a person's name.
    pub size: String,
    pub options: Vec<(String, String)>,
    /// Section, remnant, and its weight after. A section may name several remnants, and a remnant
    /// several sections: what it weighs says in which order it was knitted.
    pub used: Vec<(String, String, Mass)>,
    /// The gift it was: it is done, and what is left of its yarn is free.
    pub gift: Option<String>,
    /// Minutes of work on it, at the machine and off it.
    pub minutes: Option<f64>,
    pub note: Option<String>,
    /// It is right, however odd it looks.
    pub sure: bool,
    pub today: Date,
}

/// Notes the piece, reweighs the remnants (one that is used up goes), and ends its gift.
///
/// # Errors
/// Unknown names; weighings that can't be; a gift that is over; a remnant used up that others wait
/// for; a piece that can't be knitted, since nothing could be learnt from it. Nothing is written
/// then.
pub fn record(edit: &mut WorkspaceEdit, request: &RecordRequest) -> Result<Recorded, Diagnostics> {
    let garments = edit.garments();
    let command = format!("record {}", request.garment);
    let (told, warnings) = edit.edits(&command, |contents| noted(contents, garments, request))?;
    edit.warnings.extend(warnings);
    Ok(told)
}

/// Notes the piece as it was told by [`record_look`]: what that was told from must be so still.
///
/// # Errors
/// As [`record`], and something else by now than what was told.
pub fn record_as_told(
    edit: &mut WorkspaceEdit,
    request: &RecordRequest,
    told: &Recorded,
) -> Result<(), Diagnostics> {
    let garments = edit.garments();
    let command = format!("record {}", request.garment);
    edit.edits(&command, |contents| {
        let (edits, (now, _)) = noted(contents, garments, request)?;
        if now != *told {
            let fault = "what was weighed, or what is known of it, has changed at this moment";
            return Err(Diagnostic::error(Code::Outdated, fault)
                .hint("nothing is written: record it again")
                .into());
        }
        Ok((edits, ()))
    })
}

/// What [`record`] would say, and nothing is written.
///
/// # Errors
/// As [`record`].
pub fn record_look(
    edit: &mut WorkspaceEdit,
    request: &RecordRequest,
) -> Result<Recorded, Diagnostics> {
    let garments = edit.garments();
    let (told, warnings) = edit.look(|contents| noted(contents, garments, request))?;
    edit.warnings.extend(warnings);
    Ok(told)
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

/// The edits that note a piece, what is told of it, and what there is to warn of.
type Noted = (Vec<Edit>, (Recorded, Diagnostics));

fn noted(
    contents: &Contents,
    garments: Option<PathBuf>,
    request: &RecordRequest,
) -> Result<Noted, Diagnostics> {
    let (bench, kept) = (WorkspaceEdit::bench(contents, garments)?, Kept::default());
    Noting { again: Again { bench: &bench, contents, kept: &kept }, request }.note()
}

struct Noting<'a> {
    again: Again<'a>,
    request: &'a RecordRequest,
}

impl Noting<'_> {
    fn note(&self) -> Result<Noted, Diagnostics> {
        let request = self.request;
        let mut faults = Diagnostics::new();
        if request.used.is_empty() {
            faults.push(
                Diagnostic::error(Code::Usage, "nothing was weighed")
                    .hint("add --used \"hat:shoreline-2=12 g\" for each section and remnant"),
            );
        }
        let gift = request.gift.as_deref().and_then(|id| {
            ending::gift_of(self.again.contents, id).map_err(|fault| faults.push(fault)).ok()
        });
        let chain = Chain::of(self.again.contents, &request.used, &mut faults);
        faults.extend(ending::balls_in_use(self.again.contents, &chain, request.gift.as_deref()));
        faults.into_result(())?;
        let mut edits: Vec<Edit> = chain.last_weights().map(reweighed).collect();
        let mut pieces = self.pieces(&chain);
        let mut told = Recorded::default();
        let mut warnings = self.judge(&mut pieces, &mut told)?;
        edits.extend(pieces.iter().map(Edit::record));
        let mut removed = Removed::default();
        let used_up: Vec<String> = chain.used_up().map(str::to_owned).collect();
        removed.unpin_over(self.again.contents, &used_up, &mut edits);
        if let Some(gift) = gift {
            removed.unpin(self.again.contents, &gift.id, &used_up, &mut edits);
            warnings.extend(ending::doubts(self.again.contents, gift, request));
            told.gift = Some(ending::ended(self.again.contents, gift, &chain));
            edits.extend(ending::edits(self.again.contents, gift));
        }
        if let Some(took) = request.minutes {
            let (time, doubts) = timed(self.again, &pieces, took)?;
            told.time = Some(time);
            warnings.extend(doubts);
        }
        told.chain = chain.links;
        Ok((edits, (told, warnings)))
    }

    /// One record for each yarn of the piece.
    fn pieces(&self, chain: &Chain) -> Vec<FinishedPiece> {
        // A number that no record has yet: what was removed may have been the highest.
        let taken = self.again.contents.records.iter().filter_map(|record| record.piece.as_deref());
        let highest = taken.filter_map(|piece| piece.parse::<u64>().ok()).max().unwrap_or(0);
        let own =
            highest.max(self.again.contents.records.len() as u64).saturating_add(1).to_string();
        let of_yarn = |(yarn, sections): (&str, Weighings)| FinishedPiece {
            garment: self.request.garment.clone(),
            size: self.request.size.clone(),
            options: self.request.options.clone(),
            yarn: yarn.to_owned(),
            machine: None,
            swatch: None,
            sections,
            minutes: None,
            date: Some(self.request.today),
            note: self.request.note.clone(),
            piece: Some(own.clone()),
            sure: self.request.sure,
        };
        let mut pieces: Vec<FinishedPiece> = chain.by_yarn().into_iter().map(of_yarn).collect();
        // The work was done once, however many yarns it took.
        if let Some(first) = pieces.first_mut() {
            first.minutes = self.request.minutes;
        }
        pieces
    }

    /// What the piece took against what was expected, and what is learnt of it. Notes the bed and swatch
    /// that it was expected on: another swatch, later, would make another loop of the same grams.
    fn judge(
        &self,
        pieces: &mut [FinishedPiece],
        told: &mut Recorded,
    ) -> Result<Diagnostics, Diagnostics> {
        let (again, contents) = (self.again, self.again.contents);
        let parts = parts_of(again, &pieces.iter().collect::<Vec<_>>())?;
        for (piece, part) in pieces.iter_mut().zip(&parts) {
            piece.machine = Some(part.setup.machine.id.clone());
            piece.swatch.clone_from(&part.setup.swatch);
        }
        let before = Learning::of(again);
        let mut records = contents.records.clone();
        records.extend(pieces.iter().cloned());
        let after = Learning::with(again, &records);
        for (piece, part) in pieces.iter().zip(parts) {
            let sections = part.sections.clone();
            let expected = before.learnt.need(&Piece { id: "piece".into(), sections }).sections;
            for (weighed, (_, expected)) in piece.sections.iter().zip(expected) {
                told.sections.push(TakenSection {
                    section: weighed.name.clone(),
                    yarn: piece.yarn.clone(),
                    took_g: weighed.used_g(),
                    expected,
                });
            }
            let stitches = part.sections.iter().flat_map(|section| &section.stitches);
            let structures: Vec<Structure> = stitches.map(|stitches| stitches.fabric).collect();
            let Some(yarn) = contents.yarns.get(&piece.yarn) else { continue };
            let set = |of: &Learning| of.taught_yarn(contents, yarn, &part.setup).set;
            told.learnt.extend(Learnt::between(
                &piece.yarn,
                &set(&before),
                &set(&after),
                &structures,
            ));
        }
        let own = after.judged_of(contents.records.len());
        let mut warnings = Diagnostics::new();
        warnings.extend(odd(own, "this piece", STAND_BY));
        Ok(warnings)
    }
}

/// A remnant as it is now; one that is used up goes.
fn reweighed((id, weight): (&str, Mass)) -> Edit {
    if weight.grams() > 0.0 {
        Edit::reweigh(id, weight)
    } else {
        Edit::Remove { list: List::Stash, key: id.to_owned() }
    }
}
