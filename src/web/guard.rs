//! What every request passes and every answer carries: who may ask, how much at a time, and the
//! headers that keep a browser from doing more than it should.

use std::error::Error;
use std::net::IpAddr;
use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::extract::{self, Request};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use http_body_util::LengthLimitError;
use tokio::sync::OwnedSemaphorePermit;

use super::batch;
use super::login;
use super::peer::forwarded;
use super::problem::{Answer, Problem};
use super::problem_page::problem_page;
use super::rests;
use super::state::State;
use super::visitor::{Caller, Standing, for_visitor};
use diag::{Code, Diagnostic};

const HEALTH: &str = "/api/v1/health";

/// Scripts, styles and pictures come from here and nowhere else; nothing is written inside a page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
    font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; \
    form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    // Not `no-referrer`: browsers then hide where a form comes from, from this server too.
    (header::REFERRER_POLICY, "same-origin"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=(), screen-wake-lock=(self)",
    ),
];

pub(super) async fn guard(
    extract::State(state): extract::State<State>,
    request: Request,
    next: Next,
) -> Response {
    let under_way = state.metrics.begin();
    let method = request.method().clone();
    let path = request.uri().path().to_owned();
    let wants_page = !path.starts_with("/api/") && accepts_html(request.headers());
    let logged_in = login::has_cookie(&state, request.headers());
    let answer = async {
        let mut response = answered(&state, request, next).await.unwrap_or_else(|refusal| *refusal);
        if wants_page && let Some(problem) = response.extensions_mut().remove::<Problem>() {
            response = problem_page(&problem);
        }
        response
    };
    let mut response = for_visitor(logged_in, answer).await;
    for (name, value) in HEADERS {
        // A sheet brings a policy of its own.
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
        .headers_mut()
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("private, no-cache"));
    state.metrics.answered(response.status().as_u16());
    // The path alone: what is asked for may name people.
    tracing::debug!(%method, path, status = response.status().as_u16(), "answered");
    drop(under_way);
    response
}

/// The answer to a request that has come whole. A request takes no room before that: whoever sends a
/// byte now and then holds a connection and nothing else.
async fn answered(state: &State, request: Request, next: Next) -> Result<Response, Box<Response>> {
    admitted(state, &request).map_err(refused)?;
    let caller = request.extensions().get::<Caller>().cloned();
    let caller = caller.map(|caller| asking_for(caller, request.headers()));
    let (path, headers) = (request.uri().path(), request.headers());
    let standing = login::standing(state, path, headers, caller.as_ref()).await.map_err(refused)?;
    if standing == Standing::Stranger && !login::is_open(path) {
        return Err(Box::new(login::turn_away(&request)));
    }
    let mut request = whole(state, request).await.map_err(refused)?;
    let _room = match needs_room(&request) {
        true => Some(room(state, standing).await.map_err(refused)?),
        false => None,
    };
    let at_work = (caller.as_ref())
        .filter(|_| standing == Standing::Visitor)
        .map(|caller| Arc::new(caller.connection.at_work()));
    if let Some(at_work) = at_work.clone() {
        request.extensions_mut().insert(at_work);
    }
    if let Some(caller) = caller {
        request.extensions_mut().insert(caller);
    }
    let answer = tokio::time::timeout(state.bounds.request_time, next.run(request));
    answer.await.map_err(|_| {
        refused(too_slow("the request took too long", "ask for fewer sizes at a time"))
    })
}

fn refused(problem: Problem) -> Box<Response> {
    Box::new(problem.into_response())
}

fn too_slow(what: &str, hint: &str) -> Problem {
    let fault = Diagnostic::error(Code::TooSlow, what).hint(hint);
    Problem::new(StatusCode::REQUEST_TIMEOUT, fault)
}

/// Whom a server in front asks for, where its word is taken.
fn asking_for(caller: Caller, headers: &HeaderMap) -> Caller {
    if !caller.shared {
        return caller;
    }
    let peer = forwarded(headers).unwrap_or(caller.peer);
    Caller { peer, ..caller }
}

