//! How things are done by hand, in words and drawings.

use askama::Template;
use axum::Router;
use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::format::Sheet;
use super::page_ask::show;
use super::page_parts::Frame;
use super::problem::{Answer, Problem};
use super::reply::tagged;
use super::state::State;
use diag::{Code, Diagnostic};
use report::{Technique, said};

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
    title: String,
    when: String,
    steps: Vec<String>,
    mind: String,
    /// What its picture shows.
    about: String,
}

async fn techniques(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    show(state, headers, query, |shared, ask| {
        let words = shared.words(&ask)?;
        let view = |one: Technique| TechniqueView {
            id: one.id(),
            title: said(words, one.title()),
            when: said(words, one.when()),
            steps: one.steps().iter().map(|step| said(words, step)).collect(),
            mind: said(words, one.mind()),
            about: said(words, &one.picture().about),
        };
        let all = Technique::ALL.into_iter().map(view).collect();
        Ok(TechniquesPage { frame: Frame::new("How it is done", "/techniques"), all })
    })
    .await
}

/// The drawing of one, as `graft.svg`.
async fn picture(headers: HeaderMap, Path(name): Path<String>) -> Answer<Response> {
    let id = name.strip_suffix(".svg").unwrap_or(&name);
    let one = Technique::ALL.into_iter().find(|one| one.id() == id).ok_or_else(|| {
        Problem::of_path(Diagnostic::error(Code::Unknown, "there is no such technique"))
    })?;
    Ok(tagged(&headers, Sheet::Svg.mime(), one.picture().svg().into_bytes()))
}
