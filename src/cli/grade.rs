//! `oddments grade`, and what every command has in common that grades.

use super::Done;
use super::args::GradeArgs;
use super::opened::Opened;
use super::output::Output;
use super::shared_args::{Units, WordChoice};
use app::Ask;
use diag::Diagnostics;
use knit::size_run::SizeRun;

pub(super) fn grade(args: &GradeArgs, output: &mut Output) -> Done {
    let opened = Opened::of(&args.work.bench, output)?;
    opened.tell_clash(&args.work.garment, output);
    let run = graded(&opened, &args.ask()?, output)?;
    let unit = Units::one(args.rows.units, opened.usual_unit())?;
    let words = args.words.map_or_else(|| opened.usual_words(), WordChoice::words);
    let text = report::grade_page(&run, unit, words, args.rows.format);
    output.result(args.rows.output.as_deref(), &text)?;
    Ok(tell_refusals(&run, output))
}

/// The run of what is asked for; what is warned of is passed on.
pub(super) fn graded(
    opened: &Opened,
    ask: &Ask,
    output: &mut Output,
) -> Result<SizeRun, Diagnostics> {
    let run = opened.desk().grade(ask)?.run;
    output.diagnostics(&run.warnings);
    Ok(run)
}

/// Says why sizes can't be knitted. Gives whether all can.
pub(super) fn tell_refusals(run: &SizeRun, output: &mut Output) -> bool {
    output.diagnostics(&run.refusals());
    run.all_knittable()
}
