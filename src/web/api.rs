//! The interface for programs: each answer is what a command prints, or the data behind it.

use std::sync::OnceLock;

use axum::extract::rejection::JsonRejection;
use axum::extract::{Json, Path, RawQuery, State as Extract};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::format::{
    CHART_SHEETS, PATTERN_SHEETS, RUN_SHEETS, Sheet, clean, is_long, one_size, table_format,
    write_pattern, write_run,
};
use super::problem::{Answer, Problem, ProblemBody, Refusals};
use super::query::{AskQuery, QueryKey, Told};
use super::reply::{PRIVATE, download, kept, tag, tagged};
use super::state::{Shared, State};
use app::{Ask, SwatchAsk, pairs};
use diag::{Code, Diagnostic, Diagnostics};
use knit::body::{BodyPart, Measure, MeasureSpec, SizeSelection, SizeTable};
use report::drawing;
use script::{Manifest, OptionKind, Plugin};
use units::LengthUnit;

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new()
        .routes(routes!(grade, grade_body))
        .routes(routes!(pattern, pattern_body))
        .routes(routes!(walk))
        .routes(routes!(chart))
        .routes(routes!(garments))
        .routes(routes!(garment))
        .routes(routes!(machines))
        .routes(routes!(sizes))
        .routes(routes!(swatch))
        .routes(routes!(health))
        .routes(routes!(metrics))
        .routes(routes!(openapi))
}

/// A JSON body, or a problem that says what is wrong with it.
pub(super) fn body<T>(given: Result<Json<T>, JsonRejection>) -> Answer<T> {
    given.map(|Json(value)| value).map_err(|rejection| {
        let (code, hint) = match &rejection {
            JsonRejection::JsonDataError(_) => {
                (Code::Body, "see /api/v1/openapi.json for its shape")
            }
            JsonRejection::JsonSyntaxError(_) => (Code::Json, "send one JSON object"),
            JsonRejection::MissingJsonContentType(_) => {
                (Code::ContentType, "send it with Content-Type: application/json")
            }
            _ => (Code::Body, "send less at a time"),
        };
        let text: String = rejection.body_text().chars().take(400).collect();
        Problem::new(rejection.status(), Diagnostic::error(code, text).hint(hint))
    })
}

/// What a query string asks for.
pub(super) fn asked(query: Option<String>) -> Answer<(Ask, bool)> {
    let pairs = pairs(&query.unwrap_or_default())?;
    // A link to a file to keep says so; the answer is the same.
    let keep = pairs.iter().any(|(key, _)| key == "download");
    let pairs: Vec<_> = pairs.into_iter().filter(|(key, _)| key != "download").collect();
    Ok((Ask::from_pairs(&pairs)?, keep))
}

fn format_of(ask: &Ask, usual: Sheet, offered: &[Sheet]) -> Result<Sheet, Diagnostic> {
    ask.format.as_deref().map_or(Ok(usual), |name| Sheet::parse(name, offered))
}

async fn grade_answer(state: State, headers: HeaderMap, ask: Ask, keep: bool) -> Answer<Response> {
    let sheet = format_of(&ask, Sheet::Json, RUN_SHEETS)?;
    let (bytes, id) = state
        .graded(ask, move |shared, ask, graded| {
            let words = shared.words(ask)?;
            Ok((write_run(&graded.run, shared.unit(ask)?, words, sheet), graded.run.garment.id))
        })
        .await?;
    let response = tagged(&headers, sheet.mime(), bytes);
    Ok(if keep { download(response, &format!("{id}.{}", sheet.ending())) } else { response })
}

