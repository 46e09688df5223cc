//! From the checked fields of an edge to an [`EdgeRange`].

use mlua::Table;

use diag::{Code, Diagnostic};
use knit::edge::{EdgePlace, EdgeRange};
use knit::needle::Side;

use super::fields::{CheckedFields, read};
use super::raised::raise;
use crate::schema::EDGE;

/// The edge that fields name. `what` is what it is called in faults.
pub(crate) fn edge_of(fields: &CheckedFields, what: &str) -> Result<EdgeRange, Diagnostic> {
    let place = match (fields.text("name"), fields.text("piece"), fields.text("side")) {
        (Some(name), None, None) => EdgePlace::Open(name),
        (None, Some(piece), Some(side)) => match side.as_str() {
            "left" => EdgePlace::Selvedge(piece, Side::Left),
            "right" => EdgePlace::Selvedge(piece, Side::Right),
            "cast_on" => EdgePlace::CastOn(piece),
            _ => EdgePlace::CastOff(piece),
        },
        (None, None, _) | (None, _, None) => {
            return Err(Diagnostic::error(
                Code::ScriptMissingField,
                format!("{what} needs `piece` and `side`, or `name`"),
            )
            .hint("`side` is left, right, cast_on or cast_off; `name` is of an open edge"));
        }
        (Some(_), ..) => {
            return Err(Diagnostic::error(
                Code::ScriptConflict,
                format!("{what} has either `name`, or `piece` and `side`"),
            )
            .hint("leave the others out"));
        }
    };
    let (from, to) = (fields.whole("from").unwrap_or(0), fields.whole("to"));
    if let Some(to) = to.filter(|to| *to <= from) {
        return Err(Diagnostic::error(
            Code::ScriptNumber,
            format!("{what} ends at {to} and begins at {from}"),
        )
        .hint("`from` is less than `to`: both are counted from the same end"));
    }
    Ok(EdgeRange { place, from, to })
}

/// The edge that a table stands for.
pub(super) fn edge_in(table: &Table, what: &str, api: u32) -> Result<EdgeRange, Diagnostic> {
    let mut faults = Vec::new();
    let unreadable = |e: mlua::Error| Diagnostic::error(Code::ScriptError, e.to_string());
    let fields = read(table, EDGE.fields, what, &[], &mut faults).map_err(unreadable)?;
    faults.extend(fields.newer_than(api, what));
    match faults.into_iter().next() {
        None => edge_of(&fields, what),
        Some(found) if !found.fault.message.is_empty() => Err(found.fault),
        Some(_) => Err(unreadable(raise(Vec::new()))),
    }
}
