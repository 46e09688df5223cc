//! The page of what to buy: a form that says for what, and the list that comes of it.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, State as Extract};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::gift_pages::NoWorkspace;
use super::gift_top::Slip;
use super::page_parts::{FaultView, Frame, TableView, html, page, views};
use super::plan_api::start;
use super::plan_jobs::{PlanJob, Stage};
use super::posted::Posted;
use super::problem::Answer;
use super::rests::new_key;
use super::shop_api::{ShopAsk, list_of};
use super::state::{Shared, State};
use app::Pairs;
use diag::{Code, Diagnostic, Diagnostics};
use knit::gift_plan::{ShoppingList, Sparing};
use report::plan_words;
use store::workspace::{ChangeMark, today};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/gifts/shop", get(form).post(act)).route("/gifts/shop/{id}", get(list))
}

#[derive(Template)]
#[template(path = "web/shop.html")]
struct ShopPage {
    frame: Frame,
    slip: Slip,
    /// Of the list that is shown; nothing where there is none.
    id: String,
    running: bool,
    percent: String,
    faults: Vec<FaultView>,
    made: Option<MadeView>,
    posted: Posted,
    today: String,
    sparing: [&'static str; 3],
    /// Lists made lately: where, and what came of them.
    lists: Vec<(String, String)>,
}

/// A list as the command's page has it.
struct MadeView {
    rows: Option<TableView>,
    lines: Vec<String>,
    cautions: Vec<String>,
}

impl MadeView {
    fn of(list: &ShoppingList) -> MadeView {
        let mut rows = report::shopping_rows(list);
        "Yarn by yarn".clone_into(&mut rows.title);
        MadeView {
            rows: Some(rows).filter(|grid| !grid.rows.is_empty()).map(TableView::from),
            lines: report::shopping_lines(list),
            cautions: report::shopping_cautions(list),
        }
    }
}

impl ShopPage {
    fn of(shared: &Shared, posted: Posted, faults: &Diagnostics) -> Answer<ShopPage> {
        let lists = shared.plans.lists();
        Ok(ShopPage {
            frame: Frame::of_gifts("What to buy", "/gifts/shop"),
            slip: Slip { number: ChangeMark::default(), once: new_key()?, back: String::new() },
            id: String::new(),
            running: false,
            percent: String::new(),
            faults: views(faults),
            made: None,
            posted,
            today: today().to_string(),
            sparing: Sparing::NAMES,
            lists: lists.iter().map(|job| (job.id.clone(), outcome(job))).collect(),
        })
    }
}

fn outcome(job: &PlanJob) -> String {
    match job.stage() {
        Stage::Listed(list) => match list.total().0 {
            0 => "nothing to buy".to_owned(),
            1 => "1 ball to buy".to_owned(),
            balls => format!("{balls} balls to buy"),
        },
        Stage::Failed(_) => "it failed".to_owned(),
        Stage::Running | Stage::Done(_) => {
            format!("{:.0} % of the search done", job.share() * 100.0)
        }
    }
}

async fn form(Extract(state): Extract<State>, headers: HeaderMap) -> Answer<Response> {
    state
        .brief(move |shared| {
            if shared.workspace.is_none() {
                let frame = Frame::of_gifts("What to buy", "/gifts/shop");
                return page(&headers, &NoWorkspace { frame });
            }
            Ok(unkept(&ShopPage::of(shared, Posted::default(), &Diagnostics::new())?))
        })
        .await?
}

/// A page that is never older than what it shows.
fn unkept(view: &ShopPage) -> Response {
    let mut response = html(view);
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

async fn list(Extract(state): Extract<State>, Path(id): Path<String>) -> Answer<Response> {
    state
        .brief(move |shared| -> Answer<Response> {
            let job = list_of(shared, &id)?;
            let mut view = ShopPage::of(shared, Posted::default(), &Diagnostics::new())?;
            view.percent = format!("{:.0}", job.share() * 100.0);
            view.id = id;
            match job.stage() {
                Stage::Running | Stage::Done(_) => view.running = true,
                Stage::Listed(list) => {
                    view.faults = views(&plan_words::diagnostics(&list.plan));
                    view.made = Some(MadeView::of(&list));
                }
                Stage::Failed(faults) => view.faults = views(&faults),
            }
            Ok(unkept(&view))
        })
        .await?
}

async fn act(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let posted = Posted::read(form, "what to buy")?;
    match done(&state, &posted) {
        Ok(job) => Ok(Redirect::to(&format!("/gifts/shop/{}", job.id)).into_response()),
        // What is wrong stands above the form as it was filled in: nothing typed is lost.
        Err(problem) => {
            let status = problem.status;
            let view =
                state.brief(move |shared| ShopPage::of(shared, posted, &problem.faults)).await??;
            let mut response = unkept(&view);
            *response.status_mut() = status;
            Ok(response)
        }
    }
}

fn done(state: &State, posted: &Posted) -> Answer<std::sync::Arc<PlanJob>> {
    match posted.get("what") {
        "stop" => {
            let job = list_of(state, posted.get("id"))?;
            job.stop();
            Ok(job)
        }
        _ => start(state, asked(posted)?.order()?, posted.once()),
    }
}

/// What the form asks for: of the fields that belong to one choice, those of the choice made.
fn asked(posted: &Posted) -> Result<ShopAsk, Diagnostic> {
    let mut ask = ShopAsk {
        again: posted.get("again") == "yes",
        today: Some(posted.get("today").to_owned()),
        ..ShopAsk::default()
    };
    let work = posted.get("work");
    if !work.is_empty() {
        let number = work.parse().map_err(|_| {
            Diagnostic::error(Code::Work, format!("`{work}` is no whole number"))
                .hint("100 is usual")
        })?;
        ask.work = Some(number);
    }
    let by = posted.get("by");
    let by = Some(by.to_owned()).filter(|by| !by.is_empty());
    match posted.get("whom") {
        "money" => {
            let money = posted.get("money");
            ask.money = Some(units::number(money).map_err(|_| {
                Diagnostic::error(Code::Price, format!("`{money}` is no sum of money to spend"))
                    .hint("write it like 20 or 12.50")
            })?);
        }
        "priority" => {
            let priority = posted.get("from_priority");
            ask.from_priority = Some(priority.parse().map_err(|_| {
                Diagnostic::error(Code::Priority, format!("`{priority}` is no priority"))
                    .hint("write a whole number from 1 to 5")
            })?);
            ask.by = by;
        }
        _ => ask.by = by,
    }
    Ok(ask)
}