/// Grade a garment
///
/// Finished sizes, counts, pieces, yarn and work for every size asked for. A size that can't be
/// knitted stays in the list with `knittable: false` and why.
#[utoipa::path(get, path = "/api/v1/grade", params(AskQuery), tag = "grade", responses(
    (status = 200, description = "The graded run", content(
        (serde_json::Value = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"))),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn grade(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, keep) = asked(query)?;
    grade_answer(state, headers, ask, keep).await
}

/// Grade a garment, asked for in JSON
#[utoipa::path(post, path = "/api/v1/grade", request_body = Ask, tag = "grade", responses(
    (status = 200, description = "The graded run", content(
        (serde_json::Value = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"))),
    Refusals))]
async fn grade_body(
    Extract(state): Extract<State>,
    given: Result<Json<Ask>, JsonRejection>,
) -> Answer<Response> {
    grade_answer(state, HeaderMap::new(), body(given)?, false).await
}

async fn pattern_answer(
    state: State,
    headers: HeaderMap,
    ask: Ask,
    keep: bool,
) -> Answer<Response> {
    let sheet = format_of(&ask, Sheet::Text, PATTERN_SHEETS)?;
    let at_length = is_long(&ask, sheet);
    let write = move |shared: &Shared, ask: &Ask, graded: super::state::Graded| {
        let look = shared.look(ask)?;
        let bytes = write_pattern(&graded.run, ask, &shared.yarns(ask), &look, sheet)?;
        Ok((bytes, graded.run.garment.id))
    };
    let (bytes, id) = match at_length {
        true => state.graded_at_length(ask, write).await?,
        false => state.graded(ask, write).await?,
    };
    let response = sheet_response(&headers, sheet, bytes);
    let name = format!("{id}-pattern.{}", sheet.ending());
    Ok(if keep { download(response, &name) } else { response })
}

/// Write the pattern
///
/// Row by row, for one size or for several with the figures in brackets.
#[utoipa::path(get, path = "/api/v1/pattern", params(AskQuery), tag = "pattern", responses(
    (status = 200, description = "The pattern", content(
        (String = "text/plain"), (String = "text/markdown"), (String = "text/html"),
        (String = "image/svg+xml"), (Vec<u8> = "application/pdf"),
        (serde_json::Value = "application/json"))),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn pattern(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, keep) = asked(query)?;
    pattern_answer(state, headers, ask, keep).await
}

/// Write the pattern, asked for in JSON
#[utoipa::path(post, path = "/api/v1/pattern", request_body = Ask, tag = "pattern", responses(
    (status = 200, description = "The pattern", content(
        (String = "text/plain"), (String = "text/markdown"), (String = "text/html"),
        (String = "image/svg+xml"), (Vec<u8> = "application/pdf"),
        (serde_json::Value = "application/json"))),
    Refusals))]
async fn pattern_body(
    Extract(state): Extract<State>,
    given: Result<Json<Ask>, JsonRejection>,
) -> Answer<Response> {
    pattern_answer(state, HeaderMap::new(), body(given)?, false).await
}

