//! A gift's life over HTTP: begun, done, freed, given up, kept fast, wished for again.

use axum::extract::rejection::JsonRejection;
use axum::extract::{Json, Path, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::body;
use super::problem::{Answer, ProblemBody};
use super::rests::{self, freed_value, told_value};
use super::state::State;
use super::workspace_api::Kind;
use app::{GiftDeed, GiftTurn};
use knit::stash::GiftState;

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(turn))
}

/// What is said of a gift.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Turn {
    /// It is on the machine.
    Begin,
    /// It is knitted.
    Done,
    /// Its yarn is free, and it is wished for.
    Free,
    /// It is not to be knitted.
    GiveUp,
    /// New plans leave its yarn alone.
    Keep,
    /// New plans may take its yarn.
    LetGo,
    /// It is wished for again.
    Wish,
}

impl Turn {
    /// Every one, with the words of its button.
    pub const ALL: [(Turn, &'static str, &'static str); 7] = [
        (Turn::Begin, "begin", "on the machine"),
        (Turn::Done, "done", "done"),
        (Turn::Free, "free", "free its yarn"),
        (Turn::GiveUp, "give-up", "give up"),
        (Turn::Keep, "keep", "keep its yarn"),
        (Turn::LetGo, "let-go", "plans may take it"),
        (Turn::Wish, "wish", "wish again"),
    ];

    pub fn parse(name: &str) -> Option<Turn> {
        Turn::ALL.into_iter().find(|(_, own, _)| *own == name).map(|(turn, ..)| turn)
    }

    pub const fn deed(self) -> GiftDeed {
        match self {
            Turn::Begin => GiftDeed::Begin,
            Turn::Done => GiftDeed::Done,
            Turn::Free => GiftDeed::Free,
            Turn::GiveUp => GiftDeed::GiveUp,
            Turn::Keep => GiftDeed::Keep(true),
            Turn::LetGo => GiftDeed::Keep(false),
            Turn::Wish => GiftDeed::Wish,
        }
    }
}

#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct TurnAsk {
    to: Turn,
}

fn turned(turn: &GiftTurn) -> Value {
    let state = turn.state.map(GiftState::name);
    let freed = freed_value(&turn.freed);
    json!({ "gift": turn.gift, "state": state, "keep": turn.keep, "freed": freed })
}

/// Say how far a gift is
///
/// What is set aside for a gift that is done, given up or freed is free again, in the same change.
/// `If-Match` takes the gift's tag.
#[utoipa::path(post, path = "/api/v1/gifts/{id}/turn", request_body = TurnAsk, tag = "workspace",
    params(("id" = String, Path, description = "Which gift")), responses(
    (status = 200, description = "How it stands, and what is free", body = serde_json::Value),
    (status = 404, description = "No such gift, or no workspace", body = ProblemBody, content_type = "application/problem+json"),
    (status = 409, description = "It is over already, or has changed since", body = ProblemBody, content_type = "application/problem+json"),
    (status = "4XX", description = "What is wrong", body = ProblemBody, content_type = "application/problem+json")))]
async fn turn(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
    given: Result<Json<TurnAsk>, JsonRejection>,
) -> Answer<Response> {
    let deed = body(given)?.to.deed();
    rests::no_query(query.as_deref())?;
    let basis = rests::of_headers(&headers, Some(Kind::Gifts.entry(&id)))?;
    let done = state.edited(basis, move |edit| edit.turn_gifts(&[id], deed)).await?;
    Ok(told_value(done, |turns| turns.first().map_or(Value::Null, turned)))
}
