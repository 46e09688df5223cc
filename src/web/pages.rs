//! The pages people see. A page is a template filled in; what it shows comes from `app` and
//! `report`, as what the interface for programs gives does.

use askama::Template;
use axum::Router;
use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::{Redirect, Response};
use axum::routing::get;

use super::api::{ChartWhich, all_garments, body_chart};
use super::format::{CHART_SHEETS, PATTERN_SHEETS, PICTURES, RUN_SHEETS};
use super::page_form::{AskForm, Choice, garment_choices};
use super::page_parts::{FaultView, Frame, Link, TableView, links, page, views};
use super::problem::{Answer, Problem};
use super::state::{Graded, Shared, State};
use app::{Ask, Pairs, pairs};
use knit::size_run::{SizeResult, SizeRun};
use script::{FIX, Manifest};

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/", get(async || Redirect::to("/grade")))
        .route("/grade", get(grade))
        .route("/grade/result", get(grade_result))
        .route("/chart", get(chart))
        .route("/garments", get(garments))
        .route("/garments/{id}", get(garment))
}

/// What a page's query asks for. Fields of a garment chosen before are left out, and so are keys
/// that only pages know.
pub(super) fn asked(query: Option<String>) -> Answer<(Ask, Pairs)> {
    asked_of(pairs(&query.unwrap_or_default())?)
}

