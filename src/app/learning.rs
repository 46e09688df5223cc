//! What all that was weighed in a workspace teaches: its swatches and its finished pieces.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Workbench;
use super::gift_plan::first_message;
use super::records::Regraded;
use diag::{Code, Diagnostic, Diagnostics};
use knit::estimate::{
    Id, Judged, Learnt, Moisture, Record, Stitches, Unevenness, Weighed, WeighedSection,
    difference_sd,
};
use knit::stash::{Contents, FinishedPiece, NamedSwatches};

/// What was learnt, and from what.
#[derive(Clone, Debug)]
pub struct Learning {
    pub learnt: Arc<Learnt>,
    /// All that was weighed, the swatches first, each with its id in [`Learnt::judged`].
    pub weighed: Vec<Record>,
    /// By id of a piece: its entries in `records.toml`, from 0. A piece of several yarns has several.
    pub entries: BTreeMap<String, Vec<usize>>,
    /// Pieces that could not be read.
    pub warnings: Diagnostics,
}

/// A piece that was weighed: its records, one a yarn.
struct Knitted<'c> {
    /// Index in the list of records.
    entries: Vec<usize>,
    parts: Vec<&'c FinishedPiece>,
}

impl Knitted<'_> {
    /// Whether a record is of this very piece: garment, size, options, day and note are its own, and no
    /// section of it is weighed twice in the same yarn.
    fn holds(&self, other: &FinishedPiece) -> bool {
        let of_piece = |p: &FinishedPiece| {
            (p.garment.clone(), p.size.clone(), p.options.clone(), p.date, p.note.clone())
        };
        let twice = |part: &&FinishedPiece| {
            part.yarn == other.yarn
                && part.sections.iter().any(|s| other.sections.iter().any(|o| o.name == s.name))
        };
        other.date.is_some()
            && self.parts.first().is_some_and(|first| of_piece(first) == of_piece(other))
            && !self.parts.iter().any(twice)
    }
}

/// Records of one piece together, in the order in which pieces were first noted.
fn pieces(records: &[FinishedPiece]) -> Vec<Knitted<'_>> {
    let mut pieces: Vec<Knitted<'_>> = Vec::new();
    for (index, record) in records.iter().enumerate() {
        match pieces.iter_mut().find(|piece| piece.holds(record)) {
            Some(piece) => {
                piece.entries.push(index);
                piece.parts.push(record);
            }
            None => pieces.push(Knitted { entries: vec![index], parts: vec![record] }),
        }
    }
    pieces
}

impl Learning {
    /// Reads a workspace's swatches and records. A piece that can't be knitted again (its garment is gone,
    /// its size unknown) is left aside with a warning.
    pub(super) fn of(bench: &Workbench, contents: &Contents) -> Learning {
        Learning::with(bench, contents, &contents.records)
    }

    /// The same with other records than the workspace's.
    pub(super) fn with(
        bench: &Workbench,
        contents: &Contents,
        records: &[FinishedPiece],
    ) -> Learning {
        let mut weighed: Vec<Record> = Vec::new();
        for (id, file) in &contents.swatches {
            let learnt = file.set.learnt().clone();
            weighed.extend(
                file.set.clone().with_learnt(learnt, swatch_yarn(contents, id)).weighings(),
            );
        }
        let mut warnings = Diagnostics::new();
        let mut entries = BTreeMap::new();
        for (nth, piece) in pieces(records).into_iter().enumerate() {
            match weighed_piece(bench, contents, &piece) {
                Ok(sections) => {
                    let id = format!("piece {}", nth + 1);
                    let stood_by = piece.parts.iter().any(|part| part.sure);
                    entries.insert(id.clone(), piece.entries);
                    weighed.push(Record { id, what: Weighed::Piece, sections, stood_by });
                }
                Err(faults) => {
                    warnings.extend(piece.parts.iter().map(|part| left_aside(part, &faults)));
                }
            }
        }
        let learnt = Arc::new(Learnt::from(&weighed, &Unevenness::learnt()));
        Learning { learnt, weighed, entries, warnings }
    }

