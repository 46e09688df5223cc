//! A problem as a page: what is wrong in plain words, and where to go from there.

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::Response;

use super::page_parts::{FaultView, Frame, html, views};
use super::problem::Problem;

#[derive(Template)]
#[template(path = "web/problem.html")]
struct ProblemPage {
    frame: Frame,
    faults: Vec<FaultView>,
    /// Whether the address leads nowhere: then all pages are named.
    lost: bool,
}

pub(super) fn problem_page(problem: &Problem) -> Response {
    let page = ProblemPage {
        frame: Frame::new(title(problem.status), ""),
        faults: views(&problem.faults),
        lost: problem.status == StatusCode::NOT_FOUND,
    };
    let mut response = html(&page);
    *response.status_mut() = problem.status;
    if let Some(seconds) = problem.retry_after {
        response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
    }
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// What a status means to whoever reads a page.
fn title(status: StatusCode) -> &'static str {
    match status {
        StatusCode::NOT_FOUND => "There is nothing here",
        StatusCode::CONFLICT => "Something has changed meanwhile",
        StatusCode::UNPROCESSABLE_ENTITY | StatusCode::BAD_REQUEST => {
            "That can't be done like this"
        }
        StatusCode::METHOD_NOT_ALLOWED => "That can't be done here",
        StatusCode::PAYLOAD_TOO_LARGE => "That is too much at once",
        StatusCode::REQUEST_TIMEOUT => "That took too long",
        StatusCode::SERVICE_UNAVAILABLE | StatusCode::TOO_MANY_REQUESTS => {
            "Too much to do just now"
        }
        StatusCode::INTERNAL_SERVER_ERROR => "Something broke",
        StatusCode::FORBIDDEN => "That was not sent from here",
        StatusCode::MISDIRECTED_REQUEST => "This server is not called that",
        _ => status.canonical_reason().map_or("Something is wrong", |reason| reason),
    }
}