/// The way through one size at the machine
///
/// Stop by stop: what to do by hand, then the pass. `sizes` names one size.
#[utoipa::path(get, path = "/api/v1/walk", params(AskQuery), tag = "pattern", responses(
    (status = 200, description = "The walk", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn walk(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let (ask, _) = asked(query)?;
    let text = state
        .graded(ask, |shared, ask, graded| {
            let (size, made) = one_size(&graded.run)?;
            let walk = shared.walk(ask, &graded.run, made)?;
            Ok(report::walk_json(&graded.run, size, &walk))
        })
        .await?;
    Ok(tagged(&headers, "application/json", text.into_bytes()))
}

/// A page or a picture that carries its own style may use it, and nothing else.
pub(super) fn sheet_response(headers: &HeaderMap, sheet: Sheet, bytes: Vec<u8>) -> Response {
    let mut response = tagged(headers, sheet.mime(), bytes);
    if sheet.is_styled() {
        let policy = HeaderValue::from_static(SHEET_POLICY);
        response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}

const SHEET_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// What is asked of a chart beside the request itself.
struct ChartAsk {
    which: ChartWhich,
    units: Vec<LengthUnit>,
}

/// Which body measures a chart shows, and how.
#[derive(Debug, Default)]
pub(super) struct ChartWhich {
    /// With commas between; left out: the main ones.
    pub measures: Option<String>,
    /// What goes with this measure is shown.
    pub sized_by: Option<String>,
}

impl ChartWhich {
    /// Takes its keys out of those of a query.
    pub fn taken(pairs: &mut Vec<(String, String)>) -> ChartWhich {
        ChartWhich { measures: take(pairs, "measures"), sized_by: take(pairs, "sized_by") }
    }
}

const CHART_KEYS: [QueryKey<ChartAsk>; 3] = [
    QueryKey::new(
        "measures",
        "Body measures with commas between, a part of the body (`torso`), or `all`; left out: the eight main ones.",
        |chart, names| {
            chart.which.measures = Some(names.to_owned());
            Ok(())
        },
    ),
    QueryKey::new(
        "sized_by",
        "A body measure such as `chest_girth`: shows what goes with it on average, as garments take it whose sizes go by it.",
        |chart, name| {
            chart.which.sized_by = Some(name.to_owned());
            Ok(())
        },
    ),
    QueryKey::new("units", "`cm`, `in` or `both`.", |chart, name| {
        chart.units = match name {
            "cm" => vec![LengthUnit::Cm],
            "in" => vec![LengthUnit::In],
            "both" => vec![LengthUnit::Cm, LengthUnit::In],
            _ => {
                return Err(Diagnostic::error(
                    Code::Units,
                    "that is no unit of length to print in",
                )
                .hint("units are cm, in or both"));
            }
        };
        Ok(())
    }),
];

/// The keys of a chart: its own, and those of a request with what they mean here.
struct ChartQuery;

impl IntoParams for ChartQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let [measures, sized_by, units] = CHART_KEYS.map(|key| key.told);
        let of_request = |name, doc| Told { name, doc, example: None, required: false };
        let told = [
            of_request(
                "garment",
                "A garment's id, for its finished sizes; left out: body measures.",
            ),
            measures,
            sized_by,
            of_request("sizes", "A list, a range, a group or `all`."),
            units,
            of_request("machine", "A machine profile's id, with a garment."),
            of_request("format", ""),
        ];
        told.map(Told::parameter).into()
    }
}

/// A size chart: body measures, or the finished sizes of a garment
#[utoipa::path(get, path = "/api/v1/chart", params(ChartQuery), tag = "chart", responses(
    (status = 200, description = "The chart, a row a size", content(
        (serde_json::Value = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"))),
    (status = 304, description = "Not changed since the tag sent"),
    Refusals))]
async fn chart(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut pairs = pairs(&query.unwrap_or_default())?;
    let keep = pairs.iter().any(|(key, _)| key == "download");
    pairs.retain(|(key, _)| key != "download");
    let mut chart = ChartAsk { which: ChartWhich::default(), units: Vec::new() };
    for key in CHART_KEYS {
        if let Some(text) = take(&mut pairs, key.told.name) {
            (key.put)(&mut chart, &text)?;
        }
    }
    let ChartAsk { which, units } = chart;
    let ask = Ask::from_pairs(&pairs)?;
    let units = if units.is_empty() { vec![state.unit(&ask)?] } else { units };
    let sheet = format_of(&ask, Sheet::Json, CHART_SHEETS)?;
    let bytes = if ask.garment.is_some() {
        if which.measures.is_some() || which.sized_by.is_some() {
            return Err(Diagnostic::error(
                Code::Usage,
                "measures are for body charts, without a garment",
            )
            .hint("a garment's chart shows its finished sizes")
            .into());
        }
        let write = move |_: &Shared, _: &Ask, graded: super::state::Graded| {
            Ok(match sheet {
                Sheet::Svg => drawing::finished_picture(&graded.run, &units).svg(),
                _ => report::finished_chart(&graded.run, &units).write(table_format(sheet)),
            })
        };
        state.graded(ask, write).await?
    } else {
        let sizes = ask.sizes.clone().unwrap_or_else(|| "all".to_owned());
        let (table, ids, measures) = chosen(&state, &which, &sizes)?;
        let table = &table;
        let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
        match sheet {
            Sheet::Svg => drawing::body_picture(table, &ids, &measures, &units).svg(),
            _ => {
                let grid = report::body_chart(table, &ids, &measures, &units).grid;
                grid.write(table_format(sheet))
            }
        }
    };
    let response = sheet_response(&headers, sheet, clean(bytes));
    Ok(if keep { download(response, &format!("sizes.{}", sheet.ending())) } else { response })
}

