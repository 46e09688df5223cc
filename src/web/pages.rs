//! The pages people see. A page is a template filled in; what it shows comes from `app` and
//! `report`, as what the interface for programs gives does.

use std::sync::Arc;

use askama::Template;
use axum::Router;
use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::api::{ChartWhich, all_garments, body_chart};
use super::assets::asset_url;
use super::format::CHART_SHEETS;
use super::grade_pages::{in_one_size, usual};
use super::page_ask::asked_of;
use super::page_form::{AskForm, Choice, garment_choices};
use super::page_parts::{FaultView, Frame, Link, TableView, links, page, views};
use super::problem::{Answer, Problem};
use super::reply::{kept, tag};
use super::run_view::{OneView, stamp};
use super::state::{Shared, State};
use app::{Ask, pairs};
use script::Manifest;

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/chart", get(chart))
        .route("/garments", get(garments))
        .route("/garments/{id}", get(garment))
        .route("/garments/{id}/picture", get(garment_stamp))
}

// ---- Size charts

#[derive(Template)]
#[template(path = "web/chart.html")]
struct ChartPage {
    frame: Frame,
    garments: Vec<Choice>,
    measures: Vec<Choice>,
    /// Whether body measures are charted, and no garment.
    of_body: bool,
    by_chest: bool,
    unit: &'static str,
    table: Option<TableView>,
    faults: Vec<FaultView>,
    sources: Vec<String>,
    downloads: Vec<Link>,
}

async fn chart(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut pairs = pairs(&query.unwrap_or_default())?;
    let which = ChartWhich::taken(&mut pairs);
    let (ask, _) = asked_of(pairs)?;
    state.work(move |shared| page(&headers, &chart_page(shared, &ask, &which)?)).await?
}

/// Which measures the page offers: the words of a chart, as people call them.
const MEASURE_CHOICES: [(&str, &str); 7] = [
    ("main", "The usual ones"),
    ("head", "Head"),
    ("torso", "Neck, trunk and arms"),
    ("hand", "Hand"),
    ("leg", "Leg"),
    ("foot", "Foot"),
    ("all", "All"),
];

fn chart_page(shared: &Shared, ask: &Ask, which: &ChartWhich) -> Answer<ChartPage> {
    let unit = shared.unit(ask)?;
    let sizes = ask.sizes.as_deref().unwrap_or("all");
    let chosen = which.measures.as_deref().unwrap_or("main");
    let measures = MEASURE_CHOICES.map(|(value, label)| Choice {
        value: value.to_owned(),
        label: label.to_owned(),
        chosen: value == chosen,
    });
    let own = [("measures", &which.measures), ("sized_by", &which.sized_by)];
    let own: Vec<(&str, &str)> = own
        .into_iter()
        .filter(|_| ask.garment.is_none())
        .filter_map(|(key, value)| Some((key, value.as_deref()?)))
        .collect();
    let mut view = ChartPage {
        frame: Frame::new("Size charts", "/chart"),
        garments: garment_choices(shared, ask.garment.as_deref().unwrap_or_default()),
        measures: measures.into(),
        of_body: ask.garment.is_none(),
        by_chest: which.sized_by.is_some(),
        unit: unit.symbol(),
        table: None,
        faults: Vec::new(),
        sources: Vec::new(),
        downloads: links("chart", CHART_SHEETS, &ask.query_with(&own)),
    };
    let table = match &ask.garment {
        Some(_) => shared.grade(ask).map(|graded| {
            let mut faults = graded.faults.clone();
            faults.extend(graded.run.refusals());
            view.faults = views(&faults);
            report::finished_chart(&graded.run, &[unit])
        }),
        None => body_chart(shared, which, sizes, &[unit])
            .map(|chart| {
                view.sources = chart.sources;
                chart.grid
            })
            .map_err(Problem::from),
    };
    match table {
        Ok(table) => view.table = Some(table.into()),
        Err(problem) => view.faults = views(&problem.faults),
    }
    Ok(view)
}

