//! `pattern --format svg --picture round` and `pattern --format glb`: the garment in the round.

use super::Done;
use super::args::{PatternArgs, PatternFormat};
use super::grade::{graded, tell_refusals};
use super::opened::Opened;
use super::output::Output;
use super::shared_args::Units;
use app::{Colouring, RoundSizes};
use diag::{Code, Diagnostic, Diagnostics};

/// Writes it out, and with the picture in a file its words.
pub(super) fn round(args: &PatternArgs, output: &mut Output) -> Done {
    let solid = args.format == PatternFormat::Glb;
    if args.stripes.searches() {
        return usage(
            "the garment in the round is drawn from one start",
            "--yarn, --start, --match",
        );
    }
    if solid && (args.round.from.is_some() || args.round.show.is_some()) {
        return usage("--from and --show are for the picture", "a solid is turned by who opens it");
    }
    if solid && args.output.is_none() && output.is_terminal() {
        return usage("a solid is not for a terminal", "name a file: --output FILE");
    }
    let opened = Opened::of(&args.work.bench, output)?;
    opened.tell_clash(&args.work.garment, output);
    let ask = args.ask()?;
    let run = graded(&opened, &ask, output)?;
    let unit = Units::one(args.units, opened.usual_unit())?;
    let colouring = Colouring::read(&opened.desk().yarns(&ask), &run)?;
    output.diagnostics(&colouring.warnings);
    if run.good().next().is_some() {
        let (pose, detail) = (args.round.pose(), args.round.detail(run.good().count()));
        let sizes = output.busy("laying it out in the round", || {
            RoundSizes::of(&run, &colouring, (pose, detail))
        })?;
        if solid {
            let bytes = report::round_glb(&run.garment.title, &sizes.each());
            output.bytes(args.output.as_deref(), &bytes)?;
        } else {
            let sheet = sizes.sheet((args.round.side(), args.round.shown()), unit);
            output.result(args.output.as_deref(), &sheet.drawing().svg())?;
            // With the picture in a file, the terminal is free for its words.
            if args.output.is_some() {
                output.result(None, &(sheet.lines().join("\n") + "\n"))?;
            }
        }
    }
    Ok(tell_refusals(&run, output))
}

pub(super) fn usage<T>(message: &str, hint: &str) -> Result<T, Diagnostics> {
    Err(Diagnostic::error(Code::Usage, message).hint(hint).into())
}