fn take(pairs: &mut Vec<(String, String)>, key: &str) -> Option<String> {
    let at = pairs.iter().position(|(k, _)| k == key)?;
    Some(pairs.swap_remove(at).1).filter(|value| !value.trim().is_empty())
}

/// The sizes and the body measures of a chart.
fn chosen(
    shared: &Shared,
    which: &ChartWhich,
    sizes: &str,
) -> Result<(SizeTable, Vec<String>, Vec<Measure>), Diagnostics> {
    let mut faults = Diagnostics::new();
    let table = &shared.bench.sizes;
    let ids = match SizeSelection::parse(sizes, table) {
        Ok(selection) => selection.ids().iter().map(ToString::to_string).collect(),
        Err(found) => {
            faults.extend(found);
            Vec::new()
        }
    };
    let words: Vec<&str> = which.measures.iter().flat_map(|names| names.split(',')).collect();
    let measures = table.chosen_measures(&words).unwrap_or_else(|found| {
        faults.extend(found);
        Vec::new()
    });
    let table = match which.sized_by.as_ref().map(|name| table.sized_by_named(name)) {
        None => table.clone(),
        Some(Ok(table)) => table,
        Some(Err(fault)) => {
            faults.push(fault);
            table.clone()
        }
    };
    faults.into_result((table, ids, measures))
}

/// Body measures of the sizes named.
pub(super) fn body_chart(
    shared: &Shared,
    which: &ChartWhich,
    sizes: &str,
    units: &[LengthUnit],
) -> Result<report::BodyChart, Diagnostics> {
    let (table, ids, measures) = chosen(shared, which, sizes)?;
    let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
    Ok(report::body_chart(&table, &ids, &measures, units))
}

/// A garment that can be graded.
#[derive(Serialize, ToSchema)]
struct GarmentBody {
    id: String,
    title: String,
    version: String,
    summary: String,
    pair: bool,
    /// Body measures it needs; the first in `measure` orders a run.
    measures: Vec<String>,
    measure: String,
    /// The measure that sizes go by: others are what goes with it on average, where the table says so.
    sized_by: String,
    /// Body measures that the garment makes known.
    own_measures: Vec<Value>,
    /// Fabrics it needs a gauge for.
    structures: Vec<&'static str>,
    sections: Vec<Value>,
    options: Vec<Value>,
}

/// A body measure, in words.
fn measure_value(spec: &MeasureSpec) -> Value {
    json!({
        "name": spec.name, "title": spec.title, "meaning": spec.meaning, "source": spec.source,
        "part": spec.part.map(BodyPart::name), "main": spec.main,
    })
}

fn garment_body(manifest: &Manifest) -> GarmentBody {
    GarmentBody {
        id: manifest.id.clone(),
        title: manifest.title.clone(),
        version: manifest.version.clone(),
        summary: manifest.summary.clone(),
        pair: manifest.pair,
        measures: manifest.measures.clone(),
        measure: manifest.measure.clone(),
        sized_by: manifest.sized_by.clone(),
        own_measures: manifest.own_measures.iter().map(|own| measure_value(&own.spec)).collect(),
        structures: manifest.structures.iter().map(|s| s.name()).collect(),
        sections: manifest
            .sections
            .iter()
            .map(|s| json!({ "name": s.name, "title": s.title }))
            .collect(),
        options: manifest
            .options
            .iter()
            .map(|option| {
                json!({
                    "name": option.name,
                    "title": option.title,
                    "help": option.help,
                    "type": kind_name(&option.kind),
                    "takes": option.kind.describe(),
                    "default": option.default.as_ref().map(|value| option.kind.show(value)),
                    "scales": option.scales,
                    "choices": match &option.kind {
                        OptionKind::Choice { of } => json!(of),
                        _ => Value::Null,
                    },
                })
            })
            .collect(),
    }
}

