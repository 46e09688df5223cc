use axum::extract::rejection::JsonRejection;
use axum::extract::{Json, Path, State as Extract};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::body;
use super::problem::{Answer, Problem, ProblemBody};
use super::reply::{fingerprint, tagged};
use super::state::{Shared, State};
use app::Put;
use app::{Ask, pairs};
use diag::{Code, Diagnostic, Diagnostics, harmless};
use store::{Place, Worked, now_s};

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(places)).routes(routes!(place, put_place))
}

/// The id of the place of whoever knits what is asked for: by what is done at the machine alone.
pub(super) fn place_id(ask: &Ask) -> String {
    fingerprint(ask.query_of_work().as_bytes(), 16)
}

/// How far a piece is.
#[derive(Serialize, ToSchema)]
struct PlaceBody {
    id: String,
    /// What is knitted, as the page's address says it.
    query: String,
    title: String,
    /// Stops done, and stops in all.
    stop: u32,
    of: u32,
    revision: u64,
    /// Seconds worked on it at the machine, pauses left out.
    worked_seconds: u64,
    /// The same in words.
    worked: String,
}

impl PlaceBody {
    fn of(id: String, place: Place, worked: Worked) -> PlaceBody {
        let Place { query, title, stop, of, revision } = place;
        let (worked_seconds, worked) = (worked.seconds, worked_words(worked));
        PlaceBody { id, query, title, stop, of, revision, worked_seconds, worked }
    }
}

/// "1 h 12 min at the machine so far"; nothing where nothing was counted.
pub(super) fn worked_words(worked: Worked) -> String {
    let Some(minutes) = worked.minutes() else { return String::new() };
    let (hours, minutes) = ((minutes / 60.0).floor(), minutes % 60.0);
    let hours = if hours > 0.0 { format!("{hours} h ") } else { String::new() };
    format!("{hours}{minutes} min at the machine so far")
}

/// A place to keep.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PlaceMove {
    /// What is knitted, as the page's address says it: the id is made of it.
    query: String,
    title: String,
    stop: u32,
    of: u32,
    /// The revision last seen; 0 for a new place.
    revision: u64,
}

/// The pieces begun, and how far each is
#[utoipa::path(get, path = "/api/v1/places", tag = "places", responses(
    (status = 200, description = "All places", body = Vec<PlaceBody>),
    (status = 304, description = "Not changed since the tag sent")))]
async fn places(Extract(state): Extract<State>, headers: HeaderMap) -> Response {
    let of_place = |(id, place): (String, Place)| {
        let worked = state.places.worked(&id);
        PlaceBody::of(id, place, worked)
    };
    let all: Vec<PlaceBody> = state.places.all().into_iter().map(of_place).collect();
    tagged(&headers, "application/json", serde_json::to_vec(&all).unwrap_or_default())
}

/// How far one piece is
#[utoipa::path(get, path = "/api/v1/places/{id}", tag = "places",
    params(("id" = String, Path, description = "Sixteen hexadecimal digits")), responses(
    (status = 200, description = "The place", body = PlaceBody),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "Not begun", body = ProblemBody, content_type = "application/problem+json")))]
async fn place(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Answer<Response> {
    let place = state.places.get(&id).ok_or_else(|| {
        Problem::of_path(Diagnostic::error(Code::NoPlace, "that piece is not begun"))
    })?;
    let worked = state.places.worked(&id);
    let bytes = serde_json::to_vec(&PlaceBody::of(id, place, worked)).unwrap_or_default();
    Ok(tagged(&headers, "application/json", bytes))
}

/// Move a place
///
/// The time since the step before counts as work, or as a pause where it is longer than five minutes and ten
/// seconds for each step done: by the server's clock, so that two devices count it once.
/// 409 where another device moved it since: the answer is where it is now.
#[utoipa::path(put, path = "/api/v1/places/{id}", request_body = PlaceMove, tag = "places",
    params(("id" = String, Path, description = "Sixteen hexadecimal digits")), responses(
    (status = 200, description = "Moved", body = PlaceBody),
    (status = 409, description = "Another device was quicker: where it is now", body = PlaceBody),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn put_place(
    Extract(state): Extract<State>,
    Path(id): Path<String>,
    given: Result<Json<PlaceMove>, JsonRejection>,
) -> Answer<Response> {
    let PlaceMove { query, title, stop, of, revision } = body(given)?;
    let ask = Ask::from_pairs(&pairs(&query)?)?;
    ask.garment()?;
    if id != place_id(&ask) {
        return Err(Diagnostic::error(Code::NoPlace, "that is not the id of what is knitted")
            .hint("the page at /machine says which it is")
            .into());
    }
    if stop > of || of > 1_000_000 || title.len() > 200 || revision > u64::MAX / 2 {
        return Err(Diagnostic::error(Code::Place, "there is no such place in a piece").into());
    }
    let title = harmless(&title).into_owned();
    let place = Place { query: ask.query(), title, stop, of, revision };
    let own = id.clone();
    let now = now_s();
    let put = move |shared: &Shared| {
        let put = shared.places.put(&own, place, now)?;
        Ok::<_, Diagnostics>((put, shared.places.worked(&own)))
    };
    let (put, worked) = state.brief(put).await??;
    Ok(match put {
        Put::Done(place) => {
            state.metrics.place_put();
            Json(PlaceBody::of(id, place, worked)).into_response()
        }
        Put::Behind(place) => {
            (StatusCode::CONFLICT, Json(PlaceBody::of(id, place, worked))).into_response()
        }
    })
}
