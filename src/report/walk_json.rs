use serde_json::{Value, json};

use super::techniques::Technique;
use super::walk::{Stop, StopDeed, Walk};
use knit::needle::{Side, Span};
use knit::run::Deed;
use knit::size_run::{SizeResult, SizeRun};

/// The walk as data for a page that leads through it: needles as whole numbers, L1 is -1 and R1
/// is 0.
pub fn walk_json(run: &SizeRun, size: &SizeResult, walk: &Walk) -> String {
    let pieces: Vec<Value> = walk
        .pieces
        .iter()
        .map(|piece| json!({ "name": piece.name, "title": piece.title, "rows": piece.rows, "needles": piece.needles.map(ends) }))
        .collect();
    let mut text = json!({
        "garment": run.garment.id,
        "title": run.garment.title,
        "size": size.body.id.to_string(),
        "label": size.body.label,
        "rows": walk.rows,
        "whole": walk.whole,
        "pieces": pieces,
        "stops": walk.stops.iter().map(stop).collect::<Vec<_>>(),
    })
    .to_string();
    text.push('\n');
    text
}

fn stop(stop: &Stop) -> Value {
    json!({
        "piece": stop.piece,
        "rows": [stop.rows.0, stop.rows.1],
        "counter": [stop.counter.0, stop.counter.1],
        "carriage": [side(stop.carriage.0), side(stop.carriage.1)],
        "deeds": stop.deeds.iter().map(deed).collect::<Vec<_>>(),
        "pass": stop.pass.as_ref().map(|pass| json!({
            "text": pass.text,
            "spans": pass.spans.iter()
                .map(|s| json!([s.span.left.0, s.span.right.0, i32::from(s.ribber)]))
                .collect::<Vec<_>>(),
            "more": pass.more,
        })),
        "held": stop.held.iter().copied().map(ends).collect::<Vec<_>>(),
        "changes": stop.changes.iter()
            .map(|change| json!({ "of": change.of.name(), "text": change.text }))
            .collect::<Vec<_>>(),
    })
}

fn deed(deed: &StopDeed) -> Value {
    json!({
        "what": deed.deed.map(Deed::name),
        "text": deed.text,
        "needles": deed.needles.map(ends),
        "loops": deed.loops,
        "how": deed.how.map(Technique::id),
    })
}

fn side(side: Side) -> &'static str {
    side.name()
}

fn ends(span: Span) -> Value {
    json!([span.left.0, span.right.0])
}
