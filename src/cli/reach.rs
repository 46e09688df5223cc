//! `oddments reach`.

use super::args::ReachArgs;
use super::output::Output;
use super::{Done, open_all, swatch_of};
use app::{ReachRequest, accepted_chance};
use diag::{Code, Diagnostic, Diagnostics};
use knit::reserve::Grams;
use units::Mass;

pub(super) fn reach(args: &ReachArgs, output: &mut Output) -> Done {
    let mut faults = Diagnostics::new();
    let mut mass = |text: &str| {
        text.parse::<Mass>().map(Mass::grams).map_err(|e| faults.push(e.into_diagnostic())).ok()
    };
    let step = mass(&args.scale_step);
    let weight = args.weight.as_deref().map(&mut mass);
    let risk = accepted_chance(&args.risk).map_err(|fault| faults.push(fault)).ok();
    let (Some(step), Some(risk), false) = (step, risk, weight == Some(None)) else {
        return Err(faults);
    };
    if args.weight.is_none() && args.remnant.is_none() && args.garment.is_empty() {
        return Err(Diagnostic::error(Code::Usage, "reach needs a weight or a garment")
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
                Code::NoWorkspace,
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
    let request = ReachRequest {
        machine: &machine,
        swatch: &swatch,
        have,
        garments: args.garment.clone(),
        sizes: args.sizes.clone(),
        risk,
    };
    let reach = output.busy("knitting every garment in every size", || bench.reach(&request))?;
    output.diagnostics(&reach.warnings);
    // Without a remnant each size is asked for by its nature.
    let grid = reach.grid(have, risk, args.each || have.is_none())?;
    output.result(args.rows.output.as_deref(), &grid.write(args.rows.format))?;
    Ok(true)
}
