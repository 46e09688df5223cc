//! The commands speak for themselves: each has examples that work, misspelt words are answered with
//! the likely one, shells and `man` learn all commands, and nothing but text leaves a pipe.

use std::fs;
use std::path::Path;

use clap::Command;
use rayon::prelude::*;

use crate::demo::Demo;
use crate::docs::run_line;
use crate::support::{oddments, oddments_in};

/// All commands, those that hold others too, without `help`.
pub(crate) fn commands() -> Vec<Command> {
    fn gather(command: &Command, all: &mut Vec<Command>) {
        all.push(command.clone());
        for inner in command.get_subcommands() {
            gather(inner, all);
        }
    }
    let mut whole = cli::command().disable_help_subcommand(true);
    whole.build();
    let mut all = Vec::new();
    gather(&whole, &mut all);
    all
}

/// `oddments garment check`.
pub(crate) fn path_of(command: &Command) -> String {
    command.get_bin_name().unwrap_or_else(|| command.get_name()).to_owned()
}

/// The examples in what stands under a command's help, lines that go on joined.
fn examples(command: &Command) -> Vec<String> {
    let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    let joined = help.replace("\\\n", "");
    let lines = joined.lines().filter_map(|line| line.strip_prefix("  "));
    lines
        .filter(|l| l.starts_with("oddments ") || l.starts_with("echo "))
        .map(str::to_owned)
        .collect()
}

/// What must have been done before in the demo workspace, for commands whose examples go on from
/// there.
fn before(path: &str, workspace: &Path) -> &'static [&'static str] {
    match path {
        "oddments garment check" | "oddments garment test" => &["oddments garment new sea-band"],
        "oddments undo" => &["oddments stash change slate-1 --weight \"12 g\""],
        "oddments swatch remove" => &[
            "oddments swatch add slate-plain --yarn \"400 m/100 g\" --structure plain --stitches 40 \
             --widths \"14 cm\" --rows 60 --heights \"15 cm\"",
        ],
        "oddments swatch dial" => {
            &["oddments swatch add slate-5 --yarn \"400 m/100 g\" --structure plain --dial 5 \
             --stitches 40 --widths \"12.6 cm\" --rows 60 --heights \"13.6 cm\""]
        }
        "oddments batch" => {
            let requests = "{\"garment\": \"hat\"}\n{\"garment\": \"tam\", \"sizes\": \"y4\"}\n";
            fs::write(workspace.join("requests.jsonl"), requests).expect("written");
            &[]
        }
        "oddments knitters change" => &["oddments knitters add Wenna"],
        "oddments knitters remove" => &["oddments knitters add Hocken"],
        "oddments plan" => {
            // All gifts would take minutes in a build that is not optimised.
            let gifts = fs::read_to_string(workspace.join("gifts.toml")).expect("gifts");
            let few: Vec<&str> = gifts.split("[[gift]]").take(3).collect();
            fs::write(workspace.join("gifts.toml"), few.join("[[gift]]")).expect("written");
            &[]
        }
        _ => &[],
    }
}

#[test]
fn every_command_has_an_example() {
    let all = commands();
    assert!(all.len() > 40, "only {} commands found", all.len());
    for command in &all {
        let path = path_of(command);
        let examples = examples(command);
        assert!(
            examples
                .iter()
                .any(|example| *example == path || example.starts_with(&format!("{path} "))),
            "`{path} --help` has no example: {examples:?}"
        );
        assert!(command.get_about().is_some(), "`{path} --help` says nothing");
        for argument in command.get_arguments() {
            let what = argument.get_help().is_some_and(|help| !help.to_string().is_empty());
            assert!(what, "`{path} --help` says nothing of {}", argument.get_id());
        }
    }
}

