//! `pattern --format svg --picture stripes`: the garment in the colours of its yarn.

use super::Done;
use super::args::PatternArgs;
use super::opened::Opened;
use super::output::Output;
use super::shared_args::Units;
use app::{Colouring, Search, SearchRequest, only_size, stripes_of};
use diag::Diagnostics;
use knit::look::Look;
use knit::size_run::SizeRun;
use report::drawing::{contact_sheet, stripes};
use units::LengthUnit;

/// The picture as SVG, and what is told beside it.
pub(super) fn picture(args: &PatternArgs, output: &mut Output) -> Done {
    let own = &args.stripes;
    let search = own.search()?;
    let opened = Opened::of(&args.work.bench, output)?;
    let unit = Units::one(args.units, opened.usual_unit())?;
    opened.tell_clash(&args.work.garment, output);
    let ask = args.ask()?;
    let desk = opened.desk();
    let prepared = desk.prepare(&ask)?;
    let run = prepared.grade()?.run;
    output.diagnostics(&run.warnings);
    only_size(&run)?;
    let colouring = Colouring::read(&desk.yarns(&ask), &run)?;
    output.diagnostics(&colouring.warnings);
    let (svg, lines) = match search {
        None => one(&run, &colouring, Vec::new(), unit)?,
        Some(request_search) => {
            let found = output.busy("knitting it from every start", || {
                opened.bench.search_colours(&prepared.request(), &colouring, &request_search)
            })?;
            if own.contact.is_some() {
                contact(&found, &request_search)?
            } else {
                let best = &found.alternatives[0];
                let notes = vec![format!(
                    "Of {} ways tried, this is the {}: it {}{}.",
                    found.tried,
                    match request_search.look {
                        Some(Look::Even) => "most even",
                        _ => "boldest",
                    },
                    caption(best, request_search.vary.as_ref().map(|v| v.name.as_str())),
                    score(best.score, request_search.look),
                )];
                one(&found.runs[best.run], &best.colouring, notes, unit)?
            }
        }
    };
    output.result(args.output.as_deref(), &svg)?;
    // With the picture in a file, the terminal is free for its words.
    if args.output.is_some() {
        output.result(None, &lines)?;
    }
    Ok(true)
}

fn caption(alternative: &app::Alternative, option: Option<&str>) -> String {
    let value = alternative
        .value
        .as_deref()
        .map_or(String::new(), |value| format!(" with {}={value}", option.unwrap_or("the option")));
    format!("begins {:.1} m into its colours{value}", alternative.start_mm / 1000.0)
}

fn score(score: Option<f64>, look: Option<Look>) -> String {
    match (score, look) {
        (Some(score), Some(look)) => format!(" ({}: {score:.1} {})", look.name(), look.unit()),
        _ => String::new(),
    }
}

fn one(
    run: &SizeRun,
    colouring: &Colouring,
    notes: Vec<String>,
    unit: LengthUnit,
) -> Result<(String, String), Diagnostics> {
    let (_, made) = only_size(run)?;
    let coloured = colouring.apply(run, made);
    let sheet = stripes_of(run, &coloured, notes)?;
    Ok((stripes(&sheet, unit).svg(), sheet.lines().join("\n") + "\n"))
}

fn contact(found: &Search, request: &SearchRequest) -> Result<(String, String), Diagnostics> {
    let look = request.look;
    let option = request.vary.as_ref().map_or("", |vary| &vary.name);
    let mut coloured = Vec::new();
    for alternative in &found.alternatives {
        let (_, made) = only_size(&found.runs[alternative.run])?;
        coloured.push(alternative.colouring.apply(&found.runs[alternative.run], made));
    }
    let mut all = Vec::new();
    let mut lines = String::new();
    for (nth, (alternative, coloured)) in found.alternatives.iter().zip(&coloured).enumerate() {
        let mut words = vec![format!(
            "{}. start {:.1} m{}",
            nth + 1,
            alternative.start_mm / 1000.0,
            alternative.value.as_deref().map_or(String::new(), |v| format!(", {option} {v}"))
        )];
        if let (Some(score), Some(look)) = (alternative.score, look) {
            words.push(format!("{} {score:.1} {}", look.name(), look.unit()));
        }
        lines.push_str(&words.join(": "));
        lines.push('\n');
        all.push((stripes_of(&found.runs[alternative.run], coloured, Vec::new())?, words));
    }
    let title = all.first().map_or(String::new(), |(sheet, _)| sheet.title.clone());
    let title = format!("{title}: {} of {} ways tried", all.len(), found.tried);
    Ok((contact_sheet(&title, &all).svg(), lines))
}
