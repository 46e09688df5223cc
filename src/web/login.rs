use askama::Template;
use axum::extract::{Form, Request, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Extension, Router, extract::rejection::FormRejection};
use headers::authorization::Bearer;
use headers::{Authorization, Cookie, HeaderMapExt};
use serde::Deserialize;
use subtle::ConstantTimeEq;

use super::assets::asset_url;
use super::page_parts::{Frame, html};
use super::problem::{Answer, Problem};
use super::reply::fingerprint;
use super::state::State;
use super::visitor::{Caller, Standing};
use diag::{Code, Diagnostic};

const COOKIE: &str = "oddments_visitor";
pub(super) const PATH: &str = "/login";
const LOG_OUT: &str = "/logout";

#[derive(Template)]
#[template(path = "web/login.html")]
struct LoginPage {
    frame: Frame,
    wrong: bool,
    next: String,
    login_js: String,
}

impl LoginPage {
    fn new(wrong: bool, next: String) -> LoginPage {
        let login_js = asset_url("login.js");
        LoginPage { frame: Frame::new("Log in", ""), wrong, next, login_js }
    }
}

#[derive(Deserialize)]
struct Shown {
    token: String,
    #[serde(default)]
    next: String,
}

pub(super) fn routes() -> Router<State> {
    Router::new().route(PATH, get(page).post(enter)).route(LOG_OUT, post(leave))
}

/// What may be had without the token.
pub(super) fn is_open(path: &str) -> bool {
    path == PATH
        || path == LOG_OUT
        || path == "/offline.js"
        || path == "/api/v1/health"
        || path.starts_with("/assets/")
}

/// What the cookie holds: not the token, which no answer but the code for a phone holds, and nothing that could be worked out
/// from a guess at it, since cookies are looked at without a wait.
fn pass(state: &State, token: &str) -> String {
    fingerprint(format!("oddments visitor {} {token}", state.key).as_bytes(), 64)
}

fn same(a: &str, b: &str) -> bool {
    // Hashes first: then neither the time nor the length tells anything of the token.
    fingerprint(a.as_bytes(), 64).as_bytes().ct_eq(fingerprint(b.as_bytes(), 64).as_bytes()).into()
}

/// Whether a request carries the cookie given for the token.
pub(super) fn has_cookie(state: &State, headers: &HeaderMap) -> bool {
    let Some(token) = &state.token else { return false };
    let pass = pass(state, token);
    headers
        .typed_get::<Cookie>()
        .is_some_and(|sent| sent.iter().any(|(name, value)| name == COOKIE && same(value, &pass)))
}

/// How far whoever sent this is trusted: by the token as a bearer's, or the cookie given for it. A
/// bearer's token is looked at where it is needed, and after the wait that wrong ones have earned.
///
/// # Errors
/// Too many wrong tokens came from there.
pub(super) async fn standing(
    state: &State,
    path: &str,
    headers: &HeaderMap,
    caller: Option<&Caller>,
) -> Answer<Standing> {
    let Some(token) = &state.token else { return Ok(Standing::Visitor) };
    if has_cookie(state, headers) {
        return Ok(Standing::Visitor);
    }
    let bearer = match headers.typed_get::<Authorization<Bearer>>() {
        Some(bearer) if !is_open(path) => bearer,
        _ => return Ok(Standing::Stranger),
    };
    let is_right = || same(bearer.token().trim(), token);
    // A program that has shown it goes on without a wait, whoever guesses at the same address.
    let own = caller.filter(|caller| !caller.shared).map(|caller| &caller.connection);
    let known = own.is_some_and(|own| own.is_known()) && is_right();
    if known || state.guesses.look(caller.map(|caller| caller.peer), is_right).await? {
        own.inspect(|own| own.knows());
        return Ok(Standing::Visitor);
    }
    Ok(Standing::Stranger)
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
    html(&LoginPage::new(false, local(&next)))
}

async fn enter(
    Extract(state): Extract<State>,
    caller: Option<Extension<Caller>>,
    form: Result<Form<Shown>, FormRejection>,
) -> Result<Response, Problem> {
    let Form(shown) = form.map_err(|_| {
        let fault =
            Diagnostic::error(Code::Form, "the token is missing").hint("use the login page");
        Problem::new(StatusCode::BAD_REQUEST, fault)
    })?;
    let next = local(&shown.next);
    let Some(token) = &state.token else { return Ok(Redirect::to(&next).into_response()) };
    let peer = caller.map(|Extension(caller)| caller.peer);
    if !state.guesses.look(peer, || same(shown.token.trim(), token)).await? {
        let mut response = html(&LoginPage::new(true, next));
        *response.status_mut() = StatusCode::UNAUTHORIZED;
        return Ok(response);
    }
    Ok(with_cookie(&next, &pass(&state, token), 30 * 24 * 60 * 60))
}

/// Forgets the visitor on this device. Only what browsers keep of answers is named here: "storage" would
/// take the rows with it that wait on the device for a server to send them to. The pages kept by
/// `offline.js` it clears itself, when it sees this asked.
async fn leave() -> Response {
    let mut response = with_cookie(PATH, "", 0);
    let kept = HeaderValue::from_static("\"cache\"");
    response.headers_mut().insert("clear-site-data", kept);
    response
}

/// Sends on to a page of this server, with the cookie kept for so many seconds.
fn with_cookie(next: &str, value: &str, seconds: u32) -> Response {
    let cookie = format!("{COOKIE}={value}; Path=/; HttpOnly; SameSite=Strict; Max-Age={seconds}");
    let mut response = Redirect::to(next).into_response();
    // Hexadecimal digits and plain words make a header value.
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}

/// A page of this server, whatever was asked for: never another's. Browsers leave out white space and
/// turn strokes round, so the path is of the characters that our paths are made of, and no others.
fn local(next: &str) -> String {
    let path = next.split(['?', '#']).next().unwrap_or_default();
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '/' | '-' | '_' | '.');
    let safe = path.starts_with('/')
        && !path.contains("//")
        && path.chars().all(plain)
        && next.chars().all(|c| c.is_ascii_graphic() && c != '\\');
    if safe { next.to_owned() } else { "/".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_sent_elsewhere_after_the_login() {
        for own in
            ["/", "/grade?garment=tam&o.wedges=6#result", "/garments/sock-flat", "/grade?a=%2F+b"]
        {
            assert_eq!(local(own), own);
        }
        for evil in
            ["//evil.example", "https://evil.example", "/\\evil.example", "", "x", "/\r\nA: b"]
        {
            assert_eq!(local(evil), "/", "{evil}");
        }
        // What browsers leave out or turn round, and what stands for it.
        let between = [
            "\t", "\n", "\r", "\u{b}", "\0", " ", "\u{a0}", "\u{2028}", "\\", "/", "%09", "%2f",
            "%5C", "%0d%0a", "@", ":", "／",
        ];
        for between in between {
            for evil in [
                format!("/{between}/evil.example"),
                format!("/{between}evil.example"),
                format!("{between}//evil.example"),
                format!("/grade/{between}/evil.example?a=b"),
            ] {
                assert_eq!(local(&evil), "/", "{evil:?}");
            }
        }
        for evil in ["/grade?a=\tb", "/grade?a=\\b", "/grade#\u{7f}"] {
            assert_eq!(local(evil), "/", "{evil:?}");
        }
    }
}
