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
use super::state::State;
use app::Put;
use app::{Ask, pairs};
use diag::{Code, Diagnostic, harmless};
use store::Place;

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
}

impl PlaceBody {
    fn of(id: String, place: Place) -> PlaceBody {
        let Place { query, title, stop, of, revision } = place;
        PlaceBody { id, query, title, stop, of, revision }
    }
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
    let all: Vec<PlaceBody> =
        state.places.all().into_iter().map(|(id, place)| PlaceBody::of(id, place)).collect();
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
    let bytes = serde_json::to_vec(&PlaceBody::of(id, place)).unwrap_or_default();
    Ok(tagged(&headers, "application/json", bytes))
}

/// Move a place
///
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
    let put = state.brief(move |shared| shared.places.put(&own, place)).await??;
    Ok(match put {
        Put::Done(place) => {
            state.metrics.place_put();
            Json(PlaceBody::of(id, place)).into_response()
        }
        Put::Behind(place) => {
            (StatusCode::CONFLICT, Json(PlaceBody::of(id, place))).into_response()
        }
    })
}
