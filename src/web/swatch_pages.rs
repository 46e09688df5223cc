//! The swatch helper: a gauge from readings, with its error and what that moves.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::format::one_size;
use super::page_form::AskForm;
use super::page_parts::{FaultView, Frame, views};
use super::pages::{show, with_garment};
use super::problem::Answer;
use super::state::{Shared, State};
use app::{Ask, STRUCTURES};
use knit::grade::Finished;
use knit::program::Structure;
use knit::size_run::SizeRun;
use knit::swatch::Counted;
use units::LengthUnit;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/swatch", get(swatch)).route("/swatch/result", get(swatch_result))
}

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
        let at = |mm: f64| (100.0 + 100.0 * (mm - finished.target_mm) / span_mm).clamp(0.0, 200.0);
        let within = finished.within_mm();
        let (low, high) = (finished.mm - within, finished.mm + within);
        let tenth = |x: f64| (x * 10.0).round() / 10.0;
        MovedView {
            title: finished.title.clone(),
            target: unit.cell(finished.target_mm),
            size: unit.cell(finished.mm),
            error: unit.cell(within),
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
        for structure in STRUCTURES.iter().filter_map(|(_, name)| Structure::parse(name)) {
            let gauge = file.set.gauge(structure);
            let shown = |counted: Counted| {
                format!(
                    "{:.1} ± {:.2}",
                    counted.per_ten.per_mm() * over_mm,
                    counted.half_width() * over_mm / 100.0
                )
            };
            let share = |counted: Counted| format!("{:.1} %", counted.pitch.half_width() * 100.0);
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
        let reach = |f: &Finished| (f.mm - f.target_mm).abs() + f.within_mm();
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
    show(state, headers, query, |shared, ask| {
        let ask = for_swatch(shared, ask);
        Ok(SwatchPage {
            frame: Frame::new("Swatch", "/swatch"),
            form: AskForm::new(shared, &ask, None),
            result: SwatchView::new(shared, &ask),
        })
    })
    .await
}

async fn swatch_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    show(state, headers, query, |shared, ask| {
        let ask = for_swatch(shared, ask);
        Ok(SwatchPart { result: SwatchView::new(shared, &ask) })
    })
    .await
}
