//! `oddments reach`.

use super::args::ReachArgs;
use super::output::Output;
use super::{Done, open_all, swatch_of};
use crate::app::{ReachRequest, Reached};
use crate::diag::{Diagnostic, Diagnostics};
use crate::knit::reserve::Grams;
use crate::report::{self, ReachRow};
use crate::units::{Mass, parse_share};

pub(super) fn reach(args: &ReachArgs, output: &mut Output) -> Done {
    let mut faults = Diagnostics::new();
    let mut mass = |text: &str| {
        text.parse::<Mass>().map(Mass::grams).map_err(|e| faults.push(e.into_diagnostic())).ok()
    };
    let step = mass(&args.scale_step);
    let weight = args.weight.as_deref().map(&mut mass);
    let risk = risk(&args.risk).map_err(|fault| faults.push(fault)).ok();
    let (Some(step), Some(risk), false) = (step, risk, weight == Some(None)) else {
        return Err(faults);
    };
    if args.weight.is_none() && args.remnant.is_none() && args.garment.is_empty() {
        return Err(Diagnostic::error("usage", "reach needs a weight or a garment")
            .hint(
                "--weight \"34 g\" tells what a remnant makes, --garment tam what a garment needs",
            )
            .into());
    }
    let (bench, workspace) = open_all(&args.bench, output)?;
    let (have, machine, swatch) = match (&args.remnant, &workspace) {
        (Some(id), Some(workspace)) => {
            let (have, machine, swatch) = bench.remnant_gauge(&workspace.contents, id)?;
            (Some(have), machine, swatch)
        }
        (Some(_), None) => {
            return Err(Diagnostic::error(
                "no-workspace",
                "a remnant is known to a workspace only",
            )
            .hint("give its weight, or name the workspace with --workspace FOLDER")
            .into());
        }
        (None, _) => {
            let (swatch, machine) = swatch_of(
                &bench,
                workspace.as_ref(),
                args.swatch.as_deref(),
                args.machine.as_deref(),
            )?;
            let have = weight.flatten().map(|grams| Grams::weighed(grams, step));
            (have, machine.clone(), swatch)
        }
    };
    output.diagnostics(&swatch.warnings);
    let reach = bench.reach(&ReachRequest {
        machine: &machine,
        swatch: &swatch,
        have,
        garments: args.garment.clone(),
        sizes: args.sizes.clone(),
        risk,
    })?;
    output.diagnostics(&reach.warnings);
    let told: Vec<&Reached> = match have {
        Some(_) => reach.covered(risk),
        None => reach.rows.iter().collect(),
    };
    // Without a remnant each size is asked for by its nature.
    let each = args.each || have.is_none();
    let rows =
        if each { told.iter().map(|reached| row(reached, 1)).collect() } else { largest(&told) };
    if rows.is_empty() {
        return Err(nothing(&reach.rows, risk).into());
    }
    let grid = report::reach_grid(&rows, have, risk, each);
    output.result(args.rows.output.as_deref(), &grid.write(args.rows.format))?;
    Ok(true)
}

fn row(reached: &Reached, sizes: usize) -> ReachRow<'_> {
    ReachRow {
        title: &reached.title,
        label: &reached.label,
        sizes,
        part: reached.part.as_deref(),
        need: reached.need,
        to_have: reached.to_have,
        chance: reached.chance,
    }
}

/// Of each garment and part the size that needs most, with the number of sizes covered.
fn largest<'a>(told: &[&'a Reached]) -> Vec<ReachRow<'a>> {
    let mut rows: Vec<(&Reached, usize)> = Vec::new();
    for reached in told {
        let same = |r: &&mut (&Reached, usize)| {
            (&r.0.garment, &r.0.part) == (&reached.garment, &reached.part)
        };
        match rows.iter_mut().find(same) {
            Some((_, sizes)) => *sizes += 1,
            None => rows.push((reached, 1)),
        }
    }
    rows.into_iter().map(|(reached, sizes)| row(reached, sizes)).collect()
}

fn nothing(rows: &[Reached], risk: f64) -> Diagnostic {
    let fault = Diagnostic::error("reaches-nothing", "the remnant is too small for all of these");
    match rows.iter().min_by(|a, b| a.to_have.total_cmp(&b.to_have)) {
        Some(least) => fault.hint(format!(
            "the least is {:.1} g: {}, {}{}, at a chance of {:.0} %",
            least.to_have,
            least.title,
            least.part.as_ref().map(|p| format!("{}, ", p.to_lowercase())).unwrap_or_default(),
            least.label,
            risk * 100.0
        )),
        None => fault.hint("no size can be knitted with this swatch on this machine"),
    }
}

/// Reads a chance such as `5 %` or `0.05`.
fn risk(text: &str) -> Result<f64, Diagnostic> {
    parse_share(text).filter(|share| (0.000_001..=0.5).contains(share)).ok_or_else(|| {
        Diagnostic::error("risk", format!("`{text}` is no chance to accept"))
            .hint("write it in per cent, above 0 and up to 50: \"5 %\"")
    })
}
