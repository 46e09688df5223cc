//! `oddments pattern`: as text, as data, as a picture, as a sheet to print.

use super::args::{self, PatternArgs, PatternFormat, Picture};
use super::grade::{graded, tell_refusals};
use super::opened::Opened;
use super::output::Output;
use super::round::usage;
use super::shared_args::{Units, WordChoice};
use super::{Done, round, stripes};
use app::{Ask, Colouring, YarnRequest, run_sheet};
use diag::{Code, Diagnostic, Diagnostics};
use knit::size_run::SizeRun;
use report::drawing::{self, Drawing};
use report::sheet::{self, Document, Paper};
use report::{PrintLook, Technique};
use units::LengthUnit;

pub(super) fn pattern(args: &PatternArgs, output: &mut Output) -> Done {
    goes_together(args)?;
    let sheet = matches!(args.format, PatternFormat::Html | PatternFormat::Pdf);
    let of_stripes = args.format == PatternFormat::Svg && args.picture == Some(Picture::Stripes);
    let in_round = args.format == PatternFormat::Glb || args.picture == Some(Picture::Round);
    if of_stripes {
        return stripes::picture(args, output);
    }
    if in_round {
        return round::round(args, output);
    }
    if args.stripes.given() && (!sheet || args.stripes.searches()) {
        return usage(
            "yarn is for pictures of the stripes",
            "add --format svg --picture stripes or round; on a sheet, --yarn, --start and --match will do",
        );
    }
    if args.format == PatternFormat::Pdf {
        can_take_pdf(args, output)?;
    }
    let opened = Opened::of(&args.work.bench, output)?;
    opened.tell_clash(&args.work.garment, output);
    let ask = args.ask()?;
    let run = graded(&opened, &ask, output)?;
    written(args, &opened, &ask, &run, output)?;
    Ok(tell_refusals(&run, output))
}

/// The run in the format that is asked for.
fn written(
    args: &PatternArgs,
    opened: &Opened,
    ask: &Ask,
    run: &SizeRun,
    output: &mut Output,
) -> Result<(), Diagnostics> {
    let usual = opened.usual_unit();
    let file = args.output.as_deref();
    // Pictures have both units at once, where that is asked for; what is read has one.
    if matches!(args.format, PatternFormat::Svg | PatternFormat::Glb) {
        // Nothing can be knitted: no picture is better than an empty one.
        return match picture(args, run, usual)? {
            Some(picture) => output.result(file, &picture.svg()),
            None => Ok(()),
        };
    }
    let look = PrintLook {
        unit: Units::one(args.units, usual)?,
        words: args.words.map_or_else(|| opened.usual_words(), WordChoice::words),
        each: args.each,
        flat: args.flat,
    };
    let sheet = |output: &Output| document(args, run, &look, &opened.desk().yarns(ask), output);
    match args.format {
        PatternFormat::Json => output.result(file, &report::pattern_json(run, look.unit)),
        PatternFormat::Html => {
            let sheet = sheet(output)?;
            output.result(file, &sheet::sheet_html(&sheet))
        }
        PatternFormat::Pdf => {
            let sheet = sheet(output)?;
            output.bytes(file, &pdf(&sheet)?)
        }
        _ => output.result(file, &text(args, run, &look)),
    }
}

fn text(args: &PatternArgs, run: &SizeRun, look: &PrintLook) -> String {
    let markdown = args.format == PatternFormat::Markdown;
    let mut text = report::pattern_text(run, look, markdown);
    let techniques = techniques(args, run);
    if !techniques.is_empty() {
        text.push_str("\n\n");
        text.push_str(&report::techniques_text(&techniques, look.words, markdown));
    }
    text
}

/// Whether what was asked for suits the format.
fn goes_together(args: &PatternArgs) -> Result<(), Diagnostics> {
    let sheet = matches!(args.format, PatternFormat::Html | PatternFormat::Pdf);
    let read =
        !matches!(args.format, PatternFormat::Json | PatternFormat::Svg | PatternFormat::Glb);
    let in_round = args.format == PatternFormat::Glb || args.picture == Some(Picture::Round);
    if args.paper.is_some() && !sheet {
        return usage("--paper is for sheets to print", "add --format html or --format pdf");
    }
    if args.flat && !sheet {
        return usage("--flat is for sheets to print", "add --format html or --format pdf");
    }
    if !read && (args.techniques || args.each || args.words.is_some()) {
        let flag = match args {
            _ if args.techniques => "--techniques",
            _ if args.each => "--each",
            _ => "--words",
        };
        return usage(&format!("{flag} is for what is read"), "text, markdown, html or pdf");
    }
    if args.round.given() && !in_round {
        return usage(
            "--from, --on, --detail and --show are for the garment in the round",
            "add --format svg --picture round, or --format glb",
        );
    }
    if args.picture.is_some() && args.format != PatternFormat::Svg {
        return usage("--picture is for pictures alone", "add --format svg");
    }
    Ok(())
}

/// How the things are done that some size takes, where that is asked for.
fn techniques(args: &PatternArgs, run: &SizeRun) -> Vec<Technique> {
    if args.techniques { report::techniques_used(run) } else { Vec::new() }
}

fn picture(
    args: &PatternArgs,
    run: &SizeRun,
    usual: LengthUnit,
) -> Result<Option<Drawing>, Diagnostics> {
    if args.picture != Some(Picture::Rows) {
        return Ok(drawing::schematic(run, &Units::all(args.units, usual)));
    }
    if run.sizes.len() > 1 {
        return Err(Diagnostic::error(
            Code::Usage,
            format!("a row chart is for one size, and these are {}", run.sizes.len()),
        )
        .hint("choose one with --size")
        .into());
    }
    Ok(run.good().next().map(|(size, made)| {
        let heading = format!("{}, {}", run.garment.title, size.body.label);
        drawing::stacked(&heading, &drawing::row_charts(made, &heading))
    }))
}

fn document(
    args: &PatternArgs,
    run: &SizeRun,
    look: &PrintLook,
    yarns: &YarnRequest,
    output: &Output,
) -> Result<Document, Diagnostics> {
    let usual = if look.unit == LengthUnit::In { Paper::Letter } else { Paper::A4 };
    let paper = args.paper.map_or(usual, args::PaperSize::paper);
    let colouring = Colouring::read(yarns, run)?;
    output.diagnostics(&colouring.warnings);
    let sheet = run_sheet(run, look, paper, &colouring)?;
    Ok(sheet.with_techniques(&techniques(args, run), look.words))
}

/// Told before the work is done: a PDF is no text for a terminal.
fn can_take_pdf(args: &PatternArgs, output: &Output) -> Result<(), Diagnostics> {
    if !cfg!(feature = "pdf") {
        return Err(Diagnostic::error(Code::Usage, "this build makes no PDF")
            .hint("build with the feature `pdf`, which is on by default, or print --format html")
            .into());
    }
    if args.output.is_none() && output.is_terminal() {
        return Err(Diagnostic::error(Code::Usage, "a PDF is not for a terminal")
            .hint("name a file: --output FILE")
            .into());
    }
    Ok(())
}

#[cfg(feature = "pdf")]
fn pdf(sheet: &Document) -> Result<Vec<u8>, Diagnostics> {
    Ok(sheet::sheet_pdf(sheet)?)
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &Document) -> Result<Vec<u8>, Diagnostics> {
    unreachable!("refused before the work is done")
}
