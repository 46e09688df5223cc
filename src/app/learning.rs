//! What all that was weighed in a workspace teaches: its swatches and its finished pieces.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use super::entry_places::EntryPlaces;
use super::records::Again;
use super::told_by_record;
use super::yarn_gauge::{Setup, swatch_yarn, yarn_id};
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::{
    Id, Judged, Learnt, Moisture, PieceSection, Record, Standing, Unevenness, Weighed,
    WeighedSection, difference_sd,
};
use knit::stash::{self, Contents, FinishedPiece, NamedSwatches, WholePiece, Yarn};

/// What was learnt, and from what.
#[derive(Clone, Debug)]
pub struct Learning {
    pub learnt: Arc<Learnt>,
    /// All that was weighed, the swatches first, each with its id in [`Learnt::judged`].
    pub weighed: Vec<Record>,
    /// By id of a piece: its entries in `records.toml`, from 0. A piece of several yarns has several.
    pub entries: BTreeMap<String, Vec<usize>>,
    /// Entries of pieces that could not be read, and why, by the first of them.
    pub(super) left_aside: BTreeMap<usize, (Vec<usize>, String)>,
    /// By yarn: what it is called where weighings are held together.
    pub(super) yarns: BTreeMap<String, Id>,
    /// Pieces that could not be read.
    pub warnings: Diagnostics,
}

impl Learning {
    /// Reads a workspace's swatches and records. A piece that can't be knitted again (its garment is gone,
    /// its size unknown) is left aside with a warning.
    pub(super) fn of(again: Again<'_>) -> Learning {
        Learning::with(again, &again.contents.records)
    }

    /// The same with other records than the workspace's.
    pub(super) fn with(again: Again<'_>, records: &[FinishedPiece]) -> Learning {
        let contents = again.contents;
        let mut weighed: Vec<Record> = Vec::new();
        for (id, file) in &contents.swatches {
            let learnt = file.set.learnt().clone();
            weighed.extend(
                file.set.clone().with_learnt(learnt, swatch_yarn(contents, id)).weighings(),
            );
        }
        let mut warnings = Diagnostics::new();
        let (mut entries, mut left) = (BTreeMap::new(), BTreeMap::new());
        let whole = WholePiece::all(records);
        let places = EntryPlaces::of(records);
        let found: Vec<Result<Vec<WeighedSection>, Diagnostics>> =
            whole.par_iter().map(|piece| weighed_piece(again, piece)).collect();
        for (nth, (piece, found)) in whole.iter().zip(found).enumerate() {
            let own: Vec<usize> = places.all(piece);
            match found {
                Ok(sections) => {
                    let id = format!("piece {}", nth + 1);
                    let stood_by = piece.records.iter().any(|part| part.sure.grams);
                    entries.insert(id.clone(), own);
                    weighed.push(Record { id, what: Weighed::Piece, sections, stood_by });
                }
                Err(faults) => {
                    warnings.extend(piece.records.iter().map(|part| left_aside(part, &faults)));
                    let why = (own.clone(), faults.first_message());
                    left.extend(own.first().map(|first| (*first, why)));
                }
            }
        }
        let learnt = Arc::new(Learnt::from(&weighed, &Unevenness::learnt()));
        // Only of those that stand out: of a thousand records most don't.
        let odd_ones = learnt.wholes().iter().filter(|held| held.standing != Standing::Taken);
        warnings.extend(odd_ones.filter_map(|held| {
            let piece = &records[*entries.get(&held.record)?.first()?];
            let own = learnt.judged().iter().filter(|judged| judged.record == held.record);
            odd(own, &format!("the record of {} in {}", piece.garment, piece.size), STAND_BY)
        }));
        let yarns = contents.yarns.keys().map(|id| (id.clone(), yarn_id(contents, id))).collect();
        Learning { learnt, weighed, entries, left_aside: left, yarns, warnings }
    }

    /// The swatch of that id with what was learnt.
    pub(super) fn taught_swatch(
        &self,
        contents: &Contents,
        id: &str,
        file: NamedSwatches,
    ) -> NamedSwatches {
        self.taught(file, swatch_yarn(contents, id))
    }

    /// The swatch that a yarn is knitted to, for that very yarn: its thickness, and what was learnt of it.
    pub(super) fn taught_yarn(
        &self,
        contents: &Contents,
        yarn: &Yarn,
        setup: &Setup,
    ) -> NamedSwatches {
        let mut file = setup.file.clone();
        file.set.yarn = yarn.count;
        self.taught(file, yarn_id(contents, &yarn.id))
    }

    /// Swatches, or a guess at them, with what was learnt of the yarn.
    fn taught(&self, file: NamedSwatches, yarn: Id) -> NamedSwatches {
        NamedSwatches { set: file.set.with_learnt(self.learnt.clone(), yarn), ..file }
    }

