//! `oddments reach`.

use super::Done;
use super::args::ReachArgs;
use super::opened::Opened;
use super::output::Output;
use super::shared_args::options;
use app::{ReachAsk, accepted_chance};
use diag::{Code, Diagnostic, Diagnostics};
use units::Mass;

pub(super) fn reach(args: &ReachArgs, output: &mut Output) -> Done {
    let ask = asked(args)?;
    if ask.is_empty() {
        return Err(Diagnostic::error(Code::Usage, "reach needs a weight or a garment")
            .hint(
                "--weight \"34 g\" tells what a remnant makes, --garment tam what a garment needs",
            )
            .into());
    }
    let opened = Opened::of(&args.bench, output)?;
    let remnant = opened.desk().remnant(&ask)?;
    output.diagnostics(&remnant.swatch.warnings);
    let reach =
        output.busy("knitting every garment in every size", || ask.of(&opened.bench, &remnant))?;
    output.diagnostics(&reach.warnings);
    // Without a remnant each size is asked for by its nature.
    let (have, each) = (remnant.have, ask.each || remnant.have.is_none());
    let reserve = ask.reserve(&opened.bench);
    let rows = reach.table(have, reserve, each)?;
    let grid = report::reach_grid(&rows, have, reserve, each);
    output.result(args.rows.output.as_deref(), &grid.write(args.rows.format))?;
    Ok(true)
}

/// What the flags ask for.
fn asked(args: &ReachArgs) -> Result<ReachAsk, Diagnostics> {
    let mut faults = Diagnostics::new();
    let mut mass =
        |text: &str| text.parse::<Mass>().map_err(|e| faults.push(e.into_diagnostic())).ok();
    let scale_step = args.scale_step.as_deref().and_then(&mut mass);
    let weight = args.weight.as_deref().and_then(&mut mass);
    let risk = args.risk.as_deref().map(accepted_chance).transpose();
    let risk = risk.map_err(|fault| faults.push(fault)).ok().flatten();
    let options = options(&args.set, &[], &args.in_turn).map_err(|found| faults.extend(found));
    let options = options.unwrap_or_default();
    faults.into_result(ReachAsk {
        weight,
        scale_step,
        remnant: args.remnant.clone(),
        risk,
        garments: args.garment.clone(),
        sizes: args.sizes.clone(),
        options,
        machine: args.machine.clone(),
        swatch_id: args.swatch.clone(),
        each: args.each,
    })
}
