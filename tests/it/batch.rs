//! Many requests on the command line: in order, each answered, whatever the others are.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command as Process, Stdio};

use assert_cmd::Command;
use serde_json::{Value, json};

fn batch() -> Command {
    let mut command = Command::cargo_bin("oddments").expect("built");
    command.arg("batch").current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn answers(stdout: &[u8]) -> Vec<Value> {
    let text = std::str::from_utf8(stdout).expect("text");
    text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect()
}

#[test]
fn answers_come_in_order_and_a_bad_line_ends_nothing() {
    let mut lines = String::new();
    for n in 0..60 {
        lines.push_str(&match n % 6 {
            // Long and short work beside each other.
            0 => json!({ "id": n, "garment": "tam", "sizes": "all" }).to_string(),
            1 => "{ this is no JSON".to_owned(),
            2 => json!({ "id": [n, "x"], "garment": "no-such", "sizes": "y4" }).to_string(),
            3 => String::new(),
            4 => json!({ "id": n, "garment": "cuff", "sizes": "y4", "colour": 3 }).to_string(),
            _ => json!({ "id": n, "garment": "cuff", "sizes": "women-m" }).to_string(),
        });
        lines.push('\n');
    }
    let output = batch().args(["--jobs", "4"]).write_stdin(lines).output().expect("run");
    assert_eq!(output.status.code(), Some(1));
    let answers = answers(&output.stdout);
    assert_eq!(answers.len(), 50);
    let mut lines = (0..60).filter(|n| n % 6 != 3);
    for answer in &answers {
        let n = lines.next().expect("a line");
        assert_eq!(answer["line"], n + 1);
        match n % 6 {
            0 => {
                assert_eq!(answer["id"], n);
                assert!(answer["result"]["sizes"].as_array().expect("sizes").len() > 10);
            }
            1 => {
                assert_eq!(answer["error"]["code"], "json");
                assert!(answer.get("id").is_none());
            }
            2 => {
                assert_eq!(answer["id"], json!([n, "x"]));
                assert_eq!(answer["error"]["code"], "no-garment");
                assert!(!answer["error"]["hints"].as_array().expect("hints").is_empty());
            }
            4 => assert_eq!((&answer["id"], &answer["error"]["code"]), (&json!(n), &json!("json"))),
            _ => assert_eq!(answer["result"]["sizes"][0]["size"], "women-m"),
        }
    }
}

#[test]
fn one_thread_or_four_give_the_same_bytes_and_all_good_is_success() {
    let mut lines = String::new();
    for garment in ["tam", "cuff", "hat", "sock"] {
        for size in ["y4", "women-m", "men-l"] {
            let ask = json!({ "garment": garment, "machine": "mid", "sizes": size, "units": "in" });
            lines.push_str(&(ask.to_string() + "\n"));
        }
    }
    let run = |jobs: &str| {
        let output = batch().args(["--jobs", jobs]).write_stdin(lines.clone()).output();
        let output = output.expect("run");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        output.stdout
    };
    assert_eq!(run("1"), run("4"));
}

#[test]
fn options_may_be_numbers_or_texts_and_measures_make_a_person() {
    let of = |wedges: Value| {
        let options = json!({ "wedges": wedges, "ease": "-6 %" });
        json!({ "garment": "tam", "sizes": "women-m,men-l", "options": options }).to_string()
    };
    let lines = format!("{}\n{}", of(json!(6)), of(json!("6")));
    let output = batch().write_stdin(lines).output().expect("run");
    let told = answers(&output.stdout);
    assert_eq!(told[0]["result"]["options"]["wedges"], "6");
    assert_eq!(told[0]["result"]["options"]["ease"], "-6 %");
    assert_eq!(told[0]["result"], told[1]["result"]);

    let ask = json!({ "garment": "tam", "measures": { "head_girth": "58 cm" }, "name": "Ruan" });
    let output = batch().write_stdin(ask.to_string()).output().expect("run");
    let answer = &answers(&output.stdout)[0]["result"]["sizes"][0];
    assert_eq!(answer["label"], "Ruan");
    assert_eq!(answer["body"]["head_girth"], 580.0);
}

#[test]
fn all_that_is_wrong_with_a_line_is_told() {
    let ask = json!({
        "garment": "tam", "sizes": "y4", "units": "ell", "options": { "wdges": 6 },
        "measures": {}, "machine": "standard",
    });
    let output = batch().write_stdin(ask.to_string()).output().expect("run");
    let error = &answers(&output.stdout)[0]["error"];
    let all = error["all"].as_array().expect("all of them");
    let codes: Vec<&str> = all.iter().filter_map(|fault| fault["code"].as_str()).collect();
    assert_eq!((&error["code"], codes), (&json!("units"), vec!["units", "option"]));
}

#[test]
fn a_huge_line_is_refused_without_being_kept() {
    let good = json!({ "garment": "cuff", "sizes": "women-m" }).to_string();
    let mut lines = vec![b'x'; 20 << 20];
    lines.extend_from_slice(format!("\n{good}\n").as_bytes());
    let output = batch().write_stdin(lines).output().expect("run");
    assert_eq!(output.status.code(), Some(1));
    let answers = answers(&output.stdout);
    assert_eq!(
        (&answers[0]["line"], &answers[0]["error"]["code"]),
        (&json!(1), &json!("line-too-long"))
    );
    assert_eq!((&answers[1]["line"], answers[1].get("error")), (&json!(2), None));
}

#[test]
fn counting_goes_on_where_another_part_left_off() {
    let line = json!({ "garment": "cuff", "sizes": "women-m" }).to_string();
    let output = batch().args(["--count-from", "1001"]).write_stdin(line).output().expect("run");
    assert_eq!(answers(&output.stdout)[0]["line"], 1001);
    assert_eq!(batch().args(["--jobs", "0"]).output().expect("run").status.code(), Some(2));
}

/// Whoever asks one thing after another gets each answer before asking on.
#[test]
fn an_answer_does_not_wait_for_the_next_question() {
    let mut child = Process::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .arg("batch")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("started");
    let mut ask = child.stdin.take().expect("a pipe");
    let mut answers = BufReader::new(child.stdout.take().expect("a pipe")).lines();
    for n in 1..=3 {
        writeln!(ask, r#"{{"id": {n}, "garment": "cuff", "sizes": "women-m"}}"#).expect("asked");
        let answer = answers.next().expect("an answer").expect("read");
        assert!(answer.starts_with(&format!(r#"{{"line":{n},"id":{n},"result""#)), "{answer}");
    }
    drop(ask);
    assert!(child.wait().expect("ended").success());
}

#[test]
fn a_reader_that_went_away_is_no_fault() {
    let mut child = Process::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .arg("batch")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("started");
    drop(child.stdout.take());
    let mut ask = child.stdin.take().expect("a pipe");
    for _ in 0..2_000 {
        // It may have ended by now.
        if writeln!(ask, r#"{{"garment": "cuff", "sizes": "women-m"}}"#).is_err() {
            break;
        }
    }
    drop(ask);
    let output = child.wait_with_output().expect("ended");
    assert!(output.status.success(), "{output:?}");
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
}

fn told(output: &std::process::Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

const GOOD: &str = r#"{"garment": "cuff", "sizes": "women-m"}"#;

/// Whoever runs it in parts must know a part with errors from a part that is not whole.
#[test]
fn the_status_tells_errors_from_a_batch_that_broke_off() {
    let done = batch().write_stdin(GOOD).output().expect("run");
    assert_eq!((done.status.code(), told(&done).as_str()), (Some(0), ""));
    // Nothing asked for is done too: a part may be empty.
    let done = batch().write_stdin("").output().expect("run");
    assert_eq!((done.status.code(), told(&done).as_str()), (Some(0), ""));
    assert!(done.stdout.is_empty());

    let errors = batch().write_stdin(format!("{GOOD}\n{{}}\nno\n")).output().expect("run");
    assert_eq!(errors.status.code(), Some(1));
    assert_eq!(answers(&errors.stdout).len(), 3);
    assert_eq!(told(&errors), "2 of 3 answers are an error\n");

    let wrong = batch().args(["--lines", "some"]).write_stdin(GOOD).output().expect("run");
    assert_eq!(wrong.status.code(), Some(2));
}

#[test]
fn requests_that_cannot_be_read_break_the_batch_off() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("missing.jsonl");
    for (file, word) in [(missing.as_path(), "missing.jsonl"), (folder.path(), "directory")] {
        let output = batch().arg(file).output().expect("run");
        let told = told(&output);
        assert_eq!(output.status.code(), Some(3), "{told}");
        assert!(output.stdout.is_empty());
        assert!(told.contains("can't read") && told.contains(word), "{told}");
        assert!(told.contains(&*folder.path().to_string_lossy()), "{told}");
    }
    // What it rests on is not there either.
    let mut tables = batch();
    tables.arg("--size-table").arg(&missing).write_stdin(GOOD);
    let output = tables.output().expect("run");
    assert_eq!(output.status.code(), Some(3), "{}", told(&output));
    assert!(output.stdout.is_empty());
}

/// The kernel's full disk: every write to it fails.
#[cfg(target_os = "linux")]
#[test]
fn answers_that_cannot_be_written_break_the_batch_off() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("a full disk");
    let mut child = Process::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .arg("batch")
        .stdin(Stdio::piped())
        .stdout(full)
        .stderr(Stdio::piped())
        .spawn()
        .expect("started");
    writeln!(child.stdin.take().expect("a pipe"), "{GOOD}").expect("asked");
    let output = child.wait_with_output().expect("ended");
    let told = told(&output);
    assert_eq!(output.status.code(), Some(3), "{told}");
    assert!(told.contains("can't write") && told.contains("broke off"), "{told}");
}

/// What was answered before the reading broke stands, and it is said how much that is.
#[cfg(target_os = "linux")]
#[test]
fn a_batch_that_breaks_off_in_the_middle_says_after_how_much() {
    let (mut ours, mut its) = std::os::unix::net::UnixStream::pair().expect("a pair of sockets");
    // Whoever hangs up with something unread breaks the other's reading, other than by its end.
    its.write_all(b"never read").expect("written");
    let mut child = Process::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .arg("batch")
        .stdin(std::os::fd::OwnedFd::from(its))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("started");
    let mut lines = BufReader::new(child.stdout.take().expect("a pipe")).lines();
    for n in 1..=3 {
        writeln!(ours, "{GOOD}").expect("asked");
        let answer = lines.next().expect("an answer").expect("read");
        assert!(answer.starts_with(&format!(r#"{{"line":{n},"result""#)), "{answer}");
    }
    drop(ours);
    assert!(lines.next().is_none());
    let output = child.wait_with_output().expect("ended");
    let told = told(&output);
    assert_eq!(output.status.code(), Some(3), "{told}");
    assert!(told.contains("can't read the requests"), "{told}");
    assert!(told.contains("broke off after 3 answers"), "{told}");
}

#[test]
fn an_engine_says_which_numbers_answers_bear() {
    let cuff =
        |line: &str| format!(r#"{{"id": "a", {line}"garment": "cuff", "sizes": "women-m"}}"#);
    let run = |lines: &str, text: String| {
        let output = batch().args(["--lines", lines]).write_stdin(text).output().expect("run");
        (output.status.code(), String::from_utf8(output.stdout).expect("text"))
    };
    let plain = run("count", format!("\n{}\n", cuff("")));
    assert_eq!(plain.0, Some(0));
    let counted = r#"{"line":2,"id":"a","result""#;
    assert!(plain.1.starts_with(counted), "{}", plain.1);

    // Without: the same bytes wherever it stands.
    let bare = plain.1.replacen(r#""line":2,"#, "", 1);
    assert_eq!(run("none", format!("{0}\n\n{0}\n", cuff(""))), (Some(0), bare.repeat(2)));

    // From the request: any numbers, in any order, or none.
    let text = ["\"line\": 900, ", "\"line\": 2, ", "", "\"line\": null, "].map(cuff).join("\n");
    let wanted = plain.1.replacen("2", "900", 1) + &plain.1 + &bare.repeat(2);
    assert_eq!(run("request", text), (Some(0), wanted));

    // One that is none is the fault of its line alone, and so is a number nobody asked for.
    let (status, told) = run("request", format!("{}\n{}", cuff("\"line\": -3, "), cuff("")));
    let told = answers(told.as_bytes());
    assert_eq!((status, told.len()), (Some(1), 2));
    assert_eq!((&told[0]["id"], &told[0]["error"]["code"]), (&json!("a"), &json!("json")));
    assert!(told[0].get("line").is_none() && told[1].get("result").is_some());
    for lines in ["count", "none"] {
        let (status, told) = run(lines, cuff("\"line\": 3, "));
        assert_eq!(
            (status, &answers(told.as_bytes())[0]["error"]["code"]),
            (Some(1), &json!("json"))
        );
    }
}

/// As many lines out as in, for who pairs them by their place.
#[test]
fn a_blank_line_has_an_answer_where_one_is_asked_for() {
    let text = format!("\n{GOOD}\n \t\r\n{GOOD}\n\n");
    let skipped = batch().write_stdin(text.clone()).output().expect("run");
    assert_eq!(skipped.status.code(), Some(0));
    let skipped = answers(&skipped.stdout);
    let lines: Vec<&Value> = skipped.iter().map(|answer| &answer["line"]).collect();
    assert_eq!(lines, [2, 4]);

    let all = batch().args(["--blank", "answer"]).write_stdin(text).output().expect("run");
    assert_eq!(all.status.code(), Some(1));
    assert_eq!(told(&all), "3 of 5 answers are an error\n");
    let all = answers(&all.stdout);
    let told: Vec<_> =
        all.iter().map(|a| (a["line"].as_u64(), a["error"]["code"].as_str())).collect();
    let blank = Some("blank-line");
    let expected =
        [(Some(1), blank), (Some(2), None), (Some(3), blank), (Some(4), None), (Some(5), blank)];
    assert_eq!(told, expected);
}
