//! From the checked fields of a step to an [`Action`], with the rules that join several fields.

use diag::{Code, Diagnostic};
use knit::edge::{EdgePlace, EdgeRange};
use knit::needle::BedSpan;
use knit::needle::Side;
use knit::program::{
    Action, Beds, Block, CastOnMethod, Fashion, HangLoops, Inset, Joint, Pitch, Structure,
    Transfer, Which, WorkingEnds,
};

use super::edge::edge_in;
use super::fields::{CheckedFields, newer};
use super::show::worded;
use crate::schema::StepOp;

/// The action of a step; `name` is what its constructor is called behind `step.`. The steps inside a
/// repeat are left to the caller. A field the schema requires has been seen by then. Where `api`
/// changes what a step does, this is the one place that knows.
pub(crate) fn step_action(
    op: StepOp,
    name: &str,
    fields: &CheckedFields,
    api: u32,
) -> Result<Action, Diagnostic> {
    let text = |field: &str| fields.text(field).unwrap_or_default();
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
        StepOp::Decrease | StepOp::Increase | StepOp::Transfer | StepOp::ToRib | StepOp::PickUp => {
            shaping(op, name, fields, api)?
        }
        StepOp::BreakYarn => Action::BreakYarn,
        StepOp::JoinYarn => Action::JoinYarn(fields.side("side")),
        StepOp::ScrapOff => Action::ScrapOff { edge: text("edge"), which: span_or_all(fields) },
        StepOp::Rehang => Action::Rehang {
            edge: text("edge"),
            span: need(fields.needles("needles"), name, "needles")?,
            beds: if fields.flag("tube") { Beds::Both } else { Beds::Main },
        },
        StepOp::RestRibber => Action::WorkBeds(Beds::Main),
        StepOp::BothBeds => Action::WorkBeds(Beds::Both),
        StepOp::Pitch => Action::Pitch(match text("needles").as_str() {
            "between" => Pitch::Between,
            _ => Pitch::Facing,
        }),
        StepOp::CastOff => Action::CastOff { which: span_or_all(fields) },
        StepOp::Dial => Action::Dial(fields.number("value").unwrap_or_default()),
        StepOp::Section => Action::Section(text("name")),
        StepOp::ResetCounter => Action::ResetCounter,
        StepOp::Note => Action::Note(text("text")),
        StepOp::Mark => Action::Mark(text("name")),
        StepOp::CarriageAt => Action::CarriageAt(side()?),
        StepOp::Graft | StepOp::GatherEdge | StepOp::Seam | StepOp::SewOn => {
            joined(op, name, fields, api)?
        }
        StepOp::GatherSelvedge => Action::GatherSelvedge { piece: text("piece"), side: side()? },
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
            .hint("see plugins/README.md for its fields")
    })
}

/// Steps that shape.
fn shaping(op: StepOp, name: &str, fields: &CheckedFields, api: u32) -> Result<Action, Diagnostic> {
    Ok(match op {
        StepOp::Decrease => match shaped(name, fields, api)? {
            Shaped::AtEnd(side, count) => Action::Decrease { side, count },
            Shaped::Fashioned(fashion) => Action::Narrow(fashion),
        },
        StepOp::Increase => match shaped(name, fields, api)? {
            Shaped::AtEnd(side, count) => Action::Increase { side, count },
            Shaped::Fashioned(fashion) => Action::Widen(fashion),
        },
        StepOp::Transfer => Action::Transfer(transfer(name, fields)?),
        StepOp::ToRib => Action::ToRib {
            structure: rib(fields).unwrap_or(Structure::Rib1x1),
            which: span_or_all(fields),
        },
        _ => Action::PickUp {
            edge: edge(name, "edge", fields, api)?,
            span: need(fields.needles("needles"), name, "needles")?,
        },
    })
}

/// Where stitches are shaped: as API 1 has it, or as later ones do.
enum Shaped {
    AtEnd(Side, u32),
    Fashioned(Fashion),
}

fn shaped(name: &str, fields: &CheckedFields, api: u32) -> Result<Shaped, Diagnostic> {
    let ends = need(fields.sides("side"), name, "side")?;
    let count = fields.whole("count").unwrap_or(1);
    if api < 2 {
        return match ends {
            WorkingEnds::One(side) => Ok(Shaped::AtEnd(side, count)),
            WorkingEnds::Both => Err(newer(&format!("`side = \"both\"` of step.{name}"), 2, api)),
        };
    }
    let inset = match (fields.whole("inset"), fields.needle("at"), ends) {
        (Some(_), Some(_), _) => return Err(one_of(name, "`inset` or `at`")),
        (None, Some(_), WorkingEnds::Both) => {
            return Err(one_of(name, "`at`, or both sides at once"));
        }
        (None, Some(needle), _) => Inset::Needle(needle),
        (inset, None, _) => Inset::Stitches(inset.unwrap_or(0)),
    };
    Ok(Shaped::Fashioned(Fashion { ends, count, inset }))
}

