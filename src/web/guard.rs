//! What every request passes and every answer carries: who may ask, how much at a time, and the
//! headers that keep a browser from doing more than it should.

use std::net::IpAddr;
use std::sync::Arc;

use axum::extract::{self, Request};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::login;
use super::pages;
use super::problem::Problem;
use super::state::State;
use diag::{Code, Diagnostic};

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
    let mut response = match admitted(&state, &request) {
        Ok(()) => answered(&state, request, next).await,
        Err(refusal) => *refusal,
    };
    if wants_page && let Some(problem) = response.extensions_mut().remove::<Problem>() {
        response = pages::problem_page(&problem);
    }
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

async fn answered(state: &State, request: Request, next: Next) -> Response {
    let Ok(_permit) = Arc::clone(&state.requests).try_acquire_owned() else {
        return Problem::busy().into_response();
    };
    match tokio::time::timeout(state.bounds.request_time, next.run(request)).await {
        Ok(response) => response,
        Err(_) => {
            let fault = Diagnostic::error(Code::TooSlow, "the request took too long")
                .hint("ask for fewer sizes at a time, or send it faster");
            Problem::new(StatusCode::REQUEST_TIMEOUT, fault).into_response()
        }
    }
}

/// Whether a request may go further.
fn admitted(state: &State, request: &Request) -> Result<(), Box<Response>> {
    let refused = |problem: Problem| Box::new(problem.into_response());
    let headers = request.headers();
    let host = host(request).map_err(refused)?;
    if !host_is_ours(state, &host) {
        // A page elsewhere may have had its name pointed at this address.
        let fault = Diagnostic::error(Code::Host, "this server is not called that")
            .hint("use the address it printed, or start it with --name");
        return Err(refused(Problem::new(StatusCode::MISDIRECTED_REQUEST, fault)));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    if !reads && !same_origin(headers, &host) {
        let fault = Diagnostic::error(Code::CrossOrigin, "this was sent by a page of another site");
        return Err(refused(Problem::new(StatusCode::FORBIDDEN, fault)));
    }
    if let Some(token) = &state.token
        && !login::is_open(request.uri().path())
        && !login::shows(headers, token)
    {
        return Err(Box::new(login::turn_away(request)));
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