/// The request with its body read. A batch may be long, and is read line by line by who answers it.
async fn whole(state: &State, request: Request) -> Answer<Request> {
    let path = request.uri().path();
    if path == batch::PATH {
        return Ok(request);
    }
    let most = if path == login::PATH { state.bounds.login_body } else { state.bounds.body };
    let (mut parts, body) = request.into_parts();
    match tokio::time::timeout(state.bounds.body_time, to_bytes(body, most)).await {
        Ok(Ok(bytes)) => {
            rests::print(&mut parts, &bytes);
            Ok(Request::from_parts(parts, Body::from(bytes)))
        }
        Ok(Err(error)) if error.source().is_some_and(|e| e.is::<LengthLimitError>()) => {
            let fault = Diagnostic::error(Code::Body, "more was sent than is taken")
                .hint(format!("{most} bytes are taken at most"));
            Err(Problem::new(StatusCode::PAYLOAD_TOO_LARGE, fault))
        }
        Ok(Err(_)) => {
            let fault = Diagnostic::error(Code::Body, "the rest of the request did not come")
                .hint("send it again");
            Err(Problem::new(StatusCode::BAD_REQUEST, fault))
        }
        Err(_) => Err(too_slow("the request took too long to arrive", "send it faster")),
    }
}

/// How the server is is told whatever is full; those who wait at the login are counted there.
fn needs_room(request: &Request) -> bool {
    let path = request.uri().path();
    path != HEALTH && !(path == login::PATH && *request.method() == Method::POST)
}

/// A place to be answered in. Whoever has not shown the token waits in a room of their own, so that
/// they take no place from those who have.
async fn room(state: &State, standing: Standing) -> Answer<OwnedSemaphorePermit> {
    let permit = match standing {
        Standing::Visitor => Arc::clone(&state.requests).try_acquire_owned().ok(),
        Standing::Stranger => {
            let turn = Arc::clone(&state.strangers).acquire_owned();
            tokio::time::timeout(state.bounds.patience, turn).await.ok().and_then(Result::ok)
        }
    };
    permit.ok_or_else(Problem::busy)
}

/// Whether a request is for this server, and comes from where it may.
fn admitted(state: &State, request: &Request) -> Answer<()> {
    let headers = request.headers();
    let host = host(request)?;
    if !host_is_ours(state, &host) {
        // A page elsewhere may have had its name pointed at this address.
        let fault = Diagnostic::error(Code::Host, "this server is not called that")
            .hint("use the address it printed, or start it with --name");
        return Err(Problem::new(StatusCode::MISDIRECTED_REQUEST, fault));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    if !reads && !same_origin(headers, &host) {
        let fault = Diagnostic::error(Code::CrossOrigin, "this was sent by a page of another site");
        return Err(Problem::new(StatusCode::FORBIDDEN, fault));
    }
    Ok(())
}

/// The host a request is for, in lower case.
fn host(request: &Request) -> Result<String, Problem> {
    let mut all = request.headers().get_all(header::HOST).iter();
    let first = all.next().and_then(|value| value.to_str().ok());
    match (first, all.next()) {
        (Some(host), None) => Ok(host.to_ascii_lowercase()),
        _ => {
            let fault = Diagnostic::error(Code::Host, "a request names one host");
            Err(Problem::new(StatusCode::BAD_REQUEST, fault))
        }
    }
}

fn host_is_ours(state: &State, host: &str) -> bool {
    if state.hosts.contains(host) {
        return true;
    }
    // Listening everywhere, any address may be ours. A name may not: only names can be pointed
    // at another's address.
    let bare = host.rsplit_once(':').map_or(host, |(bare, _)| bare);
    let bare = bare.strip_prefix('[').and_then(|b| b.strip_suffix(']')).unwrap_or(bare);
    state.any_address && (bare.parse::<IpAddr>().is_ok() || bare == "localhost")
}

/// Whether a write comes from a page of this server, or from no page at all.
fn same_origin(headers: &HeaderMap, host: &str) -> bool {
    let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or(""));
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let from_here = |origin: &str| {
        let bare = origin.strip_prefix("http://").or_else(|| origin.strip_prefix("https://"));
        bare.is_some_and(|bare| bare.eq_ignore_ascii_case(host))
    };
    site.is_none_or(|site| matches!(site, "same-origin" | "none"))
        && text(header::ORIGIN).is_none_or(from_here)
}

fn accepts_html(headers: &HeaderMap) -> bool {
    let accept = headers.get(header::ACCEPT).and_then(|value| value.to_str().ok());
    accept.is_some_and(|accept| accept.contains("text/html"))
}
