use std::fmt::Write;

use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use headers::{ETag, HeaderMapExt, IfNoneMatch};
use miniz_oxide::deflate::compress_to_vec_zlib;
use sha2::{Digest, Sha256};

/// Hexadecimal digits of the first bytes of a hash.
pub fn fingerprint(bytes: &[u8], digits: usize) -> String {
    let mut text = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        // Writing into a string can't fail.
        let _ = write!(text, "{byte:02x}");
    }
    text.truncate(digits);
    text
}

pub const PRIVATE: &str = "private, no-cache";

/// What tells bytes from others.
pub fn tag(bytes: &[u8]) -> String {
    fingerprint(bytes, 32)
}

/// An answer with a strong tag of its bytes; 304 without them where the visitor has them already.
pub fn tagged(request: &HeaderMap, mime: &'static str, bytes: Vec<u8>) -> Response {
    let tag = tag(&bytes);
    kept(request, mime, bytes, &tag, PRIVATE)
}

/// As [`tagged`], with less sent to who takes it deflated: a page that comes over the air to a phone.
pub fn tagged_small(request: &HeaderMap, mime: &'static str, bytes: Vec<u8>) -> Response {
    let tag = tag(&bytes);
    let shrunk = takes_deflated(request).then(|| compress_to_vec_zlib(&bytes, QUICKLY));
    small(request, mime, bytes, shrunk, (&tag, PRIVATE))
}

/// As [`kept`], deflated where that was done and is taken.
pub fn small(
    request: &HeaderMap,
    mime: &'static str,
    whole: impl Into<Body>,
    shrunk: Option<impl Into<Body>>,
    (tag, cache): (&str, &'static str),
) -> Response {
    let encoded = shrunk.is_some();
    let bytes = shrunk.map_or_else(|| whole.into(), Into::into);
    let mut response = kept(request, mime, bytes, tag, cache);
    if encoded && response.status() == StatusCode::OK {
        let deflated = HeaderValue::from_static("deflate");
        response.headers_mut().insert(header::CONTENT_ENCODING, deflated);
    }
    let by = HeaderValue::from_static("accept-encoding");
    response.headers_mut().insert(header::VARY, by);
    response
}

/// How hard it is tried to send less: more takes long and saves little.
pub const THOROUGHLY: u8 = 6;
/// Of what somebody waits for while it is shrunk.
const QUICKLY: u8 = 3;

/// Whether who asks takes bytes deflated.
pub fn takes_deflated(headers: &HeaderMap) -> bool {
    let all = headers.get_all(header::ACCEPT_ENCODING).iter();
    let words = all.filter_map(|value| value.to_str().ok()).flat_map(|value| value.split(','));
    let refused = |rest: &str| {
        rest.trim()
            .strip_prefix("q=0")
            .is_some_and(|rest| rest.trim_start_matches('.').trim_matches('0').is_empty())
    };
    words.map(str::trim).any(|word| match word.split_once(';') {
        Some((name, rest)) => name.trim() == "deflate" && !refused(rest),
        None => word == "deflate",
    })
}

/// As [`tagged`], with the tag of what never changes, to be kept as `cache` says.
pub fn kept(
    request: &HeaderMap,
    mime: &'static str,
    bytes: impl Into<Body>,
    tag: &str,
    cache: &'static str,
) -> Response {
    let tag: ETag = match format!("\"{tag}\"").parse() {
        Ok(tag) => tag,
        // Hexadecimal digits in quotes make a tag.
        Err(_) => return StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    };
    let mut headers = HeaderMap::new();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(cache));
    headers.typed_insert(tag.clone());
    let changed = |known: IfNoneMatch| known.precondition_passes(&tag);
    if !request.typed_get().is_none_or(changed) {
        return (StatusCode::NOT_MODIFIED, headers).into_response();
    }
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(mime));
    (headers, bytes.into()).into_response()
}

/// Marks an answer as a file to keep.
pub fn download(mut response: Response, name: &str) -> Response {
    let safe: String =
        name.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '.')).collect();
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{safe}\"")) {
        response.headers_mut().insert(header::CONTENT_DISPOSITION, value);
    }
    response
}
