//! What a change over HTTP rests on, as its request says it: the number of the state that was seen,
//! an entry's tag, a key that can be used once.

use axum::Json;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;

use super::query::QueryKey;
use super::reply::fingerprint;
use super::state::Deed;
use diag::{Code, Diagnostic};
use store::workspace::{Basis, EntryName};

/// The number of the state of the workspace that an answer was made from.
const CHANGE: HeaderName = HeaderName::from_static("oddments-change");
/// What is sent twice with one key is done once (the name is that of an Internet draft of the
/// HTTPAPI group, "The Idempotency-Key HTTP Header Field"; from memory).
const ONCE: HeaderName = HeaderName::from_static("idempotency-key");
/// Longer keys than this are nobody's.
const LONGEST_KEY: usize = 200;

/// The number that was seen, as a key of the query string.
pub(super) const SEEN: QueryKey<Basis> = QueryKey::new(
    "seen",
    "The workspace's number (header `Oddments-Change`) when it was looked at: refused where what is \
     to be changed has changed since.",
    |basis, said| {
        let number = said.parse().map_err(|_| {
            Diagnostic::error(Code::Rests, format!("`{said}` is no number of a change"))
                .hint("the answers say it in `Oddments-Change`")
        })?;
        basis.seen = Some(number);
        Ok(())
    },
);

/// The one-time key of a request, where it has one.
pub(super) fn once_of(headers: &HeaderMap) -> Result<Option<String>, Diagnostic> {
    let Some(value) = headers.get(ONCE) else { return Ok(None) };
    let text = value.to_str().unwrap_or("").trim_matches('"');
    if text.is_empty() || text.len() > LONGEST_KEY {
        return Err(Diagnostic::error(Code::Rests, "Idempotency-Key is no key")
            .hint(format!("plain letters and digits, at most {LONGEST_KEY} of them")));
    }
    // What is kept of it is of one length, whatever was sent.
    Ok(Some(fingerprint(format!("request {text}").as_bytes(), 32)))
}

/// What a request about an entry rests on: its `If-Match`, its one-time key.
pub(super) fn of_headers(
    headers: &HeaderMap,
    name: Option<EntryName>,
) -> Result<Basis, Diagnostic> {
    let mut basis = Basis::once(once_of(headers)?);
    if let (Some(name), Some(value)) = (name, headers.get(header::IF_MATCH)) {
        let text = value.to_str().unwrap_or("").trim();
        let tag = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        match tag.filter(|tag| !tag.contains('"')) {
            Some(tag) => drop(basis.entries.insert(name, Some(tag.to_owned()))),
            // Any state will do, as long as there is one: a change refuses what is not there.
            None if text == "*" => {}
            None => {
                return Err(Diagnostic::error(Code::Rests, "If-Match names one tag, or is `*`")
                    .hint("the tag is that of GET at the entry's own address"));
            }
        }
    }
    Ok(basis)
}

/// An answer with the number of the state it was made from.
pub(super) fn numbered(mut response: Response, number: u64) -> Response {
    response.headers_mut().insert(CHANGE, HeaderValue::from(number));
    response
}

/// What is told of a change: what `then` makes of it, or that it was made before.
pub(super) fn told<T>(deed: Deed<T>, then: impl FnOnce(T, u64) -> Response) -> Response {
    match deed {
        Deed::Done { value, number } => numbered(then(value, number), number),
        Deed::Before(change) => {
            let about: Vec<String> = change.entries.iter().map(|name| name.key.clone()).collect();
            let body = json!({
                "repeated": true, "change": change.number, "command": change.command,
                "time": change.time, "id": about.first(), "about": about,
            });
            numbered((StatusCode::OK, Json(body)).into_response(), change.number)
        }
    }
}

/// A key that nobody had before.
pub(super) fn new_key() -> Result<String, Diagnostic> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|error| {
        Diagnostic::error(Code::Internal, format!("no key that is new: {error}"))
    })?;
    Ok(fingerprint(&bytes, 16))
}
