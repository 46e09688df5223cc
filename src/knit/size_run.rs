//! The result of grading: a run of sizes of one garment, in table order. Built by the app layer,
//! read by the reports.

use super::body::{Body, Measure, SizeGroup};
use super::garment::Garment;
use super::grade::Graded;
use super::machine::Machine;
use super::stash::Reserve;
use super::swatch::{Gauge, SwatchSet};
use super::working_time::WorkingTime;
use diag::{Code, Diagnostic, Diagnostics};

/// One garment graded for some sizes.
#[derive(Clone, Debug)]
pub struct SizeRun {
    /// The garment's names.
    pub garment: GarmentName,
    /// The machine it was graded on.
    pub machine: Machine,
    /// The swatches it was graded on.
    pub swatches: SwatchSet,
    /// The structures the garment is gauged in.
    pub gauges: Vec<Gauge>,
    /// Options in force, as the knitter would type them; automatic ones are left out.
    pub options: Vec<(String, String)>,
    /// In the order of the table.
    pub sizes: Vec<SizeResult>,
    /// How the knitter guards against running out of yarn.
    pub reserve: Reserve,
    /// About the whole run: estimated swatches, counts that fall, sizes that come out the same.
    pub warnings: Diagnostics,
}

/// What a report needs to know of the garment itself.
#[derive(Clone, Debug)]
pub struct GarmentName {
    /// Its id.
    pub id: String,
    /// What a page calls it.
    pub title: String,
    /// A person needs two.
    pub pair: bool,
    /// The measure that orders the run.
    pub measure: Option<Measure>,
    /// Yarn sections: name and title.
    pub sections: Vec<(String, String)>,
}

impl GarmentName {
    /// What a page calls the section of that name; the name itself where it has no title.
    pub fn section_title<'a>(&'a self, name: &'a str) -> &'a str {
        self.sections.iter().find(|(n, _)| n == name).map_or(name, |(_, title)| title)
    }
}

/// One size, with what came of it.
#[derive(Clone, Debug)]
pub struct SizeResult {
    /// What was graded for.
    pub body: Body,
    /// The group of the size, or of the one nearest to a person.
    pub group: SizeGroup,
    /// Mean age of the size, or of the one nearest to a person; `None` for adults.
    pub age_years: Option<f64>,
    /// Made to measure, not a size of the table.
    pub is_person: bool,
    /// `Err`: the script refused the size or failed, with the reasons.
    pub made: Result<Box<Made>, Diagnostics>,
}

/// A size the script made a program for; the bed may still have refused it.
#[derive(Clone, Debug)]
pub struct Made {
    /// What the script gave.
    pub garment: Garment,
    /// What came off the bed, measured.
    pub graded: Graded,
    /// What could hurt someone, in sentences.
    pub cautions: Vec<String>,
    /// Bed faults and script warnings, placed in the script where the line is known.
    pub diagnostics: Diagnostics,
}

impl SizeResult {
    /// Whether it can be knitted: it was made, and no fault is an error.
    pub fn knittable(&self) -> bool {
        self.good().is_some()
    }

    /// What was made, where it can be knitted.
    pub fn good(&self) -> Option<&Made> {
        self.made.as_deref().ok().filter(|made| !made.diagnostics.has_errors())
    }

    /// Everything to tell the knitter about this size.
    pub fn diagnostics(&self) -> &Diagnostics {
        match &self.made {
            Ok(made) => &made.diagnostics,
            Err(faults) => faults,
        }
    }
}

impl SizeRun {
    /// Tells the minutes of each size anew, by what is known of the knitter's pace now.
    pub fn retime(&mut self, working: &WorkingTime) {
        for made in self.sizes.iter_mut().filter_map(|size| size.made.as_mut().ok()) {
            let (id, graded) = (&self.garment.id, &mut made.graded);
            graded.minutes = working.minutes(id, id, graded.work_minutes);
        }
    }

    /// Whether every size can be knitted.
    pub fn all_knittable(&self) -> bool {
        self.sizes.iter().all(SizeResult::knittable)
    }

    /// The gauges that some size really knits in.
    pub fn used_gauges(&self) -> impl Iterator<Item = &Gauge> {
        self.gauges
            .iter()
            .filter(|gauge| self.good().any(|(_, made)| made.graded.run.knits(gauge.structure)))
    }

    /// Why sizes can't be knitted, the same reason for several sizes once.
    pub fn refusals(&self) -> Diagnostics {
        let mut told: Vec<(Diagnostic, Vec<&str>)> = Vec::new();
        for size in self.sizes.iter().filter(|s| !s.knittable()) {
            for reason in size.diagnostics().iter() {
                let mut reason = reason.clone();
                // The sizes it holds for are named once, below.
                reason.context.retain(|context| *context != format!("size {}", size.body.id));
                if reason.code == Code::ScriptRefused {
                    // Meant for the knitter: the script's line says nothing to her.
                    reason.place = None;
                }
                match told.iter_mut().find(|(known, _)| *known == reason) {
                    Some((_, labels)) => labels.push(&size.body.label),
                    None => told.push((reason, vec![&size.body.label])),
                }
            }
        }
        let mut all = Diagnostics::new();
        all.extend(
            told.into_iter()
                .map(|(reason, labels)| reason.context(format!("size {}", labels.join(", ")))),
        );
        all
    }

    /// The sizes that can be knitted.
    pub fn good(&self) -> impl Iterator<Item = (&SizeResult, &Made)> {
        self.sizes.iter().filter_map(|size| size.good().map(|made| (size, made)))
    }
}