fn asked_of(mut pairs: Pairs) -> Answer<(Ask, Pairs)> {
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

pub(super) fn manifest_of(shared: &Shared, ask: &Ask) -> Option<std::sync::Arc<Manifest>> {
    let id = ask.garment().ok()?;
    shared.garment(id).ok().map(|(plugin, _)| plugin.manifest)
}

// ---- Grade

#[derive(Template)]
#[template(path = "web/grade.html")]
struct GradePage {
    frame: Frame,
    form: AskForm,
    result: RunView,
}

#[derive(Template)]
#[template(path = "web/run.html")]
struct RunPart {
    result: RunView,
}

/// A graded run, or why there is none.
struct RunView {
    title: String,
    /// One sentence for those who don't see the page change.
    summary: String,
    faults: Vec<FaultView>,
    tables: Vec<TableView>,
    notes: Vec<String>,
    refusals: Vec<FaultView>,
    pictures: Vec<PictureView>,
    downloads: Vec<Link>,
    patterns: Vec<Link>,
    machine_links: Vec<Link>,
    share: String,
}

struct PictureView {
    caption: &'static str,
    /// What it shows, for those who don't see it.
    about: String,
    src: String,
}

impl RunView {
    fn new(shared: &Shared, ask: &Ask, graded: Result<Graded, Problem>) -> RunView {
        match graded.and_then(|graded| RunView::of(shared, ask, &graded)) {
            Ok(view) => view,
            Err(problem) => RunView {
                title: "Not graded".to_owned(),
                summary: "It can't be graded like this.".to_owned(),
                faults: views(&problem.faults),
                tables: Vec::new(),
                notes: Vec::new(),
                refusals: Vec::new(),
                pictures: Vec::new(),
                downloads: Vec::new(),
                patterns: Vec::new(),
                machine_links: Vec::new(),
                share: String::new(),
            },
        }
    }

    fn of(shared: &Shared, ask: &Ask, graded: &Graded) -> Answer<RunView> {
        let run = &graded.run;
        let (unit, words) = (ask.unit()?, shared.words(ask)?);
        let mut faults = graded.faults.clone();
        faults.extend(run.warnings.clone());
        let good = run.good().count();
        let query = ask.query();
        Ok(RunView {
            title: report::said(
                words,
                &format!("{}{}", run.garment.title, if run.garment.pair { ", a pair" } else { "" }),
            ),
            summary: format!("{good} of {} sizes can be knitted.", run.sizes.len()),
            faults: views(&faults),
            tables: report::grade_tables(run, unit)
                .into_iter()
                .map(|grid| TableView::from(grid.in_words(words)))
                .collect(),
            notes: report::fixed_of(run)
                .into_iter()
                .chain(report::grade_notes(run, unit))
                .map(|note| report::said(words, &note))
                .collect(),
            refusals: views(&run.refusals()),
            pictures: pictures(run, ask),
            downloads: links("grade", RUN_SHEETS, &query),
            patterns: if good > 0 { links("pattern", PATTERN_SHEETS, &query) } else { Vec::new() },
            machine_links: machine_links(run, ask),
            share: format!("/grade?{query}"),
        })
    }
}

/// A way to the machine for each size that can be knitted.
fn machine_links(run: &SizeRun, ask: &Ask) -> Vec<Link> {
    run.good()
        .map(|(size, _)| {
            let own = Ask { sizes: own_size(size), ..ask.clone() };
            Link { label: size.body.label.clone(), href: format!("/machine?{}", own.query()) }
        })
        .collect()
}

/// How to ask for this size alone; someone made to measure is asked for by measures.
fn own_size(size: &SizeResult) -> Option<String> {
    (!size.is_person && !size.body.values.is_empty()).then(|| size.body.id.to_string())
}

/// The pictures of a run: all of one size, of several those that show them together.
fn pictures(run: &SizeRun, ask: &Ask) -> Vec<PictureView> {
    if run.good().next().is_none() {
        return Vec::new();
    }
    let alone = run.sizes.len() == 1;
    PICTURES
        .iter()
        .filter(|(_, _, of_one)| alone || !of_one)
        .map(|(name, caption, _)| PictureView {
            caption,
            about: format!("{caption} of the {}", run.garment.title.to_lowercase()),
            src: format!("/api/v1/pattern?{}&format=svg&picture={name}", ask.query()),
        })
        .collect()
}

async fn grade(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    show(state, headers, query, |shared, ask| {
        let ask = with_garment(shared, ask);
        let manifest = manifest_of(shared, &ask);
        let graded = shared.grade(&ask);
        let run = graded.as_ref().ok().map(|graded| &graded.run);
        let free = run.and_then(|run| unfixed(shared, &ask, run));
        let run = free.as_ref().map(|graded| &graded.run).or(run);
        let form = AskForm::new(shared, &ask, manifest.as_deref()).deciding(&ask, run);
        let frame = Frame::new("Grade", "/grade");
        Ok(GradePage { frame, form, result: RunView::new(shared, &ask, graded) })
    })
    .await
}

/// What came of the same request with nothing fixed, where what is fixed can't be: a form shows its
/// numbers.
fn unfixed(shared: &Shared, ask: &Ask, run: &SizeRun) -> Option<Graded> {
    let fixed = |(name, _): &(String, String)| name.starts_with(FIX);
    if run.good().next().is_some() || !ask.options.iter().any(fixed) {
        return None;
    }
    let mut free = ask.clone();
    free.options.retain(|choice| !fixed(choice));
    shared.grade(&free).ok()
}

async fn grade_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    show(state, headers, query, |shared, ask| {
        let ask = with_garment(shared, ask);
        let graded = shared.grade(&ask);
        Ok(RunPart { result: RunView::new(shared, &ask, graded) })
    })
    .await
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
    let unit = ask.unit()?;
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
    line: GarmentLine,
    version: String,
    measures: Vec<String>,
    structures: Vec<String>,
    sections: Vec<String>,
    options: Vec<super::page_form::OptionField>,
    faults: Vec<FaultView>,
    pictures: Vec<PictureView>,
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

fn garment_page(shared: &Shared, id: &str) -> Answer<GarmentPage> {
    let (plugin, mut faults) = shared.garment(id).map_err(Problem::of_path)?;
    let manifest = &plugin.manifest;
    let size = shared.bench.middle_size().map(|size| size.id.to_string());
    let ask = Ask { garment: Some(id.to_owned()), sizes: size, ..Ask::default() };
    let pictures = match shared.grade(&ask) {
        Ok(graded) => {
            faults.extend(graded.run.refusals());
            pictures(&graded.run, &ask)
        }
        Err(problem) => {
            faults.extend(problem.faults);
            Vec::new()
        }
    };
    Ok(GarmentPage {
        frame: Frame::new(manifest.title.clone(), "/garments"),
        line: GarmentLine::from(&**manifest),
        version: manifest.version.clone(),
        measures: manifest.measures.clone(),
        structures: manifest.structures.iter().map(ToString::to_string).collect(),
        sections: manifest.sections.iter().map(|section| section.title.clone()).collect(),
        options: AskForm::new(shared, &ask, Some(manifest)).options,
        faults: views(&faults),
        pictures,
    })
}
