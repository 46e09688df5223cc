//! Connections held open by people who mean ill, or whose device fell asleep: a good request among them
//! is answered all the same.

use std::io::{ErrorKind, Read, Write};
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
        Listening::behind(bounds, &[])
    }

    fn behind(bounds: Bounds, fronts: &[IpAddr]) -> Listening {
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
        let runtime = runtime.expect("a runtime");
        let listener = runtime.block_on(tokio::net::TcpListener::bind((HERE, 0))).expect("bound");
        let port = listener.local_addr().expect("an address").port();
        let token = Some(TOKEN.to_owned());
        let state = State::new(Setup { port, token, bounds, fronts: fronts.to_vec(), ..setup() });
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
    // More than all that lies between the two can hold.
    (
        "readers that don't read",
        "GET /api/v1/openapi.json HTTP/1.1\r\nHost: @\r\nAuthorization: Bearer kittiwake and fulmar\r\n\r\n",
        90,
    ),
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

/// Whoever takes nothing of the answers is hung up on: some of them never come.
#[test]
fn a_reader_that_does_not_read_is_hung_up_on() {
    let bounds = Bounds { write_time: Duration::from_millis(300), ..Bounds::default() };
    let server = Listening::with(bounds);
    let arrived = |mut stream: TcpStream| {
        std::thread::sleep(Duration::from_secs(2));
        let mut bytes = Vec::new();
        // What was under way still comes, then the end or a reset.
        let _ = stream.read_to_end(&mut bytes);
        String::from_utf8_lossy(&bytes).into_owned()
    };
    let pages = arrived(hold(&server, KINDS[4]));
    let whole = pages.matches("HTTP/1.1 200 OK").count();
    assert!(whole > 0 && whole < 90, "{whole} answers");

    // A batch of more answers than anything on the way can hold.
    let (lines, line) = (20_000, format!("{{\"id\":\"{}\"}}\n", "x".repeat(1000)));
    let mut stream = server.connect(HERE);
    let port = server.port;
    let head = format!(
        "POST /api/v1/batch HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAuthorization: Bearer {TOKEN}\r\n\
         Content-Type: application/x-ndjson\r\nContent-Length: {}\r\n\r\n",
        lines * line.len()
    );
    let mut sender = stream.try_clone().expect("a second handle");
    sender.set_write_timeout(Some(Duration::from_secs(60))).expect("set");
    let sent = std::thread::spawn(move || {
        sender
            .write_all((head + &line.repeat(lines)).as_bytes())
            .expect_err("not all is taken")
            .kind()
    });
    let mut first = [0; 15];
    stream.read_exact(&mut first).expect("an answer begins");
    assert_eq!(&first, b"HTTP/1.1 200 OK");
    // However slow the machine: what is sent is refused once the server has hung up, and not before.
    let refused = sent.join().expect("ended");
    assert!(!matches!(refused, ErrorKind::WouldBlock | ErrorKind::TimedOut), "{refused:?}");
    let batch = arrived(stream);
    let answers = batch.matches("\"line\"").count();
    assert!(answers > 0 && answers < lines, "{answers} answers");
    server.end();
}

/// Wrong tokens until the next would not be looked at.
fn guess(server: &Listening, from: Ipv4Addr, more: &str) {
    let head = format!("GET /api/v1/machines HTTP/1.1\r\nAuthorization: Bearer puffin{more}");
    for _ in 0..5 {
        let wrong = server.ask(from, &head, "");
        assert!(wrong.starts_with("HTTP/1.1 401 "), "{wrong}");
    }
    std::thread::scope(|scope| {
        let asked = [(); 8].map(|()| scope.spawn(|| server.ask(from, &head, "")));
        let heads = asked.map(|one| one.join().expect("an answer"));
        let refused = heads.iter().filter(|head| head.starts_with("HTTP/1.1 429 ")).count();
        assert!(refused > 0, "{heads:?}");
        assert!(heads.iter().all(|head| !head.contains(" 200 ")), "{heads:?}");
        let says = |head: &String| head.contains(" 401 ") || head.contains("retry-after: ");
        assert!(heads.iter().all(says), "{heads:?}");
    });
}

/// Guesses from one address slow nobody else down, nor a connection whose visitor is known.
#[test]
fn only_the_address_that_guesses_waits() {
    let server = Listening::with(Bounds::default());
    let mut known = server.connect(HERE);
    let good = format!(
        "GET /api/v1/health HTTP/1.1\r\nHost: 127.0.0.1:{0}\r\n\r\n\
         GET /api/v1/sizes HTTP/1.1\r\nHost: 127.0.0.1:{0}\r\nAuthorization: Bearer {TOKEN}\r\n",
        server.port
    );
    known.write_all(format!("{good}\r\n").as_bytes()).expect("sent");
    let mut begun = [0; 15];
    known.read_exact(&mut begun).expect("an answer");
    guess(&server, HERE, "");
    server.assert_open(ELSEWHERE, "guesses from another address");
    known.write_all(format!("{good}Connection: close\r\n\r\n").as_bytes()).expect("sent");
    let mut rest = String::new();
    known.read_to_string(&mut rest).expect("answers");
    assert_eq!(rest.matches("HTTP/1.1 200 OK").count(), 3, "{rest}");
    server.end();
}

/// Behind a balancer all come from its address: its word is taken for whom it asks.
#[test]
fn behind_another_server_guesses_are_counted_by_visitor() {
    let server = Listening::behind(Bounds::default(), &[IpAddr::V4(HERE)]);
    guess(&server, HERE, "\r\nX-Forwarded-For: 198.51.100.9, 192.0.2.7");
    for other in ["192.0.2.8", "192.0.2.7, 192.0.2.8"] {
        let head = format!(
            "GET /api/v1/machines HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nX-Forwarded-For: {other}"
        );
        let good = server.ask(HERE, &head, "");
        assert!(good.starts_with("HTTP/1.1 200 "), "{good}");
    }
    // Anybody else's word is not.
    guess(&server, ELSEWHERE, "\r\nX-Forwarded-For: 192.0.2.9");
    let head = "POST /login HTTP/1.1\r\nX-Forwarded-For: 192.0.2.9\r\n\
                Content-Type: application/x-www-form-urlencoded";
    let good = server.ask(HERE, head, "token=kittiwake+and+fulmar");
    assert!(good.starts_with("HTTP/1.1 303 "), "{good}");
    server.end();
}

/// What does not come to its end is given up, in words.
#[test]
fn unfinished_bodies_are_given_up() {
    let bounds = Bounds { body_time: Duration::from_millis(300), ..Bounds::default() };
    let server = Listening::with(bounds);
    let answer = |mut stream: TcpStream| {
        let mut text = String::new();
        stream.read_to_string(&mut text).expect("an answer");
        text
    };
    for kind in [KINDS[2], KINDS[3]] {
        let text = answer(hold(&server, kind));
        assert!(text.starts_with("HTTP/1.1 408 "), "{}: {text}", kind.0);
        assert!(text.contains("\"code\":\"too-slow\""), "{}: {text}", kind.0);
    }
    let (name, sent, times) = KINDS[2];
    let page = sent.replace("Content-Length", "Accept: text/html\r\nContent-Length");
    let text = answer(hold(&server, (name, &page, times)));
    assert!(text.starts_with("HTTP/1.1 408 ") && text.contains("<h1>"), "{text}");

    // A batch has time for each line, however it drips.
    let mut stream = hold(&server, KINDS[5]);
    for _ in 0..100 {
        if stream.write_all(b" ").is_err() {
            break;
        }
        std::thread::sleep(Duration::from_millis(25));
    }
    let mut bytes = Vec::new();
    let _ = stream.read_to_end(&mut bytes);
    let text = String::from_utf8_lossy(&bytes);
    assert!(text.contains("\"code\":\"cut-short\""), "{text}");
    server.end();
}
