//! How things are done by hand, in words and drawings.

use askama::Template;
use axum::Router;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::format::Sheet;
use super::page_parts::{Frame, page};
use super::problem::{Answer, Problem};
use super::reply::tagged;
use super::state::State;
use diag::{Code, Diagnostic};
use report::Technique;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/techniques", get(techniques)).route("/techniques/{picture}", get(picture))
}

#[derive(Template)]
#[template(path = "web/techniques.html")]
struct TechniquesPage {
    frame: Frame,
    all: Vec<TechniqueView>,
}

struct TechniqueView {
    id: &'static str,
    title: &'static str,
    when: &'static str,
    steps: &'static [&'static str],
    mind: &'static str,
    /// What its picture shows.
    about: String,
}

async fn techniques(headers: HeaderMap) -> Answer<Response> {
    let view = |one: Technique| TechniqueView {
        id: one.id(),
        title: one.title(),
        when: one.when(),
        steps: one.steps(),
        mind: one.mind(),
        about: one.picture().about,
    };
    let all = Technique::ALL.into_iter().map(view).collect();
    page(&headers, &TechniquesPage { frame: Frame::new("How it is done", "/techniques"), all })
}

/// The drawing of one, as `graft.svg`.
async fn picture(headers: HeaderMap, Path(name): Path<String>) -> Answer<Response> {
    let id = name.strip_suffix(".svg").unwrap_or(&name);
    let one = Technique::ALL.into_iter().find(|one| one.id() == id).ok_or_else(|| {
        Problem::of_path(Diagnostic::error(Code::Unknown, "there is no such technique"))
    })?;
    Ok(tagged(&headers, Sheet::Svg.mime(), one.picture().svg().into_bytes()))
}
