//! Whether the server's memory stays as it is over a hundred thousand requests of ten kinds: `cargo bench
//! --bench memory`. Prints; asserts nothing.
//!
//! The program itself is started on a copy of the demo workspace. Each request of a kind asks for something
//! else where there is something else to ask for, so that whatever is kept of requests would grow. The
//! workspace's own journal does, on the disk: one request in ten is a change.
//!
//! `ODDMENTS_PROGRAM` names another build of the program, and an argument how many requests are sent.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark tells the time")]
#![allow(clippy::disallowed_types, reason = "it starts the program and connects to it")]

use std::env;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Instant;

/// Requests of a kind one after the other, so many; then so many of the next.
const TURN: usize = 20;

type Made = fn(usize) -> (&'static str, String, String, u16);

/// A method, a path, a body and the status that is right, for the request of a number.
const KINDS: [(&str, Made); 10] = [
    ("a page", |n| {
        let path = ["/grade", "/chart", "/gifts/stash", "/garments", "/swatch"][n % 5];
        ("GET", path.to_owned(), String::new(), 200)
    }),
    ("a run on a page", |n| {
        let head = 52.0 + (n % 1_000) as f64 / 100.0;
        let path = format!("/grade/result?garment=tam&sizes=women-m&m.head_girth={head:.2}");
        ("GET", path, String::new(), 200)
    }),
    ("a run for a program", |n| {
        let sizes = ["women-m", "y4", "men-l", "newborn"][n % 4];
        ("GET", format!("/api/v1/grade?garment=hat&sizes={sizes}"), String::new(), 200)
    }),
    ("a pattern", |n| {
        let garment = ["cuff", "mitt", "tam", "headband"][n % 4];
        ("GET", format!("/api/v1/pattern?garment={garment}&sizes=women-m"), String::new(), 200)
    }),
    ("the way at the machine", |n| {
        let garment = ["hat", "sock"][n % 2];
        ("GET", format!("/api/v1/walk?garment={garment}&sizes=women-m"), String::new(), 200)
    }),
    ("what a remnant reaches", |n| {
        let grams = 60 + n % 200;
        let path = format!("/api/v1/reach?weight={grams}+g&garment=hat&sizes=women-m");
        ("GET", path, String::new(), 200)
    }),
    ("a list", |n| {
        let list = ["stash", "people", "yarns", "gifts"][n % 4];
        ("GET", format!("/api/v1/lists/{list}"), String::new(), 200)
    }),
    ("a change", |n| {
        let body = format!("{{\"weight\": \"{} g\"}}", 20 + n % 60);
        ("PATCH", "/api/v1/lists/stash/slate-1".to_owned(), body, 200)
    }),
    ("what is wrong", |n| {
        let bad = n % 1_000;
        let path = [format!("/api/v1/grade?garment=tam{bad}"), format!("/nowhere/{bad}")];
        ("GET", path[n % 2].clone(), String::new(), [422, 404][n % 2])
    }),
    ("a swatch", |n| {
        let width = 130 + n % 20;
        let body = format!(
            "{{\"swatch\": {{\"yarn\": \"400 m/100 g\", \"swatch\": [{{\"structure\": \"plain\", \"stitches\": 40, \
             \"widths\": [\"{width} mm\"], \"rows\": 60, \"heights\": [\"15 cm\"]}}]}}}}"
        );
        ("POST", "/api/v1/swatch".to_owned(), body, 200)
    }),
];

struct Served {
    child: Child,
    address: String,
    folder: PathBuf,
    connection: Option<BufReader<TcpStream>>,
}

impl Served {
    fn new(program: &Path) -> Served {
        let folder = env::temp_dir().join(format!("oddments-memory-{}", std::process::id()));
        let made = Command::new(program).arg("init").arg(&folder).arg("--demo").output();
        assert!(made.is_ok_and(|made| made.status.success()), "no workspace was made");
        let mut child = Command::new(program)
            .args(["serve", "--listen", "127.0.0.1:0", "--workspace"])
            .arg(&folder)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        let first = lines.next().expect("a line").expect("text");
        let address = first.split_once("http://").expect("an address").1.to_owned();
        Served { child, address, folder, connection: None }
    }

    /// The status of the answer, which is read to its end.
    fn ask(&mut self, (method, path, body): (&str, &str, &str)) -> std::io::Result<u16> {
        if self.connection.is_none() {
            self.connection = Some(BufReader::new(TcpStream::connect(&self.address)?));
        }
        let connection = self.connection.as_mut().expect("opened");
        let text = format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            self.address,
            body.len()
        );
        connection.get_mut().write_all(text.as_bytes())?;
        let (mut status, mut length) = (0, 0);
        loop {
            let mut line = String::new();
            if connection.read_line(&mut line)? == 0 {
                self.connection = None;
                return Ok(status);
            }
            let line = line.trim_end().to_ascii_lowercase();
            if let Some(rest) = line.strip_prefix("http/1.1 ") {
                status = rest.get(..3).and_then(|code| code.parse().ok()).unwrap_or(0);
            } else if let Some(rest) = line.strip_prefix("content-length:") {
                length = rest.trim().parse().unwrap_or(0);
            } else if line.is_empty() {
                break;
            }
        }
        std::io::copy(&mut connection.take(length), &mut std::io::sink())?;
        Ok(status)
    }

    /// Kilobytes in memory now, as the system counts them, and the most there were.
    fn memory(&self) -> [Option<u64>; 2] {
        let status = format!("/proc/{}/status", self.child.id());
        let status = fs::read_to_string(status).unwrap_or_default();
        ["VmRSS:", "VmHWM:"].map(|key| {
            let line = status.lines().find_map(|line| line.strip_prefix(key))?;
            line.split_whitespace().next()?.parse().ok()
        })
    }

    /// Kilobytes of the workspace's journal.
    fn journal(&self) -> u64 {
        let kept = fs::read_dir(self.folder.join(".oddments")).into_iter().flatten().flatten();
        kept.filter_map(|entry| entry.metadata().ok()).map(|data| data.len() / 1_024).sum()
    }

    fn row(&self, sent: usize, wrong: usize, begun: Instant) {
        let mb =
            |kb: Option<u64>| kb.map_or("-".to_owned(), |kb| format!("{:.1}", kb as f64 / 1_024.0));
        let [now, most] = self.memory().map(mb);
        let (journal, seconds) = (self.journal(), begun.elapsed().as_secs());
        println!("| {sent} | {now} | {most} | {journal} | {wrong} | {seconds} |");
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = fs::remove_dir_all(&self.folder);
    }
}

fn main() {
    let program = env::var_os("ODDMENTS_PROGRAM").map(PathBuf::from);
    let program = program.unwrap_or_else(|| env!("CARGO_BIN_EXE_oddments").into());
    let many = env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(100_000);
    let mut served = Served::new(&program);
    println!("| requests | MB now | MB at most | journal KB | other answers | seconds |");
    println!("|---|---|---|---|---|---|");
    let (begun, mut wrong, mut of_kind) = (Instant::now(), 0, [0; KINDS.len()]);
    served.row(0, 0, begun);
    for number in 0..many {
        let kind = number / TURN % KINDS.len();
        let (method, path, body, right) = KINDS[kind].1(of_kind[kind]);
        of_kind[kind] += 1;
        let status = served.ask((method, &path, &body)).unwrap_or(0);
        if status != right {
            if wrong < 5 {
                println!("{}: {method} {path} was answered with {status}", KINDS[kind].0);
            }
            wrong += 1;
        }
        if (number + 1) % (many / 10).max(1) == 0 {
            served.row(number + 1, wrong, begun);
        }
    }
}
