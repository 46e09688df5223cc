//! Connections held open by people who mean ill, or whose device fell asleep: a good request among them
//! is answered all the same.

use std::io::{Read, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpStream};
use std::time::Duration;

use tokio::net::TcpSocket;
use web::{Bounds, Setup, State};

use crate::server::setup;

const TOKEN: &str = "kittiwake and fulmar";
/// Held of each kind: more than there is room for.
const MANY: usize = 100;

const HERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 1);
const ELSEWHERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 2);

/// A server that listens.
struct Listening {
    runtime: tokio::runtime::Runtime,
    port: u16,
    stop: tokio::sync::oneshot::Sender<()>,
    served: tokio::task::JoinHandle<()>,
}

impl Listening {
    fn with(bounds: Bounds) -> Listening {
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
        let runtime = runtime.expect("a runtime");
        let listener = runtime.block_on(tokio::net::TcpListener::bind((HERE, 0))).expect("bound");
        let port = listener.local_addr().expect("an address").port();
        let state = State::new(Setup { port, token: Some(TOKEN.to_owned()), bounds, ..setup() });
        let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
        let served = runtime.spawn(web::run(listener, state, async {
            let _ = stopped.await;
        }));
        Listening { runtime, port, stop, served }
    }

    /// Connects from an address of this machine, with little room for what is not read.
    fn connect(&self, from: Ipv4Addr) -> TcpStream {
        let socket = TcpSocket::new_v4().expect("a socket");
        socket.set_recv_buffer_size(4096).expect("set");
        socket.bind(SocketAddr::new(IpAddr::V4(from), 0)).expect("bound");
        let connected = socket.connect(SocketAddr::from((HERE, self.port)));
        let stream = self.runtime.block_on(connected).expect("connected");
        let stream = stream.into_std().expect("a stream");
        stream.set_nonblocking(false).expect("set");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("set");
        stream
    }

    /// One request on a connection of its own: the answer's head.
    fn ask(&self, from: Ipv4Addr, head: &str, body: &str) -> String {
        let mut stream = self.connect(from);
        let (port, length) = (self.port, body.len());
        let request = format!(
            "{head}\r\nHost: 127.0.0.1:{port}\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{body}"
        );
        stream.write_all(request.as_bytes()).expect("sent");
        let mut text = String::new();
        stream.read_to_string(&mut text).expect("an answer");
        text.split("\r\n\r\n").next().expect("a head").to_owned()
    }

    /// What a good visitor does: none of it may be refused.
    fn assert_open(&self, from: Ipv4Addr, among: &str) {
        for _ in 0..3 {
            let health = self.ask(from, "GET /api/v1/health HTTP/1.1", "");
            assert!(health.starts_with("HTTP/1.1 200 OK"), "{among}: {health}");
            let machines =
                format!("GET /api/v1/machines HTTP/1.1\r\nAuthorization: Bearer {TOKEN}");
            let machines = self.ask(from, &machines, "");
            assert!(machines.starts_with("HTTP/1.1 200 OK"), "{among}: {machines}");
            let login = "POST /login HTTP/1.1\r\nContent-Type: application/x-www-form-urlencoded";
            let login = self.ask(from, login, "token=kittiwake+and+fulmar&next=%2Fgrade");
            assert!(login.starts_with("HTTP/1.1 303 See Other"), "{among}: {login}");
            assert!(login.contains("set-cookie: oddments_visitor="), "{among}: {login}");
        }
    }

    fn end(self) {
        let _ = self.stop.send(());
        self.runtime.block_on(self.served).expect("ended in order");
    }
}

/// A way to hold a connection: what is sent, and how often; nothing is read.
const KINDS: [(&str, &str, usize); 6] = [
    ("idle", "", 0),
    ("a slow head", "GET /grade HTTP/1.1\r\nX-A: ", 1),
    (
        "a slow body to the login",
        "POST /login HTTP/1.1\r\nHost: @\r\nContent-Type: application/x-www-form-urlencoded\r\n\
         Content-Length: 1000\r\n\r\ntoken=",
        1,
    ),
    (
        "a slow body with the token",
        "POST /api/v1/grade HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer kittiwake and fulmar\r\n\
         Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{",
        1,
    ),
    ("readers that don't read", "GET /assets/paper.css HTTP/1.1\r\nHost: @\r\n\r\n", 60),
    (
        "slow batches",
        "POST /api/v1/batch HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer kittiwake and fulmar\r\n\
         Content-Type: application/x-ndjson\r\nContent-Length: 1000\r\n\r\n{",
        1,
    ),
];

fn hold(server: &Listening, (_, sent, times): (&str, &str, usize)) -> TcpStream {
    let mut stream = server.connect(HERE);
    let text = sent.replace('@', &format!("127.0.0.1:{}", server.port)).repeat(times);
    // Hung up on already, it may be.
    let _ = stream.write_all(text.as_bytes());
    stream
}

/// More connections than there is room for.
#[test]
fn held_connections_shut_nobody_out() {
    let bounds = Bounds { connections: 64, requests: 16, ..Bounds::default() };
    let server = Listening::with(bounds);
    for kind in KINDS {
        let held: Vec<TcpStream> = (0..MANY).map(|_| hold(&server, kind)).collect();
        server.assert_open(HERE, kind.0);
        server.assert_open(ELSEWHERE, kind.0);
        drop(held);
    }
    let held: Vec<TcpStream> =
        KINDS.iter().flat_map(|kind| (0..30).map(|_| hold(&server, *kind))).collect();
    server.assert_open(HERE, "all kinds at once");
    server.assert_open(ELSEWHERE, "all kinds at once");
    drop(held);
    server.end();
}

/// Room for all connections, but not for as many requests.
#[test]
fn unfinished_bodies_take_no_room_from_requests() {
    let bounds = Bounds { connections: 256, requests: 8, ..Bounds::default() };
    let server = Listening::with(bounds);
    for kind in [KINDS[2], KINDS[3]] {
        let held: Vec<TcpStream> = (0..MANY).map(|_| hold(&server, kind)).collect();
        server.assert_open(HERE, kind.0);
        drop(held);
    }
    server.end();
}
