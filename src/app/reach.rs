//! What a remnant reaches: every garment and size it covers, whole or in part.

use rayon::prelude::*;

use super::scaling::Scaling;
use super::yarn_gauge::setup_of_yarn;
use super::{GradeRequest, Workbench, Workspace, unknown};
use diag::{Code, Diagnostic, Diagnostics};
use knit::body::SizeSelection;
use knit::estimate::{Need, OnScale};
use knit::machine::Machine;
use knit::size_run::{GarmentName, Made, SizeResult};
use knit::stash::{NamedSwatches, Reserve};
use report::plan_words::no_bed;
use report::{self, ReachRow};
use script::{OptionSpec, Plugin};
use units::parse_share;

/// What to look for.
#[derive(Clone, Debug)]
pub struct ReachRequest<'a> {
    pub machine: &'a Machine,
    pub swatch: &'a NamedSwatches,
    /// The remnant on the scale; `None`: only what the garments need.
    pub have: Option<OnScale>,
    /// Garments by id or folder; empty: all at hand.
    pub garments: Vec<String>,
    pub sizes: String,
    /// Choices of the garments, as they would be typed. Of garments that are not named only those count
    /// that take them all.
    pub options: Vec<(String, String)>,
    /// How one guards against running out.
    pub reserve: Reserve,
}

/// A remnant, or none, on the bed and the swatch that it is judged by.
#[derive(Clone, Debug)]
pub struct Remnant {
    /// What there is of it; `None`: only what garments need is asked for.
    pub have: Option<OnScale>,
    pub machine: Machine,
    pub swatch: NamedSwatches,
}

/// One garment in one size, all of it or one of its sections.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    pub garment: String,
    pub title: String,
    pub size: String,
    pub label: String,
    /// Title of the section knitted from the remnant; `None`: everything.
    pub part: Option<String>,
    /// Grams expected.
    pub grams: f64,
    /// What to have so as to be safe, in grams.
    pub to_have: f64,
    /// Whether the remnant is enough for that, where there is one.
    pub enough: Option<bool>,
    /// The chance of running out, where there is a remnant.
    pub chance: Option<f64>,
    /// Of a garment that grows with an option, that option and the largest value that the remnant is
    /// enough for, as typed; where it is enough for none, the least value.
    pub scaled: Option<(String, String)>,
}

#[derive(Clone, Debug, Default)]
pub struct Reach {
    /// By garment, part and size, in the order of garments and sizes.
    pub rows: Vec<Reached>,
    pub warnings: Diagnostics,
}

impl Remnant {
    /// What is free of a remnant of the workspace, and how its yarn is knitted.
    ///
    /// # Errors
    /// No such remnant; no bed that takes its yarn.
    pub(super) fn of(
        workspace: &Workspace,
        bench: &Workbench,
        id: &str,
    ) -> Result<Remnant, Diagnostics> {
        let contents = &workspace.contents;
        let remnant = contents.remnant(id).ok_or_else(|| {
            unknown("remnant", id, contents.remnants.iter().map(|r| r.id.as_str()), "stash")
        })?;
        let step = contents.settings.scale_step.grams();
        let have = Some(OnScale::weighed(contents.free(remnant).grams(), step));
        let known = contents.yarns.get(&remnant.yarn);
        let (yarn, setup) = known
            .and_then(|yarn| Some((yarn, setup_of_yarn(contents, yarn)?)))
            .ok_or_else(|| no_bed(&remnant.yarn))?;
        let swatch = workspace.learning(bench).taught_yarn(contents, yarn, &setup);
        Ok(Remnant { have, machine: setup.machine, swatch })
    }
}

impl Reach {
    /// The rows that the remnant covers safely, the largest need first.
    pub fn covered(&self) -> Vec<&Reached> {
        let mut rows: Vec<&Reached> =
            self.rows.iter().filter(|row| row.enough == Some(true)).collect();
        rows.sort_by(|a, b| b.grams.total_cmp(&a.grams));
        rows
    }

    /// What the remnant covers, a row each; without a remnant, what each takes. `each`: a row for
    /// every size, not only the largest.
    ///
    /// # Errors
    /// The remnant covers nothing: the least that would do.
    pub fn table(
        &self,
        have: Option<OnScale>,
        reserve: Reserve,
        each: bool,
    ) -> Result<Vec<ReachRow<'_>>, Diagnostic> {
        let told: Vec<&Reached> = match have {
            Some(_) => self.covered(),
            None => self.rows.iter().collect(),
        };
        let rows = if each {
            told.iter().map(|reached| row(reached, 1)).collect()
        } else {
            largest(&self.rows, &told)
        };
        if rows.is_empty() { Err(nothing(&self.rows, reserve)) } else { Ok(rows) }
    }
}

