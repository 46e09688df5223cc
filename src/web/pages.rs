//! The pages people see. A page is a template filled in; what it shows comes from `app` and
//! `report`, as what the interface for programs gives does.

use askama::Template;
use axum::Router;
use axum::extract::{Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;

use super::api::{all_garments, body_chart, missing_garment};
use super::ask::{Ask, Pairs, pairs};
use super::assets::asset_url;
use super::format::{CHART_SHEETS, PATTERN_SHEETS, PICTURES, RUN_SHEETS, Sheet, one_size};
use super::page_form::{AskForm, Choice};
use super::place_api::place_id;
use super::problem::{Answer, Problem};
use super::reply::tagged;
use super::state::{Graded, Shared, State};
use crate::diag::{Diagnostic, Diagnostics, harmless};
use crate::knit::grade::Finished;
use crate::knit::size_run::{SizeResult, SizeRun};
use crate::report::{self, Stop, Walk};
use crate::script::Manifest;
use crate::units::LengthUnit;

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/", get(async || Redirect::to("/grade")))
        .route("/grade", get(grade))
        .route("/grade/result", get(grade_result))
        .route("/machine", get(machine))
        .route("/swatch", get(swatch))
        .route("/swatch/result", get(swatch_result))
        .route("/chart", get(chart))
        .route("/garments", get(garments))
        .route("/garments/{id}", get(garment))
}

/// What every page has round it.
pub(super) struct Frame {
    pub title: String,
    pub nav: Vec<NavLink>,
    pub css: String,
    pub mark: String,
    pub theme_js: String,
    pub form_js: String,
    pub machine_js: String,
}

pub(super) struct NavLink {
    pub href: &'static str,
    pub label: &'static str,
    pub current: bool,
}

/// Only what works has a place here.
const NAV: [(&str, &str); 5] = [
    ("/grade", "Grade"),
    ("/machine", "At the machine"),
    ("/swatch", "Swatch"),
    ("/chart", "Size charts"),
    ("/garments", "Garments"),
];

impl Frame {
    pub fn new(title: impl Into<String>, current: &str) -> Frame {
        Frame {
            title: title.into(),
            nav: NAV
                .iter()
                .map(|(href, label)| NavLink { href, label, current: *href == current })
                .collect(),
            css: asset_url("paper.css"),
            mark: asset_url("mark.svg"),
            theme_js: asset_url("theme.js"),
            form_js: asset_url("form.js"),
            machine_js: asset_url("machine.js"),
        }
    }
}

/// A fault as a person reads it.
struct FaultView {
    warning: bool,
    message: String,
    /// File, line and column.
    place: String,
    line: String,
    /// Blanks and carets below the line.
    caret: String,
    context: String,
    hints: Vec<String>,
}

impl From<&Diagnostic> for FaultView {
    fn from(fault: &Diagnostic) -> Self {
        let place = fault.place.as_ref();
        let caret = place.map_or_else(String::new, |place| {
            let most = place.line_text.chars().count().saturating_sub(place.column - 1).max(1);
            format!("{}{}", " ".repeat(place.column - 1), "^".repeat(place.length.clamp(1, most)))
        });
        FaultView {
            warning: fault.severity == crate::diag::Severity::Warning,
            message: harmless(&fault.message).into_owned(),
            place: place.map_or_else(String::new, ToString::to_string),
            line: place.map_or_else(String::new, |p| {
                harmless(&p.line_text.replace('\t', " ")).into_owned()
            }),
            caret,
            context: fault.context.join(", "),
            hints: fault.hints.iter().map(|hint| harmless(hint).into_owned()).collect(),
        }
    }
}

fn views(faults: &Diagnostics) -> Vec<FaultView> {
    faults.iter().map(FaultView::from).collect()
}

struct TableView {
    title: String,
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
    wordy: bool,
}

impl From<report::Grid> for TableView {
    fn from(grid: report::Grid) -> Self {
        TableView { title: grid.title, headings: grid.headings, rows: grid.rows, wordy: grid.wordy }
    }
}

