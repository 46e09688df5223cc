//! The commands of a garment's author: new, check, test, and the page of a garment.

use std::path::Path;

use super::Done;
use super::args::{GarmentCommand, NewArgs, TestArgs};
use super::opened::Opened;
use super::output::Output;
use super::shared_args::{BenchArgs, PlainRowArgs};
use app::{GradeRequest, Workbench};
use diag::Diagnostics;
use script::Plugin;

pub(super) fn garment(command: &GarmentCommand, output: &mut Output) -> Done {
    match command {
        GarmentCommand::List { bench, rows } => list(bench, rows, output),
        GarmentCommand::Show { garment, bench } => show(garment, bench, output),
        GarmentCommand::New(args) => new(args, output),
        GarmentCommand::Check { garment, bench } => check(garment, bench, output),
        GarmentCommand::Test(args) => test(args, output),
    }
}

fn list(bench: &BenchArgs, rows: &PlainRowArgs, output: &mut Output) -> Done {
    let opened = Opened::of(bench, output)?;
    let mut good = true;
    let mut plugins = Vec::new();
    for id in opened.bench.garment_ids() {
        opened.tell_clash(&id, output);
        match opened.bench.garment(&id) {
            Ok(plugin) => plugins.push(plugin),
            Err(faults) => {
                output.diagnostics(&faults);
                good = false;
            }
        }
    }
    let manifests: Vec<_> = plugins.iter().map(|p| &*p.manifest).collect();
    let text = report::garment_list(&manifests).write(rows.format);
    output.result(rows.output.as_deref(), &text)?;
    Ok(good)
}

fn new(args: &NewArgs, output: &mut Output) -> Done {
    let opened = Opened::of(&args.bench, output)?;
    let parent = args.folder.as_deref().unwrap_or(Path::new("."));
    let made = opened.bench.new_garment(&args.name, parent)?;
    let shown = made.display();
    output.result(
        None,
        &format!(
            "{shown} holds a garment that grades. Go on with\n\n  \
             oddments grade {shown}\n  \
             oddments garment check {shown}\n  \
             oddments garment test {shown}\n"
        ),
    )?;
    Ok(true)
}

fn check(garment: &str, bench: &BenchArgs, output: &mut Output) -> Done {
    let opened = Opened::of(bench, output)?;
    opened.tell_clash(garment, output);
    let check = output.busy("all sizes on every machine, each option at its ends", || {
        opened.bench.check_garment(garment)
    })?;
    output.diagnostics(&check.findings);
    let text =
        report::check_text(&check.title, &check.machines, &check.free_edges, &check.findings);
    output.result(None, &(report::trace_text(&check.traces) + &text))?;
    Ok(!check.findings.has_errors())
}

fn test(args: &TestArgs, output: &mut Output) -> Done {
    let opened = Opened::of(&args.bench, output)?;
    opened.tell_clash(&args.garment, output);
    let mut text = String::new();
    if args.bless {
        for case in opened.bench.bless_garment(&args.garment)? {
            text.push_str(&format!("{case}: new figures written\n"));
        }
    }
    let test = output.busy("knitting the cases", || opened.bench.test_garment(&args.garment))?;
    if test.cases.is_empty() {
        text.push_str(&format!("{} has no cases\n", test.title));
    }
    for case in &test.cases {
        output.diagnostics(&case.faults);
        if case.faults.has_errors() {
            text.push_str(&format!("{}: can't be run\n", case.name));
        } else {
            text.push_str(&report::case_text(&case.name, case.figures, &case.differences));
        }
    }
    output.result(None, &text)?;
    Ok(test.cases.iter().all(|case| case.passed()))
}

fn show(garment: &str, bench: &BenchArgs, output: &mut Output) -> Done {
    let opened = Opened::of(bench, output)?;
    opened.tell_clash(garment, output);
    let plugin = opened.bench.garment(garment)?;
    let mut text = report::garment_page(&plugin.manifest);
    if let Some((decisions, picture)) = example(&opened.bench, &plugin)? {
        text.push_str(&decisions);
        text.push('\n');
        text.push_str(&picture);
    }
    output.result(None, &text)?;
    Ok(true)
}

/// The numbers and the pieces of a middle size; none where it can't be made by the defaults.
fn example(bench: &Workbench, plugin: &Plugin) -> Result<Option<(String, String)>, Diagnostics> {
    let Some(size) = bench.middle_size() else { return Ok(None) };
    let (swatch, machine) = bench.swatch_and_machine(None, None)?;
    let run = bench.grade(&GradeRequest {
        plugin,
        machine,
        swatch: &swatch,
        options: Vec::new(),
        sizes: size.id.to_string(),
        person: None,
    })?;
    let first = run.good().next();
    Ok(first.map(|(size, made)| {
        let label = format!("{}, {}", size.body.label, run.machine.title.to_lowercase());
        let decisions = report::decisions_text(&made.garment.decisions, &label);
        (decisions, report::garment_picture(&run, &label, size, made))
    }))
}
