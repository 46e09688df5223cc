//! What is written for spreadsheets holds nothing that one would work out, whoever wrote the names and
//! notes in it.

use axum::http::StatusCode;

use crate::demo::Demo;
use crate::server::{Server, command};

/// Texts that a spreadsheet would take for formulas, each in a place of its own.
const YARN: &str = "=HYPERLINK(\"http://evil.example\",\"Dulse\")";
const PERSON: &str = "@SUM(1+1)*cmd";
const NOTES: [&str; 3] = ["+1+1 remnant", "-2+3 person", "=4*5 gift"];
const LOT: &str = "-lot";
const SWATCH: &str = "=1+1 harbour";
const SIZE: &str = "=2+2 giant";

fn hostile() -> Demo {
    let demo = Demo::new();
    let run = |args: &[&str]| {
        let ran = demo.run(args);
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
    };
    let (name, lot) = (format!("--name={YARN}"), format!("--lot={LOT}"));
    let notes = NOTES.map(|note| format!("--note={note}"));
    let yarn = ["yarn", "add", "dulse", &name, "--yarn", "400 m/100 g", "--fibres", "100 % wool"];
    run(&[&yarn[..], &["--colour", "dulse #6b2f3a"]].concat());
    run(&["stash", "add", "--yarn", "dulse", "--weight", "90 g", &lot, &notes[0]]);
    run(&["people", "add", PERSON, "--size", "women-m", &notes[1]]);
    run(&["gifts", "add", "--person", PERSON, "--garment", "cuff", "--priority", "5", &notes[2]]);
    let swatch = format!("--name={SWATCH}");
    let readings =
        ["--stitches", "40", "--widths", "14.3 cm", "--rows", "60", "--heights", "15 cm"];
    let named = ["swatch", "add", "own", &swatch, "--state", "washed"];
    run(&[&named[..], &readings[..], &["--yarn", "400 m/100 g"]].concat());
    let table = format!(
        "unit = \"mm\"\n[measures.head_girth]\nsource = \"measured\"\n[[size]]\nid = \"giant\"\n\
         label = \"{SIZE}\"\ngroup = \"men\"\n[size.body]\nhead_girth = 700\n"
    );
    std::fs::write(demo.path.join("sizes.toml"), table).expect("written");
    demo
}

/// The cells of a text of comma-separated values, as RFC 4180 has them.
fn cells(text: &str) -> Vec<String> {
    let (mut cells, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => cell.extend(letters.next()),
            '"' => quoted = !quoted,
            ',' | '\n' if !quoted => cells.push(std::mem::take(&mut cell)),
            _ => cell.push(letter),
        }
    }
    assert!(!quoted && cell.is_empty(), "ends within a cell: {text}");
    cells
}

fn assert_harmless(what: &str, text: &str) -> Vec<String> {
    let cells = cells(text);
    assert!(cells.len() > 4, "{what}: {text}");
    for cell in &cells {
        let figure = cell.strip_suffix(" %").unwrap_or(cell).parse::<f64>().is_ok();
        let ours = figure || cell == "-" || cell.starts_with("+/-");
        let risky = cell.trim_start().starts_with(['=', '+', '-', '@', '\t', '\r']);
        assert!(ours || !risky, "{what}: {cell:?} in {text}");
    }
    cells
}

#[test]
fn no_export_holds_a_formula() {
    let demo = hostile();
    let exports: [(&[&str], &[&str]); 11] = [
        (&["yarn", "list"], &[YARN]),
        (&["stash", "list"], &[NOTES[0], LOT]),
        (&["people", "list"], &[PERSON, NOTES[1]]),
        (&["gifts", "list"], &[PERSON, NOTES[2]]),
        (&["swatch", "list"], &[SWATCH]),
        (&["swatch", "show", "own"], &[]),
        (&["plan", "--today", "2026-09-01", "--work", "4"], &[PERSON]),
        (&["grade", "tam", "--measure", "head_girth=58 cm", "--name", PERSON], &[PERSON]),
        (&["chart", "--size-table", "sizes.toml", "--sizes", "giant"], &[SIZE]),
        (&["reach", "--weight", "34 g", "--sizes", "women"], &[]),
        (&["garment", "list"], &[]),
    ];
    for (args, holds) in exports {
        let ran = demo.run(&[args, &["--format", "csv"]].concat());
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
        let cells = assert_harmless(&args.join(" "), &ran.out);
        for text in holds {
            let guarded = format!("'{text}");
            assert!(cells.contains(&guarded), "{args:?} lacks {guarded:?}: {}", ran.out);
        }
    }
}

#[test]
fn nor_does_any_over_http() {
    let demo = hostile();
    let server = Server::of(&demo);
    let mut shown = String::new();
    for path in [
        "lists/yarns?",
        "lists/stash?",
        "lists/people?",
        "lists/gifts?",
        "lists/swatches?",
        "reach?weight=34+g&sizes=women&",
        "grade?garment=tam&sizes=women&name=%3D1%2B1&m.head_girth=58&",
        "chart?garment=tam&",
    ] {
        let got = server.get(&format!("/api/v1/{path}format=csv"));
        assert_eq!(got.status, StatusCode::OK, "{path}: {}", got.text());
        assert_harmless(path, got.text());
        shown.push_str(got.text());
    }
    for text in [PERSON, NOTES[0], NOTES[1], NOTES[2], LOT, SWATCH, "=1+1,"] {
        assert!(shown.contains(&format!("'{text}")), "{text} is not shown: {shown}");
    }
}

/// What is no text of anybody's stays as it was: figures, and what the program itself says.
#[test]
fn figures_stay_figures() {
    let grade = command(&["grade", "tam", "--sizes", "women", "--format", "csv"]);
    assert!(cells(&grade).iter().any(|cell| cell == "-7 %"), "{grade}");
    let show = Demo::new().run(&["swatch", "show", "standard", "--format", "csv"]).out;
    assert!(cells(&show).iter().any(|cell| cell == "+/-"), "{show}");
}
