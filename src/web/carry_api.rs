//! A garment that is half knitted, over HTTP: as `oddments carry-on` tells it.

use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use utoipa::IntoParams;
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::format::{Sheet, clean};
use super::problem::{Answer, Refusals};
use super::query::{AskQuery, QueryKey};
use super::reply::tagged;
use super::state::{Shared, State};
use app::{Ask, CarryKeys, Pairs, pairs};
use diag::{Code, Diagnostic};
use knit::carry::CarriedOn;

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(carry_on))
}

/// What the field of a fabric begins with.
const NOW: &str = "now.";

/// How a page of it is written out.
const CARRY_SHEETS: &[Sheet] = &[Sheet::Json, Sheet::Text, Sheet::Markdown];

/// Keys beside those of a garment.
const CARRY_KEYS: [QueryKey<CarryKeys>; 7] = [
    QueryKey::new(
        "stands",
        "The piece in hand and what the row counter shows, or behind a `+` its rows that are done.",
        |keys: &mut CarryKeys, text| {
            text.clone_into(&mut keys.at);
            Ok(())
        },
    )
    .example("hat:140"),
    QueryKey::new(
        "now",
        "Stitches and rows to 10 cm from here on, or how they differ from the swatch; once for each fabric.",
        |keys: &mut CarryKeys, text| {
            keys.now.push(text.to_owned());
            Ok(())
        },
    )
    .example("plain=27x39"),
    QueryKey::new("extra_rows", "Rows too many, like the last one.", |keys: &mut CarryKeys, text| {
        keys.extra_rows = text.parse().map_err(|_| {
            Diagnostic::error(Code::Query, format!("`{text}` is no number of rows too many"))
                .hint("a whole number, like 4")
        })?;
        Ok(())
    }),
    QueryKey::new("broken", "Needles that broke, like `L17`.", |keys: &mut CarryKeys, text| {
        keys.broken = Some(text.to_owned());
        Ok(())
    }),
    QueryKey::new("left", "All the yarn that is left for it, like `18 g`.", |keys: &mut CarryKeys, text| {
        keys.left = Some(text.to_owned());
        Ok(())
    }),
    QueryKey::new("scale_step", "The scale's smallest step; left out: the workspace's, or 1 g.", |keys: &mut CarryKeys, text| {
        keys.scale_step = Some(text.to_owned());
        Ok(())
    }),
    QueryKey::new("risk", "The chance of running out that is accepted; left out: the workspace's risk or reserve, or 5 %.", |keys: &mut CarryKeys, text| {
        keys.risk = Some(text.to_owned());
        Ok(())
    }),
];

pub(super) struct CarryQuery;

impl IntoParams for CarryQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        QueryKey::parameters(&CARRY_KEYS)
    }
}

/// What is asked for: the garment, and what is said of the work in hand.
pub(super) struct CarryAsked {
    pub ask: Ask,
    pub keys: CarryKeys,
    /// As it came, to be shown again.
    pub pairs: Pairs,
    /// Of it what is said of the garment.
    pub rest: Pairs,
}

impl CarryAsked {
    pub fn read(query: Option<String>) -> Answer<CarryAsked> {
        let all = pairs(&query.unwrap_or_default())?;
        let mut keys = CarryKeys::default();
        let mut rest = Pairs::new();
        for (key, value) in &all {
            match QueryKey::find(&CARRY_KEYS, key) {
                Some(known) if !value.trim().is_empty() => (known.put)(&mut keys, value.trim())?,
                Some(_) => {}
                // As the page's form sends it: a field a fabric.
                None if key.starts_with(NOW) => {
                    let (fabric, counts) = (&key[NOW.len()..], value.trim());
                    keys.now.extend((!counts.is_empty()).then(|| format!("{fabric}={counts}")));
                }
                None => rest.push((key.clone(), value.clone())),
            }
        }
        let ask = Ask::from_pairs(&rest)?;
        Ok(CarryAsked { ask, keys, pairs: all, rest })
    }

    pub fn answer(&self, shared: &Shared) -> Answer<CarriedOn> {
        let carry = self.keys.read()?;
        Ok(shared.at_desk(|desk| desk.carry_on(&self.ask, &carry))?)
    }
}

/// Go on with a garment that is half knitted
///
/// What is knitted stays, the numbers it has settled are kept, the others are chosen anew; the pattern
/// goes on from the row in hand.
#[utoipa::path(get, path = "/api/v1/carry-on", tag = "pattern", params(CarryQuery, AskQuery), responses(
    (status = 200, description = "What changes, and the pattern from here on", content(
        (serde_json::Value = "application/json"), (String = "text/plain"),
        (String = "text/markdown"))),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn carry_on(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = CarryAsked::read(query)?;
    let sheet = asked
        .ask
        .format
        .as_deref()
        .map_or(Ok(Sheet::Json), |name| Sheet::parse(name, CARRY_SHEETS))?;
    let bytes = state
        .work(move |shared| -> Answer<Vec<u8>> {
            let look = shared.look(&asked.ask)?;
            let carried = asked.answer(shared)?;
            Ok(clean(match sheet {
                Sheet::Json => report::carry_json(&carried, look.unit),
                other => report::carry_text(&carried, look, other == Sheet::Markdown),
            }))
        })
        .await??;
    Ok(tagged(&headers, sheet.mime(), bytes))
}
