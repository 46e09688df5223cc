//! The pages: every command in them runs, and what they print is what is printed.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::Stdio;

use crate::support::{Ran, oddments_in};

/// A command of a ```console block and the output shown under it; `...` stands for any lines.
pub(crate) struct Shown {
    pub line: usize,
    pub command: String,
    output: Vec<String>,
}

/// A fenced block: its info string, the line it begins on, its text.
struct Block<'a> {
    info: &'a str,
    line: usize,
    text: String,
}

fn blocks(page: &str) -> Vec<Block<'_>> {
    let mut all = Vec::new();
    let mut open: Option<Block<'_>> = None;
    for (number, line) in page.lines().enumerate() {
        match (line.strip_prefix("```"), open.take()) {
            (Some(info), None) => {
                open = Some(Block { info, line: number + 1, text: String::new() });
            }
            (Some(_), Some(block)) => all.push(block),
            (None, Some(mut block)) => {
                block.text.push_str(line);
                block.text.push('\n');
                open = Some(block);
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a block is not closed");
    all
}

/// The commands of one block whose first line is line `first` of its page.
fn shown_in<'a>(lines: impl Iterator<Item = &'a str>, first: usize) -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    for (number, line) in lines.enumerate() {
        if let Some(command) = line.strip_prefix("$ ") {
            let command = command.to_owned();
            all.push(Shown { line: first + number, command, output: Vec::new() });
        } else if let Some(last) = all.last_mut() {
            match last.command.strip_suffix('\\') {
                Some(begun) if last.output.is_empty() => last.command = begun.to_owned() + line,
                _ => last.output.push(line.to_owned()),
            }
        }
    }
    all
}

/// Splits a command line at blanks, double quotes holding words together.
fn words(command: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let (mut quoted, mut inside) = (false, false);
    for c in command.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => {
                inside = false;
                continue;
            }
            _ => {}
        }
        if !std::mem::replace(&mut inside, true) {
            words.push(String::new());
        }
        if c != '"' {
            words.last_mut().expect("begun").push(c);
        }
    }
    words
}

/// Whether a line is what the page shows: as it is, begun, or with ` ... ` for what differs each time.
fn line_matches(shown: &str, line: &str) -> bool {
    match shown.split_once(" ... ") {
        Some((begin, end)) => line.strip_prefix(begin).is_some_and(|rest| rest.ends_with(end)),
        None => line.starts_with(shown),
    }
}

/// Whether `output` is what the page shows.
fn matches(shown: &[String], output: &[&str]) -> bool {
    match shown.split_first() {
        None => output.is_empty(),
        Some((line, rest)) if line == "..." => {
            (0..=output.len()).any(|skip| matches(rest, &output[skip..]))
        }
        Some((line, rest)) => {
            output.first().is_some_and(|o| line_matches(line, o)) && matches(rest, &output[1..])
        }
    }
}

/// Runs a command line of this program in `folder`. What it ended with, printed and told.
///
/// `serve` would go on for ever, at a port that may be taken: it takes a free one, and is stopped
/// once it says where it listens.
///
/// As in a shell, `echo 'TEXT' |` before it, `< FILE` and `> FILE` behind it are what it reads and
/// where its output goes.
pub(crate) fn run_line(line: &str, folder: &Path) -> Result<Ran, String> {
    let echoed = line.strip_prefix("echo '").and_then(|rest| rest.split_once("' | "));
    let (echoed, line) = echoed.map_or((None, line), |(text, line)| (Some(text), line));
    let mut words = words(line);
    let mut aside = |mark: &str| {
        let at = words.iter().position(|word| word == mark)?;
        words.remove(at);
        (at < words.len()).then(|| folder.join(words.remove(at)))
    };
    let (from, to) = (aside("<"), aside(">"));
    if words.is_empty() || words.remove(0) != "oddments" {
        return Err(format!("`{line}` is not a command of this program"));
    }
    if words.first().is_some_and(|word| word == "serve") {
        return serve(words, folder);
    }
    let arguments: Vec<&str> = words.iter().map(String::as_str).collect();
    let read = match (echoed, from) {
        (Some(text), _) => format!("{text}\n"),
        (None, Some(file)) => fs::read_to_string(&file).map_err(|e| format!("{file:?}: {e}"))?,
        (None, None) => return Ok(oddments_in(folder, &arguments)),
    };
    let run = assert_cmd::Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .args(&arguments)
        .write_stdin(read)
        .output()
        .map_err(|e| e.to_string())?;
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    let mut out = text(run.stdout);
    if let Some(file) = to {
        fs::write(file, std::mem::take(&mut out)).map_err(|e| e.to_string())?;
    }
    Ok(Ran { code: run.status.code(), out, err: text(run.stderr) })
}