struct Link {
    label: String,
    href: String,
}

pub(super) fn html(page: &impl Template) -> Response {
    match page.render() {
        Ok(text) => with_type(StatusCode::OK, text),
        Err(error) => {
            tracing::error!(%error, "a page could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn with_type(status: StatusCode, text: String) -> Response {
    let kind = HeaderValue::from_static(HTML);
    (status, [(header::CONTENT_TYPE, kind)], text).into_response()
}

const HTML: &str = "text/html; charset=utf-8";

/// A page with a tag of its bytes.
fn page(headers: &HeaderMap, page: &impl Template) -> Answer<Response> {
    let text = page.render().map_err(|error| {
        let fault =
            Diagnostic::error("internal", format!("the page could not be written: {error}"));
        Problem::new(StatusCode::INTERNAL_SERVER_ERROR, fault)
    })?;
    Ok(tagged(headers, HTML, text.into_bytes()))
}

#[derive(Template)]
#[template(path = "web/problem.html")]
struct ProblemPage {
    frame: Frame,
    faults: Vec<FaultView>,
}

/// A problem as a page.
pub(super) fn problem_page(problem: &Problem) -> Response {
    let title = problem.status.canonical_reason().unwrap_or("Problem");
    let page = ProblemPage { frame: Frame::new(title, ""), faults: views(&problem.faults) };
    let mut response = html(&page);
    *response.status_mut() = problem.status;
    if let Some(seconds) = problem.retry_after {
        response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
    }
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// What a page's query asks for. Fields of a garment chosen before are left out, and so are keys
/// that only pages know.
fn asked(query: Option<String>) -> Answer<(Ask, Pairs)> {
    let mut pairs = pairs(&query.unwrap_or_default())?;
    let value = |key: &str| pairs.iter().find(|(k, _)| k == key).map(|(_, v)| v.clone());
    if let (Some(before), Some(now)) = (value("for"), value("garment"))
        && before != now
    {
        pairs.retain(|(key, _)| !key.starts_with("o.") && !key.starts_with("m."));
    }
    pairs.retain(|(key, _)| key != "for");
    Ok((Ask::from_pairs(&pairs)?, pairs))
}

/// The garment asked for, or the first of all.
fn with_garment(shared: &Shared, mut ask: Ask) -> Ask {
    let ids = shared.bench.garment_ids();
    let usual = ids.iter().find(|id| *id == "tam").or(ids.first());
    ask.garment = ask.garment.or(usual.cloned());
    ask
}

fn manifest_of(shared: &Shared, ask: &Ask) -> Option<std::sync::Arc<Manifest>> {
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
    fn new(shared: &Shared, ask: &Ask) -> RunView {
        match shared.grade(ask).and_then(|graded| RunView::of(ask, &graded)) {
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

    fn of(ask: &Ask, graded: &Graded) -> Answer<RunView> {
        let run = &graded.run;
        let unit = ask.unit()?;
        let mut faults = graded.faults.clone();
        faults.extend(run.warnings.clone());
        let good = run.good().count();
        let query = ask.query();
        Ok(RunView {
            title: format!(
                "{}{}",
                run.garment.title,
                if run.garment.pair { ", a pair" } else { "" }
            ),
            summary: format!("{good} of {} sizes can be knitted.", run.sizes.len()),
            faults: views(&faults),
            tables: report::grade_tables(run, unit).into_iter().map(TableView::from).collect(),
            notes: report::grade_notes(run, unit),
            refusals: views(&run.refusals()),
            pictures: pictures(run, ask),
            downloads: links("grade", RUN_SHEETS, &query),
            patterns: if good > 0 { links("pattern", PATTERN_SHEETS, &query) } else { Vec::new() },
            machine_links: machine_links(run, ask),
            share: format!("/grade?{query}"),
        })
    }
}

fn links(what: &str, sheets: &[Sheet], query: &str) -> Vec<Link> {
    let link = |sheet: &Sheet| Link {
        label: sheet.label().to_owned(),
        href: format!("/api/v1/{what}?{query}&format={}&download", sheet.name()),
    };
    sheets.iter().map(link).collect()
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
    let (ask, _) = asked(query)?;
    state
        .work(move |shared| {
            let ask = with_garment(shared, ask);
            let manifest = manifest_of(shared, &ask);
            let view = GradePage {
                frame: Frame::new("Grade", "/grade"),
                form: AskForm::new(shared, &ask, manifest.as_deref()),
                result: RunView::new(shared, &ask),
            };
            page(&headers, &view)
        })
        .await?
}

async fn grade_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    state
        .work(move |shared| {
            let ask = with_garment(shared, ask);
            page(&headers, &RunPart { result: RunView::new(shared, &ask) })
        })
        .await?
}

// ---- At the machine

#[derive(Template)]
#[template(path = "web/machine.html")]
struct MachinePage {
    frame: Frame,
    title: String,
    place: String,
    /// Without the stop: the address of this piece.
    query: String,
    walk_url: String,
    lasting: bool,
    at: usize,
    of: usize,
    rows: u32,
    stop: Option<StopView>,
    next: Vec<StopView>,
    back: Option<String>,
    forward: Option<String>,
    grade: String,
}

#[derive(Template)]
#[template(path = "web/machine_choose.html")]
struct MachineChoose {
    frame: Frame,
    form: AskForm,
    faults: Vec<FaultView>,
    begun: Vec<Begun>,
}

struct Begun {
    title: String,
    href: String,
    done: String,
}

struct StopView {
    piece: String,
    counter: String,
    side: &'static str,
    deeds: Vec<(String, String)>,
    pass: String,
}

impl StopView {
    fn of(walk: &Walk, stop: &Stop) -> StopView {
        let piece = stop.piece.and_then(|piece| walk.pieces.get(piece as usize));
        StopView {
            piece: piece.map_or_else(|| "Finishing".to_owned(), |piece| piece.title.clone()),
            counter: if piece.is_some() { format!("{:03}", stop.counter.0) } else { "---".into() },
            side: if piece.is_some() { stop.carriage.0.name() } else { "off" },
            deeds: stop
                .deeds
                .iter()
                .map(|deed| {
                    let what = deed.deed.map_or("note", report::deed_name);
                    (what.to_owned(), deed.text.clone())
                })
                .collect(),
            pass: stop.pass.as_ref().map_or_else(String::new, |pass| pass.text.clone()),
        }
    }
}

async fn machine(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, pairs) = asked(query)?;
    let at = pairs.iter().find(|(key, _)| key == "at").and_then(|(_, v)| v.parse().ok());
    state
        .work(move |shared| {
            if ask.garment.is_some()
                && (ask.sizes.is_some() || !ask.measures.is_empty())
                && let Ok(view) = machine_page(shared, &ask, at)
            {
                return page(&headers, &view);
            }
            page(&headers, &machine_choose(shared, ask))
        })
        .await?
}

fn machine_page(shared: &Shared, ask: &Ask, at: Option<usize>) -> Answer<MachinePage> {
    let graded = shared.grade(ask)?;
    let run = &graded.run;
    let (size, made) = one_size(run)?;
    let unit = ask.unit()?;
    let walk = report::walk(run, made, unit);
    let place = place_id(ask);
    let of = walk.stops.len();
    let kept = shared.places.get(&place).map(|place| place.stop as usize);
    let at = at.or(kept).unwrap_or(0).min(of);
    let title = format!("{}, {}", run.garment.title, size.body.label);
    let query = ask.query();
    let to = |at: usize| format!("/machine?{query}&at={at}");
    Ok(MachinePage {
        frame: Frame::new(title.clone(), "/machine"),
        title,
        place,
        walk_url: format!("/api/v1/walk?{query}"),
        lasting: shared.places.lasting(),
        at,
        of,
        rows: walk.rows,
        stop: walk.stops.get(at).map(|stop| StopView::of(&walk, stop)),
        next: walk.stops.iter().skip(at + 1).take(3).map(|s| StopView::of(&walk, s)).collect(),
        back: at.checked_sub(1).map(to),
        forward: (at < of).then(|| to(at + 1)),
        grade: format!("/grade?{query}"),
        query,
    })
}

fn machine_choose(shared: &Shared, ask: Ask) -> MachineChoose {
    let asked = ask.garment.is_some() && (ask.sizes.is_some() || !ask.measures.is_empty());
    let faults = if asked {
        machine_page(shared, &ask, None).err().map(|problem| views(&problem.faults))
    } else {
        None
    };
    let mut ask = with_garment(shared, ask);
    ask.sizes = ask.sizes.or_else(|| Some("women-m".to_owned()));
    let manifest = manifest_of(shared, &ask);
    let begun = shared
        .places
        .all()
        .into_iter()
        .filter(|(_, place)| place.stop > 0)
        .map(|(_, place)| Begun {
            href: format!("/machine?{}", place.query),
            done: format!("{} of {} steps", place.stop, place.of),
            title: place.title,
        })
        .collect();
    MachineChoose {
        frame: Frame::new("At the machine", "/machine"),
        form: AskForm::new(shared, &ask, manifest.as_deref()),
        faults: faults.unwrap_or_default(),
        begun,
    }
}

// ---- Swatch

#[derive(Template)]
#[template(path = "web/swatch.html")]
struct SwatchPage {
    frame: Frame,
    form: AskForm,
    result: SwatchView,
}

#[derive(Template)]
#[template(path = "web/swatch_result.html")]
struct SwatchPart {
    result: SwatchView,
}

struct SwatchView {
    summary: String,
    faults: Vec<FaultView>,
    gauges: Vec<GaugeView>,
    over: &'static str,
    unit: &'static str,
    title: String,
    moved: Vec<MovedView>,
    demo: bool,
    share: String,
    grade: String,
}

struct GaugeView {
    structure: String,
    stitches: String,
    rows: String,
    state: String,
    /// Standard errors as shares.
    stitches_share: String,
    rows_share: String,
}

/// A finished measure and how the gauge's error moves it.
struct MovedView {
    title: String,
    target: String,
    size: String,
    error: String,
    low: String,
    high: String,
    /// The interval on a scale of 0 to 200 about the target at 100.
    x_low: f64,
    width: f64,
    x: f64,
}

impl MovedView {
    /// `span_mm` is half the scale.
    fn of(finished: &Finished, unit: LengthUnit, span_mm: f64) -> MovedView {
        /// Two in three lie within one standard error, nineteen in twenty within two.
        const WIDE: f64 = 2.0;
        let at = |mm: f64| (100.0 + 100.0 * (mm - finished.target_mm) / span_mm).clamp(0.0, 200.0);
        let (low, high) =
            (finished.mm - WIDE * finished.error_mm, finished.mm + WIDE * finished.error_mm);
        let tenth = |x: f64| (x * 10.0).round() / 10.0;
        MovedView {
            title: finished.title.clone(),
            target: unit.cell(finished.target_mm),
            size: unit.cell(finished.mm),
            error: unit.cell(finished.error_mm),
            low: unit.cell(low),
            high: unit.cell(high),
            x_low: tenth(at(low)),
            width: tenth((at(high) - at(low)).max(1.0)),
            x: tenth(at(finished.mm)),
        }
    }
}

impl SwatchView {
    fn new(shared: &Shared, ask: &Ask) -> SwatchView {
        let unit = ask.unit().unwrap_or_default();
        let (over, over_mm) = unit.gauge_over();
        let mut view = SwatchView {
            summary: String::new(),
            faults: Vec::new(),
            gauges: Vec::new(),
            over,
            unit: unit.symbol(),
            title: String::new(),
            moved: Vec::new(),
            demo: ask.swatch.is_none(),
            share: format!("/swatch?{}", ask.query()),
            grade: format!("/grade?{}", Ask { sizes: None, ..ask.clone() }.query()),
        };
        let (file, machine) = match shared.swatch(ask) {
            Ok(found) => found,
            Err(faults) => {
                view.faults = views(&faults);
                "These readings give no gauge yet.".clone_into(&mut view.summary);
                return view;
            }
        };
        let mut warnings = file.warnings.clone();
        warnings.extend(file.set.suits(machine));
        view.faults = views(&warnings);
        for structure in super::ask::STRUCTURES
            .iter()
            .filter_map(|(_, name)| crate::knit::program::Structure::parse(name))
        {
            let gauge = file.set.gauge(structure);
            let shown = |counted: crate::knit::swatch::Counted| {
                format!(
                    "{:.1} ± {:.2}",
                    counted.per_ten.per_mm() * over_mm,
                    counted.standard_error * over_mm / 100.0
                )
            };
            let share = |counted: crate::knit::swatch::Counted| {
                format!("{:.1} %", counted.relative_error() * 100.0)
            };
            view.gauges.push(GaugeView {
                structure: structure.to_string(),
                stitches: shown(gauge.stitches),
                rows: shown(gauge.rows),
                state: gauge.measured.map_or("estimated from plain", |s| s.name()).to_owned(),
                stitches_share: share(gauge.stitches),
                rows_share: share(gauge.rows),
            });
        }
        "The gauge is worked out.".clone_into(&mut view.summary);
        match shared.grade(ask).and_then(|graded| view.moved_by(&graded.run, unit)) {
            Ok(()) => {}
            Err(problem) => view.faults.extend(views(&problem.faults)),
        }
        view
    }

    fn moved_by(&mut self, run: &SizeRun, unit: LengthUnit) -> Answer<()> {
        let (size, made) = one_size(run)?;
        self.title = format!("{}, {}", run.garment.title, size.body.label);
        let reach = |f: &Finished| (f.mm - f.target_mm).abs() + 2.0 * f.error_mm;
        let span = made.graded.finished.iter().map(reach).fold(1.0, f64::max);
        let moved = made.graded.finished.iter().map(|f| MovedView::of(f, unit, span));
        self.moved = moved.collect();
        Ok(())
    }
}

/// A swatch is looked at with one size in mind.
fn for_swatch(shared: &Shared, ask: Ask) -> Ask {
    let mut ask = with_garment(shared, ask);
    ask.measures.clear();
    ask.sizes = ask.sizes.or_else(|| Some("women-m".to_owned()));
    ask
}

async fn swatch(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    state
        .work(move |shared| {
            let ask = for_swatch(shared, ask);
            let view = SwatchPage {
                frame: Frame::new("Swatch", "/swatch"),
                form: AskForm::new(shared, &ask, None),
                result: SwatchView::new(shared, &ask),
            };
            page(&headers, &view)
        })
        .await?
}

async fn swatch_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    state
        .work(move |shared| {
            let ask = for_swatch(shared, ask);
            page(&headers, &SwatchPart { result: SwatchView::new(shared, &ask) })
        })
        .await?
}

// ---- Size charts

#[derive(Template)]
#[template(path = "web/chart.html")]
struct ChartPage {
    frame: Frame,
    garments: Vec<Choice>,
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
    let (ask, _) = asked(query)?;
    state.work(move |shared| page(&headers, &chart_page(shared, &ask)?)).await?
}

fn chart_page(shared: &Shared, ask: &Ask) -> Answer<ChartPage> {
    let unit = ask.unit()?;
    let sizes = ask.sizes.as_deref().unwrap_or("all");
    let mut view = ChartPage {
        frame: Frame::new("Size charts", "/chart"),
        garments: AskForm::new(shared, ask, None).garments,
        unit: unit.symbol(),
        table: None,
        faults: Vec::new(),
        sources: Vec::new(),
        downloads: links("chart", CHART_SHEETS, &ask.query()),
    };
    let table = match &ask.garment {
        Some(_) => shared.grade(ask).map(|graded| {
            let mut faults = graded.faults.clone();
            faults.extend(graded.run.refusals());
            view.faults = views(&faults);
            report::finished_chart(&graded.run, &[unit])
        }),
        None => body_chart(shared, sizes, &[unit])
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
    let (plugin, mut faults) = shared.garment(id).map_err(missing_garment)?;
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
