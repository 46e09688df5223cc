//! Ctrl-C and the signal that ends services: a plan that was stopped is accepted by nobody, and nothing
//! is left half done.

#![cfg(target_os = "linux")]

use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::demo::Demo;

const INTERRUPT: i32 = 2;
const TERMINATE: i32 = 15;

fn start(folder: &Path, arguments: &[&str]) -> Child {
    start_into(folder, arguments, Stdio::piped())
}

fn start_into(folder: &Path, arguments: &[&str], out: Stdio) -> Child {
    // A shell that runs the tests in the background has its children ignore Ctrl-C: not these.
    Command::new("env")
        .args(["--default-signal=INT,QUIT,HUP", env!("CARGO_BIN_EXE_oddments")])
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(out)
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

fn signal(child: &Child, number: i32) {
    let told = Command::new("kill").args([format!("-{number}"), child.id().to_string()]).status();
    assert!(told.expect("run").success());
}

/// Waits until the program has a handler of its own for a signal.
fn until_it_listens(child: &Child, number: i32) {
    for _ in 0..3_000 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).expect("runs");
        let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:")).expect("a line");
        let caught = u64::from_str_radix(caught.trim(), 16).expect("a number");
        if caught >> (number - 1) & 1 == 1 {
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    panic!("it never listened");
}

/// More work than anyone waits for.
const LONG: [&str; 4] = ["plan", "--today=2026-09-01", "--work=10000000", "--threads=1"];

fn files(demo: &Demo) -> Vec<(String, Vec<u8>)> {
    let entries =
        std::fs::read_dir(&demo.path).expect("a folder").map(|entry| entry.expect("there").path());
    let files = entries.filter(|path| path.is_file());
    let mut all: Vec<_> = files
        .map(|path| (path.display().to_string(), std::fs::read(&path).expect("read")))
        .collect();
    all.sort();
    all
}

#[test]
fn a_plan_that_is_stopped_is_not_accepted() {
    let demo = Demo::new();
    let before = files(&demo);
    let child = start(&demo.path, &[&LONG[..], &["--accept"]].concat());
    until_it_listens(&child, INTERRUPT);
    signal(&child, INTERRUPT);
    let output = child.wait_with_output().expect("ends");
    let (out, err) =
        (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(1), "{err}");
    assert!(out.contains("stopped before its limit"), "no plan: {out}");
    assert!(err.contains("stopped: no yarn was set aside"), "{err}");
    assert!(!err.contains("accepted"), "{err}");
    // Where nobody sits at a terminal nothing is asked.
    assert!(!err.contains("Keep the best so far"), "{err}");
    assert_eq!(files(&demo), before);
    assert_eq!(demo.run(&["plan", "--today=2026-09-01", "--work=0", "--accept"]).code, Some(0));
    assert_ne!(files(&demo), before);
}

#[test]
fn a_plan_that_is_only_looked_at_shows_the_best_so_far() {
    let demo = Demo::new();
    let child = start(&demo.path, &LONG);
    until_it_listens(&child, INTERRUPT);
    signal(&child, INTERRUPT);
    let output = child.wait_with_output().expect("ends");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(String::from_utf8_lossy(&output.stdout).contains("stopped before its limit"));
}

/// The second one ends the program, whatever it is at: here, at a reader that does not read.
#[test]
fn a_second_interrupt_ends_a_plan_and_a_termination_does_at_once() {
    let demo = Demo::new();
    let before = files(&demo);
    let (reader, full) = std::io::pipe().expect("a pipe");
    let mut filler = full.try_clone().expect("another end");
    let filled = std::thread::spawn(move || drop(filler.write_all(&vec![b' '; 1 << 22])));
    let child = start_into(&demo.path, &[&LONG[..], &["--accept"]].concat(), full.into());
    until_it_listens(&child, INTERRUPT);
    for _ in 0..3_000 {
        signal(&child, INTERRUPT);
        std::thread::sleep(Duration::from_millis(10));
        if ended(&child) {
            break;
        }
    }
    assert_eq!(child.wait_with_output().expect("ends").status.code(), Some(130));
    drop(reader);
    filled.join().expect("ends");
    assert_eq!(files(&demo), before);

    let child = start(&demo.path, &[&LONG[..], &["--accept"]].concat());
    until_it_listens(&child, INTERRUPT);
    signal(&child, TERMINATE);
    assert_eq!(child.wait_with_output().expect("ends").status.signal(), Some(TERMINATE));
    assert_eq!(files(&demo), before);
}

/// Whether it has ended and waits to be asked how.
fn ended(child: &Child) -> bool {
    let state = std::fs::read_to_string(format!("/proc/{}/stat", child.id())).unwrap_or_default();
    state.rsplit(") ").next().is_some_and(|rest| rest.starts_with('Z'))
}

/// A batch that is interrupted has written whole lines only.
#[test]
fn an_interrupted_batch_leaves_no_half_line() {
    for number in [INTERRUPT, TERMINATE] {
        let demo = Demo::new();
        let mut child = start(&demo.path, &["batch", "--jobs=2"]);
        let mut asked = child.stdin.take().expect("piped");
        let mut answers = BufReader::new(child.stdout.take().expect("piped"));
        let mut first = String::new();
        let request = "{\"garment\":\"tam\",\"sizes\":\"women-m\"}\n";
        asked.write_all(request.repeat(3).as_bytes()).expect("written");
        answers.read_line(&mut first).expect("an answer");
        signal(&child, number);
        let mut rest = String::new();
        answers.read_to_string(&mut rest).expect("read");
        assert_eq!(child.wait().expect("ends").signal(), Some(number));
        for line in [first.as_str(), &rest].concat().split_inclusive('\n') {
            assert!(line.ends_with('\n'), "half a line: {line}");
            serde_json::from_str::<serde_json::Value>(line).expect("whole");
        }
    }
}

/// A change is made or it is not, whenever the signal comes.
#[test]
fn an_interrupted_change_is_whole_or_not_there() {
    let demo = Demo::new();
    let record = ["record", "tam", "--size", "women-m", "--used", "hat:shoreline-2=12 g"];
    for (nth, command) in [&record[..], &["undo"], &record[..], &["undo"]].into_iter().enumerate() {
        for wait in 0..12 {
            let before = files(&demo);
            let child = start(&demo.path, command);
            std::thread::sleep(Duration::from_millis(wait * 12));
            signal_if_alive(&child, if nth % 2 == 0 { INTERRUPT } else { TERMINATE });
            let status = child.wait_with_output().expect("ends").status;
            let told = format!("{command:?}: {status:?}");
            assert!(
                status.code() == Some(0) || status.signal().is_some() || command == ["undo"],
                "{told}"
            );
            // Whatever it was at, the next command finds a whole workspace.
            let listed = demo.run(&["stash", "list"]);
            assert_eq!(listed.code, Some(0), "{told}: {}", listed.err);
            if files(&demo) != before {
                break;
            }
        }
    }
}

fn signal_if_alive(child: &Child, number: i32) {
    // Not waited for yet, so the number is still its own.
    drop(Command::new("kill").args([format!("-{number}"), child.id().to_string()]).output());
}
