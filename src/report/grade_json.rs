//! The machine-readable run. Its keys are kept: programs outside read them.

use std::borrow::Cow;

use serde::{Serialize, Serializer};
use serde_json::{Value, json};

use super::minutes_told::MinutesTold;
use diag::{Code, Diagnostic, Severity};
use knit::body::{Basis, Body};
use knit::garment::Decision;
use knit::grade::{Count, Finished, Ratio};
use knit::operation::OperationCounts;
use knit::run::{EdgeRun, HangPoint, PieceRun};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::swatch::{FabricState, Gauge};
use knit::yarn::{SectionYarn, YarnNeed};

/// The whole run, written out straight, without a tree of values in between.
#[derive(Serialize)]
pub(super) struct RunJson<'r> {
    garment: &'r str,
    title: &'r str,
    pair: bool,
    machine: Value,
    yarn: Value,
    #[serde(serialize_with = "gauges")]
    swatches: &'r [Gauge],
    #[serde(serialize_with = "options")]
    options: &'r [(String, String)],
    warnings: Vec<FaultJson<'r>>,
    sizes: Vec<SizeJson<'r>>,
}

#[derive(Serialize)]
struct SizeJson<'r> {
    size: &'r str,
    label: &'r str,
    group: &'static str,
    #[serde(serialize_with = "measures")]
    body: &'r Body,
    /// How each estimated measure is known; table values are left out.
    #[serde(rename = "estimated", serialize_with = "estimates")]
    body_estimated: &'r Body,
    #[serde(flatten)]
    made: Option<MadeJson<'r>>,
    knittable: bool,
    warnings: Vec<FaultJson<'r>>,
    /// Why the size can't be knitted.
    refused: Vec<FaultJson<'r>>,
    cautions: &'r [String],
}

#[derive(Serialize)]
struct MadeJson<'r> {
    finished: Vec<FinishedJson<'r>>,
    ratios: Vec<RatioJson<'r>>,
    #[serde(serialize_with = "counts")]
    counts: &'r [Count],
    decisions: Vec<DecisionJson<'r>>,
    pieces: Vec<PieceJson<'r>>,
    edges: Vec<EdgeJson<'r>>,
    #[serde(rename = "yarn")]
    yarn_need: YarnJson<'r>,
    work: WorkJson<'r>,
}

#[derive(Serialize)]
struct FinishedJson<'r> {
    name: &'r str,
    title: &'r str,
    mm: f64,
    target_mm: f64,
    deviation_mm: f64,
    error_mm: f64,
    within_mm: f64,
    measure: Option<&'r str>,
    /// What the body's own measure is called, and its length: never taken for the finished one.
    body_title: Option<String>,
    body_mm: Option<f64>,
    ease: Option<f64>,
    target_ease: Option<f64>,
}

#[derive(Serialize)]
struct RatioJson<'r> {
    name: &'r str,
    value: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct DecisionJson<'r> {
    name: &'r str,
    title: &'r str,
    value: i64,
    from: i64,
    to: i64,
    step: i64,
    fixed: bool,
}

#[derive(Serialize)]
struct EdgeJson<'r> {
    name: &'r str,
    piece: &'r str,
    loops: u32,
    hang_points: u32,
    points_without_loop: Vec<u32>,
    points_with_more: Vec<u32>,
}

/// How a measure that nobody took is known.
#[derive(Serialize)]
struct EstimateJson<'r> {
    from: Vec<&'r str>,
    sd_mm: f64,
    source: &'r str,
}

#[derive(Serialize)]
struct GaugeJson {
    stitches_per_10_cm: f64,
    stitches_error: f64,
    stitches_within: f64,
    rows_per_10_cm: f64,
    rows_error: f64,
    rows_within: f64,
    dial: Option<f64>,
    state: Option<&'static str>,
    estimated: bool,
    weighed: bool,
}

#[derive(Serialize)]
struct FaultJson<'r> {
    code: Code,
    message: &'r str,
    #[serde(rename = "where")]
    at: Vec<Cow<'r, str>>,
    hints: &'r [String],
}

#[derive(Serialize)]
struct PieceJson<'r> {
    name: &'r str,
    title: &'r str,
    structure: &'static str,
    needles: NeedlesJson,
    rows: usize,
    stitches: u64,
}

#[derive(Serialize)]
struct NeedlesJson {
    left: u32,
    right: u32,
}

#[derive(Serialize)]
struct YarnJson<'r> {
    grams: f64,
    grams_low: f64,
    grams_high: f64,
    metres: f64,
    basis: Cow<'static, str>,
    waste_metres: f64,
    sections: Vec<SectionJson<'r>>,
}

