//! `oddments carry-on`.

use super::Done;
use super::args::{CarryFormat, CarryOnArgs};
use super::opened::Opened;
use super::output::Output;
use super::shared_args::{Units, WordChoice};
use report::PrintLook;

pub(super) fn carry_on(args: &CarryOnArgs, output: &mut Output) -> Done {
    let keys = args.keys().read()?;
    let opened = Opened::of(&args.work.bench, output)?;
    opened.tell_clash(&args.work.garment, output);
    let ask = args.ask()?;
    let desk = opened.desk();
    let carried = output.busy("choosing what is still free", || desk.carry_on(&ask, &keys))?;
    output.diagnostics(&carried.warnings);
    let unit = Units::one(args.units, opened.usual_unit())?;
    let words = args.words.map_or_else(|| opened.usual_words(), WordChoice::words);
    let look = PrintLook { words, ..PrintLook::new(unit) };
    let text = match args.format {
        CarryFormat::Text => report::carry_text(&carried, look, false),
        CarryFormat::Markdown => report::carry_text(&carried, look, true),
        CarryFormat::Json => report::carry_json(&carried, unit),
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(true)
}
