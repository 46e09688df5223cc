//! The page that says what a weight of yarn makes, and what garments take: for the ball that gives out.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::page_form::{Choice, garment_choices};
use super::page_parts::{FaultView, Frame, TableView, page, views};
use super::posted::{Posted, grams_typed};
use super::problem::Answer;
use super::reach_api::{OPTION, ReachAsked};
use super::state::{Shared, State};
use app::{Ask, Pairs, pairs};
use script::{FIX, IN_TURN};

pub(super) fn routes() -> Router<State> {
    Router::new().route("/reach", get(reach))
}

#[derive(Template)]
#[template(path = "web/reach.html")]
struct ReachPage {
    frame: Frame,
    faults: Vec<FaultView>,
    garments: Vec<Choice>,
    sizes: String,
    weight: String,
    remnants: Vec<Choice>,
    /// Of the garment, as it came.
    hidden: Pairs,
    table: Option<TableView>,
}

/// What is known of a piece, as the address of its page asks what yarn it takes.
pub(super) fn reach_query(ask: &Ask) -> String {
    let said = |key: &str, value: &Option<String>| Some((key.to_owned(), value.clone()?));
    let own =
        [said("garment", &ask.garment), said("sizes", &ask.sizes), said("machine", &ask.machine)];
    let options = ask.options.iter().filter(|(name, _)| !name.starts_with(FIX));
    let options = options.map(|(name, value)| {
        let family = if name.starts_with(IN_TURN) { "" } else { OPTION };
        (format!("{family}{name}"), value.clone())
    });
    let all: Pairs = own.into_iter().flatten().chain(options).collect();
    serde_urlencoded::to_string(all).unwrap_or_default()
}

async fn reach(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut asked = pairs(&query.unwrap_or_default())?;
    for (key, value) in &mut asked {
        if key == "weight" && !value.trim().is_empty() {
            *value = grams_typed(value);
        }
    }
    // Options are those of one garment.
    let one = asked.iter().any(|(key, value)| key == "garment" && !value.trim().is_empty());
    asked.retain(|(key, _)| one || !(key.starts_with(OPTION) || key.starts_with(IN_TURN)));
    state.work(move |shared| page(&headers, &reach_page(shared, asked)?)).await?
}

fn reach_page(shared: &Shared, asked: Pairs) -> Answer<ReachPage> {
    let mut faults = Vec::new();
    let mut table = None;
    // Nothing is worked out until something is asked for.
    let asks = |key: &str| ["weight", "remnant", "garment"].contains(&key);
    if asked.iter().any(|(key, value)| asks(key) && !value.trim().is_empty()) {
        match ReachAsked::of(&asked).and_then(|asked| asked.grid(shared)) {
            Ok(grid) => table = Some(grid.into()),
            Err(problem) => faults = views(&problem.faults),
        }
    }
    let typed = Posted(asked);
    let remnants = match &shared.workspace {
        Some(live) => {
            let now = live.now();
            let own = now.workspace.contents.remnants.iter().map(|own| Choice {
                value: own.id.clone(),
                label: format!("{}, {:.1} g", own.id, own.weight.grams()),
                chosen: typed.get("remnant") == own.id,
            });
            own.collect()
        }
        None => Vec::new(),
    };
    let shown = ["weight", "remnant", "garment", "sizes"];
    Ok(ReachPage {
        frame: Frame::new("What the yarn makes", "/machine"),
        faults,
        garments: garment_choices(shared, typed.get("garment")),
        sizes: typed.get("sizes").to_owned(),
        weight: typed.get("weight").to_owned(),
        remnants,
        hidden: typed.0.iter().filter(|(key, _)| !shown.contains(&&**key)).cloned().collect(),
        table,
    })
}
