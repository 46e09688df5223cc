//! The swatch helper: a gauge from readings, with its error and what that moves; and the readings saved
//! as a swatch of the workspace.

use askama::Template;
use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, RawQuery, State as Extract};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};

use super::entry_pages::{Sort, list_page, unkept, went};
use super::format::one_size;
use super::gift_top::Slip;
use super::page_ask::with_garment;
use super::page_form::{AskForm, Choice};
use super::page_parts::{FaultView, Frame, html, page, views};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::rests::new_key;
use super::state::{Shared, State};
use app::{Ask, Pairs, STRUCTURES, SwatchAsk, pairs};
use diag::{Code, Diagnostic, Diagnostics};
use knit::grade::Finished;
use knit::program::Structure;
use knit::size_run::SizeRun;
use knit::swatch::Counted;
use serde_json::Value;
use store::workspace::{EntryKind, EntryName, Fields, Given, tag};
use units::LengthUnit;

pub(super) fn routes() -> Router<State> {
    Router::new()
        .route("/swatch", get(swatch))
        .route("/swatch/result", get(swatch_result))
        .route("/swatch/save", post(save))
}

#[derive(Template)]
#[template(path = "web/swatch.html")]
struct SwatchPage {
    frame: Frame,
    form: AskForm,
    result: SwatchView,
    /// What could not be saved, and why.
    faults: Vec<FaultView>,
    /// How it is saved; none: the server has no workspace.
    saving: Option<SavingView>,
}

/// How readings are saved.
struct SavingView {
    slip: Slip,
    id: String,
    /// The swatch that is changed, and its tag; empty: a new one.
    edit: String,
    tag: String,
    name: String,
    yarns: Vec<Choice>,
    back: String,
}

/// What the page alone knows of: what else is asked for is a gauge.
const OWN_KEYS: [&str; 8] = ["id", "edit", "of_yarn", "back", "tag", "seen", "once", "what"];

/// All that was sent, and what of it asks for a gauge.
fn parted(all: Pairs) -> (Posted, Pairs) {
    let of_gauge = |(key, _): &&(String, String)| !OWN_KEYS.contains(&key.as_str());
    let rest = all.iter().filter(of_gauge).cloned().collect();
    (Posted(all), rest)
}

impl SavingView {
    fn of(shared: &Shared, own: &Posted) -> Answer<Option<SavingView>> {
        let Some(live) = &shared.workspace else { return Ok(None) };
        let now = live.now();
        let contents = &now.workspace.contents;
        let edit = own.get("edit");
        let known = contents.swatches.get(edit);
        let edit = known.map_or("", |_| edit);
        let of_yarn = |id: &str, swatches: &[String]| match own.get("of_yarn") {
            "" => !edit.is_empty() && swatches.iter().any(|own| own == edit),
            chosen => chosen == id,
        };
        let yarns = contents.yarns.iter().map(|(id, yarn)| Choice {
            value: id.clone(),
            label: yarn.name.clone(),
            chosen: of_yarn(id, &yarn.swatches),
        });
        let typed = |key: &str, else_by: &str| match own.get(key) {
            "" => else_by.to_owned(),
            typed => typed.to_owned(),
        };
        let yarn = own.get("of_yarn");
        let tag = match own.get("tag") {
            "" if !edit.is_empty() => {
                tag(contents, &EntryName::new(EntryKind::Swatch, edit)).unwrap_or_default()
            }
            typed => typed.to_owned(),
        };
        Ok(Some(SavingView {
            slip: Slip {
                number: now.workspace.state.clone(),
                once: new_key()?,
                back: String::new(),
            },
            // A new one may be called as its yarn.
            id: typed(
                "id",
                if edit.is_empty() && !contents.swatches.contains_key(yarn) { yarn } else { edit },
            ),
            name: typed("swatch_name", known.map_or("", |file| file.name.as_str())),
            tag,
            edit: edit.to_owned(),
            yarns: yarns.collect(),
            back: if own.get("back") == "start" { "start".to_owned() } else { String::new() },
        }))
    }
}

