//! The pages: every command in them runs, and what they print is what is printed.

use std::fs;
use std::path::Path;

use assert_cmd::Command;

/// A command of a ```console block and the output shown under it; `...` stands for any lines.
pub(crate) struct Shown {
    pub line: usize,
    command: String,
    output: Vec<String>,
}

fn shown(page: &str) -> Vec<Shown> {
    let mut all = Vec::new();
    let mut inside: Option<(usize, Vec<&str>)> = None;
    for (number, line) in page.lines().enumerate() {
        match (line.starts_with("```"), &mut inside) {
            (true, Some(_)) => {
                if let Some((first, lines)) = inside.take() {
                    all.extend(shown_in(lines.into_iter(), first));
                }
            }
            (true, None) if line == "```console" => inside = Some((number + 2, Vec::new())),
            (false, Some((_, lines))) => lines.push(line),
            _ => {}
        }
    }
    all
}

/// The commands of one block whose first line is line `first` of its page.
pub(crate) fn shown_in<'a>(lines: impl Iterator<Item = &'a str>, first: usize) -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    for (number, line) in lines.enumerate() {
        if let Some(command) = line.strip_prefix("$ ") {
            let command = command.to_owned();
            all.push(Shown { line: first + number, command, output: Vec::new() });
        } else if let Some(last) = all.last_mut() {
            last.output.push(line.to_owned());
        }
    }
    all
}

/// Splits a command line at blanks, double quotes holding words together.
fn words(command: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in command.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().expect("never empty").push(c),
        }
    }
    words.retain(|w| !w.is_empty());
    words
}

/// Whether `output` is what the page shows. A line shown also matches one it begins.
fn matches(shown: &[String], output: &[&str]) -> bool {
    match shown.split_first() {
        None => output.is_empty(),
        Some((line, rest)) if line == "..." => {
            (0..=output.len()).any(|skip| matches(rest, &output[skip..]))
        }
        Some((line, rest)) => {
            output.first().is_some_and(|o| o.starts_with(line.as_str()))
                && matches(rest, &output[1..])
        }
    }
}

/// Runs a shown command in `folder`. What is wrong with it, if anything.
pub(crate) fn run_shown(example: &Shown, folder: &Path, should_fail: bool) -> Option<String> {
    let words = words(&example.command);
    let Some(("oddments", arguments)) = words.split_first().map(|(w, a)| (w.as_str(), a)) else {
        return Some(format!("`{}` is not a command of this program", example.command));
    };
    let run = Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program starts");
    let output = String::from_utf8_lossy(&run.stdout);
    let told = String::from_utf8_lossy(&run.stderr);
    if run.status.success() == should_fail {
        return Some(format!("`{}` ends with {}:\n{output}{told}", example.command, run.status));
    }
    let lines: Vec<&str> = output.lines().collect();
    (!matches(&example.output, &lines))
        .then(|| format!("the page is stale: `{}` now prints\n{output}", example.command))
}

fn page_faults(name: &str, page: &str) -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    shown(page)
        .iter()
        .filter_map(|example| {
            let fault = run_shown(example, folder, false)?;
            Some(format!("{name}:{}: {fault}", example.line))
        })
        .collect()
}

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a page")
}

#[test]
fn every_command_in_the_readme_prints_what_is_shown() {
    let page = read("README.md");
    assert!(shown(&page).len() >= 8, "the README lost its examples");
    let faults = page_faults("README.md", &page);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_stale_page_is_noticed() {
    let stale = "```console\n$ oddments garment list\nGarment of last year\n```\n";
    assert_eq!(page_faults("x.md", stale).len(), 1);
    let wrong = "```console\n$ oddments knit\n```\n";
    assert_eq!(page_faults("x.md", wrong).len(), 1);
}

#[test]
fn the_swatch_in_the_readme_is_read_and_used() {
    let page = read("README.md");
    let toml = page.split("```toml").nth(1).and_then(|t| t.split("```").next()).expect("a block");
    let file = oddments::store::parse_swatches("my-swatch.toml", toml).expect("a sound example");
    assert!(file.set.plain().weighed.is_some());
}

#[test]
fn every_command_of_the_program_is_in_the_readme_and_has_an_example() {
    let page = read("README.md");
    let shown = [
        "grade",
        "chart",
        "pattern",
        "garment list",
        "garment show",
        "garment check",
        "garment test",
        "stash list",
        "gifts list",
        "swatch show",
    ];
    // One that writes is not run from the page.
    let named = [
        "garment new",
        "init",
        "yarn add",
        "stash add",
        "stash change",
        "people add",
        "gifts add",
        "swatch add",
        "undo",
        "schema",
    ];
    for command in shown.into_iter().chain(named) {
        let prompt = if named.contains(&command) { "" } else { "$ " };
        assert!(page.contains(&format!("{prompt}oddments {command}")), "{command}");
        let mut words: Vec<&str> = command.split(' ').collect();
        words.push("--help");
        let help =
            Command::new(env!("CARGO_BIN_EXE_oddments")).args(&words).output().expect("runs");
        let help = String::from_utf8_lossy(&help.stdout).into_owned();
        assert!(help.contains("Example"), "{command} --help has no example");
        assert!(help.contains(&format!("oddments {command}")), "{command}");
    }
}

/// The changelog has a section for the version being built, or one for what is to come.
#[test]
fn the_changelog_knows_this_version() {
    let page = read("CHANGELOG.md");
    assert!(
        page.contains("## Unreleased") || page.contains(concat!("## ", env!("CARGO_PKG_VERSION")))
    );
}
