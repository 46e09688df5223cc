//! The commands of a garment's author: new, check, test, and the page of a garment.

use std::path::Path;

use super::Done;
use super::args::{NewArgs, TestArgs};
use super::output::Output;
use super::shared_args::BenchArgs;
use super::{open, taken};
use app::{GradeRequest, Workbench};
use diag::Diagnostics;
use script::Plugin;

pub(super) fn new(args: &NewArgs, output: &mut Output) -> Done {
    let bench = open(&args.bench, output)?;
    let parent = args.folder.as_deref().unwrap_or(Path::new("."));
    let made = bench.new_garment(&args.name, parent)?;
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

pub(super) fn check(garment: &str, bench: &BenchArgs, output: &mut Output) -> Done {
    let bench = open(bench, output)?;
    taken(&bench, garment, output);
    let check = output.busy("all sizes on every machine, each option at its ends", || {
        bench.check_garment(garment)
    })?;
    output.diagnostics(&check.findings);
    output.result(None, &report::check_text(&check.title, &check.machines, &check.findings))?;
    Ok(!check.findings.has_errors())
}

pub(super) fn test(args: &TestArgs, output: &mut Output) -> Done {
    let bench = open(&args.bench, output)?;
    taken(&bench, &args.garment, output);
    let mut text = String::new();
    if args.bless {
        for case in bench.bless_garment(&args.garment)? {
            text.push_str(&format!("{case}: new figures written\n"));
        }
    }
    let test = output.busy("knitting the cases", || bench.test_garment(&args.garment))?;
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

pub(super) fn show(garment: &str, bench: &BenchArgs, output: &mut Output) -> Done {
    let bench = open(bench, output)?;
    taken(&bench, garment, output);
    let plugin = bench.garment(garment)?;
    let mut text = report::garment_page(&plugin.manifest);
    if let Some(picture) = picture(&bench, &plugin)? {
        text.push('\n');
        text.push_str(&picture);
    }
    output.result(None, &text)?;
    Ok(true)
}

/// The pieces of a middle size; none where it can't be made by the defaults.
fn picture(bench: &Workbench, plugin: &Plugin) -> Result<Option<String>, Diagnostics> {
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
        report::garment_picture(&run, &label, made)
    }))
}
