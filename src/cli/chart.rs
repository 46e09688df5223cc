//! `oddments chart`: body measures, or the finished sizes of a garment.

use super::Done;
use super::args::ChartArgs;
use super::grade::{graded, tell_refusals};
use super::opened::Opened;
use super::output::Output;
use super::shared_args::Units;
use diag::{Code, Diagnostic};
use knit::body::SizeSelection;
use report::drawing;
use report::{self, Format};

pub(super) fn chart(args: &ChartArgs, output: &mut Output) -> Done {
    match &args.garment {
        Some(garment) => finished_chart(args, garment, output),
        None => body_chart(args, output),
    }
}

fn body_chart(args: &ChartArgs, output: &mut Output) -> Done {
    if args.machine.is_some()
        || args.swatch.is_some()
        || !args.set.is_empty()
        || !args.fix.is_empty()
        || !args.in_turn.is_empty()
    {
        return Err(Diagnostic::error(
            Code::Usage,
            "a body chart has no machine, swatch or options",
        )
        .hint("name a garment to chart its finished sizes")
        .into());
    }
    let opened = Opened::of(&args.bench, output)?;
    let units = Units::all(args.units, opened.usual_unit());
    let sizes = match &args.sized_by {
        Some(name) => &opened.bench.sizes.sized_by_named(name)?,
        None => &opened.bench.sizes,
    };
    let selection = SizeSelection::parse(&args.sizes, sizes)?;
    let ids: Vec<&str> = selection.ids().iter().map(|id| id.as_str()).collect();
    let words: Vec<&str> = args.measures.iter().map(String::as_str).collect();
    let measures = sizes.chosen_measures(&words)?;
    let text = match args.format.rows() {
        None => drawing::body_picture(sizes, &ids, &measures, &units).svg(),
        Some(format) => {
            let chart = report::body_chart(sizes, &ids, &measures, &units);
            with_sources(chart.grid.write(format), &chart.sources, format)
        }
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(true)
}

/// Where the measures are from, below what people read.
fn with_sources(mut text: String, sources: &[String], format: Format) -> String {
    if matches!(format, Format::Table | Format::Markdown) {
        text.push_str("\nSources\n");
        if format == Format::Markdown {
            text.push('\n');
        }
        for source in sources {
            text.push_str(&format!("- {source}\n"));
        }
    }
    text
}

fn finished_chart(args: &ChartArgs, garment: &str, output: &mut Output) -> Done {
    if !args.measures.is_empty() || args.sized_by.is_some() {
        let flag = if args.measures.is_empty() { "--sized-by" } else { "--measures" };
        return Err(Diagnostic::error(
            Code::Usage,
            format!("{flag} is for body charts, without a garment"),
        )
        .hint("a garment's chart shows its finished sizes")
        .into());
    }
    let opened = Opened::of(&args.bench, output)?;
    opened.tell_clash(garment, output);
    let run = graded(&opened, &args.ask(garment)?, output)?;
    let units = Units::all(args.units, opened.usual_unit());
    let text = match args.format.rows() {
        None => drawing::finished_picture(&run, &units).svg(),
        Some(format) => report::finished_chart(&run, &units).write(format),
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(tell_refusals(&run, output))
}
