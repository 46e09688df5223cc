//! The floor plan: imports go downwards only, the disk is touched in one place, Lua in another.

use std::fs;
use std::path::{Path, PathBuf};

/// Top to bottom. A layer may use those below it, never one above or beside it.
const LAYERS: [&[&str]; 9] = [
    &["main", "lib"],
    &["cli", "web"],
    &["app"],
    &["report"],
    &["store"],
    &["script"],
    &["plan", "knit"],
    &["units"],
    &["diag"],
];

/// Words that only one layer may write: the word, the layer, why.
const KEPT_TO: [(&str, &str, &str); 6] = [
    ("std::fs", "store", "only the store touches the disk"),
    ("mlua", "script", "only the script host knows Lua"),
    ("clap", "cli", "only the command line reads arguments"),
    ("tabled", "report", "tables are drawn in one place"),
    ("std::io::stdout", "cli", "only the command line prints"),
    ("std::process", "cli", "only the command line ends the program"),
];

fn rank(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|floor| floor.contains(&layer))
}

/// The layer a source file belongs to: the first folder below src, or the file itself.
fn layer_of(path: &str) -> &str {
    let first = path.split('/').next().unwrap_or(path);
    first.strip_suffix(".rs").unwrap_or(first)
}

/// All breaches in one source text, as `file:line: what`.
fn breaches(path: &str, text: &str) -> Vec<String> {
    let own = layer_of(path);
    let Some(own_rank) = rank(own) else {
        return vec![format!("src/{path}:1: `{own}` is on no floor of the plan: add it to LAYERS")];
    };
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or_default();
        let mut say = |what: String| found.push(format!("src/{path}:{}: {what}", number + 1));
        for after in code.split("crate::").skip(1).chain(code.split("oddments::").skip(1)) {
            for used in imported(after) {
                match rank(used) {
                    Some(r) if r > own_rank || used == own || own_rank == 0 => {}
                    Some(_) => say(format!("`{own}` must not use `{used}`: it is not below it")),
                    None => {}
                }
            }
        }
        for (word, layer, why) in KEPT_TO {
            if own != layer && own_rank > 0 && mentions(code, word) {
                say(format!("`{word}` belongs to `{layer}`: {why}"));
            }
        }
    }
    found
}

/// The first path segments after `crate::`, one or a braced list of them.
fn imported(after: &str) -> Vec<&str> {
    fn segment(text: &str) -> &str {
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
        &text[..end]
    }
    match after.strip_prefix('{') {
        Some(list) => {
            let list = list.split('}').next().unwrap_or(list);
            list.split(',').map(|part| segment(part.trim())).collect()
        }
        None => vec![segment(after)],
    }
}

/// Whether the path `word` stands in the code, not as part of a longer name.
fn mentions(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(i, _)| {
        let before = code[..i].chars().next_back();
        let after = code[i + word.len()..].chars().next();
        let name = |c: char| c.is_alphanumeric() || c == '_';
        !before.is_some_and(name) && !after.is_some_and(name)
    })
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("src can be read").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn imports_go_downwards_only() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > 40, "only {} sources found", files.len());
    files.sort();
    let found: Vec<String> = files
        .iter()
        .flat_map(|path| {
            let name =
                path.strip_prefix(&src).expect("below src").to_string_lossy().replace('\\', "/");
            breaches(&name, &fs::read_to_string(path).expect("a source"))
        })
        .collect();
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn the_check_itself_bites() {
    let cases = [
        (
            "knit/bed/mod.rs",
            "use crate::script::Plugin;",
            "src/knit/bed/mod.rs:1: `knit` must not use `script`",
        ),
        (
            "knit/x.rs",
            "\nuse crate::{units, app::Workbench};",
            "src/knit/x.rs:2: `knit` must not use `app`",
        ),
        ("report/x.rs", "fn f() { crate::app::go() }", "`report` must not use `app`"),
        ("cli/x.rs", "use crate::web::Page;", "`cli` must not use `web`"),
        ("knit/x.rs", "use std::fs;", "`std::fs` belongs to `store`"),
        ("app/x.rs", "let lua = mlua::Lua::new();", "`mlua` belongs to `script`"),
        ("gadget/mod.rs", "", "`gadget` is on no floor"),
    ];
    for (path, text, expected) in cases {
        let found = breaches(path, text);
        assert!(found.iter().any(|f| f.contains(expected)), "{path}: {found:?}");
    }
    assert!(breaches("app/x.rs", "use crate::knit::bed; // crate::cli::run, std::fs").is_empty());
    assert!(breaches("knit/x.rs", "use crate::knit::needle::Side;").is_empty());
}