fn transfer(name: &str, fields: &CheckedFields) -> Result<Transfer, Diagnostic> {
    let on_ribber = |field: &str| fields.text(field).map(|bed| bed == "ribber");
    let from = BedSpan {
        ribber: on_ribber("from_bed").unwrap_or(false),
        span: need(fields.needles("from"), name, "from")?,
    };
    let to = BedSpan {
        ribber: on_ribber("to_bed").unwrap_or(from.ribber),
        span: fields.needles("to").unwrap_or(from.span),
    };
    let eyelets = match fields.text("emptied").as_deref() {
        Some(emptied) => emptied == "work",
        None => from.ribber == to.ribber,
    };
    let structure = rib(fields).unwrap_or(Structure::Rib1x1);
    Ok(Transfer { from, to, eyelets, structure })
}

/// The rib a step names: a word of its own, since not every structure will do.
fn rib(fields: &CheckedFields) -> Option<Structure> {
    Structure::parse(&fields.text("structure")?)
}

/// What is joined or gathered. With API 1 a graft is of two open edges, a seam of two selvedges and
/// what is sewn on an open edge on a selvedge; later any edge may be joined to any other.
fn joined(op: StepOp, name: &str, fields: &CheckedFields, api: u32) -> Result<Action, Diagnostic> {
    let any = |field: &str| edge(name, field, fields, api);
    if api >= 2 {
        let join = |how: Joint, first: &str, second: EdgeRange| {
            Ok(Action::Join { how, first: any(first)?, second })
        };
        return match op {
            StepOp::GatherEdge => Ok(Action::Gather(any("edge")?)),
            StepOp::Graft => join(Joint::Graft, "first", any("second")?),
            StepOp::Seam => join(Joint::Seam, "first", any("second")?),
            _ => join(Joint::SewOn, "edge", sewn_to(name, fields, api)?),
        };
    }
    let open = |field: &str| match any(field)?.place {
        EdgePlace::Open(edge) => Ok(edge),
        _ => Err(newer(&format!("an edge that is not open, as `{field}` of step.{name},"), 2, api)),
    };
    let selvedge = |field: &str| match any(field)?.place {
        EdgePlace::Selvedge(piece, side) => Ok((piece, side)),
        _ => Err(newer(
            &format!("an edge that is no selvedge, as `{field}` of step.{name},"),
            2,
            api,
        )),
    };
    Ok(match op {
        StepOp::GatherEdge => Action::GatherEdge { edge: open("edge")? },
        StepOp::Graft => Action::Graft { first: open("first")?, second: open("second")? },
        StepOp::Seam => Action::Seam { first: selvedge("first")?, second: selvedge("second")? },
        _ => Action::SewOn {
            edge: open("edge")?,
            piece: need(fields.text("piece"), name, "piece")?,
            side: need(fields.side("side"), name, "side")?,
        },
    })
}

/// Where something is sewn on: at an edge, or at the selvedge that `piece` and `side` name.
fn sewn_to(name: &str, fields: &CheckedFields, api: u32) -> Result<EdgeRange, Diagnostic> {
    match (fields.has("to"), fields.text("piece"), fields.side("side")) {
        (true, None, None) => edge(name, "to", fields, api),
        (false, Some(piece), Some(side)) => {
            Ok(EdgeRange { place: EdgePlace::Selvedge(piece, side), from: 0, to: None })
        }
        (false, ..) => need(None, name, "to"),
        (true, ..) => Err(one_of(name, "`to`, or `piece` and `side`")),
    }
}

/// An edge field: a name, or a table.
fn edge(
    name: &str,
    field: &str,
    fields: &CheckedFields,
    api: u32,
) -> Result<EdgeRange, Diagnostic> {
    if let Some(open) = fields.text(field) {
        return Ok(EdgeRange { place: EdgePlace::Open(open), from: 0, to: None });
    }
    let table = need(fields.table(field), name, field)?;
    edge_in(&table, &worded(|f| write!(f, "`{field}` of step.{name}")), api)
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
