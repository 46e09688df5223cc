//! What was learnt, over HTTP: as the command of the same name tells it.

use axum::extract::{RawQuery, State as Extract};
use axum::http::HeaderMap;
use axum::response::Response;
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::sheet_response;
use super::format::{CHART_SHEETS, Sheet, clean, table_format};
use super::problem::{Answer, Problem, ProblemBody, Refusals};
use super::query::QueryKey;
use super::reply::download;
use super::state::State;
use report::drawing;

pub(super) fn routes() -> OpenApiRouter<State> {
    OpenApiRouter::new().routes(routes!(learnt))
}

/// How the answer is written out, and whether as a file to keep.
struct Asked {
    sheet: Sheet,
    keep: bool,
}

const LEARNT_KEYS: [QueryKey<Asked>; 2] = [
    QueryKey::new(
        "format",
        "`json`, `csv` (the pieces), `text`, `markdown` or `svg` (the picture).",
        |asked, name| Sheet::parse(name, CHART_SHEETS).map(|sheet| asked.sheet = sheet),
    ),
    QueryKey::new("download", "Given at all: as a file to keep.", |asked, _| {
        asked.keep = true;
        Ok(())
    }),
];

struct LearntQuery;

impl IntoParams for LearntQuery {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        QueryKey::parameters(&LEARNT_KEYS)
    }
}

/// What was learnt, and from what.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
pub(super) struct LearntBody {
    yarn: YarnLearnt,
    minutes: MinutesLearnt,
    /// Every piece of the records, in their order.
    pieces: Vec<PieceBody>,
    /// What to do about what is odd, what an interval is, how to weigh: a sentence each.
    notes: Vec<String>,
}

/// What was learnt of the time that work takes.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct MinutesLearnt {
    /// Empty where no minutes were noted.
    habits: Vec<PaceBody>,
    /// The same as sentences.
    words: Vec<String>,
}

/// How much longer or shorter than its operations something takes.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct PaceBody {
    /// `all`, `garment` or `practice` (twice as many made).
    of: String,
    /// Id of the garment.
    garment: Option<String>,
    /// On the minutes by the operations.
    factor: f64,
    /// Where the factor lies with 95 %.
    low: f64,
    high: f64,
    /// Pieces whose minutes it was learnt from.
    pieces: u32,
    /// Of `all`, where some were not the first of their kind: what these took as they stand, practice and all.
    as_they_stand: Option<f64>,
    words: String,
}

/// What was learnt of the yarn in a stitch.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct YarnLearnt {
    /// Empty where nothing was weighed.
    habits: Vec<HabitBody>,
    /// Fabrics of which nothing was weighed.
    unknown: Vec<String>,
    /// How far a piece is held to be from its twin: standard deviation, as a share.
    unevenness: f64,
    /// The same before anything was weighed.
    usual_unevenness: f64,
    /// The same as sentences.
    words: Vec<String>,
}

/// How much more or less yarn than the model something takes.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct HabitBody {
    /// `all`, `fabric`, `yarn`, `swatch`, or `guess` at a yarn without a swatch; `former swatch` and `former
    /// guess` of what is no more as it was.
    of: String,
    /// Of `all` none; else the fabric, the yarns, the swatch.
    names: Vec<String>,
    /// A factor on the model's grams.
    factor: f64,
    /// Where it lies with 95 %, from.
    low: f64,
    /// And to.
    high: f64,
    /// Pieces it was learnt from.
    pieces: u32,
    /// Swatches it was learnt from.
    swatches: u32,
    /// The same as a sentence.
    words: String,
}

/// A finished piece against what all others and the swatches say of it.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct PieceBody {
    /// Its entries in the records, from 1: one for each of its yarns.
    records: Vec<u32>,
    garment: String,
    /// A size, or whom it was made to measure for.
    size: String,
    yarns: Vec<String>,
    date: Option<String>,
    note: Option<String>,
    took_grams: f64,
    expected_grams: Option<f64>,
    /// 19 of 20 such pieces take from so much.
    expected_low: Option<f64>,
    /// And to so much.
    expected_high: Option<f64>,
    /// By how much more it took than expected, as a share.
    differs: Option<f64>,
    /// `taken`: it was learnt from; `asked`: too far off to be, unasked; `senseless`: it can't be; `left
    /// aside`: it can't be knitted again.
    counts: String,
    /// The knitter says that it is right, however odd it looks.
    sure: bool,
    /// What to do about it, where it does not count.
    advice: Option<String>,
    /// The size as pages call it.
    label: String,
    /// The lines of records.toml that its entries begin in.
    lines: Vec<u32>,
    /// Its minutes, where they were noted.
    minutes: Option<TimeBody>,
}

/// The minutes of a piece against what all others say of the sections they are of.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "describes what `report::learnt_value` writes; a test holds it to that"
)]
struct TimeBody {
    took: f64,
    expected: Option<f64>,
    /// 19 of 20 such pieces take from so many.
    expected_low: Option<f64>,
    /// And to so many.
    expected_high: Option<f64>,
    /// `taken`, `asked` or `senseless`, as for the grams.
    counts: String,
    /// The knitter says that they are right, however odd they look.
    sure: bool,
    /// What to do about them, where they do not count.
    advice: Option<String>,
}

/// What finished pieces and swatches taught
///
/// How much yarn the knitter takes, over all, by fabric, yarn and swatch; each piece against what was expected.
#[utoipa::path(get, path = "/api/v1/learnt", tag = "workspace", params(LearntQuery), responses(
    (status = 200, description = "What was learnt; as SVG the picture, expected against taken", content(
        (LearntBody = "application/json"), (String = "text/csv"),
        (String = "text/plain"), (String = "text/markdown"), (String = "image/svg+xml"))),
    (status = 304, description = "Not changed since the tag sent"),
    (status = 404, description = "No workspace", body = ProblemBody, content_type = "application/problem+json"),
    Refusals))]
async fn learnt(
    Extract(state): Extract<State>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Answer<Response> {
    let mut asked = Asked { sheet: Sheet::Json, keep: false };
    QueryKey::read(&LEARNT_KEYS, query.as_deref(), "there are format and download", &mut asked)?;
    let sheet = asked.sheet;
    let text = state
        .work(move |shared| -> Answer<String> {
            let now = shared.live().map_err(Problem::of_path)?.now();
            let taught = now.workspace.taught(&shared.bench);
            Ok(match sheet {
                Sheet::Svg => drawing::weighed_picture(&taught).svg(),
                _ => report::learnt_page(&taught, table_format(sheet)),
            })
        })
        .await??;
    let response = sheet_response(&headers, sheet, clean(text));
    let name = format!("learnt.{}", sheet.ending());
    Ok(if asked.keep { download(response, &name) } else { response })
}