fn serve(mut arguments: Vec<String>, folder: &Path) -> Result<Ran, String> {
    let listen = arguments.iter().position(|argument| argument == "--listen");
    let free = match listen.and_then(|at| arguments.get(at + 1)?.rsplit_once(':')) {
        Some((address, _)) => format!("{address}:0"),
        None => "127.0.0.1:0".to_owned(),
    };
    match listen {
        Some(at) => arguments[at + 1] = free,
        None => arguments.extend(["--listen".to_owned(), free]),
    }
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_oddments"))
        .current_dir(folder)
        .args(&arguments)
        // Whoever runs the tests wants no browser opened.
        .env("PATH", "")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| e.to_string())?;
    let mut out = String::new();
    let read = child.stdout.take().map(|stdout| BufReader::new(stdout).read_line(&mut out));
    let _ = child.kill();
    let _ = child.wait();
    match read {
        Some(Ok(_)) if out.contains("http://") => {
            Ok(Ran { code: Some(0), out, err: String::new() })
        }
        _ => Err(format!("`oddments {}` does not say where it listens", arguments.join(" "))),
    }
}

/// Runs a shown command in `folder`. What is wrong with it, if anything.
fn run_shown(example: &Shown, folder: &Path, should_fail: bool) -> Option<String> {
    let run = match run_line(&example.command, folder) {
        Ok(run) => run,
        Err(fault) => return Some(fault),
    };
    if (run.code == Some(0)) == should_fail {
        return Some(format!(
            "`{}` ends with {:?}:\n{}{}",
            example.command, run.code, run.out, run.err
        ));
    }
    // What goes wrong is told on standard error, and shown in a block of its own.
    let told = if should_fail { &run.err } else { &run.out };
    let lines: Vec<&str> = told.trim_end().lines().collect();
    (!matches(&example.output, &lines))
        .then(|| format!("the page is stale: `{}` now prints\n{told}", example.command))
}

/// Follows a page from top to bottom in `home`: runs each command of ```console blocks (those that
/// fail are in ```console fails), writes each block with a file's name behind its kind. Gives the
/// commands run, or what is wrong.
pub(crate) fn follow(name: &str, page: &str, home: &Path) -> Result<Vec<String>, String> {
    let mut folder = home.to_owned();
    let mut run = Vec::new();
    for block in blocks(page) {
        let mut info = block.info.split(' ');
        match (info.next(), info.next()) {
            (Some("console"), mode) => {
                for shown in shown_in(block.text.lines(), block.line + 1) {
                    if let Some(there) = shown.command.strip_prefix("cd ") {
                        folder.push(there);
                        continue;
                    }
                    if let Some(fault) = run_shown(&shown, &folder, mode == Some("fails")) {
                        return Err(format!("{name}:{}: {fault}", shown.line));
                    }
                    run.push(shown.command);
                }
            }
            (Some("sh"), None) => {
                for line in block.text.lines() {
                    if !OF_THE_BUILD.contains(&line) {
                        return Err(format!("{name}:{}: `{line}` is run by no test", block.line));
                    }
                }
            }
            (Some(_), Some(file)) => {
                let path = folder.join(file);
                fs::create_dir_all(path.parent().expect("inside")).map_err(|e| e.to_string())?;
                fs::write(path, &block.text).map_err(|e| e.to_string())?;
            }
            _ => return Err(format!("{name}:{}: a block that no test runs", block.line)),
        }
    }
    Ok(run)
}

/// Commands that build this program or test it: a test can't run them, continuous integration does.
const OF_THE_BUILD: [&str; 3] = ["cargo run -- grade tam", "cargo test", "cargo install --path ."];

fn followed(name: &str) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    follow(name, &read(name), folder.path()).unwrap_or_else(|fault| panic!("{fault}"))
}

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a page")
}

const GUIDE: &str = "fixtures/demo/README.md";

#[test]
fn every_command_in_the_readme_prints_what_is_shown() {
    assert!(followed("README.md").len() >= 2, "the README lost its examples");
}

#[test]
fn every_step_of_the_knitters_guide_works() {
    assert!(followed(GUIDE).len() >= 30, "the guide lost its examples");
}

#[test]
fn every_step_of_the_authors_tutorial_works() {
    assert!(followed("plugins/TUTORIAL.md").len() >= 8, "the tutorial lost its examples");
}

