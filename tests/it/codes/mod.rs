//! Every code of a fault, with something that raises it; what a class comes to; the page of both.

mod bed;
mod commands;
mod example;
mod files;
mod garment;
mod plan;
mod script;
mod web;

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use axum::http::{StatusCode, header};
use diag::{Class, Code};
use rayon::prelude::*;
use serde_json::json;

use crate::demo::Demo;
use crate::server::{Server, problem};
use crate::support::Ran;
use example::{Example, Stage};

/// Codes that nothing from outside can raise, and why.
const UNREACHABLE: &[(Code, &str)] = &[
    (Code::Internal, "raised where the program itself panics or can't write a page"),
    (Code::NoTable, "raised by a program built without its size table"),
    (Code::NoTime, "raised by a program built without a time for each operation"),
    (Code::Pdf, "raised where the PDF library refuses what we draw"),
    (Code::ScriptHost, "raised where the script machine itself can't be set up"),
    (Code::Threads, "raised where the system gives no more threads"),
];

/// A class: what it is, its exit status, and its statuses over HTTP.
type Meaning = (Class, &'static str, i32, &'static [u16]);

/// What a class comes to. Where there are two statuses, the second is for what a request names beside
/// its path.
const CLASSES: [Meaning; 7] = [
    (Class::Usage, "The command was put wrongly.", 2, &[422]),
    (
        Class::Input,
        "What a file, a script or a person says can't be so, or can't be knitted.",
        1,
        &[422],
    ),
    (Class::Missing, "What was asked for by its name is not there.", 1, &[404, 422]),
    (
        Class::Conflict,
        "It goes against what stands there, or against what has happened since.",
        1,
        &[409],
    ),
    (Class::Busy, "It can be done at another moment.", 1, &[503]),
    (Class::Disk, "A file could not be read or written.", 1, &[500]),
    (Class::Inside, "The program itself is at fault.", 1, &[500]),
];

fn examples() -> impl Iterator<Item = &'static Example> {
    let all: [&'static [Example]; 7] = [
        script::EXAMPLES,
        plan::EXAMPLES,
        bed::EXAMPLES,
        garment::EXAMPLES,
        files::EXAMPLES,
        commands::EXAMPLES,
        web::EXAMPLES,
    ];
    all.into_iter().flatten()
}

#[test]
fn every_code_has_one_example() {
    let mut named: BTreeMap<Code, usize> = BTreeMap::new();
    let unreachable = UNREACHABLE.iter().map(|(code, _)| *code);
    for code in examples().map(|example| example.code).chain(unreachable) {
        *named.entry(code).or_default() += 1;
    }
    let off: Vec<String> = Code::ALL
        .iter()
        .map(|code| (code, named.get(code).copied().unwrap_or(0)))
        .filter(|(_, times)| *times != 1)
        .map(|(code, times)| format!("{code}: {times} examples"))
        .collect();
    assert!(off.is_empty(), "{off:#?}");
    assert!(UNREACHABLE.iter().all(|(code, why)| code.class() == Class::Inside && !why.is_empty()));
}

#[test]
fn every_example_raises_its_code() {
    let stage = Stage::new();
    let all: Vec<&Example> = examples().collect();
    // More than there are cores: some only wait.
    let workers = rayon::ThreadPoolBuilder::new().num_threads(8).build().expect("threads");
    let missed: Vec<String> = workers.install(|| {
        all.par_iter()
            .filter_map(|Example { code, how }| {
                // One that breaks must not hide the others.
                match catch_unwind(AssertUnwindSafe(|| how.codes(&stage))) {
                    Ok(raised) if raised.contains(code) => None,
                    Ok(raised) => Some(format!("{code}: {raised:?}")),
                    Err(_) => Some(format!("{code}: it broke")),
                }
            })
            .collect()
    });
    assert!(missed.is_empty(), "{missed:#?}");
}

/// A sentence each, of its own.
#[test]
fn every_code_says_what_it_means() {
    let mut seen = BTreeMap::new();
    for code in Code::ALL {
        let meaning = code.meaning();
        assert!(meaning.ends_with('.') && meaning.len() > 15, "{code}: {meaning}");
        assert!(meaning.starts_with(|c: char| c.is_uppercase()), "{code}: {meaning}");
        if let Some(other) = seen.insert(meaning, code) {
            panic!("{code} and {other} mean the same");
        }
    }
}

/// The page of all codes is made from the list; with ODDMENTS_BLESS=1 it is written anew.
#[test]
fn the_page_of_codes_is_up_to_date() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src/diag/README.md");
    let found = fs::read_to_string(&path).unwrap_or_default();
    let wanted = page();
    if found != wanted && std::env::var_os("ODDMENTS_BLESS").is_some() {
        fs::write(&path, &wanted).expect("written");
        return;
    }
    assert!(found == wanted, "src/diag/README.md is stale: ODDMENTS_BLESS=1 writes it anew");
}

