//! The page on which a garment that is half knitted goes on: what has come out otherwise, what changes,
//! and back to the machine.

use askama::Template;
use axum::Router;
use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use axum::routing::get;

use super::carry_api::CarryAsked;
use super::page_parts::{FaultView, Frame, page, views};
use super::posted::Posted;
use super::problem::Answer;
use super::state::{Shared, State};
use app::Ask;
use knit::carry::CarriedOn;
use knit::swatch::SwatchSet;
use report::{CarryLines, said};
use script::FIX;

pub(super) fn routes() -> Router<State> {
    Router::new().route("/carry-on", get(carry_on))
}

#[derive(Template)]
#[template(path = "web/carry_on.html")]
struct CarryPage {
    frame: Frame,
    title: String,
    /// What the form sends along as it came.
    hidden: Vec<(String, String)>,
    stands: String,
    gauges: Vec<GaugeField>,
    extra_rows: String,
    broken: String,
    left: String,
    faults: Vec<FaultView>,
    result: Option<ResultView>,
    back: String,
}

/// A fabric of the garment, with what was typed of it.
struct GaugeField {
    /// The fabric, as a word.
    name: String,
    typed: String,
    /// What its swatch measured.
    swatch: String,
}

struct ResultView {
    lines: CarryLines,
    text: String,
    /// The same garment with all its numbers fixed, at the stop that comes next.
    machine: String,
}

async fn carry_on(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let asked = CarryAsked::read(query)?;
    state.work(move |shared| page(&headers, &carry_page(shared, &asked)?)).await?
}

fn carry_page(shared: &Shared, asked: &CarryAsked) -> Answer<CarryPage> {
    let ask = &asked.ask;
    let graded = shared.grade(ask)?;
    let (size, _) = super::format::one_size(&graded.run)?;
    let words = shared.words(ask)?;
    let title = said(words, &format!("{}, {}", graded.run.garment.title, size.body.label));
    let typed = Posted(asked.pairs.clone());
    let mut faults = Vec::new();
    let mut result = None;
    // Nothing is worked out until something is said of it.
    let keys = &asked.keys;
    if !keys.now.is_empty() || keys.extra_rows > 0 || keys.left.is_some() || keys.broken.is_some() {
        match asked.answer(shared).and_then(|carried| ResultView::of(shared, ask, &carried)) {
            Ok(view) => result = Some(view),
            Err(problem) => faults = views(&problem.faults),
        }
    }
    let typed_of = |name: &str| {
        let of = |text: &String| {
            let (fabric, counts) = text.split_once('=')?;
            (fabric.trim() == name).then(|| counts.trim().to_owned())
        };
        keys.now.iter().find_map(of).unwrap_or_default()
    };
    let gauges = graded
        .run
        .used_gauges()
        .map(|gauge| {
            let name = gauge.structure.name().to_owned();
            let swatch = swatch_words(&graded.run.swatches, gauge.structure);
            GaugeField { typed: typed_of(&name), name, swatch }
        })
        .collect();
    let hidden = asked.rest.iter().cloned();
    Ok(CarryPage {
        frame: Frame::new(format!("{title}: it has come out otherwise"), "/machine"),
        title,
        hidden: hidden.collect(),
        stands: typed.get("stands").to_owned(),
        gauges,
        extra_rows: typed.get("extra_rows").to_owned(),
        broken: typed.get("broken").to_owned(),
        left: typed.get("left").to_owned(),
        faults,
        result,
        back: format!("/machine?{}", ask.query()),
    })
}

fn swatch_words(set: &SwatchSet, structure: knit::program::Structure) -> String {
    let gauge = set.gauge(structure);
    let of = |count: knit::swatch::Counted| format!("{:.1}", count.per_ten.per_10_cm());
    format!("{} x {}", of(gauge.stitches), of(gauge.rows))
}

impl ResultView {
    fn of(shared: &Shared, ask: &Ask, carried: &CarriedOn) -> Answer<ResultView> {
        let look = shared.look(ask)?;
        let text = report::carry_text(carried, look, false);
        let (_, made) = super::format::one_size(&carried.after)?;
        let mut fixed = ask.clone();
        fixed.options.retain(|(name, _)| !name.starts_with(FIX));
        let decisions = &made.garment.decisions;
        fixed
            .options
            .extend(decisions.iter().map(|d| (format!("{FIX}{}", d.name), d.value.to_string())));
        let stop = report::walk(&carried.after, made, look.unit).stop_at(carried.at);
        Ok(ResultView {
            lines: report::carry_lines(carried, look),
            text,
            machine: format!("/machine?{}&at={stop}", fixed.query()),
        })
    }
}