    /// A swatch of the workspace, or the guess at one (`None`), with what was learnt. `id` is the
    /// swatch's; of a guess, the yarn's id is the name of its set.
    pub(super) fn taught(
        &self,
        contents: &Contents,
        id: Option<&str>,
        yarn: Option<&str>,
        file: NamedSwatches,
    ) -> NamedSwatches {
        let yarn = match (id, yarn) {
            (Some(id), _) => swatch_yarn(contents, id),
            (None, Some(yarn)) => yarn_id(contents, yarn),
            (None, None) => file.set.yarn_id().clone(),
        };
        NamedSwatches { set: file.set.with_learnt(self.learnt.clone(), yarn), ..file }
    }

    /// What became of a record of `records.toml`, section by section.
    pub fn judged_of(&self, entry: usize) -> impl Iterator<Item = &Judged> {
        let piece = self.entries.iter().find(|(_, entries)| entries.contains(&entry));
        let id = piece.map(|(id, _)| id.as_str());
        self.learnt.judged().iter().filter(move |judged| Some(judged.record.as_str()) == id)
    }
}

/// What a yarn is called where weighings are held together. Yarns that share a swatch are one yarn in
/// several colours: they go by the first of them.
pub(super) fn yarn_id(contents: &Contents, yarn: &str) -> Id {
    let own = contents.yarns.get(yarn).map_or(&[][..], |yarn| yarn.swatches.as_slice());
    let shares = |other: &&knit::stash::Yarn| other.swatches.iter().any(|id| own.contains(id));
    let first = contents.yarns.values().find(shares);
    first.map_or(yarn, |first| first.id.as_str()).into()
}

/// The same of the yarn that a swatch is of.
fn swatch_yarn(contents: &Contents, swatch: &str) -> Id {
    let of = contents.yarns.values().find(|yarn| yarn.swatches.iter().any(|id| id == swatch));
    match of {
        Some(yarn) => yarn_id(contents, &yarn.id),
        None => format!("yarn of swatch {swatch}").into(),
    }
}

fn left_aside(piece: &FinishedPiece, faults: &Diagnostics) -> Diagnostic {
    Diagnostic::warning(
        Code::RecordUnused,
        format!(
            "the record of {} in {} is left aside: {}",
            piece.garment,
            piece.size,
            first_message(faults)
        ),
    )
    .hint("correct it in records.toml, or remove it")
}

/// What the sections of a piece weighed, each against the stitches that the bed knits for the same
/// garment, size and options on the swatch it was knitted to.
fn weighed_piece(
    bench: &Workbench,
    contents: &Contents,
    piece: &Knitted<'_>,
) -> Result<Vec<WeighedSection>, Diagnostics> {
    // Of a section knitted from several yarns each takes the share of the stitches that it weighs.
    let weighs = |name: &str| -> f64 {
        let sections = piece.parts.iter().flat_map(|part| &part.sections);
        sections.filter(|s| s.name == name).map(knit::stash::WeighedSection::used_g).sum()
    };
    let step = contents.settings.scale_step.grams();
    let mut sections: Vec<WeighedSection> = Vec::new();
    for part in &piece.parts {
        let again = Regraded::of(bench, contents, part)?;
        for weighed in &part.sections {
            let expected = again.section(weighed)?;
            let whole = weighs(&weighed.name);
            let share = if whole > 0.0 { weighed.used_g() / whole } else { 1.0 };
            let stitches =
                expected.stitches.into_iter().map(|s| Stitches { grams: s.grams * share, ..s });
            let other_g = expected.other_g * share;
            match sections.iter_mut().find(|section| section.name == weighed.name) {
                Some(section) => {
                    section.stitches.extend(stitches);
                    section.other_g += other_g;
                    section.used_g += weighed.used_g();
                    section.scale_sd_g = section.scale_sd_g.hypot(difference_sd(step));
                }
                None => sections.push(WeighedSection {
                    name: weighed.name.clone(),
                    stitches: stitches.collect(),
                    other_g,
                    used_g: weighed.used_g(),
                    scale_sd_g: difference_sd(step),
                    moisture: Moisture::SameRoom,
                }),
            }
        }
    }
    Ok(sections)
}