#[derive(Serialize)]
struct SectionJson<'r> {
    name: &'r str,
    grams: f64,
    grams_low: f64,
    grams_high: f64,
    metres: f64,
    stitches: u64,
    basis: Cow<'static, str>,
}

#[derive(Serialize)]
struct WorkJson<'r> {
    passes: u32,
    hand_moves: u32,
    minutes: f64,
    minutes_low: f64,
    minutes_high: f64,
    /// What the minutes are made of.
    #[serde(serialize_with = "operations")]
    operations: &'r OperationCounts,
}

fn measures<S: Serializer>(body: &Body, out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(body.values.iter().map(|(measure, value)| (measure.name(), round(value.mm, 1))))
}

fn estimates<S: Serializer>(body: &Body, out: S) -> Result<S::Ok, S::Error> {
    let estimated = body.values.iter().filter_map(|(measure, value)| match &value.basis {
        Basis::Estimated { from, sd_mm, source } => {
            let from = from.iter().map(|m| m.name()).collect();
            Some((measure.name(), EstimateJson { from, sd_mm: round(*sd_mm, 1), source }))
        }
        Basis::Table { .. } | Basis::Measured => None,
    });
    out.collect_map(estimated)
}

fn gauges<S: Serializer>(gauges: &[Gauge], out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(gauges.iter().map(|gauge| (gauge.structure.name(), gauge_json(gauge))))
}

fn options<S: Serializer>(options: &[(String, String)], out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(options.iter().map(|(name, value)| (name, value)))
}

fn counts<S: Serializer>(counts: &[Count], out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(counts.iter().map(|count| (&count.name, count.value)))
}

fn operations<S: Serializer>(counts: &OperationCounts, out: S) -> Result<S::Ok, S::Error> {
    out.collect_map(counts.by_name().into_iter().map(|(name, times)| (name, times as u64)))
}

/// One JSON object for the run, indented, ending in a newline.
pub fn grade_json(run: &SizeRun) -> String {
    let mut text = serde_json::to_string_pretty(&RunJson::of(run)).expect("plain data");
    text.push('\n');
    text
}

/// The same as a value.
pub fn grade_value(run: &SizeRun) -> Value {
    serde_json::to_value(RunJson::of(run)).expect("plain data")
}

impl RunJson<'_> {
    pub(super) fn of(run: &SizeRun) -> RunJson<'_> {
        RunJson {
            garment: &run.garment.id,
            title: &run.garment.title,
            pair: run.garment.pair,
            machine: json!({
                "id": run.machine.id, "title": run.machine.title, "pitch_mm": run.machine.pitch_mm,
                "needles": run.machine.needles(), "bed": run.machine.rail.to_string(),
                "out_of_work": run.machine.out_of_work.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "ribber": run.machine.ribber,
                "by_hand": !run.machine.by_hand.is_none(),
                "hand_work": run.machine.by_hand.names(),
            }),
            yarn: json!({
                "name": run.swatches.yarn_name, "tex": round(run.swatches.yarn.tex(), 2),
            }),
            swatches: &run.gauges,
            options: &run.options,
            warnings: run.warnings.iter().map(fault).collect(),
            sizes: run.sizes.iter().map(size).collect(),
        }
    }
}

/// A gauge with its error.
pub fn gauge_value(gauge: &Gauge) -> Value {
    serde_json::to_value(gauge_json(gauge)).expect("plain data")
}

fn gauge_json(gauge: &Gauge) -> GaugeJson {
    GaugeJson {
        stitches_per_10_cm: round(gauge.stitches.per_ten.per_10_cm(), 3),
        stitches_error: round(gauge.stitches.standard_error(), 3),
        stitches_within: round(gauge.stitches.half_width(), 3),
        rows_per_10_cm: round(gauge.rows.per_ten.per_10_cm(), 3),
        rows_error: round(gauge.rows.standard_error(), 3),
        rows_within: round(gauge.rows.half_width(), 3),
        dial: gauge.dial,
        state: gauge.measured.map(FabricState::name),
        estimated: gauge.measured.is_none(),
        weighed: gauge.weighed.is_some(),
    }
}

fn size(result: &SizeResult) -> SizeJson<'_> {
    let body = &result.body;
    let of = |severity: Severity| {
        let found = result.diagnostics().iter().filter(move |found| found.severity == severity);
        found.map(fault).collect()
    };
    let made = result.made.as_deref().ok();
    SizeJson {
        size: body.id.as_str(),
        label: &body.label,
        group: result.group.name(),
        body,
        body_estimated: body,
        made: made.map(|made| made_json(made, body)),
        knittable: result.knittable(),
        warnings: of(Severity::Warning),
        refused: of(Severity::Error),
        cautions: made.map_or(&[], |m| &m.cautions),
    }
}

