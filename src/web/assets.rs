use std::sync::OnceLock;

use axum::Router;
use axum::extract::{Path, RawQuery};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;
use miniz_oxide::deflate::compress_to_vec_zlib;

use super::problem::{Answer, Problem};
use super::reply::{THOROUGHLY, small, tag, takes_deflated};
use super::state::State;
use diag::{Code, Diagnostic};

const SCRIPT: &str = "text/javascript; charset=utf-8";

const OFFLINE: &str = include_str!("assets/offline.js");

/// Name, type, text.
const ASSETS: [(&str, &str, &str); 10] = [
    ("paper.css", "text/css; charset=utf-8", include_str!("assets/paper.css")),
    ("machine.css", "text/css; charset=utf-8", include_str!("assets/machine.css")),
    ("grade.css", "text/css; charset=utf-8", include_str!("assets/grade.css")),
    ("theme.js", SCRIPT, include_str!("assets/theme.js")),
    ("round.js", SCRIPT, include_str!("assets/round.js")),
    ("form.js", SCRIPT, include_str!("assets/form.js")),
    ("machine.js", SCRIPT, include_str!("assets/machine.js")),
    ("login.js", SCRIPT, include_str!("assets/login.js")),
    ("plan.js", SCRIPT, include_str!("assets/plan.js")),
    ("mark.svg", "image/svg+xml", include_str!("assets/mark.svg")),
];

pub(super) fn routes() -> Router<State> {
    Router::new().route("/assets/{name}", get(asset)).route("/offline.js", get(offline))
}

/// Where an asset is found, with what it is in its address: it can then be kept for good.
pub(super) fn asset_url(name: &str) -> String {
    format!("/assets/{name}?v={:.12}", tag_of(name))
}

/// What is worked out of each once: visitors without a token can ask for these as often as they like.
struct Made {
    name: &'static str,
    tag: String,
    shrunk: Vec<u8>,
}

fn made(name: &str) -> Option<&'static Made> {
    static MADE: OnceLock<Vec<Made>> = OnceLock::new();
    let all = MADE.get_or_init(|| {
        let all = ASSETS.iter().map(|(name, _, text)| (*name, *text));
        let all = all.chain([("offline.js", OFFLINE)]);
        all.map(|(name, text)| Made {
            name,
            tag: tag(text.as_bytes()),
            shrunk: compress_to_vec_zlib(text.as_bytes(), THOROUGHLY),
        })
        .collect()
    });
    all.iter().find(|own| own.name == name)
}

fn tag_of(name: &str) -> &'static str {
    made(name).map_or("", |own| &own.tag)
}

/// The file, or less of it for who takes it so.
fn sent(
    headers: &HeaderMap,
    (name, mime, text): (&str, &'static str, &'static str),
    cache: &'static str,
) -> Response {
    let shrunk = made(name).filter(|_| takes_deflated(headers)).map(|own| own.shrunk.as_slice());
    small(headers, mime, text, shrunk, (tag_of(name), cache))
}

/// The script that keeps pages: at the top, since a script keeps what lies beside and below it.
async fn offline(headers: HeaderMap) -> Response {
    sent(&headers, ("offline.js", SCRIPT, OFFLINE), "no-cache")
}

async fn asset(
    headers: HeaderMap,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let found = ASSETS.iter().find(|(known, _, _)| *known == name);
    let file = *found.ok_or_else(|| {
        Problem::of_path(Diagnostic::error(Code::NoAsset, "there is no such file"))
    })?;
    let named = query.is_some_and(|query| asset_url(file.0).ends_with(&format!("?{query}")));
    let cache = if named { "public, max-age=31536000, immutable" } else { "no-cache" };
    Ok(sent(&headers, file, cache))
}
