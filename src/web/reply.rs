use std::fmt::Write;

use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
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

/// An answer with a strong tag of its bytes; 304 without them where the visitor has them already.
pub fn tagged(request: &HeaderMap, mime: &'static str, bytes: Vec<u8>) -> Response {
    kept(request, mime, bytes, "private, no-cache")
}

/// As [`tagged`], to be kept as `cache` says.
pub fn kept(
    request: &HeaderMap,
    mime: &'static str,
    bytes: impl Into<Body> + AsRef<[u8]>,
    cache: &'static str,
) -> Response {
    let tag = format!("\"{}\"", fingerprint(bytes.as_ref(), 32));
    let mut headers = HeaderMap::new();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(cache));
    // Hexadecimal digits in quotes make a header value.
    if let Ok(value) = HeaderValue::from_str(&tag) {
        headers.insert(header::ETAG, value);
    }
    if has(request, &tag) {
        return (StatusCode::NOT_MODIFIED, headers).into_response();
    }
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(mime));
    (headers, bytes.into()).into_response()
}

/// Whether If-None-Match names the tag; a weak one of the same text does.
fn has(request: &HeaderMap, tag: &str) -> bool {
    request
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .any(|known| known == "*" || known.strip_prefix("W/").unwrap_or(known) == tag)
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