/// A swatch of the workspace as the form can hold it.
///
/// # Errors
/// None of that id; several of one fabric, or of one that the form lacks.
fn noted(shared: &Shared, id: &str) -> Answer<SwatchAsk> {
    let live = shared.live().map_err(Problem::of_path)?;
    let found =
        live.edit().entry(&EntryName::new(EntryKind::Swatch, id)).map_err(Problem::of_path)?;
    let seen = found.ok_or_else(|| {
        let fault = format!("there is no swatch `{id}`");
        Problem::of_path(Diagnostic::error(Code::NoSwatch, fault).hint("see /swatches"))
    })?;
    let mut values = serde_json::to_value(&seen.values).unwrap_or_default();
    let all = values["swatch"].as_array_mut();
    // That a weight is right is said again where it is odd.
    all.into_iter()
        .flatten()
        .filter_map(Value::as_object_mut)
        .for_each(|own| drop(own.remove("sure")));
    let odd = || {
        Diagnostic::error(Code::Swatch, format!("`{id}` has swatches that this form can't show"))
            .hint("change it in its file in the folder swatches")
    };
    let ask: SwatchAsk = serde_json::from_value(values).map_err(|_| odd())?;
    let once =
        |(_, name): &(&str, &str)| ask.swatches.iter().filter(|own| own.structure == *name).count();
    let shown: usize = STRUCTURES.iter().map(once).sum();
    if shown < ask.swatches.len() || STRUCTURES.iter().any(|own| once(own) > 1) {
        return Err(odd().into());
    }
    Ok(ask)
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
    /// What stands in until readings are typed.
    stands_in: Option<String>,
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
            stands_in: None,
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
        view.stands_in = ask.swatch.is_none().then(|| file.name.clone());
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

/// What is asked for, of the swatch that is changed where no readings are.
fn meant(shared: &Shared, own: &Posted, pairs: &Pairs) -> Answer<Ask> {
    let mut ask = Ask::from_pairs(pairs)?;
    if ask.swatch.is_none() && !own.get("edit").is_empty() {
        let noted = noted(shared, own.get("edit"))?;
        ask.machine = ask.machine.or_else(|| noted.machine.clone());
        ask.swatch = Some(noted);
    }
    Ok(for_swatch(shared, ask))
}

fn swatch_page(
    shared: &Shared,
    ask: &Ask,
    own: &Posted,
    typed: Option<&Pairs>,
    faults: &Diagnostics,
) -> Answer<SwatchPage> {
    let mut form = AskForm::new(shared, ask, None);
    match typed {
        Some(typed) => form.typed(typed),
        // A yarn alone is no swatch yet, and yet where one begins.
        None if ask.swatch.is_none() => own.get("yarn").clone_into(&mut form.yarn),
        None => {}
    }
    Ok(SwatchPage {
        frame: Frame::new("Swatch", "/swatch"),
        form,
        result: SwatchView::new(shared, ask),
        faults: views(faults),
        saving: SavingView::of(shared, own)?,
    })
}

async fn swatch(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (own, pairs) = parted(pairs(&query.unwrap_or_default())?);
    state
        .work(move |shared| {
            // What can't be read stays in the form, with what is wrong with it.
            let (ask, faults) = match meant(shared, &own, &pairs) {
                Ok(ask) => (ask, Diagnostics::new()),
                Err(problem) if problem.status == StatusCode::UNPROCESSABLE_ENTITY => {
                    (for_swatch(shared, readable(&pairs)), problem.faults)
                }
                Err(problem) => return Err(problem),
            };
            let wrong = faults.has_errors();
            let view = swatch_page(shared, &ask, &own, Some(&pairs).filter(|_| wrong), &faults)?;
            if wrong {
                let mut response = html(&view);
                *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
                return Ok(response);
            }
            page(&headers, &view)
        })
        .await?
}

/// What is asked for beside the readings, where they can't be read.
fn readable(pairs: &Pairs) -> Ask {
    let plain = |(key, _): &&(String, String)| {
        ["garment", "sizes", "machine", "units"].contains(&key.as_str())
    };
    let kept: Pairs = pairs.iter().filter(plain).cloned().collect();
    Ask::from_pairs(&kept).unwrap_or_default()
}

async fn swatch_result(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (_, pairs) = parted(pairs(&query.unwrap_or_default())?);
    let ask = Ask::from_pairs(&pairs)?;
    state
        .work(move |shared| {
            let ask = for_swatch(shared, ask);
            page(&headers, &SwatchPart { result: SwatchView::new(shared, &ask) })
        })
        .await?
}

// ---- Saved

async fn save(
    Extract(state): Extract<State>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Answer<Response> {
    let (whole, readings) = parted(Posted::read(form, "the swatch")?.0);
    match saved(&state, &whole, &readings).await {
        Ok((did, warnings)) if warnings.is_empty() => {
            let to = if whole.get("back") == "start" { "/start" } else { "/swatches" };
            Ok(Redirect::to(&format!("{to}?did={did}")).into_response())
        }
        Ok((did, warnings)) => {
            let view = state
                .brief(move |shared| list_page(shared, Sort::Swatch, &warnings, did))
                .await??;
            Ok(unkept(html(&view)))
        }
        Err(problem) => {
            let status = problem.status;
            let view = state
                .work(move |shared| {
                    let ask = Ask::from_pairs(&readings).unwrap_or_else(|_| readable(&readings));
                    let ask = for_swatch(shared, ask);
                    swatch_page(shared, &ask, &whole, Some(&readings), &problem.faults)
                })
                .await??;
            let mut response = html(&view);
            *response.status_mut() = status;
            Ok(unkept(response))
        }
    }
}

async fn saved(
    state: &State,
    whole: &Posted,
    readings: &Pairs,
) -> Answer<(&'static str, Diagnostics)> {
    let ask = Ask::from_pairs(readings)?;
    let mut swatch = ask.swatch.filter(|swatch| !swatch.swatches.is_empty()).ok_or_else(|| {
        Diagnostic::error(Code::Swatch, "there are no readings to save")
            .hint("count the stitches between two marks, and measure how wide they are")
    })?;
    swatch.machine = ask.machine;
    let filled =
        |key: &str| Some(whole.get(key)).filter(|text| !text.is_empty()).map(str::to_owned);
    swatch.name = filled("swatch_name");
    let (edit, yarn) = (filled("edit"), filled("of_yarn"));
    let id = filled("id").or_else(|| edit.clone()).ok_or_else(|| {
        Diagnostic::error(Code::Id, "the swatch has no short name")
            .hint("use small letters, digits and `-`, such as `slate-plain`")
    })?;
    let (top, mut each) = swatch.fields()?;
    if let Some(old) = edit.clone() {
        let weights = state.brief(move |shared| sure_ones(shared, &old)).await??;
        keep_sure(&mut each, &weights);
    }
    let basis = whole.basis(edit.as_deref().map(|id| EntryName::new(EntryKind::Swatch, id)))?;
    let deed = state
        .edited(basis, move |change| {
            change.save_swatches(&id, edit.as_deref(), top, each, yarn.as_deref())
        })
        .await?;
    Ok(went(deed, "save"))
}

/// Fabrics whose weight was said to be right, with that weight.
fn sure_ones(shared: &Shared, id: &str) -> Answer<Vec<(String, String)>> {
    // What the form can't show, it can't put back.
    noted(shared, id)?;
    let live = shared.live().map_err(Problem::of_path)?;
    let found =
        live.edit().entry(&EntryName::new(EntryKind::Swatch, id)).map_err(Problem::of_path)?;
    let values = found.and_then(|seen| serde_json::to_value(&seen.values).ok()).unwrap_or_default();
    let text = |own: &Value, key: &str| own[key].as_str().unwrap_or_default().to_owned();
    let sure = values["swatch"].as_array().into_iter().flatten().filter(|own| own["sure"] == true);
    Ok(sure.map(|own| (text(own, "structure"), text(own, "weight"))).collect())
}

/// A weight that was right is right as long as it is the same.
fn keep_sure(each: &mut [Fields], weights: &[(String, String)]) {
    for fields in each {
        let text = |key: &str| {
            fields.iter().find(|(own, _)| own == key).and_then(|(_, given)| given.as_typed())
        };
        let own = text("structure").zip(text("weight"));
        if own.is_some_and(|own| weights.contains(&own)) {
            fields.push(("sure".to_owned(), Given::Flag(true)));
        }
    }
}