impl Workbench {
    /// Grades the garments in every size, in parallel, and reads off what each takes.
    ///
    /// # Errors
    /// Faults of the request (an unknown garment that was named, sizes). A shelf garment that does
    /// not load is a warning, and a size that can't be knitted is left out.
    pub fn reach(&self, request: &ReachRequest<'_>) -> Result<Reach, Diagnostics> {
        // What nobody wears has one size, and would say nothing of a size that there isn't.
        SizeSelection::parse(&request.sizes, &self.sizes)?;
        let named = !request.garments.is_empty();
        let ids = if named { request.garments.clone() } else { self.garment_ids() };
        let found: Vec<Result<Vec<Reached>, Diagnostics>> =
            ids.par_iter().map(|id| self.reach_of(id, request)).collect();
        let mut reach = Reach::default();
        let mut faults = Diagnostics::new();
        for found in found {
            match found {
                Ok(rows) => reach.rows.extend(rows),
                Err(found) => faults.extend(found),
            }
        }
        // The same wrong size or swatch comes back for every garment.
        if faults.has_errors() && (named || reach.rows.is_empty()) {
            let mut once = Diagnostics::new();
            for fault in faults.iter() {
                if !once.iter().any(|told| told == fault) {
                    once.push(fault.clone());
                }
            }
            return Err(once);
        }
        reach.warnings = faults;
        Ok(reach)
    }

    fn reach_of(
        &self,
        garment: &str,
        request: &ReachRequest<'_>,
    ) -> Result<Vec<Reached>, Diagnostics> {
        let plugin = self.garment(garment)?;
        let takes = |(name, _): &(String, String)| plugin.takes(name);
        if request.garments.is_empty() && !request.options.iter().all(takes) {
            return Ok(Vec::new());
        }
        let run = self.grade(&GradeRequest {
            plugin: &plugin,
            machine: request.machine,
            swatch: request.swatch,
            options: request.options.clone(),
            sizes: request.sizes.clone(),
            person: None,
        })?;
        let asked = |spec: &OptionSpec| request.options.iter().any(|(name, _)| *name == spec.name);
        let scaling = plugin.manifest.scaling().filter(|_| request.have.is_some());
        let scaling = scaling.filter(|spec| !asked(spec));
        let of_size = |size: &SizeResult| match scaling {
            Some(spec) => self.as_large_as_it_goes(&plugin, &run.garment, size, spec, request),
            None => size.good().map_or_else(Vec::new, |made| {
                let needs =
                    parts(made).map(|(part, need)| told(&run.garment, size, request, part, need));
                needs.collect()
            }),
        };
        Ok(run.sizes.par_iter().flat_map_iter(of_size).collect())
    }

    /// A garment in the largest value of an option that the remnant is enough for: all of it, and each
    /// of its sections where only that is knitted from the remnant.
    fn as_large_as_it_goes(
        &self,
        plugin: &Plugin,
        garment: &GarmentName,
        size: &SizeResult,
        spec: &OptionSpec,
        request: &ReachRequest<'_>,
    ) -> Vec<Reached> {
        let Some(have) = request.have else { return Vec::new() };
        let mut scaling = Scaling::new(spec, |typed| {
            let mut options = request.options.clone();
            options.push((spec.name.clone(), typed.to_owned()));
            let run = self.grade(&GradeRequest {
                plugin,
                machine: request.machine,
                swatch: request.swatch,
                options,
                sizes: size.body.id.to_string(),
                person: None,
            });
            run.ok()?.sizes.into_iter().next()?.made.ok().map(|made| *made)
        });
        // The parts are those of the least.
        let Some((_, least)) = scaling.at(0) else { return Vec::new() };
        let names: Vec<Option<String>> =
            parts(least).map(|(part, _)| part.map(str::to_owned)).collect();
        let mut rows = Vec::new();
        for name in names {
            let need_of = |made: &Made| {
                let mut all = parts(made);
                all.find(|(part, _)| *part == name.as_deref()).map(|(_, need)| need.clone())
            };
            let enough = |made: &Made| {
                need_of(made).is_some_and(|need| request.reserve.is_kept(&need, have))
            };
            let nth = scaling.largest(enough).unwrap_or(0);
            if let Some((typed, made)) = scaling.at(nth)
                && let Some(need) = need_of(made)
            {
                let scaled = Some((spec.name.clone(), typed));
                rows.push(Reached {
                    scaled,
                    ..told(garment, size, request, name.as_deref(), &need)
                });
            }
        }
        rows
    }
}

