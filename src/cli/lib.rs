//! The command line: arguments in, text out. Results go to standard output, diagnostics to
//! standard error. Exit codes: 0 done, 1 the work can't be done, 2 wrong usage, 3 a batch broke off.

mod args;
mod batch;
mod output;
mod pattern;
mod plan;
mod progress;
mod reach;
mod shared_args;
mod shell;
mod stripes;
mod workshop;
mod workspace;
mod workspace_args;

use std::ffi::OsString;
use std::path::Path;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use app::{GradeRequest, Person, Serving, Workbench, Workspace};
use args::{Args, ChartArgs, Command, GarmentCommand, GradeArgs, ServeArgs};
use diag::{Class, Code, Diagnostic, Diagnostics};
use knit::body::{Measure, SizeSelection};
use knit::machine::Machine;
use knit::size_run::SizeRun;
use output::Output;
use report::drawing;
use report::{self, Format};
use shared_args::{BenchArgs, Units, WorkArgs};
use store::SwatchFile;
use units::{Length, LengthUnit};

/// How the program is served: told what to serve, and to whom to say where it listens. Given from
/// outside, since this layer knows no other way in than its own.
pub type Serve = fn(&Serving, &dyn Fn(&str)) -> Result<(), Diagnostics>;

/// The tree of commands with their words, for what describes it: completions, the manual, tests.
pub fn command() -> clap::Command {
    Args::command()
}