#[test]
fn a_stale_page_is_noticed() {
    let home = tempfile::tempdir().expect("a folder");
    for stale in [
        "```console\n$ oddments garment list\nGarment of last year\n```\n",
        "```console\n$ oddments knit\n```\n",
        "```console\n$ ls\n```\n",
        "```console fails\n$ oddments garment list\n...\n```\n",
        "```console fails\n$ oddments grade tm\nerror: another\n```\n",
        "```sh\noddments undo\n```\n",
        "```toml\nname = \"x\"\n```\n",
    ] {
        assert!(follow("x.md", stale, home.path()).is_err(), "{stale}");
    }
    let good = "```console fails\n$ oddments grade tm\nerror[no-garment]\n...\n```\n";
    assert_eq!(follow("x.md", good, home.path()).map(|run| run.len()), Ok(1));
}

/// What a knitter types is in the guide, what an author of garments types in the tutorial or the
/// README.
#[test]
fn every_command_of_the_program_is_on_a_page() {
    let pages = [read("README.md"), read(GUIDE), read("plugins/TUTORIAL.md")].concat();
    let missing: Vec<String> = crate::help::commands()
        .iter()
        .filter(|command| !command.has_subcommands())
        .map(crate::help::path_of)
        .filter(|path| {
            ![format!("$ {path}"), format!("| {path}")].iter().any(|p| pages.contains(p))
        })
        .collect();
    assert!(missing.is_empty(), "on no page: {missing:?}");
}

/// Every page of the project, by its path from the root.
fn pages_below(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() {
            // What tools build or fetch is not ours.
            if !name.starts_with('.') && !matches!(&*name, "target" | "node_modules") {
                pages_below(&path, all);
            }
        } else if name.ends_with(".md") {
            all.push(path);
        }
    }
}

/// The lines of a page outside its blocks.
fn prose(page: &str) -> impl Iterator<Item = &str> {
    let mut inside = false;
    page.lines().filter(move |line| {
        let fence = line.trim_start().starts_with("```");
        inside ^= fence;
        !inside && !fence
    })
}

/// The paragraphs of a page outside its blocks, cut at the marks of code: words and code in turn.
fn words_and_code(page: &str) -> Vec<Vec<String>> {
    let text: Vec<&str> = prose(page).collect();
    let paragraphs = text.split(|line| line.trim().is_empty());
    paragraphs.map(|lines| lines.join("\n").split('`').map(str::to_owned).collect()).collect()
}

/// What a link to a heading is called: small letters, digits, hyphens for blanks.
fn anchors(page: &str) -> Vec<String> {
    let headings = prose(page).filter(|line| line.starts_with('#'));
    let mut all: Vec<String> = Vec::new();
    for heading in headings.map(|line| line.trim_start_matches('#').trim()) {
        let kept = heading.chars().filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
        let anchor: String =
            kept.flat_map(char::to_lowercase).map(|c| if c == ' ' { '-' } else { c }).collect();
        let before = all.iter().filter(|known| **known == anchor).count();
        all.push(if before == 0 { anchor } else { format!("{anchor}-{before}") });
    }
    all
}

/// The links of a page: how many of them stay here, and those that lead nowhere. The world outside is
/// not asked.
fn links(path: &Path, page: &str) -> (usize, Vec<String>) {
    let (mut seen, mut broken) = (0, Vec::new());
    for paragraph in words_and_code(page) {
        // Code has brackets too.
        let words: String = paragraph.into_iter().step_by(2).collect();
        for (at, _) in words.match_indices("](") {
            let target = words[at + 2..].split(')').next().unwrap_or_default();
            if target.contains("://") {
                continue;
            }
            seen += 1;
            let (file, anchor) = target.split_once('#').unwrap_or((target, ""));
            let there = match file {
                "" => path.to_owned(),
                file => path.parent().expect("a folder").join(file),
            };
            let found = there.exists()
                && (anchor.is_empty()
                    || fs::read_to_string(&there)
                        .is_ok_and(|page| anchors(&page).iter().any(|a| a == anchor)));
            if !found {
                broken.push(format!("{}: {target}", path.display()));
            }
        }
    }
    (seen, broken)
}

/// Links of all pages lead to files and headings that are there.
#[test]
fn links_lead_somewhere() {
    let mut pages = Vec::new();
    pages_below(Path::new(env!("CARGO_MANIFEST_DIR")), &mut pages);
    let (mut seen, mut broken) = (0, Vec::new());
    for path in &pages {
        let found = links(path, &fs::read_to_string(path).expect("a page"));
        seen += found.0;
        broken.extend(found.1);
    }
    assert!(broken.is_empty(), "{broken:#?}");
    assert!(pages.len() > 20 && seen > 30, "{seen} links on {} pages", pages.len());
}

