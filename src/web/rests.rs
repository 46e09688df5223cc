//! What a change over HTTP rests on, as its request says it: the number of the state that was seen,
//! an entry's tag, a key that can be used once.

use axum::Json;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};

use super::problem::FaultBody;
use super::query::QueryKey;
use super::reply::fingerprint;
use super::state::Deed;
use diag::{Code, Diagnostic};
use knit::stash::Reservation;
use store::workspace::{Basis, ChangeMark, EntryName};

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
    "The workspace's state (header `Oddments-Change`) when it was looked at: refused where what is \
     to be changed has changed since by a command, a form or a request. An entry's tag in `If-Match` \
     tells changes by hand too.",
    |basis, said| {
        if basis.seen.is_some() {
            return Err(Diagnostic::error(Code::Rests, "`seen` is given twice")
                .hint("what was looked at first is what counts: give that"));
        }
        basis.seen = Some(mark_of(said)?);
        Ok(())
    },
);

/// A change by its number, as the answers say it.
pub(super) fn mark_of(said: &str) -> Result<ChangeMark, Diagnostic> {
    said.parse().map_err(|_| {
        Diagnostic::error(Code::Rests, format!("`{said}` is no number of a change"))
            .hint("the answers say it in `Oddments-Change`")
    })
}

/// What a request with a one-time key is: its method, its address and its body. Whatever a visitor
/// sends under this name is taken out.
const PRINT: HeaderName = HeaderName::from_static("oddments-request-print");

/// Notes what a request with a one-time key is: the key is good for it alone.
pub(super) fn print(parts: &mut Parts, body: &[u8]) {
    parts.headers.remove(PRINT);
    if !parts.headers.contains_key(ONCE) {
        return;
    }
    let mut all = format!("{} {}\n", parts.method, parts.uri).into_bytes();
    all.extend(body);
    // Hexadecimal digits make a header value.
    if let Ok(value) = HeaderValue::from_str(&fingerprint(&all, 32)) {
        parts.headers.insert(PRINT, value);
    }
}

/// The one-time key of a request, where it has one, with what it is used for.
pub(super) fn once_of(headers: &HeaderMap) -> Result<Option<String>, Diagnostic> {
    let Some(value) = headers.get(ONCE) else { return Ok(None) };
    let text = value.to_str().unwrap_or("").trim_matches('"');
    if text.is_empty() || text.len() > LONGEST_KEY {
        return Err(Diagnostic::error(Code::Rests, "Idempotency-Key is no key")
            .hint(format!("plain letters and digits, at most {LONGEST_KEY} of them")));
    }
    // What is kept of it is of one length, whatever was sent.
    let key = fingerprint(format!("request {text}").as_bytes(), 32);
    let print = headers.get(PRINT).and_then(|print| print.to_str().ok()).unwrap_or("");
    Ok(Some(format!("{key}-{print}")))
}

/// Refuses what a request says that its change rests on where nothing of the kind can be minded.
pub(super) fn nothing_more(headers: &HeaderMap, query: Option<&str>) -> Result<(), Diagnostic> {
    if headers.contains_key(header::IF_MATCH) {
        return Err(Diagnostic::error(
            Code::Rests,
            "nothing has a tag here: `If-Match` can't be kept",
        )
        .hint("leave it out, or change an entry at its own address"));
    }
    no_query(query)
}

/// Refuses what is asked for in an address that takes no query.
pub(super) fn no_query(query: Option<&str>) -> Result<(), Diagnostic> {
    match query.filter(|query| !query.is_empty()) {
        None => Ok(()),
        Some(query) => {
            let key = query.split(['=', '&']).next().unwrap_or(query);
            let shown: String = key.chars().take(80).collect();
            Err(Diagnostic::error(Code::UnknownKey, format!("`{shown}` is nothing to ask for"))
                .hint("this address takes no query: what it rests on stands in the body"))
        }
    }
}

/// What a request about an entry rests on: its `If-Match`, its one-time key.
pub(super) fn of_headers(
    headers: &HeaderMap,
    name: Option<EntryName>,
) -> Result<Basis, Diagnostic> {
    let mut basis = Basis::once(once_of(headers)?);
    if let (Some(name), Some(value)) = (name, headers.get(header::IF_MATCH)) {
        let several = headers.get_all(header::IF_MATCH).iter().count() > 1;
        let text = value.to_str().unwrap_or("").trim();
        let tag = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        match tag.filter(|tag| !tag.contains('"') && !several) {
            Some(tag) => drop(basis.entries.insert(name, Some(tag.to_owned()))),
            // Any state will do, as long as there is one: a change refuses what is not there.
            None if text == "*" && !several => {}
            None => {
                return Err(Diagnostic::error(Code::Rests, "If-Match names one tag, or is `*`")
                    .hint("the tag is that of GET at the entry's own address"));
            }
        }
    }
    Ok(basis)
}

/// An answer with the number of the state it was made from.
pub(super) fn numbered(mut response: Response, state: &ChangeMark) -> Response {
    // Digits and a point make a header value.
    if let Ok(value) = HeaderValue::from_str(&state.to_string()) {
        response.headers_mut().insert(CHANGE, value);
    }
    response
}

/// What is told of a change: what `then` makes of it, or that it was made before.
///
/// Where nothing was written `then` gets no number: that of the state is somebody else's change, and
/// whoever takes back what they are told is theirs would take that back.
pub(super) fn told<T>(deed: Deed<T>, then: impl FnOnce(T, Option<u64>) -> Response) -> Response {
    match deed {
        Deed::Done { value, state, written, .. } => {
            numbered(then(value, written.then_some(state.number)), &state)
        }
        Deed::Before(change) => {
            let about: Vec<String> = change.entries.iter().map(|name| name.key.clone()).collect();
            let body = json!({
                "repeated": true, "change": change.mark.number, "command": change.command,
                "time": change.time, "id": about.first(), "about": about,
            });
            numbered((StatusCode::OK, Json(body)).into_response(), &change.mark)
        }
    }
}

/// As [`told`], of a value in JSON: the number of the change is put to it, and what there is to warn of.
pub(super) fn told_value<T>(deed: Deed<T>, value_of: impl FnOnce(T) -> Value) -> Response {
    let warnings: Vec<FaultBody> = match &deed {
        Deed::Done { warnings, .. } => warnings.iter().map(FaultBody::from).collect(),
        Deed::Before(_) => Vec::new(),
    };
    told(deed, |value, number| {
        let mut value = value_of(value);
        value["change"] = number.into();
        value["warnings"] = json!(warnings);
        Json(value).into_response()
    })
}

/// Yarn that is free again.
pub(super) fn freed_value(freed: &[Reservation]) -> Vec<Value> {
    let each = freed.iter().map(|own| {
        json!({ "gift": own.gift, "remnant": own.remnant, "section": own.section,
                "grams": own.weight.grams() })
    });
    each.collect()
}

/// A key that nobody had before.
pub(super) fn new_key() -> Result<String, Diagnostic> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|error| {
        Diagnostic::error(Code::Internal, format!("no key that is new: {error}"))
    })?;
    Ok(fingerprint(&bytes, 16))
}
