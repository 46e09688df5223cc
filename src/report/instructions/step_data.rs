//! Steps as data, for programs that read a pattern: what is to be done as the script says it, and
//! what the bed found, `done`. Nothing is counted here.

use knit::bed::step_size;
use knit::edge::{EdgePlace, EdgeRange};
use knit::needle::Side;
use knit::program::{
    Action, Beds, CastOnMethod, Fashion, HangLoops, Inset, Pitch, Step, Transfer, Which,
    WorkingEnds,
};
use knit::run::{EdgeRun, HangPoint, JoinRun, StepTrace};
use serde_json::{Map, Value, json};

/// The steps of a piece with those inside repeats, which the traces are in the order of, from number
/// `first` on.
pub(crate) fn step_tree(steps: &[Step], traces: &[StepTrace], first: usize) -> Vec<Value> {
    let mut id = first;
    let mut told = Vec::with_capacity(steps.len());
    for step in steps {
        if let Some(trace) = traces.get(id) {
            let mut value = bed_step(&step.action, trace);
            if let (Action::Repeat { steps, .. }, Some(fields)) =
                (&step.action, value.as_object_mut())
            {
                fields.insert("of".to_owned(), step_tree(steps, traces, id + 1).into());
            }
            told.push(value);
        }
        id += step_size(step);
    }
    told
}

/// What the hands mind from the next step on.
pub(super) fn remark_step(text: &str) -> Value {
    json!({ "op": "remark", "text": text })
}

/// What a piece begins with where no cast-on does.
pub(super) fn set_out() -> Value {
    json!({ "op": "set_out", "counter": 0, "carriage": Side::Right.name() })
}

/// Where hang points and loops of an edge don't match one to one.
pub(super) fn hang_exceptions(edge: &EdgeRun) -> Value {
    json!({
        "op": "hang_exceptions", "edge": edge.name, "loops": edge.loops, "points": edge.points,
        "skipped": hang_points(&edge.skipped), "doubled": hang_points(&edge.doubled),
    })
}

/// Visits to hang loops: the number of each, where the counter stood, how many loops.
pub(crate) fn hang_points(points: &[HangPoint]) -> Vec<Value> {
    let point =
        |at: &HangPoint| json!({ "point": at.point, "counter": at.counter, "loops": at.loops });
    points.iter().map(point).collect()
}

/// The steps of the other one of a pair, told in a sentence.
pub(super) fn same_again(steps: Vec<Value>) -> Value {
    json!({ "op": "same_again", "of": steps })
}

/// Steps that are told as one: the first, with the others behind it.
pub(super) fn both_steps(mut steps: Vec<Value>) -> Value {
    if steps.is_empty() {
        return Value::Null;
    }
    let mut first = steps.remove(0);
    // A third and a fourth stand beside the second.
    let before = first.as_object_mut().and_then(|fields| fields.remove("then"));
    let mut then = before.and_then(|then| then.as_array().cloned()).unwrap_or_default();
    then.extend(steps);
    if let Some(fields) = first.as_object_mut() {
        fields.insert("then".to_owned(), then.into());
    }
    first
}

/// A step at the machine.
pub(super) fn bed_step(action: &Action, trace: &StepTrace) -> Value {
    let mut step = fields(action);
    let needles = |span: Option<knit::needle::Span>| span.map(|span| span.to_string());
    step.insert(
        "done".to_owned(),
        json!({
            "times": trace.visits,
            "from": trace.first.map(|m| json!({ "counter": m.counter, "carriage": m.carriage.name() })),
            "to": trace.after.map(|m| json!({ "counter": m.counter, "carriage": m.carriage.name() })),
            "first_needles": needles(trace.first_needles),
            "last_needles": needles(trace.last_needles),
            "loops": trace.loops,
            "over": trace.over,
            "in_work": [trace.first_in_work, trace.in_work],
            "yarn_broken": trace.broken,
            "mind": {
                "pitch": trace.mind.pitch.map(Pitch::name),
                "past_held": trace.mind.past_held.map(Side::name),
                "under_yarn": trace.mind.under_yarn,
            },
        }),
    );
    if let (Some(by_hand), Some(done)) = (trace.by_hand, step.get_mut("done")) {
        done["by_hand"] = json!(by_hand.name());
    }
    if let (Action::Section(_), Some(done)) = (action, step.get_mut("done")) {
        done["carried"] = json!(trace.balls.carried);
        done["joined"] = json!(trace.balls.joined);
    }
    Value::Object(step)
}