#[test]
fn a_link_that_leads_nowhere_is_found() {
    let home = tempfile::tempdir().expect("a folder");
    fs::create_dir(home.path().join("room")).expect("made");
    let other = "# The bed & its `SamePass`\n## Twice\n## Twice\n```\n# no heading\n```\n";
    fs::write(home.path().join("room/README.md"), other).expect("written");
    let page = home.path().join("page.md");
    let broken = |text: &str| {
        fs::write(&page, text).expect("written");
        links(&page, text).1.len()
    };
    for (text, faults) in [
        ("# Here\n[a](room/README.md), [b](room), [c](#here), [d](https://nowhere.invalid/x)", 0),
        ("[a](room/README.md#the-bed--its-samepass) [b](room/README.md#twice-1)", 0),
        ("`list[1](x)` is code, and so is `a\nb[2](y)`\n```\n[a](x)\n```", 0),
        ("[a](rom/README.md) ![b](pictures/x.svg)", 2),
        ("[a](room/README.md#no-heading) [b](room/README.md#twice-2)", 2),
        ("[a](#there)", 1),
    ] {
        assert_eq!(broken(text), faults, "{text}");
    }
}

/// Files of ours that a page names in code, such as `tests/it/docs.rs`, and that are not there: from
/// the root, from the floors, or from where the page lies.
fn named_files_that_are_not_there(path: &Path, page: &str) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let homes = [root, &root.join("src"), path.parent().expect("a folder")];
    let is_name = |word: &String| {
        word.contains('/')
            && !word.contains([' ', '*'])
            && [".rs", ".py", ".sh", ".mjs", ".luau", ".dict"].iter().any(|end| word.ends_with(end))
    };
    words_and_code(page)
        .into_iter()
        .flat_map(|paragraph| paragraph.into_iter().skip(1).step_by(2))
        .filter(is_name)
        .filter(|name| !homes.iter().any(|home| home.join(name).exists()))
        .map(|name| format!("{}: {name}", path.display()))
        .collect()
}

/// Files that the guides for developers name are there.
#[test]
fn files_named_for_developers_are_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut pages = vec![root.join("DEVELOPERS.md")];
    for rooms in ["src", "tests", "benches", "fuzz"] {
        pages_below(&root.join(rooms), &mut pages);
    }
    pages.retain(|page| !page.components().any(|part| part.as_os_str() == "defaults"));
    let named: Vec<String> = pages
        .iter()
        .flat_map(|path| {
            named_files_that_are_not_there(path, &fs::read_to_string(path).expect("a page"))
        })
        .collect();
    assert!(named.is_empty(), "{named:#?}");
    let planted = "`tests/it/docs.rs`, `knit/bed/pass.rs`, `knit/bed/passes.rs`";
    assert_eq!(named_files_that_are_not_there(&pages[0], planted).len(), 1);
}

/// The README's picture is what the command beside it makes today.
#[test]
fn the_picture_in_the_readme_is_what_the_program_draws() {
    let page = read("README.md");
    let line = page
        .lines()
        .find_map(|line| line.strip_prefix("$ ").filter(|l| l.contains("--output mittens.svg")))
        .expect("the command that drew it");
    let home = tempfile::tempdir().expect("a folder");
    assert_eq!(run_line(line, home.path()).map(|ran| ran.code), Ok(Some(0)));
    let drawn = fs::read_to_string(home.path().join("mittens.svg")).expect("a picture");
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/pictures/mittens.svg");
    if std::env::var_os("ODDMENTS_BLESS").is_some() {
        fs::write(&kept, &drawn).expect("written");
    }
    let kept = fs::read_to_string(kept).expect("a picture");
    assert!(kept == drawn, "the picture is stale: ODDMENTS_BLESS=1 draws it again");
    assert!(page.contains("](fixtures/pictures/mittens.svg)"), "the README lost its picture");
}

/// Pages name the same least Rust as the build does.
#[test]
fn the_pages_know_the_minimum_rust() {
    let least = env!("CARGO_PKG_RUST_VERSION");
    assert!(read("README.md").contains(&format!("Rust ({least} or later)")));
    assert!(read("DEVELOPERS.md").contains(&format!("Minimum Rust is {least},")));
    assert!(read("CHANGELOG.md").contains(&format!("Minimum Rust: {least}.")));
}

/// The changelog has a section for the version being built, or one for what is to come.
#[test]
fn the_changelog_knows_this_version() {
    let page = read("CHANGELOG.md");
    assert!(
        page.contains("## Unreleased") || page.contains(concat!("## ", env!("CARGO_PKG_VERSION")))
    );
}