fn kind_name(kind: &OptionKind) -> &'static str {
    match kind {
        OptionKind::Integer { .. } => "integer",
        OptionKind::Number { .. } => "number",
        OptionKind::Percent { .. } => "percent",
        OptionKind::Length { .. } => "length",
        OptionKind::Choice { .. } => "choice",
        OptionKind::Flag => "flag",
    }
}

fn json_bytes(value: &impl Serialize) -> Vec<u8> {
    // Plain data: it can't fail to be written down.
    let mut bytes = serde_json::to_vec_pretty(value).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// Every garment at hand that loads, and what is wrong with those that don't.
pub(super) fn all_garments(shared: &Shared) -> (Vec<Plugin>, Diagnostics) {
    let mut plugins = Vec::new();
    let mut faults = Diagnostics::new();
    for id in shared.bench.garment_ids() {
        match shared.garment(&id) {
            Ok((plugin, found)) => {
                plugins.push(plugin);
                faults.extend(found);
            }
            Err(found) => faults.extend(found),
        }
    }
    (plugins, faults)
}

/// The garments at hand
#[utoipa::path(get, path = "/api/v1/garments", tag = "garments", responses(
    (status = 200, description = "All garments, and what is wrong with those that don't load", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 503, description = "Too much to do", body = ProblemBody, content_type = "application/problem+json")))]
async fn garments(Extract(state): Extract<State>, headers: HeaderMap) -> Answer<Response> {
    let bytes = state
        .work(|shared| {
            let (plugins, faults) = all_garments(shared);
            let list: Vec<GarmentBody> =
                plugins.iter().map(|p| garment_body(&p.manifest)).collect();
            let faults: Vec<Value> = faults.iter().map(report::fault_value).collect();
            json_bytes(&json!({ "garments": list, "faults": faults }))
        })
        .await?;
    Ok(tagged(&headers, "application/json", bytes))
}

/// One garment: what it needs and what may be chosen
#[utoipa::path(get, path = "/api/v1/garments/{id}", tag = "garments",
    params(("id" = String, Path, description = "A garment's id", example = "tam")), responses(
    (status = 200, description = "The garment", body = GarmentBody),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No such garment", body = ProblemBody, content_type = "application/problem+json"),
    Refusals))]
async fn garment(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Answer<Response> {
    let found = state.work(move |shared| shared.garment(&id)).await?;
    let (plugin, _) = found.map_err(Problem::of_path)?;
    Ok(tagged(&headers, "application/json", json_bytes(&garment_body(&plugin.manifest))))
}

/// The machine profiles at hand
#[utoipa::path(get, path = "/api/v1/machines", tag = "tables", responses(
    (status = 200, description = "All machine profiles", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent")))]
async fn machines(Extract(state): Extract<State>, headers: HeaderMap) -> Response {
    let machines: Vec<Value> = state
        .bench
        .machines
        .iter()
        .map(|m| {
            json!({
                "id": m.id, "title": m.title, "pitch_mm": m.pitch_mm, "needles": m.needles(), "bed": m.rail.to_string(), "out_of_work": m.out_of_work.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "ribber": m.ribber, "source": m.source,
            })
        })
        .collect();
    tagged(&headers, "application/json", json_bytes(&json!({ "machines": machines })))
}

/// The size table at hand
#[utoipa::path(get, path = "/api/v1/sizes", tag = "tables", responses(
    (status = 200, description = "All sizes with their body measures in millimetres, and what each measure is", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent")))]
async fn sizes(Extract(state): Extract<State>, headers: HeaderMap) -> Response {
    let table = &state.bench.sizes;
    let measures: Vec<Value> = table.known().iter().map(|m| measure_value(m.spec())).collect();
    let sizes: Vec<Value> = table
        .sizes()
        .iter()
        .map(|size| {
            let body: serde_json::Map<String, Value> = size
                .values
                .iter()
                .map(|(measure, value)| (measure.name().to_owned(), value.mm.into()))
                .collect();
            json!({
                "size": size.id.to_string(), "label": size.label, "group": size.group.name(),
                "age_years": size.age_years, "body": body,
            })
        })
        .collect();
    tagged(
        &headers,
        "application/json",
        json_bytes(&json!({ "sizes": sizes, "measures": measures })),
    )
}

/// Readings of a swatch, and optionally what to make of them.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct SwatchQuestion {
    swatch: SwatchAsk,
    /// A machine profile's id.
    machine: Option<String>,
    /// A garment, to see how the error of the gauge moves its finished sizes.
    garment: Option<String>,
    /// One size of it.
    #[schema(example = "women-m")]
    size: Option<String>,
}

/// Gauge of a swatch, with its error
///
/// With a garment and a size also how far that error moves each finished measure.
#[utoipa::path(post, path = "/api/v1/swatch", request_body = SwatchQuestion, tag = "swatch", responses(
    (status = 200, description = "Gauges to 10 cm with their standard errors", body = serde_json::Value),
    Refusals))]
