use std::collections::BTreeMap;

use axum::http::{HeaderValue, Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::openapi::{self, Content, Ref, RefOr, ResponseBuilder};
use utoipa::{IntoResponses, ToSchema};

use super::nav::pages;
use diag::{Class, Code, Diagnostic, Diagnostics, Severity, harmless, nearest};

/// Why a request can't be met: a problem document of RFC 9457, or a page that says the same.
#[derive(Clone, Debug)]
pub struct Problem {
    pub status: StatusCode,
    pub faults: Diagnostics,
    /// Seconds after which to try again.
    pub retry_after: Option<u32>,
}

pub type Answer<T> = Result<T, Problem>;

/// A problem document.
#[derive(Serialize, ToSchema)]
pub struct ProblemBody {
    #[serde(rename = "type")]
    #[schema(example = "urn:oddments:problem:no-garment")]
    kind: String,
    title: &'static str,
    status: u16,
    detail: String,
    code: &'static str,
    /// All that was found wrong.
    errors: Vec<FaultBody>,
}

/// What any request that takes work may be answered with, for the description of the interface.
pub struct Refusals;

impl IntoResponses for Refusals {
    fn responses() -> BTreeMap<String, RefOr<openapi::Response>> {
        let refusal = |status: &str, description: &str| {
            let body = Content::new(Some(Ref::from_schema_name("ProblemBody")));
            let response = ResponseBuilder::new()
                .description(description)
                .content("application/problem+json", body)
                .build();
            (status.to_owned(), RefOr::T(response))
        };
        [refusal("4XX", "What is wrong"), refusal("503", "Too much to do")].into()
    }
}

/// One fault or warning.
#[derive(Serialize, ToSchema)]
pub struct FaultBody {
    code: &'static str,
    message: String,
    /// File, line and column, or what it is about.
    #[serde(rename = "where")]
    place: Vec<String>,
    /// The line itself, where there is one.
    line: Option<String>,
    hints: Vec<String>,
    warning: bool,
}

impl From<&Diagnostic> for FaultBody {
    fn from(fault: &Diagnostic) -> Self {
        let place = fault.place.as_ref();
        FaultBody {
            code: fault.code.as_str(),
            message: harmless(&fault.message).into_owned(),
            place: place
                .map(ToString::to_string)
                .into_iter()
                .chain(fault.context.iter().cloned())
                .map(|text| harmless(&text).into_owned())
                .collect(),
            line: place.map(|place| harmless(&place.line_text).into_owned()),
            hints: fault.hints.iter().map(|hint| harmless(hint).into_owned()).collect(),
            warning: fault.severity == Severity::Warning,
        }
    }
}

impl Problem {
    pub fn new(status: StatusCode, fault: Diagnostic) -> Problem {
        Problem { status, faults: fault.into(), retry_after: None }
    }

    /// Why what a path names can't be had: where it is not there, the path leads nowhere.
    pub fn of_path(faults: impl Into<Diagnostics>) -> Problem {
        Problem::of(faults.into(), StatusCode::NOT_FOUND)
    }

    /// What there is to warn of, though all is done.
    pub fn warned(warnings: Diagnostics) -> Problem {
        Problem { status: StatusCode::OK, faults: warnings, retry_after: None }
    }

    pub fn busy() -> Problem {
        Diagnostic::error(Code::Busy, "there is too much to do at the moment")
            .hint("try again in a moment")
            .into()
    }

    /// The one place where a class of faults becomes a status. What HTTP itself has a status for
    /// (a method, a length, an origin) is told with [`Problem::new`] by who sees it.
    fn of(faults: Diagnostics, missing: StatusCode) -> Problem {
        let (status, retry_after) = match faults.class().unwrap_or(Class::Inside) {
            Class::Usage | Class::Input => (StatusCode::UNPROCESSABLE_ENTITY, None),
            Class::Missing => (missing, None),
            Class::Conflict => (StatusCode::CONFLICT, None),
            Class::Busy => (StatusCode::SERVICE_UNAVAILABLE, Some(1)),
            Class::Disk | Class::Inside => (StatusCode::INTERNAL_SERVER_ERROR, None),
        };
        Problem { status, faults, retry_after }
    }

    pub fn body(&self) -> ProblemBody {
        let first = self.faults.iter().find(|f| f.severity == Severity::Error);
        let first = first.or(self.faults.iter().next());
        let code = first.map_or("problem", |fault| fault.code.as_str());
        ProblemBody {
            kind: format!("urn:oddments:problem:{code}"),
            title: self.status.canonical_reason().unwrap_or("Problem"),
            status: self.status.as_u16(),
            detail: first.map_or_else(String::new, |f| harmless(&f.message).into_owned()),
            code,
            errors: self.faults.iter().map(FaultBody::from).collect(),
        }
    }
}

impl From<Diagnostics> for Problem {
    fn from(faults: Diagnostics) -> Self {
        // What a request names beside its path is part of what it says.
        Problem::of(faults, StatusCode::UNPROCESSABLE_ENTITY)
    }
}

impl From<Diagnostic> for Problem {
    fn from(fault: Diagnostic) -> Self {
        Diagnostics::from(fault).into()
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        // Plain data: it can't fail to be written down.
        let text = serde_json::to_string(&self.body()).unwrap_or_default();
        let mut response = (
            self.status,
            [
                (header::CONTENT_TYPE, HeaderValue::from_static("application/problem+json")),
                (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
            ],
            text,
        )
            .into_response();
        if let Some(seconds) = self.retry_after {
            response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
        }
        // For the guard, which makes a page of it where a person asks.
        response.extensions_mut().insert(self);
        response
    }
}

pub(super) async fn no_such_page(uri: Uri) -> Problem {
    let path: String = uri.path().chars().take(80).collect();
    let fault = Diagnostic::error(Code::NoPage, format!("there is nothing at {path}"));
    if path.starts_with("/api") {
        let hint = "the interface for programs is described at /api/v1/openapi.json";
        return Problem::of_path(fault.hint(hint));
    }
    let near = nearest(&path, pages());
    let hint = near.map(|near| format!("did you mean {near}?"));
    Problem::of_path(fault.maybe_hint(hint).hint("programs are told all at /api/v1/openapi.json"))
}

pub(super) async fn no_such_method(method: Method) -> Problem {
    let fault = Diagnostic::error(Code::Method, format!("{method} can't be done here"));
    Problem::new(StatusCode::METHOD_NOT_ALLOWED, fault)
}