/// Runs the program with the process's own arguments.
pub fn run(serve: Serve) -> ExitCode {
    let given: Vec<OsString> = std::env::args_os().collect();
    let parsed = command()
        .color(output::asked_colour(&given))
        .try_get_matches_from(given)
        .and_then(|matches| Args::from_arg_matches(&matches));
    let args = match parsed {
        Ok(args) => args,
        Err(error) => {
            // Help and version are results; the rest is wrong usage. A closed pipe is no fault.
            let code = if error.use_stderr() { 2 } else { 0 };
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let mut output = Output::new(args.color);
    let done = match &args.command {
        Command::Grade(args) => grade(args, &mut output),
        Command::Batch(args) => batch::batch(args, &mut output),
        Command::Chart(args) => chart(args, &mut output),
        Command::Pattern(args) => pattern::pattern(args, &mut output),
        Command::Reach(args) => reach::reach(args, &mut output),
        Command::Plan(args) => plan::plan(args, &mut output),
        Command::Record(args) => plan::record(args, &mut output),
        Command::Garment { command } => garment(command, &mut output),
        Command::Init(args) => workspace::init(args, &mut output),
        Command::Stash { command } => workspace::stash(command, &mut output),
        Command::Yarn { command } => workspace::yarn(command, &mut output),
        Command::People { command } => workspace::people(command, &mut output),
        Command::Gifts { command } => workspace::gifts(command, &mut output),
        Command::Swatch { command } => workspace::swatch(command, &mut output),
        Command::Undo(args) => workspace::undo(args, &mut output),
        Command::Schema(args) => workspace::schemas(args, &mut output),
        Command::Serve(args) => serving(args, serve, &mut output),
        Command::Completions(args) => shell::completions(args, &mut output),
        Command::Manual(args) => shell::manual(args, &mut output),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(faults) => {
            output.diagnostics(&faults);
            exit_of(faults.class(), matches!(args.command, Command::Batch(_)))
        }
    }
}

/// The one place where a class of faults becomes an exit status. After 1 every line of a batch has
/// its answer; where it broke off some have none.
fn exit_of(class: Option<Class>, batch: bool) -> ExitCode {
    ExitCode::from(match class {
        Some(Class::Usage) => 2,
        _ if batch => 3,
        Some(
            Class::Input
            | Class::Missing
            | Class::Conflict
            | Class::Busy
            | Class::Disk
            | Class::Inside,
        )
        | None => 1,
    })
}

fn serving(args: &ServeArgs, serve: Serve, output: &mut Output) -> Done {
    // A reader of standard output that went away doesn't stop the server.
    let say = |text: &str| drop(output.result(None, text));
    serve(&args.into(), &say)?;
    Ok(true)
}

/// `Ok(false)`: something was printed, but part of the work can't be done.
type Done = Result<bool, Diagnostics>;

fn grade(args: &GradeArgs, output: &mut Output) -> Done {
    let (run, workspace) = graded(&args.work, &args.work.sizes, output)?;
    let usual = usual_unit(workspace.as_ref());
    let unit = Units::one(args.rows.units, usual)?;
    let text = report::grade_page(&run, unit, args.rows.format);
    output.result(args.rows.output.as_deref(), &text)?;
    Ok(tell_refusals(&run, output))
}

/// Says why sizes can't be knitted. Gives whether all can.
fn tell_refusals(run: &SizeRun, output: &mut Output) -> bool {
    output.diagnostics(&run.refusals());
    run.all_knittable()
}

fn chart(args: &ChartArgs, output: &mut Output) -> Done {
    let units = |usual: LengthUnit| Units::all(args.units, usual);
    let Some(garment) = &args.garment else {
        if args.machine.is_some() || args.swatch.is_some() || !args.set.is_empty() {
            return Err(Diagnostic::error(
                Code::Usage,
                "a body chart has no machine, swatch or options",
            )
            .hint("name a garment to chart its finished sizes")
            .into());
        }
        let (bench, workspace) = open_all(&args.bench, output)?;
        let units = units(usual_unit(workspace.as_ref()));
        let selection = SizeSelection::parse(&args.sizes, &bench.sizes)?;
        let ids: Vec<&str> = selection.ids().iter().map(|id| id.as_str()).collect();
        let measures = match args.measures.as_slice() {
            [] => Measure::MAIN.to_vec(),
            [all] if all == "all" => bench.sizes.measures(),
            names => measures(names)?,
        };
        let Some(format) = args.format.rows() else {
            let picture = drawing::body_picture(&bench.sizes, &ids, &measures, &units);
            output.result(args.output.as_deref(), &picture.svg())?;
            return Ok(true);
        };
        let chart = report::body_chart(&bench.sizes, &ids, &measures, &units);
        let mut text = chart.grid.write(format);
        if matches!(format, Format::Table | Format::Markdown) {
            text.push_str("\nSources\n");
            if format == Format::Markdown {
                text.push('\n');
            }
            for source in &chart.sources {
                text.push_str(&format!("- {source}\n"));
            }
        }
        output.result(args.output.as_deref(), &text)?;
        return Ok(true);
    };
    if !args.measures.is_empty() {
        return Err(Diagnostic::error(
            Code::Usage,
            "--measures is for body charts, without a garment",
        )
        .hint("a garment's chart shows its finished sizes")
        .into());
    }
    let work = args.work(garment);
    let (run, workspace) = graded(&work, &args.sizes, output)?;
    let usual = usual_unit(workspace.as_ref());
    let units = units(usual);
    let text = match args.format.rows() {
        None => drawing::finished_picture(&run, &units).svg(),
        Some(format) => report::finished_chart(&run, &units).write(format),
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(tell_refusals(&run, output))
}

fn garment(command: &GarmentCommand, output: &mut Output) -> Done {
    match command {
        GarmentCommand::List { bench, rows } => {
            let bench = open(bench, output)?;
            let mut good = true;
            let mut plugins = Vec::new();
            for id in bench.garment_ids() {
                taken(&bench, &id, output);
                match bench.garment(&id) {
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
        GarmentCommand::Show { garment, bench } => workshop::show(garment, bench, output),
        GarmentCommand::New(args) => workshop::new(args, output),
        GarmentCommand::Check { garment, bench } => workshop::check(garment, bench, output),
        GarmentCommand::Test(args) => workshop::test(args, output),
    }
}

fn open(sources: &BenchArgs, output: &mut Output) -> Result<Workbench, Diagnostics> {
    Ok(open_all(sources, output)?.0)
}

/// The workbench, and the workspace it comes from, if any.
fn open_all(
    sources: &BenchArgs,
    output: &mut Output,
) -> Result<(Workbench, Option<Workspace>), Diagnostics> {
    let workspace = workspace::find(sources.workspace.as_deref(), output)?;
    let bench = match &workspace {
        Some(workspace) => workspace.bench(&sources.into())?,
        None => Workbench::open(&sources.into())?,
    };
    output.diagnostics(&bench.warnings);
    Ok((bench, workspace))
}

fn usual_unit(workspace: Option<&Workspace>) -> LengthUnit {
    workspace.map_or(LengthUnit::Cm, |workspace| workspace.contents.settings.units)
}

/// Says so when the garment of that name hides another.
fn taken(bench: &Workbench, garment: &str, output: &mut Output) {
    if let Some(clash) = bench.garment_clash(garment) {
        output.diagnostics(&clash.into());
    }
}

/// The swatch and machine asked for: by a workspace's id, a file, or what is usual.
fn swatch_of<'b>(
    bench: &'b Workbench,
    workspace: Option<&Workspace>,
    swatch: Option<&str>,
    machine: Option<&str>,
) -> Result<(SwatchFile, &'b Machine), Diagnostics> {
    match workspace {
        Some(workspace) => workspace.swatch_and_machine(bench, swatch, machine),
        None => bench.swatch_and_machine(swatch.map(Path::new), machine),
    }
}

/// The run, and the unit it is told in where none was asked for.
fn graded(
    work: &WorkArgs,
    sizes: &str,
    output: &mut Output,
) -> Result<(SizeRun, Option<Workspace>), Diagnostics> {
    let (bench, workspace) = open_all(&work.bench, output)?;
    taken(&bench, &work.garment, output);
    let plugin = bench.garment(&work.garment)?;
    let (swatch, machine) =
        swatch_of(&bench, workspace.as_ref(), work.swatch.as_deref(), work.machine.as_deref())?;
    let person = person(work)?;
    let run = bench.grade(&GradeRequest {
        plugin: &plugin,
        machine,
        swatch: &swatch,
        options: key_values(&work.set, "--set")?,
        sizes: sizes.to_owned(),
        person,
    })?;
    output.diagnostics(&run.warnings);
    Ok((run, workspace))
}

/// The made-to-measure person of `--measure`, if any.
fn person(work: &WorkArgs) -> Result<Option<Person>, Diagnostics> {
    if work.measure.is_empty() {
        return Ok(None);
    }
    let mut faults = Diagnostics::new();
    let mut given = Vec::new();
    for (name, value) in key_values(&work.measure, "--measure")? {
        let measure = name.parse::<Measure>().map_err(|fault| faults.push(fault)).ok();
        let length = value.parse::<Length>().map_err(|e| faults.push(e.into_diagnostic())).ok();
        given.extend(measure.zip(length));
    }
    let name = work.name.clone().unwrap_or_else(|| "Made to measure".to_owned());
    if name.trim().is_empty() {
        faults.push(
            Diagnostic::error(Code::Usage, "--name is blank").hint("say whom the measures are of"),
        );
    }
    faults.into_result(Some(Person { name, measures: given }))
}

fn measures(names: &[String]) -> Result<Vec<Measure>, Diagnostics> {
    let mut faults = Diagnostics::new();
    let found = names
        .iter()
        .filter_map(|name| name.parse::<Measure>().map_err(|fault| faults.push(fault)).ok())
        .collect();
    faults.into_result(found)
}

/// Splits `name=value` texts.
fn key_values(texts: &[String], flag: &str) -> Result<Vec<(String, String)>, Diagnostics> {
    let mut faults = Diagnostics::new();
    let pairs = texts
        .iter()
        .filter_map(|text| match text.split_once('=') {
            Some((key, value)) => Some((key.trim().to_owned(), value.trim().to_owned())),
            None => {
                faults.push(
                    Diagnostic::error(Code::Usage, format!("`{flag} {text}` has no `=` in it"))
                        .hint(format!("write it like `{flag} name=value`")),
                );
                None
            }
        })
        .collect();
    faults.into_result(pairs)
}
