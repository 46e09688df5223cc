//! What the knitter's finished pieces say of the yarn in a stitch.

use super::fitting::request_for;
use super::gift_plan::{first_message, setups::Setups};
use super::{GradeRequest, Workbench, unknown};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::calibration::PieceRecord;
use knit::machine::Machine;
use knit::reserve::Grams;
use knit::size_run::SizeRun;
use knit::stash::NamedSwatches;
use knit::stash::{FinishedPiece, WeighedSection};
use knit::yarn::Sewing;
use store::workspace::Contents;

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
        swatch: &NamedSwatches,
    ) -> (Vec<PieceRecord>, Diagnostics) {
        let mut records = Vec::new();
        let mut warnings = Diagnostics::new();
        let of_yarns = contents.records.iter().filter(|p| yarns.contains(&p.yarn.as_str()));
        for piece in of_yarns {
            match self.weighed_against(contents, piece, machine, swatch) {
                Ok(found) => records.extend(found.into_iter().map(|(_, record)| record)),
                Err(faults) => {
                    let why = first_message(&faults);
                    warnings.push(
                        Diagnostic::warning(
                            Code::RecordUnused,
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

    /// A remnant as [`reach`](Self::reach) wants it: what is free of it, and how its yarn is knitted.
    ///
    /// # Errors
    /// No such remnant; no bed that takes its yarn.
    pub fn remnant_gauge(
        &self,
        contents: &Contents,
        id: &str,
    ) -> Result<(Grams, Machine, NamedSwatches), Diagnostics> {
        let remnant = contents.remnant(id).ok_or_else(|| {
            unknown("remnant", id, contents.remnants.iter().map(|r| r.id.as_str()), "stash")
        })?;
        let have =
            Grams::weighed(contents.free(remnant).grams(), contents.settings.scale_step.grams());
        let mut setups = Setups::of(contents);
        let gauge = setups.learnt(self, contents, &remnant.yarn)?;
        Ok((have, gauge.machine.clone(), gauge.file.clone()))
    }

    /// What each section of a piece is expected to take on the swatch, and its record.
    ///
    /// # Errors
    /// A piece that can't be knitted; a section it has not.
    pub(super) fn weighed_against(
        &self,
        contents: &Contents,
        piece: &FinishedPiece,
        machine: &Machine,
        swatch: &NamedSwatches,
    ) -> Result<Vec<(Grams, PieceRecord)>, Diagnostics> {
        let run = self.knitted_again(contents, piece, machine, swatch)?;
        let Some((_, made)) = run.good().next() else {
            let mut refusals = run.refusals();
            if !refusals.has_errors() {
                refusals.push(Diagnostic::error(Code::NoSize, "it can't be knitted"));
            }
            return Err(refusals);
        };
        let yarn = contents.yarns.get(&piece.yarn);
        let count = yarn.map_or(run.swatches.yarn, |yarn| yarn.count);
        let sewing = Sewing::of(&run.swatches);
        // Two weighings, each rounded by the scale.
        let weighing = Grams::weighed(0.0, contents.settings.scale_step.grams());
        let used_sd_mm = count.mm_in(weighing.sd * 2f64.sqrt());
        let graded = &made.graded;
        let of_section = |weighed: &WeighedSection| {
            let section = graded.run.sections.iter().find(|s| s.name == weighed.name)?;
            let need = graded.yarn.sections.iter().find(|s| s.name == weighed.name)?;
            let record = PieceRecord {
                stitches: section.stitches.clone(),
                other_mm: sewing.section_mm(section),
                used_mm: count.mm_in(weighed.used_g()),
                used_sd_mm,
            };
            Some((Grams::from(need).times(count.tex() / run.swatches.yarn.tex()), record))
        };
        let weighed = |weighed: &WeighedSection| {
            let known = graded.run.sections.iter().map(|section| section.name.as_str());
            of_section(weighed)
                .ok_or_else(|| no_section(&piece.garment, &weighed.name, known).into())
        };
        piece.sections.iter().map(weighed).collect()
    }

    /// The run of a finished piece, on its own bed and swatch where they are known.
    pub(super) fn knitted_again(
        &self,
        contents: &Contents,
        piece: &FinishedPiece,
        machine: &Machine,
        swatch: &NamedSwatches,
    ) -> Result<SizeRun, Diagnostics> {
        let plugin = self.garment(&piece.garment)?;
        let own = |id: &String| contents.machines.iter().find(|m| m.id == *id);
        let machine = piece.machine.as_ref().and_then(own).unwrap_or(machine);
        let own = |id: &String| contents.swatches.get(id);
        let swatch = piece.swatch.as_ref().and_then(own).unwrap_or(swatch);
        let options = piece.options.clone();
        match contents.person(&piece.size) {
            Some(person) => self.grade(&GradeRequest {
                options,
                ..request_for(contents, person, &plugin, machine, swatch)
            }),
            None => self.grade(&GradeRequest {
                plugin: &plugin,
                machine,
                swatch,
                options,
                sizes: piece.size.clone(),
                person: None,
            }),
        }
    }
}

fn no_section<'n>(
    garment: &str,
    name: &str,
    known: impl Iterator<Item = &'n str> + Clone,
) -> Diagnostic {
    let hint = match nearest(name, known.clone()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("it has {}", known.collect::<Vec<_>>().join(", ")),
    };
    Diagnostic::error(Code::NoSection, format!("{garment} has no section `{name}`")).hint(hint)
}
