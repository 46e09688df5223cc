//! The page of what was learnt: in words, each piece in a table, and as a picture.

use askama::Template;
use axum::Router;
use axum::extract::State as Extract;
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::format::CHART_SHEETS;
use super::gift_pages::NoWorkspace;
use super::page_parts::{FaultView, Frame, Link, TableView, links, page, views};
use super::problem::{Answer, Problem};
use super::state::{Shared, State};
use report::drawing;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/learnt", get(learnt))
}

#[derive(Template)]
#[template(path = "web/learnt.html")]
struct LearntPage {
    frame: Frame,
    faults: Vec<FaultView>,
    /// What was learnt of the yarn in a stitch.
    yarn: Vec<String>,
    /// What was learnt of the time that work takes.
    time: Vec<String>,
    pieces: TableView,
    /// What the picture says, for who can't see it.
    about: String,
    /// What to do about those that don't count.
    odd: Vec<String>,
    /// What an interval is, and how to weigh.
    weighing: [&'static str; 2],
    downloads: Vec<Link>,
}

const TITLE: &str = "What was learnt";

impl LearntPage {
    fn of(shared: &Shared) -> Answer<LearntPage> {
        let now = shared.live().map_err(Problem::of_path)?.now();
        let taught = now.workspace.taught(&shared.bench);
        Ok(LearntPage {
            frame: Frame::new(TITLE, "/learnt"),
            faults: views(&now.faults),
            yarn: report::learnt_lines(&taught),
            time: report::pace_lines(&taught),
            pieces: report::piece_table(&taught).into(),
            about: drawing::weighed_picture(&taught).about,
            odd: report::odd_lines(&taught),
            weighing: report::WEIGHING,
            downloads: links("learnt", CHART_SHEETS, ""),
        })
    }
}

async fn learnt(Extract(state): Extract<State>, headers: HeaderMap) -> Answer<Response> {
    state
        .work(move |shared| {
            if shared.workspace.is_none() {
                return page(&headers, &NoWorkspace { frame: Frame::new(TITLE, "/learnt") });
            }
            page(&headers, &LearntPage::of(shared)?)
        })
        .await?
}
