//! Plans of gifts over HTTP: asked for, watched, stopped, accepted.

use std::sync::Arc;

use axum::extract::rejection::JsonRejection;
use axum::extract::{Json, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::body;
use super::plan_jobs::{PlanJob, PlanOrder, Stage};
use super::problem::{Answer, FaultBody, Problem, ProblemBody};
use super::rests::{new_key, nothing_more, once_of, told};
use super::state::{Deed, Shared, State};
use app::WorkspaceEdit;
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::stash::Aim;
use report::plan_words;
use store::workspace::{Basis, parse_date, today};

/// Thousands of units of work: as on the command line, and at most.
const USUAL_WORK: u64 = 100;
const MOST_WORK: u64 = 2_000;

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new()
        .routes(routes!(plans, begin))
        .routes(routes!(plan, stop))
        .routes(routes!(accept))
}

/// What to plan.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub(super) struct PlanAsk {
    /// The day from which the hours are counted; left out: today.
    #[schema(example = "2026-09-01")]
    pub today: Option<String>,
    /// How long to look, in thousands of units of work; some 30 are a second of one core.
    #[schema(minimum = 1, maximum = 2000)]
    pub work: Option<u64>,
    /// Another number, another search.
    pub seed: Option<u64>,
    /// Plan gifts again that an accepted plan has set yarn aside for.
    pub again: bool,
    /// What the plan is to be good at: `most gifts`, `use up`, `few balls` or `least time`; left out: as
    /// the settings say.
    #[schema(example = "use up")]
    pub aim: Option<String>,
    /// Say of each gift left out what would let it in.
    pub explain: bool,
}

impl PlanAsk {
    pub fn order(&self) -> Result<PlanOrder, Diagnostic> {
        let work = self.work.unwrap_or(USUAL_WORK);
        if !(1..=MOST_WORK).contains(&work) {
            return Err(Diagnostic::error(Code::Work, format!("work is from 1 to {MOST_WORK}"))
                .hint("100 is usual"));
        }
        let day = match self.today.as_deref().map(str::trim).filter(|text| !text.is_empty()) {
            None => today(),
            Some(text) => parse_date(text).ok_or_else(|| {
                Diagnostic::error(Code::Date, format!("`{text}` is no day"))
                    .hint("write it like 2026-12-01: year, month, day")
            })?,
        };
        Ok(PlanOrder {
            today: day,
            work: work * 1000,
            seed: self.seed.unwrap_or(1),
            again: self.again,
            aim: self.aim.as_deref().map(aim).transpose()?,
            explain: self.explain,
            shop: None,
        })
    }
}

fn aim(name: &str) -> Result<Aim, Diagnostic> {
    Aim::parse(name).ok_or_else(|| no_such(name, "no aim of a plan", &Aim::NAMES))
}

/// A word that is none of those there are.
pub(super) fn no_such(word: &str, what: &str, names: &[&str]) -> Diagnostic {
    let hint = match nearest(word, names.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("use one of: {}", names.join(", ")),
    };
    Diagnostic::error(Code::Word, format!("`{word}` is {what}")).hint(hint)
}

/// A search that has begun, watched under that address.
pub(super) fn begun(address: &str, job: &PlanJob, told: impl Serialize) -> Response {
    let mut response = (StatusCode::ACCEPTED, Json(told)).into_response();
    if let Ok(value) = HeaderValue::from_str(&format!("{address}/{}", job.id)) {
        response.headers_mut().insert(header::LOCATION, value);
    }
    response
}

/// A plan, being made or made.
#[derive(Serialize, ToSchema)]
struct PlanBody {
    id: String,
    /// `running`, `done` or `failed`.
    state: &'static str,
    /// How far the search is, 0 to 1.
    share: f64,
    /// Points of the best plan so far, and what no plan exceeds.
    objective: Option<f64>,
    bound: Option<f64>,
    /// As the command prints it.
    plan: Option<Value>,
    errors: Vec<FaultBody>,
}

impl PlanBody {
    fn of(job: &PlanJob, whole: bool) -> PlanBody {
        let progress = job.progress();
        let stage = job.stage();
        let JobTold { state, share, errors } = JobTold::of(job, &stage);
        let plan = match &stage {
            Stage::Done(planned) if whole => Some(report::plan_value(&planned.plan)),
            _ => None,
        };
        PlanBody {
            id: job.id.clone(),
            state,
            share,
            objective: progress.map(|progress| progress.objective.as_f64()),
            bound: progress.map(|progress| progress.bound.as_f64()),
            plan,
            errors,
        }
    }
}

/// What is told of a search, whatever it is for.
pub(super) struct JobTold {
    /// `running`, `done` or `failed`.
    pub state: &'static str,
    /// How far it is, 0 to 1.
    pub share: f64,
    pub errors: Vec<FaultBody>,
}

impl JobTold {
    pub fn of(job: &PlanJob, stage: &Stage) -> JobTold {
        let (state, share, faults) = match stage {
            Stage::Running => ("running", job.share(), Diagnostics::new()),
            Stage::Done(planned) => ("done", 1.0, plan_words::diagnostics(&planned.plan)),
            Stage::Listed(list) => ("done", 1.0, plan_words::diagnostics(&list.plan)),
            Stage::Failed(faults) => ("failed", job.share(), faults.clone()),
        };
        JobTold { state, share, errors: faults.iter().map(FaultBody::from).collect() }
    }
}

