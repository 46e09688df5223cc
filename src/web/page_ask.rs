//! What the query of a page asks for.

use std::sync::Arc;

use askama::Template;
use axum::http::HeaderMap;
use axum::response::Response;

use super::page_parts::page;
use super::problem::Answer;
use super::state::{Shared, State};
use app::{Ask, Pairs, pairs};
use script::Manifest;

/// What a page's query asks for. Fields of a garment chosen before are left out, and so are keys
/// that only pages know.
pub(super) fn asked(query: Option<String>) -> Answer<(Ask, Pairs)> {
    asked_of(pairs(&query.unwrap_or_default())?)
}

pub(super) fn asked_of(mut pairs: Pairs) -> Answer<(Ask, Pairs)> {
    let value = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.clone());
    if let (Some(before), Some(now)) = (value("for"), value("garment"))
        && before != now
    {
        pairs.retain(|(key, _)| !["o.", "fix.", "m."].iter().any(|family| key.starts_with(family)));
    }
    pairs.retain(|(key, _)| key != "for");
    Ok((Ask::from_pairs(&pairs)?, pairs))
}

/// Answers with what `make` makes of the query, in its turn.
pub(super) async fn show<T: Template>(
    state: State,
    headers: HeaderMap,
    query: Option<String>,
    make: impl FnOnce(&Shared, Ask) -> Answer<T> + Send + 'static,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    state.work(move |shared| page(&headers, &make(shared, ask)?)).await?
}

/// The garment asked for, or the first of all.
pub(super) fn with_garment(shared: &Shared, mut ask: Ask) -> Ask {
    let ids = shared.bench.garment_ids();
    let usual = ids.iter().find(|id| *id == "tam").or(ids.first());
    ask.garment = ask.garment.or(usual.cloned());
    ask
}

pub(super) fn manifest_of(shared: &Shared, ask: &Ask) -> Option<Arc<Manifest>> {
    let id = ask.garment().ok()?;
    shared.garment(id).ok().map(|(plugin, _)| plugin.manifest)
}