/// What a piece takes in all, and where it has several sections each of them.
fn parts(made: &Made) -> impl Iterator<Item = (Option<&str>, &Need)> {
    let yarn = &made.graded.yarn;
    let sections = yarn.sections.iter().filter(|_| yarn.sections.len() > 1);
    let sections = sections.map(|section| (Some(section.name.as_str()), &section.need));
    std::iter::once((None, &yarn.need)).chain(sections)
}

fn told(
    garment: &GarmentName,
    size: &SizeResult,
    request: &ReachRequest<'_>,
    part: Option<&str>,
    need: &Need,
) -> Reached {
    let scale_sd = request.have.map_or(0.0, |have| have.sd);
    Reached {
        garment: garment.id.clone(),
        title: garment.title.clone(),
        size: size.body.id.to_string(),
        label: size.body.label.clone(),
        part: part.map(|name| garment.section_title(name).to_owned()),
        grams: need.grams(),
        to_have: request.reserve.to_have(need, scale_sd),
        enough: request.have.map(|have| request.reserve.is_kept(need, have)),
        chance: request.have.map(|have| need.chance_short(have)),
        scaled: None,
    }
}

fn row(reached: &Reached, sizes: usize) -> ReachRow<'_> {
    ReachRow {
        title: &reached.title,
        label: &reached.label,
        sizes,
        part: reached.part.as_deref(),
        grams: reached.grams,
        to_have: reached.to_have,
        chance: reached.chance,
        scaled: reached.scaled.as_ref().map(|(name, value)| (name.as_str(), value.as_str())),
    }
}

/// Of each garment and part the size that needs most, with the number of sizes covered.
fn largest<'a>(all: &[Reached], told: &[&'a Reached]) -> Vec<ReachRow<'a>> {
    let nth = |row: &Reached| all.iter().position(|other| std::ptr::eq(other, row));
    let mut rows: Vec<(&Reached, usize)> = Vec::new();
    for reached in told {
        let same = |r: &&mut (&Reached, usize)| {
            (&r.0.garment, &r.0.part) == (&reached.garment, &reached.part)
        };
        match rows.iter_mut().find(same) {
            Some((first, sizes)) => {
                *sizes += 1;
                // What takes all there is in every size is told for the largest.
                if reached.scaled.is_some() && nth(reached) > nth(first) {
                    *first = reached;
                }
            }
            None => rows.push((reached, 1)),
        }
    }
    rows.into_iter().map(|(reached, sizes)| row(reached, sizes)).collect()
}

fn nothing(rows: &[Reached], reserve: Reserve) -> Diagnostic {
    let fault =
        Diagnostic::error(Code::ReachesNothing, "the remnant is too small for all of these");
    match rows.iter().min_by(|a, b| a.to_have.total_cmp(&b.to_have)) {
        Some(least) => fault.hint(format!(
            "the least is {:.1} g: {}, {}{}, {}",
            least.to_have,
            least.title,
            least.part.as_ref().map(|p| format!("{}, ", p.to_lowercase())).unwrap_or_default(),
            least.label,
            match reserve {
                Reserve::Risk(risk) => format!("at a chance of {:.0} %", risk * 100.0),
                Reserve::Share(share) => format!("with {:.0} % kept back", share * 100.0),
            }
        )),
        None => fault.hint("no size can be knitted with this swatch on this machine"),
    }
}

/// Reads a chance of running out such as `5 %` or `0.05`.
///
/// # Errors
/// What is none, or over a half.
pub fn accepted_chance(text: &str) -> Result<f64, Diagnostic> {
    parse_share(text).filter(|share| (0.000_001..=0.5).contains(share)).ok_or_else(|| {
        Diagnostic::error(Code::Risk, format!("`{text}` is no chance to accept"))
            .hint("write it in per cent, above 0 and up to 50: \"5 %\"")
    })
}