fn page() -> String {
    let mut page = String::from(
        "# Faults\n\n\
         Whatever is wrong is told as a `Diagnostic`: a code, a sentence, where, and what to do. Codes are a closed\n\
         list in `code.rs`. Their texts are stable, so that programs may go by them. Each belongs to a class, and the\n\
         class alone chooses the exit status and the status over HTTP.\n\n\
         This page is made from the list: `ODDMENTS_BLESS=1 cargo test --test it codes` writes it. Something that\n\
         raises each code stands in `tests/it/codes`.\n\n\
         ## Classes\n\nOf several faults the gravest says what the whole is; the gravest stands last. Of two statuses the first is\n\
         for what the path names, the second for what else a request names. What HTTP itself has a status for keeps\n\
         it: 400, 401, 403, 405, 408, 413, 415, 421.\n\n\
         | class | what it is | exit status | HTTP |\n|---|---|---|---|\n",
    );
    for (class, what, exit, statuses) in CLASSES {
        let statuses: Vec<String> = statuses.iter().map(u16::to_string).collect();
        page += &format!("| {} | {what} | {exit} | {} |\n", word(class), statuses.join(", "));
    }
    page += "\n## Codes\n\n| code | class | what it means |\n|---|---|---|\n";
    for code in Code::ALL {
        page += &format!("| `{code}` | {} | {} |\n", word(code.class()), code.meaning());
    }
    page
}

fn word(class: Class) -> String {
    format!("{class:?}").to_lowercase()
}

/// The statuses over HTTP of a code's class.
fn over_http(code: Code) -> &'static [u16] {
    comes_to(&[code]).map_or(&[], |(_, _, _, statuses)| statuses)
}

/// What a class comes to, of the gravest of these. `None` where there is none.
fn comes_to(codes: &[Code]) -> Option<Meaning> {
    let gravest = codes.iter().map(|code| code.class()).max()?;
    CLASSES.into_iter().find(|(class, ..)| *class == gravest)
}

/// Holds the lock of a workspace while a command wants to change something.
fn locked(demo: &Demo) -> Ran {
    let _lock = hold(demo);
    demo.run(&["stash", "change", "slate-1", "--weight", "1 g"])
}

fn hold(demo: &Demo) -> fs::File {
    let ran = demo.run(&["stash", "change", "slate-1", "--weight", "2 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let lock = fs::File::options().write(true).open(demo.path.join(".oddments/lock"));
    let lock = lock.expect("there");
    lock.lock().expect("held");
    lock
}

/// Changes a remnant by a command and then by hand.
fn changed_by_hand(demo: &Demo) {
    let ran = demo.run(&["stash", "change", "slate-1", "--weight", "2 g"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let stash = demo.text("stash.toml");
    assert!(stash.contains("\"2 g\""));
    fs::write(demo.path.join("stash.toml"), stash.replace("\"2 g\"", "\"3 g\"")).expect("written");
}

fn undone_over_a_change(demo: &Demo) -> Ran {
    changed_by_hand(demo);
    demo.run(&["undo"])
}

#[test]
fn a_lock_held_elsewhere_is_busy() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let lock = hold(&demo);
    let held = demo.text("stash.toml");
    let entry = json!({ "yarn": "tide", "weight": "12 g" });
    let (ran, answer) = std::thread::scope(|threads| {
        let ran = threads.spawn(|| demo.run(&["stash", "change", "slate-1", "--weight", "1 g"]));
        let answer = server.post("/api/v1/lists/stash", &entry);
        (ran.join().expect("it ends"), answer)
    });
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.starts_with("error[locked]"), "{}", ran.err);
    assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE, "{}", answer.text());
    assert_eq!(over_http(Code::Locked), [503]);
    assert_eq!(answer.header(header::RETRY_AFTER), "1");
    problem(&answer, "locked");
    assert_eq!(demo.text("stash.toml"), held);
    drop(lock);
    assert_eq!(server.post("/api/v1/lists/stash", &entry).status, StatusCode::CREATED);
}

#[test]
fn an_undo_over_a_file_changed_since_is_a_conflict() {
    let demo = Demo::new();
    let ran = undone_over_a_change(&demo);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.starts_with("error[changed-since]"), "{}", ran.err);
    let mine = demo.text("stash.toml");
    let answer = Server::of(&demo).post("/api/v1/undo", &json!({}));
    assert_eq!(answer.status, StatusCode::CONFLICT, "{}", answer.text());
    assert_eq!(over_http(Code::ChangedSince), [409]);
    problem(&answer, "changed-since");
    assert_eq!(demo.text("stash.toml"), mine, "what was typed by hand stays");
}

/// A folder stands where a file should be: the same for who may write everywhere.
#[test]
fn what_the_disk_refuses_is_no_fault_of_the_request() {
    let demo = Demo::new();
    let before = demo.text("stash.toml");
    fs::create_dir_all(demo.path.join(".oddments/lock")).expect("made");
    let ran = demo.run(&["stash", "change", "slate-1", "--weight", "2 g"]);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.starts_with("error[write]"), "{}", ran.err);
    let server = Server::of(&demo);
    let answer = server.post("/api/v1/lists/stash", &json!({ "yarn": "tide", "weight": "12 g" }));
    assert_eq!(answer.status, StatusCode::INTERNAL_SERVER_ERROR, "{}", answer.text());
    assert_eq!(over_http(Code::Write), [500]);
    problem(&answer, "write");
    assert_eq!(demo.text("stash.toml"), before);
    // A request put wrongly, beside it.
    let wrong = server.get("/api/v1/reach");
    problem(&wrong, "usage");
    assert_eq!(over_http(Code::Usage), [wrong.status.as_u16()]);
}
