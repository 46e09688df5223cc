//! A server to ask, without a listener.

use std::net::IpAddr;

use app::{LiveWorkspace, Places, WorkbenchSources, Workspace};
use assert_cmd::Command;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use http_body_util::BodyExt;
use serde_json::Value;
use tower::ServiceExt;
use web::{self, Bounds, Setup, State};

use crate::demo::Demo;
use crate::support::bench;

/// What requests say they are for.
pub const HOST: &str = "127.0.0.1:8017";

pub fn setup() -> Setup {
    Setup {
        bench: bench(),
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

pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.bytes).expect("text")
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }

    pub fn header(&self, name: header::HeaderName) -> &str {
        self.headers.get(&name).map_or("", |value| value.to_str().expect("text"))
    }
}

/// A server without a listener.
pub struct Server {
    pub runtime: tokio::runtime::Runtime,
    pub state: State,
}

impl Server {
    pub fn new() -> Server {
        Server::with(setup())
    }

    /// Of a workspace.
    pub fn of(demo: &Demo) -> Server {
        let open = Workspace::require(Some(&demo.path)).expect("a workspace");
        let sources = WorkbenchSources::default();
        Server::with(Setup {
            bench: open.bench(&sources).expect("a bench"),
            places: Places::open(Some(demo.path.clone())).expect("places"),
            workspace: Some(LiveWorkspace::new(open, sources)),
            ..setup()
        })
    }

    pub fn with(setup: Setup) -> Server {
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
        Server { runtime: runtime.expect("a runtime"), state: State::new(setup) }
    }

    pub fn send(&self, request: Request<Body>) -> Answer {
        let app = web::app(self.state.clone());
        self.runtime.block_on(async move {
            let response = app.oneshot(request).await.expect("infallible");
            let (parts, body) = response.into_parts();
            let bytes = body.collect().await.expect("a body").to_bytes().to_vec();
            Answer { status: parts.status, headers: parts.headers, bytes }
        })
    }

    pub fn get(&self, path: &str) -> Answer {
        self.send(request(Method::GET, path).body(Body::empty()).expect("a request"))
    }

    pub fn post(&self, path: &str, value: &Value) -> Answer {
        self.send(json_request(Method::POST, path, value))
    }
}

pub fn request(method: Method, path: &str) -> axum::http::request::Builder {
    Request::builder().method(method).uri(path).header(header::HOST, HOST)
}

pub fn json_request(method: Method, path: &str, value: &Value) -> Request<Body> {
    request(method, path)
        .header(header::CONTENT_TYPE, "application/json")
        .body(value.to_string().into())
        .expect("a request")
}

pub fn command(args: &[&str]) -> String {
    let output = Command::cargo_bin("oddments").expect("built").args(args).output().expect("run");
    String::from_utf8(output.stdout).expect("text")
}

pub fn problem(answer: &Answer, code: &str) -> Value {
    assert_eq!(answer.header(header::CONTENT_TYPE), "application/problem+json", "{code}");
    let body = answer.json();
    assert_eq!(body["code"], code, "{body}");
    assert_eq!(body["status"], answer.status.as_u16());
    assert_eq!(body["type"], format!("urn:oddments:problem:{code}"));
    assert!(!body["errors"].as_array().expect("errors").is_empty());
    body
}