fn made_json<'r>(made: &'r Made, body: &Body) -> MadeJson<'r> {
    let graded = &made.graded;
    let minutes = MinutesTold::of(&graded.minutes);
    MadeJson {
        finished: graded.finished.iter().map(|f| finished(f, body)).collect(),
        ratios: graded.ratios.iter().map(ratio).collect(),
        counts: &graded.counts,
        decisions: made.garment.decisions.iter().map(decision).collect(),
        pieces: graded.run.pieces.iter().map(piece).collect(),
        edges: graded.run.edges.iter().map(edge).collect(),
        yarn_need: yarn_need(&graded.yarn),
        work: WorkJson {
            passes: graded.run.work.passes,
            hand_moves: graded.run.work.hand_moves,
            minutes: minutes.mean,
            minutes_low: minutes.low,
            minutes_high: minutes.high,
            operations: &graded.run.work.operations,
        },
    }
}

fn ratio(of: &Ratio) -> RatioJson<'_> {
    RatioJson { name: &of.name, value: round(of.value, 4), low: of.low, high: of.high }
}

fn decision(of: &Decision) -> DecisionJson<'_> {
    DecisionJson {
        name: &of.name,
        title: &of.title,
        value: of.value,
        from: of.from,
        to: of.to,
        step: of.step,
        fixed: of.fixed,
    }
}

fn finished<'r>(of: &'r Finished, body: &Body) -> FinishedJson<'r> {
    let measure = of.measure.as_deref().and_then(|name| body.measure(name));
    FinishedJson {
        name: &of.name,
        title: &of.title,
        mm: round(of.mm, 1),
        target_mm: round(of.target_mm, 1),
        deviation_mm: round(of.deviation_mm(), 1),
        error_mm: round(of.error_mm(), 1),
        within_mm: round(of.within_mm(), 1),
        measure: of.measure.as_deref(),
        body_title: measure.map(|measure| format!("Body: {}", measure.label().to_lowercase())),
        body_mm: measure.and_then(|measure| body.mm(measure.name())).map(|mm| round(mm, 1)),
        ease: of.achieved_ease.map(|e| round(e, 4)),
        target_ease: of.ease.map(|e| round(e, 4)),
    }
}

fn edge(edge: &EdgeRun) -> EdgeJson<'_> {
    let at = |points: &[HangPoint]| points.iter().map(|p| p.point).collect();
    EdgeJson {
        name: &edge.name,
        piece: &edge.piece,
        loops: edge.loops,
        hang_points: edge.points,
        points_without_loop: at(&edge.skipped),
        points_with_more: at(&edge.doubled),
    }
}

fn yarn_need(yarn: &YarnNeed) -> YarnJson<'_> {
    let within = yarn.need.next_within();
    YarnJson {
        grams: round(yarn.need.grams(), 1),
        grams_low: round(within.low, 1),
        grams_high: round(within.high, 1),
        metres: round(yarn.metres, 1),
        basis: yarn.basis.words(),
        waste_metres: round(yarn.waste_metres, 1),
        sections: yarn.sections.iter().map(section).collect(),
    }
}

fn section(of: &SectionYarn) -> SectionJson<'_> {
    let within = of.need.next_within();
    SectionJson {
        name: &of.name,
        grams: round(of.need.grams(), 1),
        grams_low: round(within.low, 1),
        grams_high: round(within.high, 1),
        metres: round(of.metres, 1),
        stitches: of.stitches,
        basis: of.basis.words(),
    }
}

fn piece(piece: &PieceRun) -> PieceJson<'_> {
    let (left, right) = piece.needles.map_or((0, 0), |n| n.split());
    PieceJson {
        name: &piece.name,
        title: &piece.title,
        structure: piece.structure.name(),
        needles: NeedlesJson { left, right },
        rows: piece.rows.len(),
        stitches: piece.stitches,
    }
}

/// A diagnostic: code, message, where, hints.
pub fn fault_value(diagnostic: &Diagnostic) -> Value {
    serde_json::to_value(fault(diagnostic)).expect("plain data")
}

fn fault(diagnostic: &Diagnostic) -> FaultJson<'_> {
    let place = diagnostic.place.as_ref().map(|place| Cow::Owned(place.to_string()));
    let context = diagnostic.context.iter().map(|context| Cow::Borrowed(context.as_str()));
    FaultJson {
        code: diagnostic.code,
        message: &diagnostic.message,
        at: place.into_iter().chain(context).collect(),
        hints: &diagnostic.hints,
    }
}

pub(crate) fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (value * scale).round() / scale
}