/// Begins a plan on a thread of its own. What is asked for twice, with the same one-time key, is
/// begun once.
pub(super) fn start(state: &State, order: PlanOrder, once: Option<String>) -> Answer<Arc<PlanJob>> {
    state.live().map_err(Problem::of_path)?;
    let (job, fresh) = state.plans.begin(new_key()?, order, once)?;
    if fresh {
        let (own, made) = (state.clone(), Arc::clone(&job));
        tokio::task::spawn_blocking(move || made.run(own.live().ok(), &own.places));
    }
    Ok(job)
}

pub(super) fn job_of(shared: &Shared, id: &str) -> Answer<Arc<PlanJob>> {
    shared.plans.get(id).ok_or_else(|| {
        Problem::of_path(
            Diagnostic::error(Code::NoPlan, "that plan is not known any more")
                .hint("plans are forgotten when the server stops, unless they are accepted"),
        )
    })
}

/// Sets the yarn of a finished plan aside.
pub(super) async fn set_aside(state: &State, id: &str, basis: Basis) -> Answer<Deed<usize>> {
    let job = job_of(state, id)?;
    let planned = match job.stage() {
        Stage::Done(planned) => planned,
        _ => {
            return Err(Diagnostic::error(Code::Planning, "there is no plan to accept yet")
                .hint("wait until it is done")
                .into());
        }
    };
    let again = job.order.again;
    let accept =
        move |edit: &mut WorkspaceEdit| app::accept(edit, &planned.seen, &planned.plan, again);
    state.edited(basis, accept).await
}

/// The plans made lately
#[utoipa::path(get, path = "/api/v1/plans", tag = "plans", responses(
    (status = 200, description = "The newest first, without what is in them", body = Vec<PlanBody>)))]
async fn plans(Extract(state): Extract<State>) -> Response {
    let all: Vec<PlanBody> = state.plans.all().iter().map(|job| PlanBody::of(job, false)).collect();
    Json(all).into_response()
}

/// Plan the gifts of the workspace
///
/// Answers at once; the plan is watched at the address given.
#[utoipa::path(post, path = "/api/v1/plans", request_body = PlanAsk, tag = "plans", responses(
    (status = 202, description = "Begun", body = PlanBody),
    (status = 409, description = "Another is being made", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn begin(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
    given: Result<Json<PlanAsk>, JsonRejection>,
) -> Answer<Response> {
    nothing_more(&headers, query.as_deref())?;
    let once = once_of(&headers)?;
    let job = start(&state, body(given)?.order()?, once)?;
    Ok(begun("/api/v1/plans", &job, PlanBody::of(&job, false)))
}

/// How far a plan is, and what it is
#[utoipa::path(get, path = "/api/v1/plans/{id}", tag = "plans",
    params(("id" = String, Path, description = "As it was given")), responses(
    (status = 200, description = "The plan", body = PlanBody),
    (status = 404, description = "Not known", body = ProblemBody, content_type = "application/problem+json")))]
async fn plan(Extract(state): Extract<State>, Path(id): Path<String>) -> Answer<Response> {
    Ok(Json(PlanBody::of(&*job_of(&state, &id)?, true)).into_response())
}

/// Stop planning
///
/// The best plan so far is kept.
#[utoipa::path(delete, path = "/api/v1/plans/{id}", tag = "plans",
    params(("id" = String, Path, description = "As it was given")), responses(
    (status = 202, description = "It ends soon", body = PlanBody),
    (status = 404, description = "Not known", body = ProblemBody, content_type = "application/problem+json")))]
async fn stop(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    nothing_more(&headers, query.as_deref())?;
    let job = job_of(&state, &id)?;
    job.stop();
    Ok((StatusCode::ACCEPTED, Json(PlanBody::of(&job, false))).into_response())
}

/// How many gifts have their yarn, and by which change.
#[derive(Serialize, ToSchema)]
struct Accepted {
    gifts: usize,
    /// `null` where nothing was written.
    change: Option<u64>,
    /// Whether there was any yarn to set aside.
    written: bool,
}

/// Accept a plan
///
/// Sets its yarn aside in the workspace; an undo takes it back. Refused where a gift, its person, a
/// remnant or a yarn of the plan, or what is set aside, has changed since the plan was made.
#[utoipa::path(post, path = "/api/v1/plans/{id}/accept", tag = "plans",
    params(("id" = String, Path, description = "As it was given")), responses(
    (status = 200, description = "Accepted", body = Accepted),
    (status = 404, description = "Not known", body = ProblemBody, content_type = "application/problem+json"),
    (status = 409, description = "It is not done, or what it rests on has changed since", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn accept(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    nothing_more(&headers, query.as_deref())?;
    let deed = set_aside(&state, &id, Basis::once(once_of(&headers)?)).await?;
    Ok(told(deed, |gifts, change| {
        Json(Accepted { gifts, change, written: change.is_some() }).into_response()
    }))
}
