//! The glossary: in order, true to itself, and of words that the program and its guides do say.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const PAGE: &str = "src/GLOSSARY.md";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// The words of each row, and what it says of them.
fn rows(page: &str) -> Vec<(Vec<String>, String)> {
    let rows = page.lines().filter_map(|line| line.strip_prefix("| "));
    let cells = rows.filter_map(|row| row.trim_end_matches(" |").split_once(" | "));
    let cells = cells.filter(|(words, _)| *words != "word");
    cells
        .map(|(words, says)| (words.split(", ").map(str::to_owned).collect(), says.to_owned()))
        .collect()
}

/// What is said to whoever knits or writes garments: guides, commands, pages, garments, tables. What is said
/// among developers alone doesn't count, nor what a list of words says of itself.
fn said() -> String {
    let mut all = vec![root().join("README.md")];
    for folder in ["plugins", "fixtures/demo", "size-tables", "src"] {
        texts_below(&root().join(folder), &mut all);
    }
    all.retain(|path| path.ends_with("defaults/new-garment/README.md") || !is_of_a_room(path));
    let texts = all.iter().map(|path| fs::read_to_string(path).expect("a text"));
    let text: String = texts.collect::<Vec<_>>().join("\n");
    plain(&text)
}

fn is_of_a_room(path: &Path) -> bool {
    path.starts_with(root().join("src")) && path.extension().is_some_and(|end| end == "md")
}

fn texts_below(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let kinds = ["rs", "md", "html", "luau", "toml", "js"];
        if path.is_dir() {
            texts_below(&path, all);
        } else if path.extension().is_some_and(|end| kinds.iter().any(|kind| end == *kind)) {
            all.push(path);
        }
    }
}

/// In small letters, with a blank for whatever is neither letter nor digit.
fn plain(text: &str) -> String {
    let kept = text.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' });
    kept.flat_map(char::to_lowercase).collect()
}

/// Whether the words stand in a text as they are, or with an ending.
fn stands_in(words: &str, text: &str) -> bool {
    ["", "s", "d", "ed"].iter().any(|end| text.contains(&format!(" {}{end} ", plain(words))))
}

#[test]
fn each_word_of_the_glossary_is_said_somewhere() {
    let (page, said) = (fs::read_to_string(root().join(PAGE)).expect("a page"), said());
    let rows = rows(&page);
    assert!(rows.len() > 60, "the glossary lost its words: {}", rows.len());
    let words = rows.iter().flat_map(|(words, _)| words);
    let unsaid: Vec<&String> = words.filter(|word| !stands_in(word, &said)).collect();
    assert!(unsaid.is_empty(), "said nowhere: {unsaid:?}");
    assert!(!stands_in("needle bar", &said) && stands_in("Cast-on", &said));
}

/// Whoever looks a word up goes by the alphabet, and finds it once.
#[test]
fn the_glossary_goes_by_the_alphabet() {
    let page = fs::read_to_string(root().join(PAGE)).expect("a page");
    let words: Vec<String> = rows(&page).iter().map(|(words, _)| plain(&words[0])).collect();
    for pair in words.windows(2) {
        assert!(pair[0] < pair[1], "`{}` stands before `{}`", pair[0], pair[1]);
    }
}

/// Words in italics are words of the glossary, alone or in the plural.
#[test]
fn what_the_glossary_leads_to_is_in_it() {
    let page = fs::read_to_string(root().join(PAGE)).expect("a page");
    let rows = rows(&page);
    let known: BTreeSet<&str> =
        rows.iter().flat_map(|(words, _)| words).map(String::as_str).collect();
    let mut led = 0;
    for (words, says) in &rows {
        for word in says.split('*').skip(1).step_by(2) {
            let found = known.contains(word) || known.contains(word.trim_end_matches('s'));
            assert!(found, "{words:?} leads to `{word}`, which has no row");
            led += 1;
        }
    }
    assert!(led > 20, "{led} words in italics");
}
