//! The pages of plans: where one is asked for, what is set aside, and each plan as a shelf of balls, a calendar
//! and a list of work.

use askama::Template;
use axum::Router;
use axum::extract::{Path, State as Extract};
use axum::http::{HeaderValue, header};
use axum::response::Response;
use axum::routing::get;

use super::gift_top::{GiftPage, GiftTop, Slip, Told};
use super::knit_now::{Knit, next_gift};
use super::page_parts::{FaultView, Frame, TableView, html, views};
use super::plan_api::job_of;
use super::plan_jobs::{PlanJob, Stage};
use super::plan_view::MadeView;
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Shared, State};
use knit::stash::Contents;
use report::{Grid, plan_words};
use store::workspace::{ChangeMark, today};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/gifts/plan/{id}", get(plan))
}

/// Where plans are asked for, and what the accepted one has set aside.
#[derive(Template)]
#[template(path = "web/plans.html")]
pub(super) struct PlansPage {
    frame: Frame,
    top: GiftTop,
    posted: Posted,
    today: String,
    /// What a plan lacks: where to get it, and what it is.
    missing: Vec<(&'static str, &'static str)>,
    /// Plans made lately: where, and what came of them.
    plans: Vec<(String, String)>,
    next: Option<Knit>,
    set_aside: TableView,
    /// Who knits what, where several knit.
    each: Vec<(String, Vec<String>)>,
}

#[derive(Template)]
#[template(path = "web/plan.html")]
struct PlanPage {
    frame: Frame,
    slip: Slip,
    id: String,
    running: bool,
    percent: String,
    faults: Vec<FaultView>,
    made: Option<MadeView>,
    /// What a plan lacks that makes nothing.
    missing: Vec<(&'static str, &'static str)>,
    /// The day it counts from, and whether it plans again what is set aside.
    today: String,
    again: bool,
}

pub(super) fn plan_index(shared: &Shared, told: Told) -> Answer<PlansPage> {
    let now = shared.live().map_err(Problem::of_path)?.now();
    let contents = &now.workspace.contents;
    let back = GiftPage::Plan.path().to_owned();
    Ok(PlansPage {
        frame: GiftPage::Plan.frame(),
        top: GiftTop::of(GiftPage::Plan, shared, &now.workspace, &told, back)?,
        today: today().to_string(),
        missing: what_is_missing(contents),
        plans: plans_made(shared),
        next: next_gift(shared, contents).map(|(_, knit)| knit),
        set_aside: set_aside_table(contents),
        each: decided(contents),
        posted: told.posted,
    })
}

/// What there must be before a plan can make anything.
pub(super) fn what_is_missing(contents: &Contents) -> Vec<(&'static str, &'static str)> {
    let mut missing = Vec::new();
    if contents.remnants.is_empty() {
        missing.push(("/gifts/stash", "There is no yarn in the stash yet: add a remnant"));
    }
    if contents.gifts.iter().all(|gift| gift.stage.is_over()) {
        missing.push(("/gifts/wishes", "Nothing is wished for: add a wish"));
    }
    missing
}

/// Plans made lately: where, and what came of them.
pub(super) fn plans_made(shared: &Shared) -> Vec<(String, String)> {
    shared.plans.all().iter().map(|job| (job.id.clone(), outcome(job))).collect()
}

/// The gifts that the newest plan has yarn for.
pub(super) fn planned_gifts(shared: &Shared) -> Vec<String> {
    let newest = shared.plans.all().into_iter().find_map(|job| match job.stage() {
        Stage::Done(planned) => Some(planned),
        _ => None,
    });
    let ids = newest.iter().flat_map(|planned| &planned.plan.gifts).map(|gift| gift.id.clone());
    ids.collect()
}

/// What an accepted plan has set aside.
fn set_aside_table(contents: &Contents) -> TableView {
    let headings = ["Gift", "For", "Section", "Remnant", "Set aside g"].map(str::to_owned);
    let mut grid = Grid::new("Set aside", headings.to_vec());
    for reservation in &contents.reservations {
        grid.rows.push(vec![
            reservation.gift.clone(),
            contents.gift(&reservation.gift).map_or_else(String::new, |gift| gift.person.clone()),
            reservation.section.clone(),
            reservation.remnant.clone(),
            format!("{:.1}", reservation.weight.grams()),
        ]);
    }
    grid.into()
}

/// Of each who knits, the gifts that an accepted plan or a wish gave them, and what of their yarn lies
/// elsewhere.
fn decided(contents: &Contents) -> Vec<(String, Vec<String>)> {
    let of_knitter = |knitter: &knit::stash::Knitter| {
        let own = contents.gifts.iter().filter(|gift| {
            !gift.stage.is_over() && contents.knitter_of(gift) == Some(knitter.name.as_str())
        });
        let line = |gift: &knit::stash::GiftWish| {
            let mut away: Vec<String> = Vec::new();
            for reservation in contents.set_aside(&gift.id) {
                let place = contents.remnant(&reservation.remnant).and_then(|r| r.place.as_deref());
                if let (Some(from), Some(to)) = (place, knitter.place.as_deref())
                    && !knit::stash::same_place(from, to)
                {
                    away.push(format!("{} comes from {from}", reservation.remnant));
                }
            }
            away.dedup();
            let away =
                if away.is_empty() { String::new() } else { format!("; {}", away.join(", ")) };
            format!("{}, {}{away}", gift.id, contents.gift_state(gift).name())
        };
        (knitter.name.clone(), own.map(line).collect::<Vec<_>>())
    };
    let all = contents.knitters.iter().map(of_knitter);
    all.filter(|(_, lines)| !lines.is_empty()).collect()
}

fn outcome(job: &PlanJob) -> String {
    match job.stage() {
        Stage::Running | Stage::Listed(_) => {
            format!("{:.0} % of the search done", job.share() * 100.0)
        }
        Stage::Done(planned) => {
            let plan = &planned.plan;
            let all = plan.gifts.len() + plan.left_out.len();
            format!("{} of {all} gifts can be made", plan.gifts.len())
        }
        Stage::Failed(_) => "it failed".to_owned(),
    }
}

async fn plan(Extract(state): Extract<State>, Path(id): Path<String>) -> Answer<Response> {
    state
        .brief(move |shared| -> Answer<Response> {
            let job = job_of(shared, &id)?;
            let back = GiftPage::Plan.path().to_owned();
            let mut view = PlanPage {
                frame: Frame::of_gifts("Plan of gifts", GiftPage::Plan.path()),
                slip: Slip { number: ChangeMark::default(), once: new_key()?, back },
                percent: format!("{:.0}", job.share() * 100.0),
                id,
                running: false,
                faults: Vec::new(),
                made: None,
                missing: Vec::new(),
                today: job.order.today.to_string(),
                again: job.order.again,
            };
            match job.stage() {
                Stage::Running | Stage::Listed(_) => view.running = true,
                Stage::Done(planned) => {
                    view.faults = views(&plan_words::diagnostics(&planned.plan));
                    view.missing = what_is_missing(&planned.seen.contents);
                    view.made = Some(MadeView::of(shared, &planned, job.order.today));
                }
                Stage::Failed(faults) => view.faults = views(&faults),
            }
            let mut response = html(&view);
            response
                .headers_mut()
                .insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
            Ok(response)
        })
        .await?
}
