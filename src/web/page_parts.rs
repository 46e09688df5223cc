//! What pages share: their frame, faults and tables as templates want them.

use askama::Template;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::assets::asset_url;
use super::format::Sheet;
use super::gift_part::GiftPage;
use super::nav::{FOOT, KEPT, NAV};
use super::page_words::for_page;
use super::problem::Answer;
use super::reply::tagged_small;
use super::visitor::is_logged_in;
use diag::{Code, Diagnostic, Diagnostics, harmless};

/// What every page has round it.
pub struct Frame {
    pub title: String,
    pub nav: Vec<NavLink>,
    /// The pages of the same part, where it has several.
    pub sub: Vec<NavLink>,
    /// What stands below every page.
    pub foot: NavLink,
    pub css: String,
    pub mark: String,
    pub theme_js: String,
    pub form_js: String,
    pub machine_js: String,
    pub plan_js: String,
    /// Whether there is anything to log out of.
    pub logged_in: bool,
}

pub struct NavLink {
    pub href: &'static str,
    pub label: &'static str,
    pub current: bool,
}

impl NavLink {
    fn new((href, label): (&'static str, &'static str), current: &str) -> NavLink {
        NavLink { href, label, current: href == current }
    }
}

impl Frame {
    pub fn new(title: impl Into<String>, current: &str) -> Frame {
        let link = |to| NavLink::new(to, current);
        Frame {
            title: title.into(),
            nav: NAV.into_iter().map(link).collect(),
            sub: Vec::new(),
            foot: link(FOOT),
            css: asset_url("paper.css"),
            mark: asset_url("mark.svg"),
            theme_js: asset_url("theme.js"),
            form_js: asset_url("form.js"),
            machine_js: asset_url("machine.js"),
            plan_js: asset_url("plan.js"),
            logged_in: is_logged_in(),
        }
    }
}

impl Frame {
    /// Of a page of the stash and the gifts, which are one part.
    pub fn of_gifts(title: impl Into<String>, current: &str) -> Frame {
        let own = GiftPage::ALL.into_iter().map(|(_, href, label)| (href, label));
        // What to buy comes after the plan that lacks it.
        let (before, after): (Vec<_>, Vec<_>) =
            own.partition(|(href, _)| *href != GiftPage::Records.path());
        let all = before.into_iter().chain([("/gifts/shop", "What to buy")]);
        let all = all.chain(after).chain(KEPT);
        let link = |(href, label)| {
            let label = if href == GIFTS { "Overview" } else { label };
            NavLink::new((href, label), current)
        };
        Frame { sub: all.map(link).collect(), ..Frame::new(title, GIFTS) }
    }
}

/// Where the part of the stash and the gifts begins.
const GIFTS: &str = "/gifts";

/// A fault as a person reads it.
pub struct FaultView {
    pub warning: bool,
    pub message: String,
    /// File, line and column.
    pub place: String,
    pub line: String,
    /// Blanks and carets below the line.
    pub caret: String,
    pub context: String,
    pub hints: Vec<String>,
}

impl From<&Diagnostic> for FaultView {
    fn from(fault: &Diagnostic) -> Self {
        let place = fault.place.as_ref();
        let caret = place.map_or_else(String::new, |place| {
            let most = place.line_text.chars().count().saturating_sub(place.column - 1).max(1);
            format!("{}{}", " ".repeat(place.column - 1), "^".repeat(place.length.clamp(1, most)))
        });
        FaultView {
            warning: fault.severity == diag::Severity::Warning,
            message: harmless(&fault.message).into_owned(),
            place: place.map_or_else(String::new, ToString::to_string),
            line: place.map_or_else(String::new, |p| {
                harmless(&p.line_text.replace('\t', " ")).into_owned()
            }),
            caret,
            context: fault.context.join(", "),
            hints: fault
                .hints
                .iter()
                .filter_map(|hint| for_page(hint))
                .map(|hint| harmless(&hint).into_owned())
                .collect(),
        }
    }
}

pub fn views(faults: &Diagnostics) -> Vec<FaultView> {
    faults.iter().map(FaultView::from).collect()
}

pub struct TableView {
    pub title: String,
    pub headings: Vec<String>,
    pub rows: Vec<Vec<String>>,
    pub wordy: bool,
}

impl From<report::Grid> for TableView {
    fn from(grid: report::Grid) -> Self {
        TableView { title: grid.title, headings: grid.headings, rows: grid.rows, wordy: grid.wordy }
    }
}

pub struct Link {
    pub label: String,
    pub href: String,
}

pub fn html(page: &impl Template) -> Response {
    match page.render() {
        Ok(text) => with_type(StatusCode::OK, text),
        Err(error) => {
            tracing::error!(%error, "a page could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn with_type(status: StatusCode, text: String) -> Response {
    let kind = HeaderValue::from_static(HTML);
    (status, [(header::CONTENT_TYPE, kind)], text).into_response()
}

const HTML: &str = "text/html; charset=utf-8";

/// A page with a tag of its bytes.
pub fn page(headers: &HeaderMap, page: &impl Template) -> Answer<Response> {
    let text = page.render().map_err(|error| {
        Diagnostic::error(Code::Internal, format!("the page could not be written: {error}"))
    })?;
    Ok(tagged_small(headers, HTML, text.into_bytes()))
}

pub fn links(what: &str, sheets: &[Sheet], query: &str) -> Vec<Link> {
    let query = if query.is_empty() { String::new() } else { format!("{query}&") };
    let link = |sheet: &Sheet| Link {
        label: sheet.label().to_owned(),
        href: format!("/api/v1/{what}?{query}format={}&download", sheet.name()),
    };
    sheets.iter().map(link).collect()
}
