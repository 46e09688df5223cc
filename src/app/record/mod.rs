//! A finished piece goes into the records, and its yarn out of the stash.

mod chain;
mod ending;
mod piece_ask;
mod timed;

use std::path::PathBuf;

use super::WorkspaceEdit;
use super::learning::{Learning, odd, parts_of};
use super::records::{Again, Kept};
use super::removed::Removed;
use super::yarn_gauge::Setup;
use chain::{Chain, Weighings};
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::Piece;
use knit::operation::Operation;
use knit::program::Structure;
use knit::record::{Joined, Learnt, Recorded, TakenSection};
use knit::stash::{Contents, Date, FinishedPiece, Sure};
pub use piece_ask::PieceAsk;
use store::workspace::{Edit, List};
pub(super) use timed::read_minutes;
use timed::timed;
use units::Mass;

/// How the knitter says that a piece about to be noted is right.
const STAND_BY: &str = "record it with `--sure`, or once it is noted write `sure = true` beside it in \
    records.toml (`--sure=grams`, `sure = [\"grams\"]`: of its weight alone)";

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
    /// Minutes of work on what was weighed, at the machine and off it.
    pub minutes: Option<f64>,
    pub note: Option<String>,
    /// What of it is right, however odd it looks.
    pub sure: Sure,
    /// Which piece it is of, where that is said.
    pub piece: PieceAsk,
    /// The day it was finished, where it is not today.
    pub date: Option<Date>,
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
        let joined = self.request.piece.joined(self.again.contents, request, &chain)?;
        let mut pieces = self.pieces(&chain, joined.as_ref());
        let apart = match (&request.piece, &joined) {
            (PieceAsk::Found, None) => piece_ask::apart(self.again.contents, request, &chain),
            _ => None,
        };
        let mut told = Recorded { joined, apart, ..Recorded::default() };
        let mut warnings = self.judge(&mut pieces, &mut told)?;
        edits.extend(pieces.iter().map(Edit::record));
        let mut removed = Removed::default();
        let used_up: Vec<String> = chain.used_up().map(str::to_owned).collect();
        removed.unpin_over(self.again.contents, &used_up, &mut edits);
        if let Some(gift) = gift {
            removed.unpin(self.again.contents, &gift.id, &used_up, &mut edits);
            warnings.extend(ending::doubts(self.again.contents, gift, request));
            told.gift = Some(ending::ended(self.again.contents, gift, &chain));
            edits.extend(ending::edits(self.again.contents, gift, &chain));
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
    fn pieces(&self, chain: &Chain, joined: Option<&Joined>) -> Vec<FinishedPiece> {
        let own = match joined {
            Some(joined) => joined.piece.clone(),
            None => piece_ask::unused(self.again.contents),
        };
        let of_yarn = |(yarn, sections): (&str, Weighings)| FinishedPiece {
            garment: self.request.garment.clone(),
            size: self.request.size.clone(),
            options: self.request.options.clone(),
            yarn: yarn.to_owned(),
            sections,
            date: Some(self.request.date.unwrap_or(self.request.today)),
            note: self.request.note.clone(),
            piece: Some(own.clone()),
            sure: self.request.sure,
            ..FinishedPiece::default()
        };
        let mut pieces: Vec<FinishedPiece> = chain.by_yarn().into_iter().map(of_yarn).collect();
        // The work was done once, however many yarns it took.
        if let Some(first) = pieces.first_mut() {
            first.minutes = self.request.minutes;
        }
        pieces
    }

    /// Notes the bed and swatch that a piece was expected on, since another swatch, later, would make another
    /// loop of the same grams; and what was counted, since the person may grow and the garment change. With
    /// minutes goes what was done in the sections they are of, all those of its other yarns too.
    fn note_counted(&self, pieces: &mut [FinishedPiece]) -> Result<Vec<Setup>, Diagnostics> {
        let mut setups = Vec::new();
        let mut work: Vec<(String, Vec<(Operation, f64)>)> = Vec::new();
        for piece in pieces.iter_mut() {
            let knitted = self.again.knit(piece)?;
            for weighed in &piece.sections {
                knitted.section(&weighed.name)?;
                piece.knitted.extend(knitted.counted(&weighed.name));
                if work.iter().all(|(own, _)| *own != weighed.name) {
                    let times = &self.again.contents.times;
                    work.push((weighed.name.clone(), knitted.work_in(&weighed.name, times)));
                }
            }
            let has = |fabric: Structure| {
                let counts = piece.knitted.iter().flat_map(|section| &section.stitches);
                counts.into_iter().any(|(own, _)| own.gauged_as() == fabric)
            };
            let loops = knitted.loop_mm().iter().filter(|(fabric, _)| has(*fabric));
            piece.loop_mm = loops.copied().collect();
            setups.push(knitted.setup.clone());
        }
        for (piece, setup) in pieces.iter_mut().zip(&setups) {
            piece.machine = Some(setup.machine.id.clone());
            piece.swatch.clone_from(&setup.swatch);
        }
        if let Some(timed) = pieces.iter_mut().find(|piece| piece.minutes.is_some()) {
            timed.work = work;
        }
        Ok(setups)
    }

    /// What the piece took against what was expected, and what is learnt of it.
    fn judge(
        &self,
        pieces: &mut [FinishedPiece],
        told: &mut Recorded,
    ) -> Result<Diagnostics, Diagnostics> {
        let (again, contents) = (self.again, self.again.contents);
        let setups = self.note_counted(pieces)?;
        let parts = parts_of(again, &pieces.iter().collect::<Vec<_>>())?;
        let before = Learning::of(again);
        let mut records = contents.records.clone();
        records.extend(pieces.iter().cloned());
        let after = Learning::with(again, &records);
        for ((piece, sections), setup) in pieces.iter().zip(parts).zip(&setups) {
            let fabrics = sections.iter().flat_map(|section| &section.stitches);
            let structures: Vec<Structure> = fabrics.map(|stitches| stitches.fabric).collect();
            let expected = before.learnt.need(&Piece { id: "piece".into(), sections }).sections;
            for (weighed, (_, expected)) in piece.sections.iter().zip(expected) {
                told.sections.push(TakenSection {
                    section: weighed.name.clone(),
                    yarn: piece.yarn.clone(),
                    took_g: weighed.used_g(),
                    expected,
                    stitches: piece
                        .knitted(&weighed.name)
                        .map_or_else(Vec::new, |k| k.stitches.clone()),
                });
            }
            let Some(yarn) = contents.yarns.get(&piece.yarn) else { continue };
            let set = |of: &Learning| of.taught_yarn(contents, yarn, setup).set;
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
