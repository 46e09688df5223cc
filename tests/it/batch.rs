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
