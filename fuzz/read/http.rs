//! Any requests to the server, in memory: nothing panics, no answer blames the server, what is
//! refused or only read changes nothing, and the workspace still opens afterwards.
//!
//! The first byte picks the server. What follows are requests as one would write them down, with a
//! line `====` between: method and path, a line each header, an empty line, the body.

use std::fs;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex};
use std::time::Duration;

use app::{LiveWorkspace, Places, Workbench, WorkbenchSources, Workspace};
use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, Request, StatusCode, Uri, header};
use http_body_util::BodyExt;
use serde_json::Value;
use store::workspace::{self, Folder, Stamp};
use tokio::runtime::{Builder, Runtime};
use tower::ServiceExt;
use web::{self, Bounds, Setup, State};

const HOST: &str = "127.0.0.1:8017";
const TOKEN: &str = "lamp-and-bell";
const MOST_REQUESTS: usize = 4;

/// One input. Whether it was worth trying.
pub fn read(data: &[u8]) -> bool {
    let Some((kind, rest)) = data.split_first() else { return false };
    let requests: Option<Vec<Request<Body>>> = split(rest, b"\n====\n").map(request).collect();
    let Some(requests) = requests.filter(|all| all.len() <= MOST_REQUESTS) else {
        return false;
    };
    let servers = &*SERVERS;
    match kind % 4 {
        0 => requests.into_iter().for_each(|request| drop(servers.bare.send(request))),
        1 => requests.into_iter().for_each(|request| drop(servers.closed.send(request))),
        _ => {
            let mut own = servers.own.lock().expect("no panic comes this far");
            requests.into_iter().for_each(|request| own.send(request));
            own.tidy();
        }
    }
    true
}

/// The parts of a text between marks.
fn split<'a>(mut text: &'a [u8], mark: &'a [u8]) -> impl Iterator<Item = &'a [u8]> {
    let mut done = false;
    std::iter::from_fn(move || {
        let at = text.windows(mark.len()).position(|window| window == mark);
        let (part, rest) = match at {
            _ if done => return None,
            Some(at) => (&text[..at], &text[at + mark.len()..]),
            None => (text, &text[text.len()..]),
        };
        done = at.is_none();
        text = rest;
        Some(part)
    })
}

/// A request as it was written down; `None` for what no server would be handed.
fn request(text: &[u8]) -> Option<Request<Body>> {
    let (head, body) = match text.windows(2).position(|window| window == b"\n\n") {
        Some(at) => (&text[..at], &text[at + 2..]),
        None => (text, &text[text.len()..]),
    };
    let mut lines = head.split(|byte| *byte == b'\n');
    let first = lines.next()?;
    let at = first.iter().position(|byte| *byte == b' ')?;
    let method = Method::from_bytes(&first[..at]).ok()?;
    let uri = Uri::try_from(&first[at + 1..]).ok()?;
    let mut request = Request::new(Body::from(body.to_vec()));
    for line in lines {
        let at = line.iter().position(|byte| *byte == b':')?;
        let name = HeaderName::from_bytes(&line[..at]).ok()?;
        let value = HeaderValue::from_bytes(line[at + 1..].trim_ascii()).ok()?;
        request.headers_mut().append(name, value);
    }
    let host = HeaderValue::from_static(HOST);
    request.headers_mut().entry(header::HOST).or_insert(host);
    *request.method_mut() = method;
    *request.uri_mut() = uri;
    Some(request)
}

struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    bytes: Vec<u8>,
}

/// A server without a listener.
struct Server {
    runtime: Runtime,
    app: Router,
}

impl Server {
    fn new(setup: Setup) -> Server {
        let runtime = Builder::new_multi_thread().worker_threads(1).enable_all().build();
        Server { runtime: runtime.expect("a runtime"), app: web::app(State::new(setup)) }
    }

    fn send(&self, request: Request<Body>) -> Answer {
        let app = self.app.clone();
        let answer = self.runtime.block_on(async move {
            let response = app.oneshot(request).await.expect("infallible");
            let (parts, body) = response.into_parts();
            let bytes = body.collect().await.expect("a body").to_bytes().to_vec();
            Answer { status: parts.status, headers: parts.headers, bytes }
        });
        checked(&answer);
        answer
    }
}

/// What holds of every answer.
fn checked(answer: &Answer) {
    let shown = || String::from_utf8_lossy(&answer.bytes);
    assert!(!answer.status.is_server_error(), "{}: {}", answer.status, shown());
    assert!(answer.headers.contains_key(header::CONTENT_SECURITY_POLICY));
    let kind = answer.headers.get(header::CONTENT_TYPE).map_or(&b""[..], HeaderValue::as_bytes);
    match kind {
        _ if answer.bytes.is_empty() => {}
        b"application/json" => {
            serde_json::from_slice::<Value>(&answer.bytes).expect("JSON");
        }
        b"application/problem+json" => {
            let problem: Value = serde_json::from_slice(&answer.bytes).expect("JSON");
            assert_eq!(problem["status"], answer.status.as_u16());
            assert!(problem["errors"].as_array().is_some_and(|all| !all.is_empty()), "{problem}");
        }
        b"application/x-ndjson" => {
            for line in answer.bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
                let line: Value = serde_json::from_slice(line).expect("JSON");
                assert_ne!(line["error"]["code"], "internal", "{line}");
            }
        }
        _ => {}
    }
}