/// A step of the finishing, with what the edges measured.
pub(crate) fn finishing_step(action: &Action, joined: Option<&JoinRun>) -> Value {
    let mut step = fields(action);
    if let Some(joined) = joined {
        let length = |l: knit::edge::EdgeLength| json!({ "count": l.count, "of": l.unit.word(2) });
        step.insert(
            "done".to_owned(),
            json!({ "first": length(joined.first), "second": joined.second.map(length) }),
        );
    }
    Value::Object(step)
}

/// The step as a script would say it.
fn fields(action: &Action) -> Map<String, Value> {
    let value = match action {
        Action::CastOn { span, structure, method, edge } => json!({
            "op": "cast_on", "needles": span.to_string(), "structure": structure.name(),
            "method": method_name(*method), "edge": edge,
        }),
        Action::Knit { rows } => json!({ "op": "knit", "rows": rows }),
        Action::CarriageAt(side) => json!({ "op": "carriage_at", "side": side.name() }),
        Action::Repeat { times, steps } => {
            json!({ "op": "again", "times": times, "steps": steps.len() })
        }
        Action::Hold(which) => json!({ "op": "hold", "which": chosen(*which) }),
        Action::Return(which) => json!({ "op": "bring_back", "which": chosen(*which) }),
        Action::Wrap => json!({ "op": "wrap" }),
        Action::Hang { edge, needle, loops } => {
            let (loops, over) = match loops {
                HangLoops::Each(loops) => (Some(loops), None),
                HangLoops::SpreadOver(over) => (None, Some(over)),
            };
            json!({ "op": "hang", "edge": edge, "needle": needle.to_string(), "loops": loops, "over": over })
        }
        Action::TransferToMain => json!({ "op": "transfer_to_main" }),
        Action::Decrease { side, count } => {
            json!({ "op": "decrease", "side": side.name(), "count": count, "end_of": "in work" })
        }
        Action::Increase { side, count } => {
            json!({ "op": "increase", "side": side.name(), "count": count, "end_of": "in work" })
        }
        Action::ScrapOff { edge, which } => {
            json!({ "op": "scrap_off", "edge": edge, "which": chosen(*which) })
        }
        Action::WorkBeds(Beds::Main) => json!({ "op": "rest_ribber" }),
        Action::WorkBeds(Beds::Both) => json!({ "op": "both_beds" }),
        Action::Pitch(pitch) => json!({ "op": "pitch", "needles": pitch.name() }),
        Action::Rehang { edge, span, beds } => json!({
            "op": "rehang", "edge": edge, "needles": span.to_string(), "tube": *beds == Beds::Both,
        }),
        Action::CastOff { which } => json!({ "op": "cast_off", "which": chosen(*which) }),
        Action::Dial(value) => json!({ "op": "dial", "value": value }),
        Action::Section(name) => json!({ "op": "section", "name": name }),
        Action::ResetCounter => json!({ "op": "reset_counter" }),
        Action::Note(text) => json!({ "op": "note", "text": text }),
        Action::Mark(name) => json!({ "op": "mark", "name": name }),
        shaping => shaping_fields(shaping),
    };
    match value {
        Value::Object(fields) => fields,
        _ => Map::new(),
    }
}

fn shaping_fields(action: &Action) -> Value {
    match action {
        Action::Narrow(fashion) => fashioned("decrease", fashion),
        Action::Widen(fashion) => fashioned("increase", fashion),
        Action::Transfer(transfer) => transferred(transfer),
        Action::ToRib { structure, which } => {
            json!({ "op": "to_rib", "structure": structure.name(), "which": chosen(*which) })
        }
        Action::PickUp { edge, span } => {
            json!({ "op": "pick_up", "edge": edge_data(edge), "needles": span.to_string() })
        }
        Action::BreakYarn => json!({ "op": "break_yarn" }),
        Action::JoinYarn(side) => json!({ "op": "join_yarn", "side": side.map(Side::name) }),
        off_the_bed => finishing_fields(off_the_bed),
    }
}

