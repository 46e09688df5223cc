//! Two servers and two commands at once on one workspace, each killed now and then: what was
//! answered as done is done, once.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, RwLock};
use std::time::Duration;

use serde_json::{Value, json};

use crate::demo::Demo;

/// Numbers that look like chance and are the same each time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: u64) -> u64 {
        // A linear congruence with Knuth's MMIX figures (from memory): good enough to shuffle with.
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }
}

/// A server on the workspace, which dies and comes back.
struct Served {
    child: Mutex<Child>,
    address: RwLock<String>,
}

fn started(demo: &Demo) -> (Child, String) {
    let mut child = Command::new(assert_cmd::cargo::cargo_bin!("oddments"))
        .args(["serve", "--listen", "127.0.0.1:0"])
        .current_dir(&demo.path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("started");
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let first = lines.next().expect("a line").expect("text");
    let address = first.strip_prefix("Listening on http://").expect("an address").to_owned();
    (child, address)
}

impl Served {
    fn new(demo: &Demo) -> Served {
        let (child, address) = started(demo);
        Served { child: Mutex::new(child), address: RwLock::new(address) }
    }

    /// Killed outright, and begun anew.
    fn killed(&self, demo: &Demo) {
        let mut child = self.child.lock().expect("held");
        child.kill().expect("killed");
        child.wait().expect("ended");
        let (fresh, address) = started(demo);
        *child = fresh;
        *self.address.write().expect("held") = address;
    }

    /// The status and the body; `None` where the server died first.
    fn post(&self, path: &str, key: &str, body: &Value) -> Option<(u16, Value)> {
        let address = self.address.read().expect("held").clone();
        let body = body.to_string();
        let mut stream = TcpStream::connect(&address).ok()?;
        write!(
            stream,
            "POST {path} HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/json\r\n\
             Idempotency-Key: \"{key}\"\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        )
        .ok()?;
        read_answer(stream)
    }

    fn get(&self, path: &str) -> Option<(u16, Value)> {
        let address = self.address.read().expect("held").clone();
        let mut stream = TcpStream::connect(&address).ok()?;
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n")
            .ok()?;
        read_answer(stream)
    }
}

fn read_answer(mut stream: TcpStream) -> Option<(u16, Value)> {
    let mut text = String::new();
    stream.read_to_string(&mut text).ok()?;
    let status = text.split(' ').nth(1)?.parse().ok()?;
    let (_, body) = text.split_once("\r\n\r\n")?;
    Some((status, serde_json::from_str(body).ok()?))
}

/// What came of it all.
#[derive(Default)]
struct Ledger {
    /// By the note of a remnant: whether it must be there. Each was answered as done.
    remnants: Mutex<BTreeMap<String, bool>>,
    acknowledged: AtomicUsize,
    refused: Mutex<BTreeMap<String, usize>>,
    retried: AtomicUsize,
    kills: AtomicUsize,
}

impl Ledger {
    fn done(&self, note: &str, there: bool) {
        self.remnants.lock().expect("held").insert(note.to_owned(), there);
        self.acknowledged.fetch_add(1, Ordering::Relaxed);
    }

    fn refused(&self, code: &str) {
        *self.refused.lock().expect("held").entry(code.to_owned()).or_default() += 1;
    }
}

struct Storm<'a> {
    demo: &'a Demo,
    servers: [Served; 2],
    ledger: Ledger,
    over: AtomicBool,
}

impl Storm<'_> {
    fn is_over(&self) -> bool {
        self.over.load(Ordering::Relaxed)
    }

    /// Asks until somebody answers: with the same key, so that nothing is done twice.
    fn asked(&self, dice: &mut Dice, path: &str, key: &str, body: &Value) -> (u16, Value) {
        loop {
            let server = &self.servers[dice.below(2) as usize];
            match server.post(path, key, body) {
                Some((503, _)) | None => {
                    self.ledger.retried.fetch_add(1, Ordering::Relaxed);
                    std::thread::sleep(Duration::from_millis(20));
                }
                Some(answer) => return answer,
            }
        }
    }

    /// Adds remnants over HTTP, and takes some of its own additions back.
    fn write(&self, writer: u64) {
        let mut dice = Dice(writer);
        for nth in 0.. {
            if self.is_over() {
                break;
            }
            let note = format!("http-{writer}-{nth}");
            let entry = json!({ "yarn": "tide", "weight": "3 g", "note": note });
            let (status, body) = self.asked(&mut dice, "/api/v1/lists/stash", &note, &entry);
            assert!(status == 201 || status == 200, "{note}: {status} {body}");
            self.ledger.done(&note, true);
            if dice.below(3) > 0 {
                continue;
            }
            let ask = json!({ "change": body["change"] });
            let (status, body) =
                self.asked(&mut dice, "/api/v1/undo", &format!("{note}-undo"), &ask);
            match status {
                200 => self.ledger.done(&note, false),
                _ => self.ledger.refused(body["code"].as_str().unwrap_or("?")),
            }
        }
    }

    /// Adds and removes remnants by commands, which are killed in the middle now and then.
    fn command(&self) {
        let mut dice = Dice(77);
        let run = |args: &[&str], dice: &mut Dice| {
            let mut child = Command::new(assert_cmd::cargo::cargo_bin!("oddments"))
                .args(args)
                .current_dir(&self.demo.path)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .expect("started");
            if dice.below(4) == 0 {
                std::thread::sleep(Duration::from_millis(dice.below(60)));
                // It may have ended by itself: then it counts as it ended.
                let _ = child.kill();
                self.ledger.kills.fetch_add(1, Ordering::Relaxed);
            }
            child.wait().expect("ended").code()
        };
        for nth in 0.. {
            if self.is_over() {
                break;
            }
            let id = format!("cli-{nth}");
            let add =
                ["stash", "add", "--id", &id, "--yarn", "tide", "--weight", "2 g", "--note", &id];
            match run(&add, &mut dice) {
                Some(0) => self.ledger.done(&id, true),
                Some(_) => self.ledger.refused("stash add"),
                // Killed: it is there whole or not at all, and nobody was told.
                None => continue,
            }
            if dice.below(2) == 0 && run(&["stash", "remove", &id], &mut dice) == Some(0) {
                self.ledger.done(&id, false);
            } else {
                // A removal that was killed may have been made.
                self.ledger.remnants.lock().expect("held").remove(&id);
                if run(&["stash", "change", &id, "--weight", "1 g"], &mut dice) == Some(0) {
                    self.ledger.done(&id, true);
                }
            }
        }
    }

    /// Plans, accepts, and takes back every second plan.
    fn accept(&self) {
        let mut dice = Dice(5);
        for nth in 0.. {
            if self.is_over() {
                break;
            }
            let server = &self.servers[dice.below(2) as usize];
            let ask = json!({ "today": "2026-09-01", "work": 1, "again": true, "seed": nth });
            let Some((202, begun)) = server.post("/api/v1/plans", &format!("plan-{nth}"), &ask)
            else {
                std::thread::sleep(Duration::from_millis(50));
                continue;
            };
            let id = begun["id"].as_str().expect("an id").to_owned();
            let done = || match server.get(&format!("/api/v1/plans/{id}")) {
                Some((200, plan)) => plan["state"] != "running",
                // It died: the plan died with it.
                _ => true,
            };
            while !done() {
                std::thread::sleep(Duration::from_millis(50));
            }
            let at = format!("/api/v1/plans/{id}/accept");
            match server.post(&at, &format!("accept-{nth}"), &json!({})) {
                Some((200, told)) => {
                    self.ledger.acknowledged.fetch_add(1, Ordering::Relaxed);
                    if nth % 2 == 1 {
                        let ask = json!({ "change": told["change"] });
                        self.asked(&mut dice, "/api/v1/undo", &format!("accept-{nth}-undo"), &ask);
                    }
                }
                Some((_, told)) => self.ledger.refused(told["code"].as_str().unwrap_or("?")),
                None => self.ledger.refused("died"),
            }
        }
    }

    /// Nothing that was answered as done is lost, and nothing is there twice.
    fn judged(&self) -> (usize, usize) {
        let stash = self.demo.toml("stash.toml");
        let mut there: BTreeMap<String, usize> = BTreeMap::new();
        for remnant in stash["remnant"].as_array().expect("a list") {
            if let Some(note) = remnant.get("note").and_then(toml::Value::as_str) {
                *there.entry(note.to_owned()).or_default() += 1;
            }
        }
        let wanted = self.ledger.remnants.lock().expect("held");
        let lost = wanted.iter().filter(|(note, own)| there.contains_key(*note) != **own).count();
        let mut doubled =
            wanted.keys().filter(|note| there.get(*note).is_some_and(|n| *n > 1)).count();
        if self.demo.path.join("plan.toml").exists() {
            let plan = self.demo.toml("plan.toml");
            let mut seen = BTreeMap::new();
            for own in plan.get("reservation").and_then(toml::Value::as_array).into_iter().flatten()
            {
                let key =
                    ["gift", "section", "remnant"].map(|key| own[key].as_str().expect("text"));
                *seen.entry(key).or_insert(0) += 1;
            }
            doubled += seen.values().filter(|count| **count > 1).count();
        }
        (lost, doubled)
    }
}