    /// What a yarn of the workspace is called in [`learnt`](Self::learnt).
    pub(super) fn yarn_id(&self, yarn: &str) -> Id {
        self.yarns.get(yarn).cloned().unwrap_or_else(|| yarn.into())
    }

    /// What became of a record of `records.toml`, section by section.
    pub fn judged_of(&self, entry: usize) -> impl Iterator<Item = &Judged> {
        let piece = self.entries.iter().find(|(_, entries)| entries.contains(&entry));
        let id = piece.map(|(id, _)| id.as_str());
        self.learnt.judged().iter().filter(move |judged| Some(judged.record.as_str()) == id)
    }
}

/// How the knitter says that a record of the file is right.
const STAND_BY: &str =
    "write `sure = true` beside it in records.toml (`sure = [\"grams\"]`: of its weight alone)";

/// Words for a piece that is too far off to be believed unasked; `what` is the piece, `judged` what became
/// of its sections, `stand_by` how one says that it is right.
pub(super) fn odd<'j>(
    judged: impl Iterator<Item = &'j Judged>,
    what: &str,
    stand_by: &str,
) -> Option<Diagnostic> {
    let mut odd = judged.filter(|judged| judged.standing != Standing::Taken).peekable();
    odd.peek()?;
    let (mut taken, mut expected, mut known) = (0.0, 0.0, true);
    for section in odd {
        taken += section.taken;
        expected += section.expected.unwrap_or_default();
        known &= section.expected.is_some();
    }
    let against = if known {
        format!("where {expected:.1} g were likely")
    } else {
        "which can't be right".to_owned()
    };
    let fault = format!("{what} took {taken:.1} g, {against}: estimates don't learn from it");
    let asked = "was it weighed in the same room before and after, and dry?";
    // What can't be so nobody can stand by.
    let hint =
        if known { format!("{asked} Where it is right, {stand_by}") } else { asked.to_owned() };
    Some(Diagnostic::warning(Code::RecordOdd, fault).hint(hint))
}

fn left_aside(piece: &FinishedPiece, faults: &Diagnostics) -> Diagnostic {
    Diagnostic::warning(
        Code::RecordUnused,
        format!(
            "the record of {} in {} is left aside: {}",
            piece.garment,
            piece.size,
            faults.first_message()
        ),
    )
    .hint("correct it in records.toml, or remove it")
}

/// By record of a piece its sections as the model has them: by the stitches that it notes, and where it notes
/// none by those that the bed knits for the same garment, size and options on the swatch it was knitted to. Of a
/// section knitted from several yarns each takes the share of the stitches that it weighs.
///
/// # Errors
/// As [`Again::knit`] and [`Regraded::section`](super::records::Regraded::section).
pub(super) fn parts_of(
    again: Again<'_>,
    parts: &[&FinishedPiece],
) -> Result<Vec<Vec<PieceSection>>, Diagnostics> {
    let weighs = |name: &str| -> f64 {
        let sections = parts.iter().flat_map(|part| &part.sections);
        sections.filter(|s| s.name == name).map(stash::WeighedSection::used_g).sum()
    };
    let of_part = |part: &&FinishedPiece| {
        let mut sections = Vec::new();
        for weighed in &part.sections {
            let mut section = match told_by_record::section_of(again.contents, part, &weighed.name)
            {
                Some(section) => section,
                None => again.knit(part)?.section(&weighed.name)?,
            };
            let whole = weighs(&weighed.name);
            let share = if whole > 0.0 { weighed.used_g() / whole } else { 1.0 };
            section.other_g *= share;
            for stitches in &mut section.stitches {
                stitches.grams *= share;
            }
            sections.push(section);
        }
        Ok(sections)
    };
    parts.iter().map(of_part).collect()
}

/// What the sections of a piece weighed.
fn weighed_piece(
    again: Again<'_>,
    piece: &WholePiece<'_>,
) -> Result<Vec<WeighedSection>, Diagnostics> {
    let scale_sd_g = difference_sd(again.contents.settings.scale_step.grams());
    let mut sections: Vec<WeighedSection> = Vec::new();
    let parts = parts_of(again, &piece.records)?;
    for (record, part) in piece.records.iter().zip(parts) {
        for (weighed, knitted) in record.sections.iter().zip(part) {
            match sections.iter_mut().find(|section| section.name == weighed.name) {
                Some(section) => {
                    section.stitches.extend(knitted.stitches);
                    section.other_g += knitted.other_g;
                    section.used_g += weighed.used_g();
                    section.scale_sd_g = section.scale_sd_g.hypot(scale_sd_g);
                }
                None => sections.push(WeighedSection {
                    name: weighed.name.clone(),
                    stitches: knitted.stitches,
                    other_g: knitted.other_g,
                    used_g: weighed.used_g(),
                    scale_sd_g,
                    moisture: Moisture::SameRoom,
                }),
            }
        }
    }
    Ok(sections)
}
