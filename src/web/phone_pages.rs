//! The page that brings a phone here: the address as a QR code, with the token in it, for whoever has shown the
//! token already.

use askama::Template;
use axum::Router;
use axum::extract::State as Extract;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use axum::routing::get;

use super::nav::FOOT;
use super::page_parts::{Frame, html};
use super::problem::Answer;
use super::server::{address_with, reached_at};
use super::state::State;

pub(super) fn routes() -> Router<State> {
    Router::new().route(FOOT.0, get(phone))
}

#[derive(Template)]
#[template(path = "web/phone.html")]
struct PhonePage {
    frame: Frame,
    /// Without the token; blank where only this machine reaches the server.
    address: String,
    /// The dark modules, and the side of the square.
    path: String,
    side: usize,
    token: bool,
    port: u16,
}

async fn phone(Extract(state): Extract<State>) -> Answer<Response> {
    let reach = reached_at(state.listens).await;
    let code = reach.map(|reach| report::qr_path(&address_with(reach, state.token.as_deref())));
    let (path, side) = code.transpose()?.unwrap_or_default();
    let mut response = html(&PhonePage {
        frame: Frame::new(FOOT.1, FOOT.0),
        address: reach.map_or_else(String::new, |reach| format!("http://{reach}")),
        path,
        side,
        token: state.token.is_some(),
        port: state.listens.port(),
    });
    // The token is in it: it is kept nowhere.
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}
