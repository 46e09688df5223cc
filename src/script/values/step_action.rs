//! From the checked fields of a step to an [`Action`], with the rules that join several fields.

use mlua::Table;

use diag::{Code, Diagnostic};
use knit::needle::Side;
use knit::program::{Action, Beds, Block, CastOnMethod, HangLoops, Structure, Which};

use super::fields::{CheckedFields, read};
use super::raised::raise;
use crate::schema::PIECE_SIDE;

/// The action of the step called `op`; the steps inside a repeat are left to the caller. A field
/// the table in `api` requires has been seen by then.
pub(crate) fn step_action(op: &str, fields: &CheckedFields) -> Result<Action, Diagnostic> {
    let text = |name: &str| fields.text(name).unwrap_or_default();
    let count = || fields.whole("count").unwrap_or(1);
    let side = || need(fields.side("side"), op, "side");
    Ok(match op {
        "cast_on" => cast_on(fields)?,
        "knit" => Action::Knit { rows: fields.whole("rows").unwrap_or(1) },
        "again" => Action::Repeat { times: fields.whole("times").unwrap_or(1), steps: Vec::new() },
        "hold" => Action::Hold(which(op, fields)?),
        "bring_back" => Action::Return(which(op, fields)?),
        "wrap" => Action::Wrap,
        "hang" => Action::Hang {
            edge: text("edge"),
            needle: need(fields.needle("needle"), op, "needle")?,
            loops: match (fields.whole("loops"), fields.whole("over")) {
                (Some(_), Some(_)) => return Err(one_of(op, "`loops` or `over`")),
                (None, Some(over)) => HangLoops::SpreadOver(over),
                (loops, None) => HangLoops::Each(loops.unwrap_or(1)),
            },
        },
        "transfer_to_main" => Action::TransferToMain,
        "decrease" => Action::Decrease { side: side()?, count: count() },
        "increase" => Action::Increase { side: side()?, count: count() },
        "scrap_off" => Action::ScrapOff { edge: text("edge"), which: span_or_all(fields) },
        "rehang" => Action::Rehang {
            edge: text("edge"),
            span: need(fields.needles("needles"), op, "needles")?,
            beds: if fields.flag("tube") { Beds::Both } else { Beds::Main },
        },
        "rest_ribber" => Action::WorkBeds(Beds::Main),
        "both_beds" => Action::WorkBeds(Beds::Both),
        "cast_off" => Action::CastOff { which: span_or_all(fields) },
        "dial" => Action::Dial(fields.number("value").unwrap_or_default()),
        "section" => Action::Section(text("name")),
        "reset_counter" => Action::ResetCounter,
        "note" => Action::Note(text("text")),
        "mark" => Action::Mark(text("name")),
        "carriage_at" => Action::CarriageAt(side()?),
        "graft" => Action::Graft { first: text("first"), second: text("second") },
        "gather_edge" => Action::GatherEdge { edge: text("edge") },
        "gather_selvedge" => Action::GatherSelvedge { piece: text("piece"), side: side()? },
        "seam" => Action::Seam {
            first: selvedge(op, "first", fields.table("first"))?,
            second: selvedge(op, "second", fields.table("second"))?,
        },
        "sew_on" => Action::SewOn { edge: text("edge"), piece: text("piece"), side: side()? },
        "block" => Action::Block(Block {
            form: text("form"),
            width_mm: fields.number("width_mm"),
            steam: fields.flag("steam"),
            note: text("note"),
        }),
        _ => {
            return Err(Diagnostic::error(
                Code::ScriptUnknownStep,
                format!("there is no step `{op}`"),
            ));
        }
    })
}

fn need<T>(value: Option<T>, op: &str, field: &str) -> Result<T, Diagnostic> {
    value.ok_or_else(|| {
        Diagnostic::error(Code::ScriptMissingField, format!("step.{op} needs `{field}`"))
    })
}

fn one_of(op: &str, fields: &str) -> Diagnostic {
    Diagnostic::error(Code::ScriptConflict, format!("step.{op} takes either {fields}"))
        .hint("leave the others out")
}

fn cast_on(fields: &CheckedFields) -> Result<Action, Diagnostic> {
    let method = need(fields.method("method"), "cast_on", "method")?;
    let edge = fields.text("edge");
    let conflict = |message: &str, hint: &str| {
        Err(Diagnostic::error(Code::ScriptConflict, message).hint(hint))
    };
    match (method, &edge) {
        (CastOnMethod::Waste, None) => {
            return conflict(
                "step.cast_on on waste yarn leaves open loops: they need a name",
                "add `edge = \"start\"`, or take method = \"wound\"",
            );
        }
        (CastOnMethod::Rib, Some(_)) => {
            return conflict(
                "`edge` of step.cast_on names open loops, and a rib's cast-on leaves none",
                "leave `edge` out, or take method = \"waste\" or \"wound\"",
            );
        }
        _ => {}
    }
    Ok(Action::CastOn {
        span: need(fields.needles("needles"), "cast_on", "needles")?,
        structure: fields.structure("structure").unwrap_or(Structure::Plain),
        method,
        edge,
    })
}

fn which(op: &str, fields: &CheckedFields) -> Result<Which, Diagnostic> {
    match (
        fields.needles("needles"),
        fields.side("side"),
        fields.whole("count"),
        fields.flag("all"),
    ) {
        (Some(span), None, None, false) => Ok(Which::Span(span)),
        (None, Some(side), Some(count), false) => Ok(Which::AtSide(side, count)),
        (None, None, None, true) => Ok(Which::All),
        _ => Err(one_of(op, "`needles`, or `side` and `count`, or `all = true`")),
    }
}

fn span_or_all(fields: &CheckedFields) -> Which {
    fields.needles("needles").map_or(Which::All, Which::Span)
}

fn selvedge(op: &str, field: &str, table: Option<Table>) -> Result<(String, Side), Diagnostic> {
    let table = need(table, op, field)?;
    let what = format!("`{field}` of step.{op}");
    let mut faults = Vec::new();
    let unreadable = |e: mlua::Error| Diagnostic::error(Code::ScriptError, e.to_string());
    let fields = read(&table, PIECE_SIDE.fields, &what, &[], &mut faults).map_err(unreadable)?;
    match (faults.into_iter().next(), fields.text("piece"), fields.side("side")) {
        (None, Some(piece), Some(side)) => Ok((piece, side)),
        (Some(found), ..) => Err(found.fault),
        (None, ..) => Err(unreadable(raise(Vec::new()))),
    }
}
