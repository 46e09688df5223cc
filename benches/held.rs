//! How long a good request waits among a thousand connections that are held open: `cargo bench --bench
//! held`. Prints; asserts nothing.
//!
//! The program itself is started and listens on 127.0.0.1; all that is held comes from there. The good
//! visitor opens a connection for each request, once from the same address and once from another. Held
//! once: a thousand are opened and left alone. Taken up again: whoever is hung up on comes back at once,
//! and so do the others, as fast as one thread can.

#![allow(clippy::print_stdout, clippy::disallowed_methods, reason = "a benchmark tells the time")]
#![allow(clippy::disallowed_types, reason = "it starts the program and connects to it")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use tokio::net::TcpSocket;

const TOKEN: &str = "kittiwake and fulmar";
const MANY: usize = 1_000;
const GOOD: usize = 100;
const HERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 1);
const ELSEWHERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 2);

/// What is sent on a connection that is held, and how often; `@` is the server, `%` its token.
const KINDS: [(&str, &str, usize); 7] = [
    ("none", "", 0),
    ("idle", "", 0),
    ("slow head", "GET /grade HTTP/1.1\r\nX-A: ", 1),
    (
        "slow body to the login",
        "POST /login HTTP/1.1\r\nHost: @\r\nContent-Type: application/x-www-form-urlencoded\r\n\
         Content-Length: 1000\r\n\r\ntoken=",
        1,
    ),
    (
        "slow body with the token",
        "POST /api/v1/grade HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer %\r\n\
         Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{",
        1,
    ),
    (
        "reader that does not read",
        "GET /api/v1/openapi.json HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer %\r\n\r\n",
        30,
    ),
    (
        "slow batch",
        "POST /api/v1/batch HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer %\r\n\
         Content-Type: application/x-ndjson\r\nContent-Length: 1000\r\n\r\n{",
        1,
    ),
];

struct Served {
    child: Child,
    address: SocketAddr,
    runtime: tokio::runtime::Runtime,
}

impl Served {
    fn new() -> Served {
        let mut child = Command::new(env!("CARGO_BIN_EXE_oddments"))
            .args(["serve", "--listen", "127.0.0.1:0", "--token", TOKEN])
            .stdout(Stdio::piped())
            .spawn()
            .expect("started");
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        let first = lines.next().expect("a line").expect("text");
        let address = first.strip_prefix("Listening on http://").expect("an address");
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let address = address.parse().expect("an address");
        Served { child, address, runtime: runtime.expect("a runtime") }
    }

    fn filled(&self, text: &str) -> String {
        text.replace('@', &self.address.to_string()).replace('%', TOKEN)
    }

    fn hold(&self, text: &str) -> Option<TcpStream> {
        let mut stream = TcpStream::connect(self.address).ok()?;
        // Hung up on already, it may be; and nobody waits for a server that reads no more.
        stream.set_write_timeout(Some(Duration::from_millis(200))).ok()?;
        let _ = stream.write_all(text.as_bytes());
        Some(stream)
    }

    /// One good request: how long it waited, where it was answered with 200.
    fn good(&self, from: Ipv4Addr) -> Option<Duration> {
        let begun = Instant::now();
        let socket = TcpSocket::new_v4().ok()?;
        socket.bind((from, 0).into()).ok()?;
        let connected = self.runtime.block_on(socket.connect(self.address)).ok()?;
        let mut stream = connected.into_std().ok()?;
        stream.set_nonblocking(false).ok()?;
        stream.set_read_timeout(Some(Duration::from_secs(30))).ok()?;
        let text = format!(
            "GET /api/v1/machines HTTP/1.1\r\nHost: {}\r\nAuthorization: Bearer {TOKEN}\r\n\
             Connection: close\r\n\r\n",
            self.address
        );
        stream.write_all(text.as_bytes()).ok()?;
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).ok()?;
        bytes.starts_with(b"HTTP/1.1 200 OK").then(|| begun.elapsed())
    }

    fn goods(&self, from: Ipv4Addr) -> String {
        let mut waits: Vec<f64> = Vec::new();
        for _ in 0..GOOD {
            waits.extend(self.good(from).map(|wait| wait.as_secs_f64() * 1000.0));
            std::thread::sleep(Duration::from_millis(5));
        }
        let refused = GOOD - waits.len();
        waits.sort_by(f64::total_cmp);
        let (median, worst) = (waits.get(waits.len() / 2), waits.last());
        let ms = |wait: Option<&f64>| wait.map_or("-".to_owned(), |wait| format!("{wait:.1}"));
        format!("{} | {} | {refused}", ms(median), ms(worst))
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn held_once(kind: &str, text: &str) {
    for (name, from) in [("the same", HERE), ("another", ELSEWHERE)] {
        let served = Served::new();
        let many = if kind == "none" { 0 } else { MANY };
        let held: Vec<Option<TcpStream>> =
            (0..many).map(|_| served.hold(&served.filled(text))).collect();
        let open = held.iter().flatten().count();
        println!("| {kind} | held once | {open} | {name} | {} |", served.goods(from));
    }
}

fn taken_up_again(kind: &str, text: &str) {
    for (name, from) in [("the same", HERE), ("another", ELSEWHERE)] {
        let served = Served::new();
        let (stop, opened) = (AtomicBool::new(false), AtomicUsize::new(0));
        let waits = std::thread::scope(|scope| {
            let text = served.filled(text);
            let (address, stop, opened) = (served.address, &stop, &opened);
            scope.spawn(move || {
                let mut held: Vec<Option<TcpStream>> = (0..MANY).map(|_| None).collect();
                for slot in (0..MANY).cycle() {
                    if stop.load(Ordering::Relaxed) {
                        break;
                    }
                    held[slot] = None;
                    held[slot] = TcpStream::connect(address).ok();
                    if let Some(stream) = &mut held[slot] {
                        let _ = stream.set_write_timeout(Some(Duration::from_millis(200)));
                        let _ = stream.write_all(text.as_bytes());
                    }
                    opened.fetch_add(1, Ordering::Relaxed);
                }
            });
            while opened.load(Ordering::Relaxed) < MANY {
                std::thread::sleep(Duration::from_millis(10));
            }
            let waits = served.goods(from);
            stop.store(true, Ordering::Relaxed);
            waits
        });
        let opened = opened.into_inner();
        println!("| {kind} | taken up again | {opened} | {name} | {waits} |");
    }
}

fn main() {
    println!(
        "| kind | how | opened | good from address | median ms | worst ms | not answered of {GOOD} |"
    );
    println!("|---|---|---|---|---|---|---|");
    for (kind, text, times) in KINDS {
        held_once(kind, &text.repeat(times));
        if kind != "none" {
            taken_up_again(kind, &text.repeat(times));
        }
    }
}