// ---- Garments

#[derive(Template)]
#[template(path = "web/garments.html")]
struct GarmentsPage {
    frame: Frame,
    looks: String,
    garments: Vec<GarmentLine>,
    faults: Vec<FaultView>,
}

struct GarmentLine {
    id: String,
    title: String,
    pair: bool,
    summary: String,
}

#[derive(Template)]
#[template(path = "web/garment.html")]
struct GarmentPage {
    frame: Frame,
    looks: String,
    turns: String,
    line: GarmentLine,
    version: String,
    measures: Vec<String>,
    structures: Vec<String>,
    sections: Vec<String>,
    options: Vec<super::page_form::OptionField>,
    faults: Vec<FaultView>,
    one: Option<OneView>,
}

impl From<&Manifest> for GarmentLine {
    fn from(manifest: &Manifest) -> Self {
        GarmentLine {
            id: manifest.id.clone(),
            title: manifest.title.clone(),
            pair: manifest.pair,
            summary: manifest.summary.clone(),
        }
    }
}

async fn garments(Extract(state): Extract<State>, headers: HeaderMap) -> Answer<Response> {
    state
        .work(move |shared| {
            let (plugins, mut faults) = all_garments(shared);
            for plugin in &plugins {
                faults.extend(shared.bench.garment_clash(&plugin.manifest.id));
            }
            let view = GarmentsPage {
                frame: Frame::new("Garments", "/garments"),
                looks: asset_url("grade.css"),
                garments: plugins.iter().map(|p| GarmentLine::from(&*p.manifest)).collect(),
                faults: views(&faults),
            };
            page(&headers, &view)
        })
        .await?
}

async fn garment(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Answer<Response> {
    state.work(move |shared| page(&headers, &garment_page(shared, &id)?)).await?
}

/// The garment's small picture for the list.
async fn garment_stamp(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Answer<Response> {
    let svg = state.work(move |shared| -> Answer<_> {
        shared.garment(&id).map_err(Problem::of_path)?;
        drawn_once(shared, &id)
    });
    let svg = svg.await??;
    let bytes = svg.as_bytes().to_vec();
    let tag = tag(&bytes);
    Ok(kept(&headers, "image/svg+xml", bytes, &tag, "private, max-age=3600"))
}

fn garment_page(shared: &Shared, id: &str) -> Answer<GarmentPage> {
    let (plugin, mut faults) = shared.garment(id).map_err(Problem::of_path)?;
    let manifest = &plugin.manifest;
    let (ask, one) = match usual(shared, id) {
        Ok((ask, one)) => (ask, Some(one)),
        Err(problem) => {
            faults.extend(problem.faults);
            (Ask { garment: Some(id.to_owned()), ..Ask::default() }, None)
        }
    };
    Ok(GarmentPage {
        frame: Frame::new(manifest.title.clone(), "/garments"),
        looks: asset_url("grade.css"),
        turns: asset_url("round.js"),
        line: GarmentLine::from(&**manifest),
        version: manifest.version.clone(),
        measures: manifest.measures.clone(),
        structures: manifest.structures.iter().map(ToString::to_string).collect(),
        sections: manifest.sections.iter().map(|section| section.title.clone()).collect(),
        options: AskForm::new(shared, &ask, Some(manifest)).options,
        faults: views(&faults),
        one,
    })
}

/// A garment in its usual size and the demo's stripes, as small as a stamp.
///
/// # Errors
/// There is no such garment, or it can't be knitted.
fn drawn_once(shared: &Shared, id: &str) -> Answer<Arc<str>> {
    if let Some(stamp) = shared.stamps.of(id) {
        return Ok(stamp);
    }
    let ask = Ask { garment: Some(id.to_owned()), ..Ask::default() };
    let (ask, graded) = in_one_size(shared, ask);
    let svg = stamp(shared, &ask, &graded?.run)?.svg();
    Ok(shared.stamps.keep(id, svg.into()))
}