/// Goes on until `enough` says so, and judges.
#[allow(clippy::print_stderr, reason = "what came of it is worth telling")]
fn storm(enough: impl Fn(&Ledger) -> bool) {
    let demo = Demo::new();
    let storm = Storm {
        servers: [Served::new(&demo), Served::new(&demo)],
        demo: &demo,
        ledger: Ledger::default(),
        over: AtomicBool::new(false),
    };
    std::thread::scope(|scope| {
        scope.spawn(|| storm.write(1));
        scope.spawn(|| storm.write(2));
        scope.spawn(|| storm.command());
        scope.spawn(|| storm.accept());
        let mut dice = Dice(9);
        while !enough(&storm.ledger) {
            std::thread::sleep(Duration::from_millis(150 + dice.below(900)));
            storm.servers[dice.below(2) as usize].killed(&demo);
            storm.ledger.kills.fetch_add(1, Ordering::Relaxed);
        }
        storm.over.store(true, Ordering::Relaxed);
    });
    let read = demo.run(&["stash", "list"]);
    assert_eq!(read.code, Some(0), "{}", read.err);
    let (lost, doubled) = storm.judged();
    let ledger = &storm.ledger;
    eprintln!(
        "storm: {} acknowledged, {lost} lost, {doubled} doubled; {} kills, {} asked again, refused: {:?}",
        ledger.acknowledged.load(Ordering::Relaxed),
        ledger.kills.load(Ordering::Relaxed),
        ledger.retried.load(Ordering::Relaxed),
        ledger.refused.lock().expect("held"),
    );
    for server in &storm.servers {
        let mut child = server.child.lock().expect("held");
        child.kill().expect("killed");
        child.wait().expect("ended");
    }
    assert_eq!((lost, doubled), (0, 0));
    let litter: Vec<_> = std::fs::read_dir(demo.path.join(".oddments"))
        .expect("listed")
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(".tmp-"))
        .collect();
    assert!(litter.len() <= 1, "{litter:?}");
}

#[test]
fn a_short_storm_loses_nothing_and_doubles_nothing() {
    storm(|ledger| {
        ledger.acknowledged.load(Ordering::Relaxed) >= 60
            && ledger.kills.load(Ordering::Relaxed) >= 6
    });
}

/// `cargo test --test it storm_of_ten_minutes -- --ignored --nocapture`
#[test]
#[ignore = "takes ten minutes"]
fn a_storm_of_ten_minutes_loses_nothing_and_doubles_nothing() {
    let begun = std::time::Instant::now();
    storm(|_| begun.elapsed() > Duration::from_secs(600));
}