fn finishing_fields(action: &Action) -> Value {
    let selvedge = |(piece, side): &(String, Side)| json!({ "piece": piece, "side": side.name() });
    match action {
        Action::Graft { first, second } => {
            json!({ "op": "graft", "first": { "name": first }, "second": { "name": second } })
        }
        Action::GatherEdge { edge } => json!({ "op": "gather_edge", "edge": { "name": edge } }),
        Action::GatherSelvedge { piece, side } => {
            json!({ "op": "gather_selvedge", "piece": piece, "side": side.name() })
        }
        Action::Seam { first, second } => {
            json!({ "op": "seam", "first": selvedge(first), "second": selvedge(second) })
        }
        Action::SewOn { edge, piece, side } => json!({
            "op": "sew_on", "first": { "name": edge },
            "second": { "piece": piece, "side": side.name() },
        }),
        Action::Join { how, first, second } => json!({
            "op": how.name(), "first": edge_data(first), "second": edge_data(second),
        }),
        Action::Gather(edge) => json!({ "op": "gather_edge", "edge": edge_data(edge) }),
        Action::Block(block) => json!({
            "op": "block", "form": block.form, "width_mm": block.width_mm, "steam": block.steam,
            "note": block.note,
        }),
        _ => Value::Null,
    }
}

fn method_name(method: CastOnMethod) -> &'static str {
    match method {
        CastOnMethod::Waste => "waste",
        CastOnMethod::Wound => "wound",
        CastOnMethod::Rib => "rib",
    }
}

fn chosen(which: Which) -> Value {
    match which {
        Which::Span(span) => json!({ "needles": span.to_string() }),
        Which::AtSide(side, count) => json!({ "side": side.name(), "count": count }),
        Which::All => json!({ "all": true }),
    }
}

fn fashioned(op: &str, fashion: &Fashion) -> Value {
    let side = match fashion.ends {
        WorkingEnds::One(side) => side.name(),
        WorkingEnds::Both => "both",
    };
    let (inset, at) = match fashion.inset {
        Inset::Stitches(stitches) => (Some(stitches), None),
        Inset::Needle(needle) => (None, Some(needle.to_string())),
    };
    json!({
        "op": op, "side": side, "count": fashion.count, "inset": inset, "at": at,
        "end_of": "working",
    })
}

fn transferred(transfer: &Transfer) -> Value {
    let bed = |ribber: bool| if ribber { "ribber" } else { "main" };
    json!({
        "op": "transfer",
        "from": transfer.from.span.to_string(),
        "to": transfer.to.span.to_string(),
        "from_bed": bed(transfer.from.ribber),
        "to_bed": bed(transfer.to.ribber),
        "emptied": if transfer.eyelets { "work" } else { "out" },
        "structure": transfer.structure.name(),
    })
}

fn edge_data(edge: &EdgeRange) -> Value {
    let (from, to) = (edge.from, edge.to);
    match &edge.place {
        EdgePlace::Open(name) => json!({ "name": name, "from": from, "to": to }),
        EdgePlace::Selvedge(piece, side) => {
            json!({ "piece": piece, "side": side.name(), "from": from, "to": to })
        }
        EdgePlace::Inner(piece, side) => {
            let side = format!("inner_{}", side.name());
            json!({ "piece": piece, "side": side, "from": from, "to": to })
        }
        // What the bed refused: numbers stand in its place otherwise.
        EdgePlace::Marked(marked) => json!({ "piece": marked.piece, "side": marked.side.name() }),
        EdgePlace::CastOn(piece) => {
            json!({ "piece": piece, "side": "cast_on", "from": from, "to": to })
        }
        EdgePlace::CastOff(piece) => {
            json!({ "piece": piece, "side": "cast_off", "from": from, "to": to })
        }
    }
}
