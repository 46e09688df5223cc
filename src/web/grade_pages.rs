//! The page on which a garment is graded: one size first, its pictures, what is chosen.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::assets::asset_url;
use super::page_ask::{asked_of, manifest_of, with_garment};
use super::page_form::{AskForm, BesideForm};
use super::page_parts::{Frame, page};
use super::problem::{Answer, Problem};
use super::run_view::{Beside, OneView, RunView, close_picture};
use super::state::{Graded, Shared, State};
use app::{Ask, Pairs, pairs};
use diag::{Code, Diagnostic};
use knit::size_run::SizeRun;
use script::FIX;

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/grade", get(grade))
        .route("/grade/result", get(grade_result))
        .route("/grade/close", get(close))
}

#[derive(Template)]
#[template(path = "web/grade.html")]
struct GradePage {
    frame: Frame,
    looks: String,
    turns: String,
    form: AskForm,
    beside: BesideForm,
    result: RunView,
}

#[derive(Template)]
#[template(path = "web/run.html")]
struct RunPart {
    result: RunView,
}

/// What the address asks for, and what is to stand beside it.
fn asked_beside(query: Option<String>) -> Answer<(Ask, Beside)> {
    let mut pairs: Pairs = pairs(&query.unwrap_or_default())?;
    let beside = Beside::taken(&mut pairs);
    Ok((asked_of(pairs)?.0, beside))
}

/// What was asked for, with one size where none is named: the middle one, or for a garment that is not
/// knitted in it the middle of those it is.
pub(super) fn in_one_size(shared: &Shared, mut ask: Ask) -> (Ask, Result<Graded, Problem>) {
    if ask.sizes.is_some() || !ask.measures.is_empty() {
        let graded = shared.grade(&ask);
        return (ask, graded);
    }
    ask.sizes = shared.bench.middle_size().map(|size| size.id.to_string());
    let graded = shared.grade(&ask);
    if !graded.as_ref().is_ok_and(|graded| graded.run.good().next().is_none()) {
        return (ask, graded);
    }
    let all = Ask { sizes: None, ..ask.clone() };
    let Ok(of_all) = shared.grade(&all) else { return (ask, graded) };
    let good: Vec<String> = of_all.run.good().map(|(size, _)| size.body.id.to_string()).collect();
    let Some(middle) = good.get(good.len() / 2) else { return (ask, graded) };
    ask.sizes = Some(middle.clone());
    let graded = shared.grade(&ask);
    (ask, graded)
}

async fn grade(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, beside) = asked_beside(query)?;
    state.work(move |shared| page(&headers, &grade_page(shared, ask, &beside))).await?
}

fn grade_page(shared: &Shared, ask: Ask, beside: &Beside) -> GradePage {
    let (ask, graded) = in_one_size(shared, with_garment(shared, ask));
    let manifest = manifest_of(shared, &ask);
    let run = graded.as_ref().ok().map(|graded| &graded.run);
    let free = run.and_then(|run| unfixed(shared, &ask, run));
    let run = free.as_ref().map(|graded| &graded.run).or(run);
    let form = AskForm::new(shared, &ask, manifest.as_deref()).deciding(&ask, run);
    let beside_form = BesideForm::new(shared, beside.size.as_deref(), beside.ball.as_deref());
    let result = RunView::new(shared, (&ask, graded), beside);
    let repeat_mm = result.ones.first().and_then(|one| one.repeat_mm);
    GradePage {
        frame: Frame::new("Grade", "/grade"),
        looks: asset_url("grade.css"),
        turns: asset_url("round.js"),
        form: form.beginning(repeat_mm),
        beside: beside_form,
        result,
    }
}

/// What came of the same request with nothing fixed, where what is fixed can't be: a form shows its
/// numbers.
fn unfixed(shared: &Shared, ask: &Ask, run: &SizeRun) -> Option<Graded> {
    let fixed = |(name, _): &(String, String)| name.starts_with(FIX);
    if run.good().next().is_some() || !ask.options.iter().any(fixed) {
        return None;
    }
    let mut free = ask.clone();
    free.options.retain(|choice| !fixed(choice));
    shared.grade(&free).ok()
}

async fn grade_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, beside) = asked_beside(query)?;
    let make = move |shared: &Shared| {
        let (ask, graded) = in_one_size(shared, with_garment(shared, ask));
        page(&headers, &RunPart { result: RunView::new(shared, (&ask, graded), &beside) })
    };
    state.work(make).await?
}

// ---- One piece, stitch by stitch

#[derive(Template)]
#[template(path = "web/close.html")]
struct ClosePage {
    frame: Frame,
    looks: String,
    title: String,
    about: String,
    picture: String,
    back: String,
}

async fn close(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut pairs: Pairs = pairs(&query.unwrap_or_default())?;
    let piece = pairs.iter().find(|(key, _)| key == "piece").map(|(_, name)| name.clone());
    pairs.retain(|(key, _)| key != "piece");
    let (ask, _) = asked_of(pairs)?;
    state.work(move |shared| page(&headers, &close_page(shared, ask, piece)?)).await?
}

fn close_page(shared: &Shared, ask: Ask, piece: Option<String>) -> Answer<ClosePage> {
    let (ask, graded) = in_one_size(shared, with_garment(shared, ask));
    let run = graded?.run;
    let drawing = close_picture(shared, &ask, &run, piece.as_deref())?.ok_or_else(|| {
        let pieces: Vec<&str> = run
            .good()
            .flat_map(|(_, made)| &made.graded.run.pieces)
            .map(|piece| piece.name.as_str())
            .collect();
        let fault = Diagnostic::error(Code::Picture, "there is no such piece to look at");
        Problem::from(fault.hint(format!("its pieces are {}", pieces.join(", "))))
    })?;
    Ok(ClosePage {
        frame: Frame::new(drawing.title.clone(), "/grade"),
        looks: asset_url("grade.css"),
        title: drawing.title.clone(),
        about: drawing.about.clone(),
        picture: drawing.svg(),
        back: format!("/grade?{}", ask.query()),
    })
}

/// A garment as it usually comes, in one size.
///
/// # Errors
/// Why it can't be knitted so.
pub(super) fn usual(shared: &Shared, id: &str) -> Answer<(Ask, OneView)> {
    let ask = Ask { garment: Some(id.to_owned()), ..Ask::default() };
    let (ask, graded) = in_one_size(shared, ask);
    let one = OneView::of(shared, &ask, &graded?.run, "")?;
    Ok((ask, one))
}
