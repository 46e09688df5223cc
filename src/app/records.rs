//! What the knitter's finished pieces say of the yarn in a stitch.

use super::gift_plan::setups::{Setup, Setups};
use super::{GradeRequest, Person as Measured, Workbench};
use crate::diag::{Diagnostic, Diagnostics, nearest};
use crate::knit::calibration::PieceRecord;
use crate::knit::machine::Machine;
use crate::knit::reserve::Grams;
use crate::knit::stash::FinishedPiece;
use crate::knit::swatch::SwatchSet;
use crate::knit::yarn::{loop_length, sewing_mm};
use crate::store::SwatchFile;
use crate::store::workspace::Contents;

impl Workbench {
    /// The records of finished pieces in one of these yarns, each section against the stitches that
    /// the bed knits for the same garment, size and options.
    ///
    /// A piece that can't be knitted again (its garment is gone, its size unknown) is left aside with
    /// a warning.
    pub fn piece_records(
        &self,
        contents: &Contents,
        yarns: &[&str],
        machine: &Machine,
        swatch: &SwatchFile,
    ) -> (Vec<PieceRecord>, Diagnostics) {
        let mut records = Vec::new();
        let mut warnings = Diagnostics::new();
        let of_yarns = contents.records.iter().filter(|p| yarns.contains(&p.yarn.as_str()));
        for piece in of_yarns {
            match self.records_of(contents, piece, machine, swatch) {
                Ok(found) => records.extend(found),
                Err(faults) => {
                    let why = faults.iter().next().map_or_else(String::new, |d| d.message.clone());
                    warnings.push(
                        Diagnostic::warning(
                            "record-unused",
                            format!(
                                "the record of {} in {} is left aside: {why}",
                                piece.garment, piece.size
                            ),
                        )
                        .hint("correct it in records.toml, or remove it"),
                    );
                }
            }
        }
        (records, warnings)
    }

    /// How a yarn of the workspace is knitted, with what its records say.
    ///
    /// # Errors
    /// No remnant of it, or no bed that takes it.
    pub(super) fn gauge_for(&self, contents: &Contents, yarn: &str) -> Result<Setup, Diagnostics> {
        let mut setups = Setups::of(self, contents);
        let index = setups.of_yarn.get(yarn).copied().ok_or_else(|| {
            Diagnostic::error("no-bed", format!("no machine at hand takes the yarn `{yarn}`"))
                .hint("knit a swatch of it and name it with `oddments swatch add`")
        })?;
        Ok(setups.all.swap_remove(index))
    }

    /// A remnant as [`reach`](Self::reach) wants it: what is free of it, and how its yarn is knitted.
    ///
    /// # Errors
    /// No such remnant; no bed that takes its yarn.
    pub fn remnant_gauge(
        &self,
        contents: &Contents,
        id: &str,
    ) -> Result<(Grams, Machine, SwatchFile), Diagnostics> {
        let remnant = contents.remnant(id).ok_or_else(|| {
            let known = contents.remnants.iter().map(|remnant| remnant.id.as_str());
            Diagnostic::error("unknown", format!("there is no remnant `{id}`"))
                .maybe_hint(nearest(id, known).map(|near| format!("did you mean `{near}`?")))
                .hint("`oddments stash list` shows them")
        })?;
        let free = contents.free(remnant).grams();
        let gauge = self.gauge_for(contents, &remnant.yarn)?;
        let have = Grams::weighed(free, contents.settings.scale_step.grams());
        Ok((have, gauge.machine, gauge.file))
    }

    /// What each section of a piece was expected to take, and its record.
    ///
    /// # Errors
    /// A piece that can't be knitted; a section it has not.
    pub(super) fn expected(
        &self,
        contents: &Contents,
        piece: &FinishedPiece,
        gauge: &Setup,
    ) -> Result<(Vec<Grams>, Vec<PieceRecord>), Diagnostics> {
        let records = self.records_of(contents, piece, &gauge.machine, &gauge.file)?;
        let yarn = contents.yarns.get(&piece.yarn);
        let count = yarn.map_or(gauge.file.set.yarn, |yarn| yarn.count);
        let expected = records
            .iter()
            .map(|record| {
                let (mm, sd) = expected_mm(record, &gauge.file.set);
                Grams { mean: count.grams_of(mm), sd: count.grams_of(sd) }
            })
            .collect();
        Ok((expected, records))
    }

    fn records_of(
        &self,
        contents: &Contents,
        piece: &FinishedPiece,
        machine: &Machine,
        swatch: &SwatchFile,
    ) -> Result<Vec<PieceRecord>, Diagnostics> {
        let plugin = self.garment(&piece.garment)?;
        let machine = match &piece.machine {
            Some(id) => contents.machines.iter().find(|m| m.id == *id).unwrap_or(machine),
            None => machine,
        };
        let swatch =
            piece.swatch.as_ref().and_then(|id| contents.swatches.get(id)).unwrap_or(swatch);
        let person = contents.person(&piece.size).filter(|person| !person.measures.is_empty());
        let size = contents.person(&piece.size).and_then(|person| person.size.as_ref());
        let run = self.grade(&GradeRequest {
            plugin: &plugin,
            machine,
            swatch,
            options: piece.options.clone(),
            sizes: size.map_or_else(|| piece.size.clone(), ToString::to_string),
            person: person.map(|person| Measured {
                name: person.name.clone(),
                measures: person.measures.clone(),
            }),
        })?;
        let Some((_, made)) = run.good().next() else {
            let mut refusals = run.refusals();
            if !refusals.has_errors() {
                refusals.push(Diagnostic::error("no-size", "it can't be knitted"));
            }
            return Err(refusals);
        };
        let yarn = contents.yarns.get(&piece.yarn);
        let count = yarn.map_or(swatch.set.yarn, |yarn| yarn.count);
        // Two weighings, each rounded by the scale.
        let step = contents.settings.scale_step.grams();
        let used_sd_mm = count.mm_in(step / 12f64.sqrt() * 2f64.sqrt());
        let mut records = Vec::new();
        for weighed in &piece.sections {
            let section = made.graded.run.sections.iter().find(|s| s.name == weighed.name);
            let Some(section) = section else {
                return Err(Diagnostic::error(
                    "no-section",
                    format!("{} has no section `{}`", piece.garment, weighed.name),
                )
                .into());
            };
            records.push(PieceRecord {
                stitches: section.stitches.clone(),
                other_mm: sewing_mm(section, &swatch.set),
                used_mm: count.mm_in(weighed.used_g()),
                used_sd_mm,
            });
        }
        Ok(records)
    }
}

/// The yarn a section takes by the present estimates, in mm, with its standard error.
fn expected_mm(record: &PieceRecord, set: &SwatchSet) -> (f64, f64) {
    let mut mm = record.other_mm;
    let mut variance: f64 = 0.0;
    for (structure, stitches) in &record.stitches {
        let length = loop_length(set, *structure);
        let part = *stitches as f64 * length.mm;
        mm += part;
        variance += (part * length.relative_error).powi(2);
    }
    (mm, variance.sqrt())
}