fn setup() -> Setup {
    Setup {
        bench: Workbench::open(&WorkbenchSources::default()).expect("sound tables"),
        workspace: None,
        places: Places::open(None).expect("opened"),
        address: IpAddr::from([127, 0, 0, 1]),
        port: 8017,
        names: Vec::new(),
        token: None,
        key: "herring gull".to_owned(),
        fronts: Vec::new(),
        bounds: Bounds::default(),
    }
}

struct Servers {
    bare: Server,
    /// Lets in whoever shows the token.
    closed: Server,
    own: Mutex<OwnServer>,
}

static SERVERS: LazyLock<Servers> = LazyLock::new(|| Servers {
    bare: Server::new(setup()),
    closed: Server::new(Setup { token: Some(TOKEN.to_owned()), ..setup() }),
    own: Mutex::new(OwnServer::new()),
});

/// A server of a workspace, made anew only after something changed.
struct OwnServer {
    root: PathBuf,
    /// As it was made.
    files: Vec<(PathBuf, Vec<u8>)>,
    server: Server,
    stamp: Stamp,
    // Removed at the end.
    _home: tempfile::TempDir,
}

impl OwnServer {
    fn new() -> OwnServer {
        let home = tempfile::tempdir().expect("a folder");
        let root = home.path().join("skerry");
        workspace::make(&root, &workspace::demo_files()).expect("made");
        let mut files = Vec::new();
        gather(&root, &mut files);
        let (server, stamp) = (serve(&root), folder(&root).stamp());
        OwnServer { root, files, server, stamp, _home: home }
    }

    fn send(&mut self, request: Request<Body>) {
        let reads = matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
        let before = (!reads).then(|| folder(&self.root).stamp());
        let answer = self.server.send(request);
        match before {
            None => {}
            Some(before) if answer.status.is_client_error() => {
                assert!(before == folder(&self.root).stamp(), "refused, and yet changed");
            }
            Some(_) => self.end_plans(),
        }
    }

    /// Stops the plan that may have been begun: its best so far is kept.
    fn end_plans(&self) {
        while let Some(id) = self.running() {
            let path = format!("/api/v1/plans/{id}");
            self.ask(Method::DELETE, &path);
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn running(&self) -> Option<String> {
        let plans = self.ask(Method::GET, "/api/v1/plans");
        let plans: Value = serde_json::from_slice(&plans.bytes).expect("JSON");
        let plan = plans.as_array()?.iter().find(|plan| plan["state"] == "running")?;
        plan["id"].as_str().map(str::to_owned)
    }

    fn ask(&self, method: Method, path: &str) -> Answer {
        let asked = Request::builder().method(method).uri(path).header(header::HOST, HOST);
        self.server.send(asked.body(Body::empty()).expect("a request"))
    }

    /// Whether anything was ever written: the knitter's files, the journal or a place.
    fn written(&self) -> bool {
        let own = self.root.join(".oddments");
        folder(&self.root).stamp() != self.stamp
            || own.join("journal").exists()
            || own.join("places").exists()
    }

    /// The workspace opens, whatever was done to it; then all is as it was made.
    fn tidy(&mut self) {
        if !self.written() {
            return;
        }
        if let Err(faults) = Workspace::require(Some(&self.root)) {
            panic!("the workspace is broken: {faults:?}");
        }
        fs::remove_dir_all(&self.root).expect("removed");
        for (path, bytes) in &self.files {
            fs::create_dir_all(path.parent().expect("a folder")).expect("made");
            fs::write(path, bytes).expect("written");
        }
        self.server = serve(&self.root);
        self.stamp = folder(&self.root).stamp();
    }
}

fn folder(root: &Path) -> Folder {
    Folder::find(Some(root)).expect("a workspace").expect("named")
}

fn serve(root: &Path) -> Server {
    let open = Workspace::require(Some(root)).expect("a workspace");
    let sources = WorkbenchSources::default();
    Server::new(Setup {
        bench: open.bench(&sources).expect("a bench"),
        places: Places::open(Some(root.to_owned())).expect("places"),
        workspace: Some(LiveWorkspace::new(open, sources)),
        ..setup()
    })
}

fn gather(folder: &Path, files: &mut Vec<(PathBuf, Vec<u8>)>) {
    for entry in fs::read_dir(folder).expect("read").flatten() {
        let path = entry.path();
        if path.is_dir() {
            gather(&path, files);
        } else {
            let bytes = fs::read(&path).expect("read");
            files.push((path, bytes));
        }
    }
}
