use std::fmt::Write;

use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use headers::{ETag, HeaderMapExt, IfNoneMatch};
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
