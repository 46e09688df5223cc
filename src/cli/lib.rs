//! The command line: arguments in, text out. Results go to standard output, diagnostics to
//! standard error. Exit codes: 0 done, 1 the work can't be done, 2 wrong usage, 3 a batch broke off.

mod args;
mod batch;
mod by_hand_arg;
mod carry_on;
mod chart;
mod grade;
mod interrupt;
mod learnt;
mod opened;
mod output;
mod pattern;
mod plan;
mod progress;
mod reach;
mod round;
mod round_args;
mod serve;
mod shared_args;
mod shell;
mod shop;
mod stripes;
mod stripes_args;
mod workshop;
mod workspace;
mod workspace_args;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use app::{Listening, Serving};
use args::{Args, Command};
use diag::{Class, Diagnostics};
use output::Output;

/// How the program is served: told what to serve, and to whom to say where it listens. Given from
/// outside, since this layer knows no other way in than its own.
pub type Serve = fn(&Serving, &dyn Fn(&Listening)) -> Result<(), Diagnostics>;

/// The tree of commands with their words, for what describes it: completions, the manual, tests.
pub fn command() -> clap::Command {
    Args::command()
}

/// Runs the program with the process's own arguments.
pub fn run(serve: Serve) -> ExitCode {
    let given = by_hand_arg::joined(std::env::args_os().collect());
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
        Command::Grade(args) => grade::grade(args, &mut output),
        Command::Batch(args) => batch::batch(args, &mut output),
        Command::Chart(args) => chart::chart(args, &mut output),
        Command::Pattern(args) => pattern::pattern(args, &mut output),
        Command::CarryOn(args) => carry_on::carry_on(args, &mut output),
        Command::Reach(args) => reach::reach(args, &mut output),
        Command::Plan(args) => plan::plan(args, &mut output),
        Command::Shop(args) => shop::shop(args, &mut output),
        Command::Record(args) => plan::record(args, &mut output),
        Command::Learnt(args) => learnt::learnt(args, &mut output),
        Command::Garment { command } => workshop::garment(command, &mut output),
        Command::Init(args) => workspace::init(args, &mut output),
        Command::Stash { command } => workspace::stash(command, &mut output),
        Command::Yarn { command } => workspace::yarn(command, &mut output),
        Command::People { command } => workspace::people(command, &mut output),
        Command::Knitters { command } => workspace::knitters(command, &mut output),
        Command::Gifts { command } => workspace::gifts(command, &mut output),
        Command::Swatch { command } => workspace::swatch(command, &mut output),
        Command::Undo(args) => workspace::undo(args, &mut output),
        Command::Schema(args) => workspace::schemas(args, &mut output),
        Command::Serve(args) => serve::serve(args, serve, &mut output),
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

/// `Ok(false)`: something was printed, but part of the work can't be done.
type Done = Result<bool, Diagnostics>;
