//! Lists of what to buy over HTTP: asked for, watched, stopped. They are made as plans are, and
//! none is made beside a plan.

use std::sync::Arc;

use axum::extract::rejection::JsonRejection;
use axum::extract::{Json, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::body;
use super::plan_api::{JobTold, PlanAsk, begun, no_such, start};
use super::plan_jobs::{PlanJob, PlanOrder, ShopOrder, Stage};
use super::problem::{Answer, FaultBody, Problem, ProblemBody};
use super::rests::{nothing_more, once_of};
use super::state::{Shared, State};
use app::money_to_spend;
use diag::{Code, Diagnostic};
use knit::gift_plan::{ShoppingFor, Sparing};

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(lists, begin)).routes(routes!(list, stop))
}

/// What to buy for.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub(super) struct ShopAsk {
    /// Only for gifts of this priority and above; left out: for all.
    pub from_priority: Option<u8>,
    /// As much as so much money buys, of the yarns whose `price` is known; neither `from_priority`
    /// nor `by` goes with it.
    #[schema(example = 20.0)]
    pub money: Option<f64>,
    /// What to buy the least of: `balls`, `grams` or `money`; left out: balls.
    #[schema(example = "grams")]
    pub by: Option<String>,
    /// Plan gifts again that an accepted plan has set yarn aside for.
    pub again: bool,
    /// How long to look, in thousands of units of work: some 30 are a second of one core.
    #[schema(minimum = 1, maximum = 2000)]
    pub work: Option<u64>,
    /// Another number, another search.
    pub seed: Option<u64>,
    /// The day from which the hours are counted; left out: today.
    #[schema(example = "2026-09-01")]
    pub today: Option<String>,
}

impl ShopAsk {
    pub fn order(self) -> Result<PlanOrder, Diagnostic> {
        let wanted = match self.money {
            None => ShoppingFor::Gifts(self.from_priority.unwrap_or(0)),
            Some(_) if self.from_priority.is_some() || self.by.is_some() => {
                let fault = "`money` goes with neither `from_priority` nor `by`";
                return Err(Diagnostic::error(Code::Contrary, fault)
                    .hint("ask for the best that money buys, or for the least that gifts need"));
            }
            Some(money) => money_to_spend(money)?,
        };
        let sparing = self.by.as_deref().map_or(Ok(Sparing::default()), sparing)?;
        let plan = PlanAsk {
            today: self.today,
            work: self.work,
            seed: self.seed,
            again: self.again,
            ..PlanAsk::default()
        };
        Ok(PlanOrder { shop: Some(ShopOrder { wanted, sparing }), ..plan.order()? })
    }
}

fn sparing(name: &str) -> Result<Sparing, Diagnostic> {
    Sparing::parse(name).ok_or_else(|| no_such(name, "nothing to spare", &Sparing::NAMES))
}

/// A list of what to buy, being made or made.
#[derive(Serialize, ToSchema)]
struct ShopBody {
    id: String,
    /// `running`, `done` or `failed`.
    state: &'static str,
    /// How far the search is, 0 to 1.
    share: f64,
    /// As the command prints it.
    list: Option<Value>,
    errors: Vec<FaultBody>,
}

impl ShopBody {
    fn of(job: &PlanJob, whole: bool) -> ShopBody {
        let stage = job.stage();
        let JobTold { state, share, errors } = JobTold::of(job, &stage);
        let list = match &stage {
            Stage::Listed(list) if whole => Some(report::shopping_value(list)),
            _ => None,
        };
        ShopBody { id: job.id.clone(), state, share, list, errors }
    }
}

pub(super) fn list_of(shared: &Shared, id: &str) -> Answer<Arc<PlanJob>> {
    shared.plans.list(id).ok_or_else(|| {
        Problem::of_path(
            Diagnostic::error(Code::NoPlan, "that list of what to buy is not known any more")
                .hint("lists are forgotten when the server stops: ask for it anew"),
        )
    })
}

/// The lists of what to buy made lately
#[utoipa::path(get, path = "/api/v1/shopping-lists", tag = "plans", responses(
    (status = 200, description = "The newest first, without what is in them", body = Vec<ShopBody>)))]
async fn lists(Extract(state): Extract<State>) -> Response {
    let all: Vec<ShopBody> =
        state.plans.lists().iter().map(|job| ShopBody::of(job, false)).collect();
    Json(all).into_response()
}

/// Look for what to buy
///
/// The least that makes the gifts wanted, or the best that some money buys, in whole balls of the
/// workspace's yarns. Answers at once; the list is watched at the address given.
#[utoipa::path(post, path = "/api/v1/shopping-lists", request_body = ShopAsk, tag = "plans", responses(
    (status = 202, description = "Begun", body = ShopBody),
    (status = 409, description = "A plan or another list is being made", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn begin(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
    given: Result<Json<ShopAsk>, JsonRejection>,
) -> Answer<Response> {
    nothing_more(&headers, query.as_deref())?;
    let once = once_of(&headers)?;
    let job = start(&state, body(given)?.order()?, once)?;
    Ok(begun("/api/v1/shopping-lists", &job, ShopBody::of(&job, false)))
}

/// How far a list of what to buy is, and what is on it
#[utoipa::path(get, path = "/api/v1/shopping-lists/{id}", tag = "plans",
    params(("id" = String, Path, description = "As it was given")), responses(
    (status = 200, description = "The list", body = ShopBody),
    (status = 404, description = "Not known", body = ProblemBody, content_type = "application/problem+json")))]
async fn list(Extract(state): Extract<State>, Path(id): Path<String>) -> Answer<Response> {
    Ok(Json(ShopBody::of(&*list_of(&state, &id)?, true)).into_response())
}

/// Stop looking for what to buy
///
/// The best list so far is kept.
#[utoipa::path(delete, path = "/api/v1/shopping-lists/{id}", tag = "plans",
    params(("id" = String, Path, description = "As it was given")), responses(
    (status = 202, description = "It ends soon", body = ShopBody),
    (status = 404, description = "Not known", body = ProblemBody, content_type = "application/problem+json")))]
async fn stop(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    nothing_more(&headers, query.as_deref())?;
    let job = list_of(&state, &id)?;
    job.stop();
    Ok((StatusCode::ACCEPTED, Json(ShopBody::of(&job, false))).into_response())
}
