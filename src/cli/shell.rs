//! What fits the program into its surroundings: completions for shells, pages of the manual.

use clap::Command;
use clap_complete::generate;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};

use super::args::{CompletionsArgs, ManualArgs};
use super::output::Output;
use super::{Done, command};
use diag::{Code, Diagnostic, Diagnostics, nearest};

const VERSION: &str = concat!("oddments ", env!("CARGO_PKG_VERSION"));

pub(super) fn completions(args: &CompletionsArgs, output: &mut Output) -> Done {
    let mut script = Vec::new();
    generate(args.shell, &mut command(), "oddments", &mut script);
    output.bytes(args.output.as_deref(), &script)?;
    Ok(true)
}

pub(super) fn manual(args: &ManualArgs, output: &mut Output) -> Done {
    let mut whole = command().disable_help_subcommand(true);
    whole.build();
    let named = named(&whole, &args.command)?;
    let Some(folder) = &args.output else {
        output.bytes(None, &page(named)?)?;
        return Ok(true);
    };
    store::make_folder(folder)?;
    let mut written = 0;
    let mut waiting = vec![named];
    while let Some(next) = waiting.pop() {
        let file = format!("{}.1", page_name(next));
        output.bytes(Some(&folder.join(file)), &page(next)?)?;
        waiting.extend(next.get_subcommands());
        written += 1;
    }
    let pages = if written == 1 { "page" } else { "pages" };
    output.note(&format!("{written} {pages} written to {}", folder.display()));
    Ok(true)
}

/// The command that the words lead to.
fn named<'c>(whole: &'c Command, words: &[String]) -> Result<&'c Command, Diagnostics> {
    words.iter().try_fold(whole, |at, word| {
        at.find_subcommand(word).ok_or_else(|| {
            let known: Vec<&str> = at.get_subcommands().map(Command::get_name).collect();
            let name = at.get_bin_name().unwrap_or_else(|| at.get_name());
            let fault = Diagnostic::error(Code::Usage, format!("`{name}` has no command `{word}`"));
            match nearest(word, known.iter().copied()) {
                Some(near) => fault.hint(format!("did you mean `{near}`?")),
                None if known.is_empty() => fault.hint(format!("leave out `{word}`")),
                None => fault.hint(format!("use one of: {}", known.join(", "))),
            }
            .into()
        })
    })
}

/// `oddments-garment-check`.
fn page_name(command: &Command) -> &str {
    command.get_display_name().unwrap_or_else(|| command.get_name())
}

/// A page for `man`. Sections are put together here, since the text after the help is not prose
/// but lines to type.
fn page(command: &Command) -> Result<Vec<u8>, Diagnostics> {
    let man = Man::new(command.clone());
    // The title by hand: an empty date must keep its place, or the version would be taken for one.
    let title = [page_name(command), "1", "", VERSION, "The oddments manual"];
    let mut bytes =
        format!(".TH {}\n", title.map(|word| format!("\"{word}\"")).join(" ")).into_bytes();
    let written = man
        .render_name_section(&mut bytes)
        .and_then(|()| man.render_synopsis_section(&mut bytes))
        .and_then(|()| man.render_description_section(&mut bytes))
        .and_then(|()| man.render_options_section(&mut bytes))
        .and_then(|()| match command.has_subcommands() {
            true => man.render_subcommands_section(&mut bytes),
            false => Ok(()),
        })
        .and_then(|()| rest(command).to_writer(&mut bytes));
    written
        .map_err(|error| Diagnostic::error(Code::Write, format!("no page comes of it: {error}")))?;
    Ok(bytes)
}

/// The examples as they are typed, how it ends, where more is.
fn rest(command: &Command) -> Roff {
    let mut roff = Roff::default();
    if let Some(help) = command.get_after_help() {
        let help = help.to_string();
        roff.control("SH", ["EXAMPLES"]);
        roff.control("nf", []);
        for line in help.lines().filter(|line| !matches!(*line, "Example:" | "Examples:")) {
            roff.text([roman(line)]);
        }
        roff.control("fi", []);
    }
    roff.control("SH", ["EXIT STATUS"]);
    let broke_off = ("3", "The batch broke off: not every line has an answer.");
    let broke_off = (command.get_name() == "batch").then_some(broke_off);
    for (code, meaning) in [
        ("0", "Done."),
        ("1", "The work can't be done, or not all of it; standard error tells why."),
        ("2", "The arguments can't be understood."),
    ]
    .into_iter()
    .chain(broke_off)
    {
        roff.control("TP", ["4"]);
        roff.text([bold(code)]);
        roff.text([roman(meaning)]);
    }
    roff
}
