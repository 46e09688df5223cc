//! The machine-readable run. Its keys are kept: programs outside read them.

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::diag::Diagnostic;
use crate::knit::body::Basis;
use crate::knit::run::PieceRun;
use crate::knit::size_run::{Made, SizeResult, SizeRun};
use crate::knit::swatch::{Gauge, State};

#[derive(Serialize)]
struct SizeJson {
    size: String,
    label: String,
    group: &'static str,
    body: Map<String, Value>,
    /// How each estimated measure is known; table values are left out.
    estimated: Map<String, Value>,
    #[serde(flatten)]
    made: Option<MadeJson>,
    knittable: bool,
    warnings: Vec<Value>,
    /// Why the size can't be knitted.
    refused: Vec<Value>,
    cautions: Vec<String>,
}

#[derive(Serialize)]
struct MadeJson {
    finished: Vec<Value>,
    ratios: Vec<Value>,
    counts: Map<String, Value>,
    pieces: Vec<Value>,
    edges: Vec<Value>,
    #[serde(rename = "yarn")]
    yarn_need: Value,
    work: Value,
}

/// One JSON object for the run, indented, ending in a newline.
pub fn grade_json(run: &SizeRun) -> String {
    let mut text = serde_json::to_string_pretty(&grade_value(run)).expect("plain data");
    text.push('\n');
    text
}

/// The same as a value.
pub fn grade_value(run: &SizeRun) -> Value {
    let swatches: Map<String, Value> =
        run.gauges.iter().map(|g| (g.structure.name().to_owned(), gauge_value(g))).collect();
    let options: Map<String, Value> =
        run.options.iter().map(|(k, v)| (k.clone(), v.as_str().into())).collect();
    json!({
        "garment": run.garment.id,
        "title": run.garment.title,
        "pair": run.garment.pair,
        "machine": {
            "id": run.machine.id, "title": run.machine.title, "pitch_mm": run.machine.pitch_mm,
            "needles": run.machine.needles, "ribber": run.machine.ribber,
        },
        "yarn": { "name": run.swatches.yarn_name, "tex": round(run.swatches.yarn.tex(), 2) },
        "swatches": swatches,
        "options": options,
        "warnings": run.warnings.iter().map(fault_value).collect::<Vec<_>>(),
        "sizes": run.sizes.iter().map(size).collect::<Vec<_>>(),
    })
}

/// A gauge with its error.
pub fn gauge_value(gauge: &Gauge) -> Value {
    json!({
        "stitches_per_10_cm": round(gauge.stitches.per_ten.per_10_cm(), 3),
        "stitches_error": round(gauge.stitches.standard_error, 3),
        "rows_per_10_cm": round(gauge.rows.per_ten.per_10_cm(), 3),
        "rows_error": round(gauge.rows.standard_error, 3),
        "dial": gauge.dial,
        "state": gauge.measured.map(State::name),
        "estimated": gauge.measured.is_none(),
        "weighed": gauge.weighed.is_some(),
    })
}

fn size(result: &SizeResult) -> Value {
    let body = &result.body;
    let (errors, warnings): (Vec<&Diagnostic>, Vec<&Diagnostic>) =
        result.diagnostics().iter().partition(|d| d.severity == crate::diag::Severity::Error);
    let made = result.made.as_deref().ok();
    let document = SizeJson {
        size: body.id.to_string(),
        label: body.label.clone(),
        group: result.group.name(),
        body: body
            .values
            .iter()
            .map(|(measure, value)| (measure.name().to_owned(), round(value.mm, 1).into()))
            .collect(),
        estimated: body
            .values
            .iter()
            .filter_map(|(measure, value)| match &value.basis {
                Basis::Estimated { from, sd_mm, source } => {
                    let from: Vec<&str> = from.iter().map(|m| m.name()).collect();
                    let how = json!({ "from": from, "sd_mm": round(*sd_mm, 1), "source": source });
                    Some((measure.name().to_owned(), how))
                }
                Basis::Table { .. } | Basis::Measured => None,
            })
            .collect(),
        made: made.map(made_json),
        knittable: result.knittable(),
        warnings: warnings.into_iter().map(fault_value).collect(),
        refused: errors.into_iter().map(fault_value).collect(),
        cautions: made.map_or_else(Vec::new, |m| m.cautions.clone()),
    };
    serde_json::to_value(document).expect("plain data")
}

fn made_json(made: &Made) -> MadeJson {
    let graded = &made.graded;
    let yarn = &graded.yarn;
    MadeJson {
        finished: graded
            .finished
            .iter()
            .map(|f| {
                json!({
                    "name": f.name, "title": f.title, "mm": round(f.mm, 1),
                    "target_mm": round(f.target_mm, 1), "deviation_mm": round(f.deviation_mm(), 1),
                    "error_mm": round(f.error_mm, 1), "measure": f.measure,
                    "ease": f.achieved_ease.map(|e| round(e, 4)),
                    "target_ease": f.ease.map(|e| round(e, 4)),
                })
            })
            .collect(),
        ratios: graded
            .ratios
            .iter()
            .map(|r| json!({ "name": r.name, "value": round(r.value, 4), "low": r.low, "high": r.high }))
            .collect(),
        counts: graded.counts.iter().map(|c| (c.name.clone(), c.value.into())).collect(),
        pieces: graded.run.pieces.iter().map(piece).collect(),
        edges: graded
            .run
            .edges
            .iter()
            .map(|e| {
                let at = |points: &[crate::knit::run::HangPoint]| {
                    points.iter().map(|p| p.point).collect::<Vec<_>>()
                };
                json!({
                    "name": e.name, "piece": e.piece, "loops": e.loops, "hang_points": e.points,
                    "points_without_loop": at(&e.skipped), "points_with_more": at(&e.doubled),
                })
            })
            .collect(),
        yarn_need: json!({
            "grams": round(yarn.grams, 1), "grams_low": round(yarn.grams_low, 1),
            "grams_high": round(yarn.grams_high, 1), "metres": round(yarn.metres, 1),
            "basis": yarn.basis.words(), "waste_metres": round(yarn.waste_metres, 1),
            "sections": yarn.sections.iter().map(|s| json!({
                "name": s.name, "grams": round(s.grams, 1), "grams_low": round(s.grams_low, 1),
                "grams_high": round(s.grams_high, 1), "metres": round(s.metres, 1),
                "stitches": s.stitches, "basis": s.basis.words(),
            })).collect::<Vec<_>>(),
        }),
        work: json!({
            "passes": graded.run.work.passes, "hand_moves": graded.run.work.hand_moves,
            "minutes": graded.minutes.round(),
        }),
    }
}

fn piece(piece: &PieceRun) -> Value {
    let (left, right) = piece.needles.map_or((0, 0), |n| n.split());
    json!({
        "name": piece.name, "title": piece.title, "structure": piece.structure.name(),
        "needles": { "left": left, "right": right },
        "rows": piece.rows.len(), "stitches": piece.stitches,
    })
}

/// A diagnostic: code, message, where, hints.
pub fn fault_value(diagnostic: &Diagnostic) -> Value {
    json!({
        "code": diagnostic.code,
        "message": diagnostic.message,
        "where": diagnostic.place.as_ref().map(ToString::to_string)
            .into_iter().chain(diagnostic.context.iter().cloned()).collect::<Vec<_>>(),
        "hints": diagnostic.hints,
    })
}

fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (value * scale).round() / scale
}
