use askama::Template;
use axum::extract::{Form, Request, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use axum::{Router, extract::rejection::FormRejection};
use headers::authorization::Bearer;
use headers::{Authorization, Cookie, HeaderMapExt};
use serde::Deserialize;
use subtle::ConstantTimeEq;

use super::page_parts::{Frame, html};
use super::problem::Problem;
use super::reply::fingerprint;
use super::state::State;
use diag::{Code, Diagnostic};

const COOKIE: &str = "oddments_visitor";
/// How long an answer to a wrong token takes, so that trying them all takes for ever.
const PAUSE: std::time::Duration = std::time::Duration::from_millis(400);

#[derive(Template)]
#[template(path = "web/login.html")]
struct LoginPage {
    frame: Frame,
    wrong: bool,
    next: String,
}

#[derive(Deserialize)]
struct Shown {
    token: String,
    #[serde(default)]
    next: String,
}

pub(super) fn routes() -> Router<State> {
    Router::new().route("/login", get(page).post(enter))
}

/// What may be had without the token.
pub(super) fn is_open(path: &str) -> bool {
    path == "/login"
        || path == "/offline.js"
        || path == "/api/v1/health"
        || path.starts_with("/assets/")
}

/// What the cookie holds: not the token, which is never sent out.
fn pass(token: &str) -> String {
    fingerprint(format!("oddments visitor {token}").as_bytes(), 64)
}

fn same(a: &str, b: &str) -> bool {
    // Hashes first: then neither the time nor the length tells anything of the token.
    fingerprint(a.as_bytes(), 64).as_bytes().ct_eq(fingerprint(b.as_bytes(), 64).as_bytes()).into()
}

/// Whether a request carries the token: as a bearer's, or by the cookie given for it.
pub(super) fn shows(headers: &HeaderMap, token: &str) -> bool {
    let bearer = headers
        .typed_get::<Authorization<Bearer>>()
        .is_some_and(|bearer| same(bearer.token().trim(), token));
    let pass = pass(token);
    let cookie = headers
        .typed_get::<Cookie>()
        .is_some_and(|sent| sent.iter().any(|(name, value)| name == COOKIE && same(value, &pass)));
    bearer || cookie
}

/// Sends a person to the login page; tells a program what it lacks.
pub(super) fn turn_away(request: &Request) -> Response {
    let path = request.uri().path();
    if path.starts_with("/api/") || !request.method().is_safe() {
        let fault = Diagnostic::error(Code::Token, "this server asks for its token")
            .hint("send it as `Authorization: Bearer TOKEN`");
        let mut response = Problem::new(StatusCode::UNAUTHORIZED, fault).into_response();
        let scheme = HeaderValue::from_static("Bearer");
        response.headers_mut().insert(header::WWW_AUTHENTICATE, scheme);
        return response;
    }
    let asked = request.uri().path_and_query().map_or("/", |asked| asked.as_str());
    let next = serde_urlencoded::to_string([("next", asked)]).unwrap_or_default();
    Redirect::to(&format!("/login?{next}")).into_response()
}

async fn page(request: Request) -> Response {
    let pairs = app::pairs(request.uri().query().unwrap_or_default()).unwrap_or_default();
    let next = pairs.into_iter().find(|(key, _)| key == "next").map_or("/".into(), |(_, v)| v);
    html(&LoginPage { frame: Frame::new("Log in", ""), wrong: false, next: local(&next) })
}

async fn enter(
    Extract(state): Extract<State>,
    form: Result<Form<Shown>, FormRejection>,
) -> Result<Response, Problem> {
    let Form(shown) = form.map_err(|_| {
        let fault =
            Diagnostic::error(Code::Form, "the token is missing").hint("use the login page");
        Problem::new(StatusCode::BAD_REQUEST, fault)
    })?;
    let next = local(&shown.next);
    let Some(token) = &state.token else { return Ok(Redirect::to(&next).into_response()) };
    if !same(shown.token.trim(), token) {
        tokio::time::sleep(PAUSE).await;
        let frame = Frame::new("Log in", "");
        let mut response = html(&LoginPage { frame, wrong: true, next });
        *response.status_mut() = StatusCode::UNAUTHORIZED;
        return Ok(response);
    }
    let cookie =
        format!("{COOKIE}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age=2592000", pass(token));
    let mut response = Redirect::to(&next).into_response();
    // Hexadecimal digits and plain words make a header value.
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    Ok(response)
}

/// A page of this server, whatever was asked for: never another's.
fn local(next: &str) -> String {
    let safe = next.starts_with('/')
        && !next.starts_with("//")
        && !next.contains(['\\', '\r', '\n'])
        && next.is_ascii();
    if safe { next.to_owned() } else { "/".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_sent_elsewhere_after_the_login() {
        assert_eq!(local("/grade?garment=tam"), "/grade?garment=tam");
        for evil in
            ["//evil.example", "https://evil.example", "/\\evil.example", "", "x", "/\r\nA: b"]
        {
            assert_eq!(local(evil), "/", "{evil}");
        }
    }
}
