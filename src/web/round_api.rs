//! A garment in the round, packed for a page that turns it.

use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use miniz_oxide::deflate::compress_to_vec_zlib;
use utoipa::IntoParams;
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::format::one_size;
use super::problem::{Answer, Problem, ProblemBody, Refusals};
use super::query::{AskQuery, QueryKey};
use super::reply::{PRIVATE, THOROUGHLY, small, tag, takes_deflated};
use super::state::State;
use super::workspace_api::known_garment;
use app::{Ask, Colouring, RoundSizes, pairs};
use diag::{Code, Diagnostic};
use knit::round::{Detail, Pose};

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(round))
}

/// How the garment is looked at.
struct RoundAsk {
    pose: Pose,
    detail: Detail,
}

/// The one of these that is named.
fn named<T: Copy>(word: &str, what: &str, all: &[(&str, T)]) -> Result<T, Diagnostic> {
    all.iter().find(|(name, _)| *name == word).map(|(_, of)| *of).ok_or_else(|| {
        let names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
        Diagnostic::error(Code::Query, format!("`{word}` is no {what}"))
            .hint(format!("there are {}", names.join(", ")))
    })
}

const ROUND_KEYS: [QueryKey<RoundAsk>; 2] = [
    QueryKey::new(
        "pose",
        "How it lies: `worn` on the part of the body that it is for, on a `plate`, or on `nothing`; \
         left out: worn.",
        |asked, word| {
            let all = [("worn", Pose::Worn), ("plate", Pose::Blocked), ("nothing", Pose::Off)];
            named(word, "way to lie", &all).map(|pose| asked.pose = pose)
        },
    ),
    QueryKey::new(
        "detail",
        "`full`: a point a stitch; `coarse`: one for some rows and needles, which comes sooner; left \
         out: coarse.",
        |asked, word| {
            let all = [("coarse", Detail::Coarse), ("full", Detail::Full)];
            named(word, "detail", &all).map(|detail| asked.detail = detail)
        },
    ),
];

/// The keys of a request but for its garment, which the path names, and those of the shape.
struct RoundQuery;

impl IntoParams for RoundQuery {
    fn into_params(within: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let mut all = AskQuery::into_params(within);
        all.retain(|key| key.name != "garment" && key.name != "format");
        all.extend(QueryKey::parameters(&ROUND_KEYS));
        all
    }
}

/// A size in the round, packed
///
/// Points, triangles, colours, places along the yarn and stretch, and what it lies on: for programs that
/// draw it. The README of the floor `report` has the layout. `sizes` names one size. Who accepts
/// `deflate` is sent less.
#[utoipa::path(get, path = "/api/v1/garments/{id}/round", tag = "garments",
    params(("id" = String, Path, description = "A garment's id", example = "tam"), RoundQuery), responses(
    (status = 200, description = "The packed shape", body = Vec<u8>, content_type = "application/octet-stream"),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No such garment", body = ProblemBody, content_type = "application/problem+json"),
    Refusals))]
async fn round(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut asked = RoundAsk { pose: Pose::Worn, detail: Detail::Coarse };
    let mut rest = Vec::new();
    for (key, word) in pairs(&query.unwrap_or_default())? {
        match QueryKey::find(&ROUND_KEYS, &key) {
            Some(known) => (known.put)(&mut asked, &word)?,
            None => rest.push((key, word)),
        }
    }
    let ask = Ask { garment: Some(id.clone()), ..Ask::from_pairs(&rest)? };
    state.brief(move |shared| known_garment(shared, &id)).await?.map_err(Problem::of_path)?;
    let shrunk = takes_deflated(&headers);
    let bytes = state
        .graded_at_length(ask, move |shared, ask, graded| {
            one_size(&graded.run)?;
            let colouring = Colouring::read(&shared.yarns(ask), &graded.run)?;
            let sizes = RoundSizes::of(&graded.run, &colouring, (asked.pose, asked.detail))?;
            let packed = sizes.packed().unwrap_or_default();
            let shrunk = shrunk.then(|| compress_to_vec_zlib(&packed, THOROUGHLY));
            Ok((packed, shrunk))
        })
        .await?;
    let (whole, shrunk) = bytes;
    let tag = tag(&whole);
    Ok(small(&headers, "application/octet-stream", whole, shrunk, (&tag, PRIVATE)))
}
