//! From the checked fields of an edge to an [`EdgeRange`].

use mlua::Table;

use diag::{Code, Diagnostic};
use knit::edge::{EdgePlace, EdgeRange, MarkedEdge, RowAt};
use knit::needle::Side;

use super::fields::{CheckedFields, read};
use super::raised::raise;
use super::show::What;
use crate::schema::EDGE;

/// The edge that fields name. `what` is what it is called in faults.
pub(crate) fn edge_of(fields: &CheckedFields, what: What<'_>) -> Result<EdgeRange, Diagnostic> {
    let place = match (fields.text("name"), fields.text("piece"), fields.text("side")) {
        (Some(name), None, None) => EdgePlace::Open(name),
        (None, Some(piece), Some(side)) => match side.as_str() {
            "left" => EdgePlace::Selvedge(piece, Side::Left),
            "right" => EdgePlace::Selvedge(piece, Side::Right),
            "inner_left" => EdgePlace::Inner(piece, Side::Left),
            "inner_right" => EdgePlace::Inner(piece, Side::Right),
            "cast_on" => EdgePlace::CastOn(piece),
            _ => EdgePlace::CastOff(piece),
        },
        (None, None, _) | (None, _, None) => {
            return Err(Diagnostic::error(
                Code::ScriptMissingField,
                format!("{what} needs `piece` and `side`, or `name`"),
            )
            .hint("`side` is left, right, inner_left, inner_right, cast_on or cast_off; `name` is of an open edge"));
        }
        (Some(_), ..) => {
            return Err(Diagnostic::error(
                Code::ScriptConflict,
                format!("{what} has either `name`, or `piece` and `side`"),
            )
            .hint("leave the others out"));
        }
    };
    let from = fields.row_at("from").unwrap_or(RowAt::Row(0));
    stretch_of(place, from, fields.row_at("to"), what)
}

/// A stretch of an edge, where it can be one.
pub(crate) fn stretch_of(
    place: EdgePlace,
    from: RowAt,
    to: Option<RowAt>,
    what: What<'_>,
) -> Result<EdgeRange, Diagnostic> {
    let not_behind = |from: &dyn std::fmt::Display, to: &dyn std::fmt::Display| {
        Err(Diagnostic::error(
            Code::ScriptNumber,
            format!("{what} ends at {to} and begins at {from}"),
        )
        .hint("`from` is less than `to`: both are counted from the same end"))
    };
    match (from, to) {
        (RowAt::Row(from), Some(RowAt::Row(to))) if to <= from => not_behind(&from, &to),
        (RowAt::Row(from), None) => Ok(EdgeRange { place, from, to: None }),
        (RowAt::Row(from), Some(RowAt::Row(to))) => Ok(EdgeRange { place, from, to: Some(to) }),
        (RowAt::Mark(mark, from), Some(RowAt::Mark(other, to))) if mark == other && to <= from => {
            not_behind(&format!("{mark} + {from}"), &format!("{other} + {to}"))
        }
        (from, to) => {
            let (piece, side, inner) = match place {
                EdgePlace::Selvedge(piece, side) => (piece, side, false),
                EdgePlace::Inner(piece, side) => (piece, side, true),
                _ => {
                    return Err(Diagnostic::error(
                        Code::ScriptWrongType,
                        format!("{what} is counted in stitches, and a mark is a row"),
                    )
                    .hint("give `from` and `to` as numbers, or take a selvedge"));
                }
            };
            let marked = MarkedEdge { piece, side, inner, from, to };
            Ok(EdgeRange { place: EdgePlace::Marked(Box::new(marked)), from: 0, to: None })
        }
    }
}

/// The edge that a table stands for.
pub(crate) fn edge_in(table: &Table, what: What<'_>, api: u32) -> Result<EdgeRange, Diagnostic> {
    let mut faults = Vec::new();
    let unreadable = |e: mlua::Error| Diagnostic::error(Code::ScriptError, e.to_string());
    // An edge that is a value knows how long it is.
    let fields = read(table, EDGE.fields, what, &["count"], &mut faults).map_err(unreadable)?;
    faults.extend(fields.newer_than(api, what));
    match faults.into_iter().next() {
        None => edge_of(&fields, what),
        Some(found) if !found.fault.message.is_empty() => Err(found.fault),
        Some(_) => Err(unreadable(raise(Vec::new()))),
    }
}