async fn swatch(
    Extract(state): Extract<State>,
    given: Result<Json<SwatchQuestion>, JsonRejection>,
) -> Answer<Response> {
    let question = body(given)?;
    let bytes = state
        .work(move |shared| -> Answer<Vec<u8>> {
            let ask = Ask {
                garment: question.garment.clone(),
                machine: question.machine.clone(),
                sizes: question.size.clone(),
                swatch: Some(question.swatch),
                ..Ask::default()
            };
            let (file, machine) = shared.swatch(&ask)?;
            let mut warnings = file.warnings.clone();
            warnings.extend(file.set.suits(machine));
            let mut gauges = serde_json::Map::new();
            for structure in knit::program::Structure::ALL {
                if structure.gauged_as() == structure {
                    let gauge = report::gauge_value(file.set.gauge(structure));
                    gauges.insert(structure.name().to_owned(), gauge);
                }
            }
            let mut answer = json!({
                "machine": machine.id,
                "swatches": gauges,
                "warnings": warnings.iter().map(report::fault_value).collect::<Vec<_>>(),
            });
            if question.garment.is_some() {
                let graded = shared.grade(&ask)?;
                let (size, made) = one_size(&graded.run)?;
                let finished: Vec<Value> = made
                    .graded
                    .finished
                    .iter()
                    .map(|f| {
                        json!({ "name": f.name, "title": f.title, "mm": f.mm, "target_mm": f.target_mm, "error_mm": f.error_mm(), "within_mm": f.within_mm() })
                    })
                    .collect();
                answer["size"] = size.body.id.to_string().into();
                answer["finished"] = finished.into();
            }
            Ok(json_bytes(&answer))
        })
        .await??;
    Ok(tagged(&HeaderMap::new(), "application/json", bytes))
}

/// Whether the server answers
#[utoipa::path(get, path = "/api/v1/health", tag = "server", responses(
    (status = 200, description = "It does", body = serde_json::Value)))]
async fn health() -> (StatusCode, Json<Value>) {
    (StatusCode::OK, Json(json!({ "status": "ok", "version": env!("CARGO_PKG_VERSION") })))
}

/// Counters in the plain text exposition format
#[utoipa::path(get, path = "/api/v1/metrics", tag = "server", responses(
    (status = 200, description = "The counters", body = String, content_type = "text/plain")))]
async fn metrics(Extract(state): Extract<State>) -> Response {
    let mut response = tagged(
        &HeaderMap::new(),
        "text/plain; version=0.0.4; charset=utf-8",
        state.metrics.text().into_bytes(),
    );
    response.headers_mut().remove(axum::http::header::ETAG);
    response
}

/// This description
#[utoipa::path(get, path = "/api/v1/openapi.json", tag = "server", responses(
    (status = 200, description = "The interface, described", body = serde_json::Value),
    (status = 304, description = "Not changed since the tag sent")))]
async fn openapi(headers: HeaderMap) -> Response {
    static DESCRIPTION: OnceLock<(String, String)> = OnceLock::new();
    let (text, tag) = DESCRIPTION.get_or_init(|| {
        let text = super::openapi_json();
        let tag = tag(text.as_bytes());
        (text, tag)
    });
    kept(&headers, "application/json", text.as_str(), tag, PRIVATE)
}
