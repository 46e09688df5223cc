//! From the checked fields of a step to an [`Action`], with the rules that join several fields.

use mlua::Table;

use diag::{Code, Diagnostic};
use knit::needle::Side;
use knit::program::{Action, Beds, Block, CastOnMethod, HangLoops, Structure, Which};

use super::fields::{CheckedFields, read};
use super::raised::raise;
use crate::schema::{PIECE_SIDE, StepOp};

/// The action of a step; `name` is what its constructor is called behind `step.`. The steps inside a
/// repeat are left to the caller. A field the schema requires has been seen by then.
pub(crate) fn step_action(
    op: StepOp,
    name: &str,
    fields: &CheckedFields,
) -> Result<Action, Diagnostic> {
    let text = |field: &str| fields.text(field).unwrap_or_default();
    let count = || fields.whole("count").unwrap_or(1);
    let side = || need(fields.side("side"), name, "side");
    Ok(match op {
        StepOp::CastOn => cast_on(fields)?,
        StepOp::Knit => Action::Knit { rows: fields.whole("rows").unwrap_or(1) },
        StepOp::Again => {
            Action::Repeat { times: fields.whole("times").unwrap_or(1), steps: Vec::new() }
        }
        StepOp::Hold => Action::Hold(which(name, fields)?),
        StepOp::BringBack => Action::Return(which(name, fields)?),
        StepOp::Wrap => Action::Wrap,
        StepOp::Hang => Action::Hang {
            edge: text("edge"),
            needle: need(fields.needle("needle"), name, "needle")?,
            loops: match (fields.whole("loops"), fields.whole("over")) {
                (Some(_), Some(_)) => return Err(one_of(name, "`loops` or `over`")),
                (None, Some(over)) => HangLoops::SpreadOver(over),
                (loops, None) => HangLoops::Each(loops.unwrap_or(1)),
            },
        },
        StepOp::TransferToMain => Action::TransferToMain,
        StepOp::Decrease => Action::Decrease { side: side()?, count: count() },
        StepOp::Increase => Action::Increase { side: side()?, count: count() },
        StepOp::ScrapOff => Action::ScrapOff { edge: text("edge"), which: span_or_all(fields) },
        StepOp::Rehang => Action::Rehang {
            edge: text("edge"),
            span: need(fields.needles("needles"), name, "needles")?,
            beds: if fields.flag("tube") { Beds::Both } else { Beds::Main },
        },
        StepOp::RestRibber => Action::WorkBeds(Beds::Main),
        StepOp::BothBeds => Action::WorkBeds(Beds::Both),
        StepOp::CastOff => Action::CastOff { which: span_or_all(fields) },
        StepOp::Dial => Action::Dial(fields.number("value").unwrap_or_default()),
        StepOp::Section => Action::Section(text("name")),
        StepOp::ResetCounter => Action::ResetCounter,
        StepOp::Note => Action::Note(text("text")),
        StepOp::Mark => Action::Mark(text("name")),
        StepOp::CarriageAt => Action::CarriageAt(side()?),
        StepOp::Graft => Action::Graft { first: text("first"), second: text("second") },
        StepOp::GatherEdge => Action::GatherEdge { edge: text("edge") },
        StepOp::GatherSelvedge => Action::GatherSelvedge { piece: text("piece"), side: side()? },
        StepOp::Seam => Action::Seam {
            first: selvedge(name, "first", fields.table("first"))?,
            second: selvedge(name, "second", fields.table("second"))?,
        },
        StepOp::SewOn => Action::SewOn { edge: text("edge"), piece: text("piece"), side: side()? },
        StepOp::Block => Action::Block(Block {
            form: text("form"),
            width_mm: fields.number("width_mm"),
            steam: fields.flag("steam"),
            note: text("note"),
        }),
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
