//! The walk in few bytes, for the page that leads through it: what is said often stands once, and rows like the
//! one before are a number. `machine.js` unfolds it; the shape is between the two and no promise to others.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::techniques::Technique;
use super::walk::{Stop, StopDeed, Walk};
use super::walk_changes::Change;
use knit::needle::Side;
use knit::run::{BedSpan, Deed};

/// What is said often, each thing once, and where it stands by its text.
#[derive(Default)]
struct Table {
    all: Vec<Value>,
    places: BTreeMap<String, usize>,
}

impl Table {
    /// The place of a value, which is put in where it is not there.
    fn place(&mut self, value: Value) -> usize {
        *self.places.entry(value.to_string()).or_insert_with(|| {
            self.all.push(value);
            self.all.len() - 1
        })
    }
}

/// What is said in a walk.
#[derive(Default)]
struct Said {
    deeds: Table,
    changes: Table,
    passes: Table,
}

/// The walk as text: tables of deeds, changes and passes, and the stops, each one of
/// - a number: so many rows like the last one, with nothing to do by hand,
/// - `[deeds, pass, held, changes, place]` with zeros at the end left out. Deeds and changes are places in the
///   tables. A pass is `[text, more, left, right, ribber, ...]`, without needles where they are the last pass's.
///   `held` is left and right ends; 0: as before. A place is piece (-1: none), rows, counter and carriage (0 left,
///   1 right) before and after; left out where they follow from the stop before.
pub fn walk_folded(walk: &Walk) -> String {
    let mut said = Said::default();
    let mut stops: Vec<Value> = Vec::new();
    let (mut before, mut spans): (Option<&Stop>, &[BedSpan]) = (None, &[]);
    // What the pass to the left was called last, and the one to the right.
    let mut texts = [None; 2];
    let mut alike = 0_u32;
    for stop in &walk.stops {
        let text = stop.pass.as_ref().map(|pass| said.passes.place(json!(pass.text)));
        let from = usize::from(stop.carriage.0 == Side::Right);
        if before.is_some_and(|before| goes_on(before, stop)) && text == texts[from] {
            alike += 1;
        } else {
            if alike > 0 {
                stops.push(json!(alike));
            }
            alike = 0;
            stops.push(said.stop(before, spans, stop));
        }
        if let Some(pass) = &stop.pass {
            (texts[from], spans) = (text, &pass.spans);
        }
        before = Some(stop);
    }
    if alike > 0 {
        stops.push(json!(alike));
    }
    let pieces = walk.pieces.iter().map(|piece| {
        json!([piece.name, piece.title, piece.needles.map(|span| [span.left.0, span.right.0])])
    });
    let Said { deeds, changes, passes } = said;
    json!({
        "rows": walk.rows, "pieces": pieces.collect::<Vec<_>>(), "deeds": deeds.all,
        "changes": changes.all, "passes": passes.all, "stops": stops,
    })
    .to_string()
}

/// Whether a stop is a row like the one before it, and nothing else.
fn goes_on(before: &Stop, stop: &Stop) -> bool {
    let (Some(last), Some(pass)) = (&before.pass, &stop.pass) else { return false };
    !stop.needs_a_hand()
        && follows(before, stop)
        && stop.held == before.held
        && pass.spans == last.spans
        && pass.more + 1 == last.more
}

/// Whether a stop is where one comes to from the stop before: a pass on, or at the same place.
fn follows(before: &Stop, stop: &Stop) -> bool {
    let row = u32::from(stop.pass.is_some());
    let to = if row > 0 { before.carriage.1.other() } else { before.carriage.1 };
    stop.piece == before.piece
        && stop.rows == (before.rows.1, before.rows.1 + row)
        && stop.counter == (before.counter.1, before.counter.1 + row)
        && stop.carriage == (before.carriage.1, to)
}

impl Said {
    fn stop(&mut self, before: Option<&Stop>, last: &[BedSpan], stop: &Stop) -> Value {
        let deeds: Vec<usize> = stop.deeds.iter().map(|own| self.deeds.place(deed(own))).collect();
        let change = |own: &Change| json!([own.of.name(), own.text]);
        let changes: Vec<usize> =
            stop.changes.iter().map(|own| self.changes.place(change(own))).collect();
        let pass = stop.pass.as_ref().map_or(json!(0), |pass| {
            let mut all = vec![json!(self.passes.place(json!(pass.text))), json!(pass.more)];
            if pass.spans != last {
                let ends = |own: &BedSpan| [own.span.left.0, own.span.right.0, own.ribber.into()];
                all.extend(pass.spans.iter().flat_map(ends).map(Value::from));
            }
            Value::Array(all)
        });
        let held = match before {
            Some(before) if before.held == stop.held => json!(0),
            _ => stop.held.iter().flat_map(|span| [span.left.0, span.right.0]).collect(),
        };
        let place = match before {
            Some(before) if follows(before, stop) => json!(0),
            _ => {
                let side = |side: Side| u32::from(side == Side::Right);
                let ((rows, after), (counter, to)) = (stop.rows, stop.counter);
                let piece = stop.piece.map_or(-1, i64::from);
                let (from, on) = (side(stop.carriage.0), side(stop.carriage.1));
                json!([piece, rows, after, counter, to, from, on])
            }
        };
        let list = |all: Vec<usize>| if all.is_empty() { json!(0) } else { json!(all) };
        let mut all = vec![list(deeds), pass, held, list(changes), place];
        while all.last() == Some(&json!(0)) {
            all.pop();
        }
        Value::Array(all)
    }
}

fn deed(deed: &StopDeed) -> Value {
    let needles = deed.needles.map(|span| [span.left.0, span.right.0]);
    let (what, how) = (deed.deed.map(Deed::name), deed.how.map(Technique::id));
    match (needles, how) {
        (None, None) => json!([what, deed.text]),
        (Some(_), None) => json!([what, deed.text, needles]),
        _ => json!([what, deed.text, needles, how]),
    }
}