#[test]
fn every_example_works() {
    let faults: Vec<String> = commands()
        .par_iter()
        .filter_map(|command| {
            let demo = Demo::new();
            let path = path_of(command);
            let before = before(&path, &demo.path).iter().map(|line| (*line).to_owned());
            for line in before.chain(examples(command)) {
                match run_line(&line, &demo.path) {
                    Ok(ran) if ran.code == Some(0) => {}
                    Ok(ran) => {
                        return Some(format!(
                            "{path}: `{line}` ends with {:?}: {}",
                            ran.code, ran.err
                        ));
                    }
                    Err(fault) => return Some(format!("{path}: {fault}")),
                }
            }
            None
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// A misspelt word of each kind, and the word that is offered. In the demo workspace.
#[test]
fn misspelt_words_are_answered_with_the_likely_one() {
    const SWATCH: &str = "--stitches 40 --widths \"14 cm\" --rows 60 --heights \"15 cm\"";
    let swatch = |rest: &str| format!("swatch add new --yarn \"400 m/100 g\" {rest} {SWATCH}");
    let cases: Vec<(String, &str)> = [
        // Commands, flags, words of a flag.
        ("grad tam", "'grade'"),
        ("garment shwo tam", "'show'"),
        ("stash lst", "'list'"),
        ("manual grad", "`grade`"),
        ("manual garment chek", "`check`"),
        ("completions bsh", "'bash'"),
        ("schema stsh", "`stash`"),
        ("grade tam --formt json", "'--format'"),
        ("grade tam --format jsn", "'json'"),
        ("grade tam --color nevr", "'never'"),
        ("pattern tam --size y4 --format svg --picture stripe", "'stripes'"),
        // Garments.
        ("grade tma", "`tam`"),
        ("chart tma", "`tam`"),
        ("pattern tma --size y4", "`tam`"),
        ("reach --weight \"34 g\" --garment tma", "`tam`"),
        ("record tma --size women-m --used \"hat:slate-1=3 g\"", "`tam`"),
        ("garment show tma", "`tam`"),
        ("garment check tma", "`tam`"),
        ("garment test tma", "`tam`"),
        ("gifts add --person Tamsin --garment tma", "`tam`"),
        ("gifts add --person Tamsin --garment \"anything wram\"", "`anything warm`"),
        ("people add Jenna --size women-m --likes-garment tma", "`tam`"),
        // Sizes.
        ("grade tam --sizes womn-m", "`women-m`"),
        ("grade tam --sizes y4..womn-l", "`women-l`"),
        ("grade tam --sizes babis", "`babies`"),
        ("chart --sizes womn-m", "`women-m`"),
        ("pattern tam --size womn-m", "`women-m`"),
        ("reach --weight \"34 g\" --sizes womn-m", "`women-m`"),
        ("people add Jenna --size womn-m", "`women-m`"),
        // Options and sections.
        ("grade tam --set wedgs=6", "`wedges`"),
        ("chart tam --set wedgs=6", "`wedges`"),
        ("record tam --size women-m --used \"hat:slate-1=3 g\" --set wedgs=6", "`wedges`"),
        ("gifts add --person Tamsin --garment tam --set wedgs=6", "`wedges`"),
        ("gifts change tamsin-hat --set wedgs=6", "`wedges`"),
        ("gifts add --person Tamsin --garment tam --pin bnd=slate-1", "`band`"),
        ("gifts add --person Tamsin --garment tam --pin band=slte-1", "`slate-1`"),
        ("record tam --size women-m --used \"hta:slate-1=3 g\"", "`hat`"),
        ("pattern tam --size y4 --format svg --picture stripes --yarn bnd=slate", "`band`"),
        // Machines, swatches, structures.
        ("grade tam --machine bulk", "`bulky`"),
        ("chart tam --machine bulk", "`bulky`"),
        ("reach --weight \"34 g\" --machine bulk", "`bulky`"),
        ("swatch dial --yarn slate --stitches 29 --machine bulk", "`bulky`"),
        ("swatch dial --yarn slate --stitches 29 --structure plan", "`plain`"),
        ("grade tam --swatch standrd", "`standard`"),
        ("swatch show standrd", "`standard`"),
        ("swatch remove standrd", "`standard`"),
        ("yarn change slate --swatch standrd", "`standard`"),
        // Measures.
        ("grade tam --measure \"head_grith=58 cm\"", "`head_girth`"),
        ("chart --measures head_grith", "`head_girth`"),
        ("people add Jenna --measure \"head_grith=58 cm\"", "`head_girth`"),
        // Yarns and remnants.
        ("stash add --yarn slte --weight \"3 g\"", "`slate`"),
        ("stash list --yarn slte", "`slate`"),
        ("stash change slte-1 --weight \"3 g\"", "`slate-1`"),
        ("stash remove slte-1", "`slate-1`"),
        ("yarn change slte --care hand", "`slate`"),
        ("yarn remove slte", "`slate`"),
        ("swatch dial --yarn slte --stitches 29", "`slate`"),
        ("reach --remnant slte-1", "`slate-1`"),
        ("record tam --size women-m --used \"hat:slte-1=3 g\"", "`slate-1`"),
        ("pattern tam --size y4 --format svg --picture stripes --yarn slte", "`slate`"),
        // People and gifts.
        ("people change Tamsn --size women-m", "`Tamsin`"),
        ("people remove Tamsn", "`Tamsin`"),
        ("gifts add --person Tamsn --garment tam", "`Tamsin`"),
        ("gifts list --person Tamsn", "`Tamsin`"),
        ("gifts change tamsin-ht --priority 5", "`tamsin-hat`"),
        ("gifts remove tamsin-ht", "`tamsin-hat`"),
        ("record tam --size y4 --used \"hat:slate-1=3 g\" --gift ruan-tm", "`ruan-tam`"),
        // Words of their own.
        ("people add Jenna --size women-m --likes-colour bleu", "`blue`"),
        ("people add Jenna --size women-m --avoids-fibre moahir", "`mohair`"),
        ("people add Jenna --size women-m --wash machin", "`machine`"),
    ]
    .into_iter()
    .map(|(line, word)| (line.to_owned(), word))
    .chain([
        (swatch("--structure plan"), "`plain`"),
        (swatch("--structure plain --state wahsed"), "`washed`"),
        (swatch("--structure plain --machine bulk"), "`bulky`"),
    ])
    .collect();
    let demo = Demo::new();
    let faults: Vec<String> = cases
        .par_iter()
        .filter_map(|(line, word)| {
            let ran = run_line(&format!("oddments {line}"), &demo.path).expect("a command");
            let offers = [format!("did you mean {word}?"), format!("exists: {word}")];
            let answered = offers.iter().any(|offer| ran.err.contains(offer));
            (ran.code == Some(0) || !answered)
                .then(|| format!("`{line}` should offer {word}: {:?}\n{}", ran.code, ran.err))
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// A misspelt option in a file written by hand is not quietly left out of the plan.
#[test]
fn a_plan_tells_of_options_and_sections_that_no_garment_has() {
    let demo = Demo::new();
    let path = demo.path.join("gifts.toml");
    let gifts = demo.text("gifts.toml");
    let gifts =
        gifts.replace("wedges = 6", "wedgs = 6").replace("pinned = { band", "pinned = { bnd");
    fs::write(&path, gifts).expect("written");
    let ran = demo.run(&["plan", "--today", "2026-09-01", "--work", "1"]);
    assert_eq!(ran.code, Some(1));
    for word in ["gift `ruan-tam`", "did you mean `wedges`?", "did you mean `band`?"] {
        assert!(ran.err.contains(word), "{word}: {}", ran.err);
    }
}

#[test]
fn every_shell_learns_every_command() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = oddments(&["completions", shell]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        for command in commands() {
            assert!(ran.out.contains(command.get_name()), "{shell}: {}", path_of(&command));
        }
        for flag in ["match", "likes-colour", "contact"] {
            assert!(ran.out.contains(flag), "{shell}: --{flag}");
        }
    }
    let home = tempfile::tempdir().expect("a folder");
    let ran = oddments_in(home.path(), &["completions", "fish", "--output", "oddments.fish"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), ""));
    let file = fs::read_to_string(home.path().join("oddments.fish")).expect("written");
    assert_eq!(file, oddments(&["completions", "fish"]).out);
}

#[test]
fn the_manual_has_a_page_for_every_command() {
    let home = tempfile::tempdir().expect("a folder");
    let ran = oddments_in(home.path(), &["manual", "--output", "share/man1"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let all = commands();
    assert!(ran.err.contains(&format!("{} pages", all.len())), "{}", ran.err);
    for command in &all {
        let path = path_of(command);
        let name = path.replace(' ', "-");
        let file = home.path().join(format!("share/man1/{name}.1"));
        let page = fs::read_to_string(file).unwrap_or_else(|e| panic!("{name}: {e}"));
        let title =
            format!(".TH \"{name}\" \"1\" \"\" \"oddments {}\" ", env!("CARGO_PKG_VERSION"));
        assert!(page.starts_with(&title), "{page}");
        for section in ["NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXAMPLES", "\"EXIT STATUS\""]
        {
            assert!(page.contains(&format!("\n.SH {section}\n")), "{name}: {section}\n{page}");
        }
        for example in examples(command) {
            // Hyphens are escaped in a page; an example keeps its line.
            let first = example.split(['-', '"', '\'']).next().expect("split gives one");
            assert!(page.lines().any(|line| line.contains(first.trim_end())), "{name}: {example}");
        }
        let words: Vec<&str> = path.split(' ').skip(1).collect();
        assert_eq!(oddments(&[&["manual"], &words[..]].concat()).out, page, "{name}");
    }
    let ran = oddments_in(home.path(), &["manual", "stash", "--output", "few"]);
    assert!(ran.err.contains("5 pages"), "{}", ran.err);
}

/// Into a pipe goes text alone, whether or not the terminal it was typed in has colours.
#[test]
fn no_escape_leaves_a_pipe_unless_asked_for() {
    let fails = ["grade", "tma"];
    let wrong = ["grade", "--formt"];
    let slow = ["garment", "check", "headband"];
    let helps = ["grade", "--help"];
    for (arguments, colour, escapes) in [
        (&fails[..], None, false),
        (&wrong, None, false),
        (&slow, None, false),
        (&helps, None, false),
        (&fails, Some("auto"), false),
        (&fails, Some("never"), false),
        (&wrong, Some("never"), false),
        (&fails, Some("always"), true),
        (&wrong, Some("always"), true),
    ] {
        let flag: Vec<String> = colour.map(|c| format!("--color={c}")).into_iter().collect();
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_oddments"))
            .args(arguments)
            .args(&flag)
            .env_remove("NO_COLOR")
            .env("TERM", "xterm-256color")
            .output()
            .expect("runs");
        let told = [output.stdout, output.stderr].concat();
        assert!(!told.is_empty(), "{arguments:?}");
        assert_eq!(told.contains(&0x1b), escapes, "{arguments:?} {flag:?}");
        assert!(!told.contains(&b'\r'), "{arguments:?}: a line that moves");
    }
}
