//! Edges and marks, as values of the API. Each is checked when it is made, so that a fault has its line; it
//! is read again where it is used.

use mlua::{IntoLuaMulti, Lua, MultiValue, Value};

use diag::{Code, Diagnostic};
use knit::edge::{EdgePlace, EdgeRange, MarkedEdge, RowAt};

use super::call_state::CallState;
use crate::values::{CheckedFields, What, edge_in, edge_of, raise_one, stretch_of};

/// More rows than any piece has.
const MOST: i64 = 100_000;

/// An edge in the parts that a script sees.
struct Stretch {
    place: EdgePlace,
    from: RowAt,
    to: Option<RowAt>,
}

impl From<EdgeRange> for Stretch {
    fn from(edge: EdgeRange) -> Stretch {
        match edge.place {
            EdgePlace::Marked(marked) => {
                let MarkedEdge { piece, side, inner, from, to } = *marked;
                let place = match inner {
                    true => EdgePlace::Inner(piece, side),
                    false => EdgePlace::Selvedge(piece, side),
                };
                Stretch { place, from, to }
            }
            place => Stretch { place, from: RowAt::Row(edge.from), to: edge.to.map(RowAt::Row) },
        }
    }
}

impl Stretch {
    /// What stands before the colon.
    fn of(state: &CallState, fields: &CheckedFields) -> mlua::Result<Stretch> {
        match (fields.table("edge"), fields.text("edge")) {
            (Some(table), _) => edge_in(&table, &"the edge", state.api.get()).map_err(raise_one),
            (None, name) => {
                let place = EdgePlace::Open(name.unwrap_or_default());
                Ok(EdgeRange { place, from: 0, to: None })
            }
        }
        .map(Stretch::from)
    }

    /// Its name, piece, side, beginning and end, for the prelude to make a value of.
    fn given(self, lua: &Lua, what: What<'_>) -> mlua::Result<MultiValue> {
        let sound = stretch_of(self.place, self.from, self.to, what).map_err(raise_one)?;
        let Stretch { place, from, to } = Stretch::from(sound);
        let named = |name, piece: Option<String>, side: Option<String>| (name, piece, side);
        let sided = |piece, side| named(None, Some(piece), Some(side));
        let (name, piece, side) = match place {
            EdgePlace::Open(name) => named(Some(name), None, None),
            EdgePlace::Selvedge(piece, side) => sided(piece, side.name().to_owned()),
            EdgePlace::Inner(piece, side) => sided(piece, format!("inner_{}", side.name())),
            EdgePlace::CastOff(piece) => sided(piece, "cast_off".to_owned()),
            EdgePlace::CastOn(piece) => sided(piece, "cast_on".to_owned()),
            EdgePlace::Marked(marked) => sided(marked.piece, marked.side.name().to_owned()),
        };
        let row = |at: &RowAt| match at {
            RowAt::Row(row) => (Some(f64::from(*row)), None, None),
            RowAt::Mark(name, rows) => (None, Some(name.clone()), Some(f64::from(*rows))),
        };
        let (from_row, from_mark, from_rows) = row(&from);
        let (to_row, to_mark, to_rows) = to.as_ref().map_or((None, None, None), row);
        let ends = (from_row, from_mark, from_rows, to_row, to_mark, to_rows);
        let mut values = (name, piece, side).into_lua_multi(lua)?;
        values.extend(ends.into_lua_multi(lua)?);
        Ok(values)
    }
}

/// `at`, so many rows or stitches further on.
fn moved(at: &RowAt, by: i64) -> mlua::Result<RowAt> {
    let past = |place: i64| {
        raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("the edge would begin or end at {place}"),
            )
            .hint(format!("rows and stitches of an edge are counted from 0, {MOST} at most")),
        )
    };
    match at {
        RowAt::Row(row) => {
            let row = i64::from(*row).saturating_add(by);
            match u32::try_from(row) {
                Ok(place) if row <= MOST => Ok(RowAt::Row(place)),
                _ => Err(past(row)),
            }
        }
        RowAt::Mark(name, rows) => {
            let rows = i64::from(*rows).saturating_add(by);
            match i32::try_from(rows) {
                Ok(place) if rows.abs() <= MOST => Ok(RowAt::Mark(name.clone(), place)),
                _ => Err(past(rows)),
            }
        }
    }
}

/// That a stretch of an edge ends no later than the edge does, where both are told in the same way.
fn within(edge: &Stretch, to: &RowAt) -> mlua::Result<()> {
    let (own, asked, from) = match (&edge.to, to, &edge.from) {
        (Some(RowAt::Row(own)), RowAt::Row(asked), RowAt::Row(from)) => {
            (i64::from(*own), i64::from(*asked), i64::from(*from))
        }
        (Some(RowAt::Mark(a, own)), RowAt::Mark(b, asked), RowAt::Mark(c, from))
            if a == b && b == c =>
        {
            (i64::from(*own), i64::from(*asked), i64::from(*from))
        }
        _ => return Ok(()),
    };
    if asked <= own {
        return Ok(());
    }
    let (asked, long) = (asked - from, own - from);
    Err(raise_one(
        Diagnostic::error(
            Code::ScriptNumber,
            format!("the stretch would end at {asked} of an edge that is {long} long"),
        )
        .hint("it is counted from where the edge begins, and ends with it at the latest"),
    ))
}

fn whole(fields: &CheckedFields, name: &str) -> mlua::Result<i64> {
    match fields.row_at(name) {
        Some(RowAt::Row(row)) => Ok(row.into()),
        _ => Ok(fields.whole(name).unwrap_or_default().into()),
    }
}

fn by(fields: &CheckedFields) -> i64 {
    fields.number("by").unwrap_or_default() as i64
}

pub(super) fn edge(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    Stretch::from(edge_of(fields, &"edge").map_err(raise_one)?).given(lua, &"edge")
}

pub(super) fn slice(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let (from, to) = (moved(&edge.from, whole(f, "from")?)?, moved(&edge.from, whole(f, "to")?)?);
    within(&edge, &to)?;
    Stretch { from, to: Some(to), ..edge }.given(lua, &"edge:slice")
}

pub(super) fn first(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let to = moved(&edge.from, whole(f, "n")?)?;
    within(&edge, &to)?;
    Stretch { to: Some(to), ..edge }.given(lua, &"edge:first")
}

pub(super) fn last(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let Some(to) = &edge.to else {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptMissingField,
                "where the edge ends is not known to the script",
            )
            .hint("give it `to`, or take edge:after"),
        ));
    };
    let from = moved(to, -whole(f, "n")?)?;
    if let (RowAt::Row(begun), RowAt::Row(from)) = (&edge.from, &from)
        && from < begun
    {
        within(&edge, &moved(&edge.from, whole(f, "n")?)?)?;
    }
    Stretch { from, ..edge }.given(lua, &"edge:last")
}

pub(super) fn after(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    Stretch { from: moved(&edge.from, whole(f, "n")?)?, ..edge }.given(lua, &"edge:after")
}

pub(super) fn shift(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let from = moved(&edge.from, by(f))?;
    let to = edge.to.as_ref().map(|to| moved(to, by(f))).transpose()?;
    Stretch { from, to, ..edge }.given(lua, &"edge:shift")
}

pub(super) fn other_side(
    lua: &Lua,
    state: &CallState,
    f: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let place = match edge.place {
        EdgePlace::Selvedge(piece, side) => EdgePlace::Selvedge(piece, side.other()),
        EdgePlace::Inner(piece, side) => EdgePlace::Inner(piece, side.other()),
        _ => return Err(no_other("only a selvedge has another side")),
    };
    Stretch { place, ..edge }.given(lua, &"edge:other_side")
}

pub(super) fn of(lua: &Lua, state: &CallState, f: &CheckedFields) -> mlua::Result<MultiValue> {
    let edge = Stretch::of(state, f)?;
    let piece = f.text("piece").unwrap_or_default();
    let place = match edge.place {
        EdgePlace::Selvedge(_, side) => EdgePlace::Selvedge(piece, side),
        EdgePlace::Inner(_, side) => EdgePlace::Inner(piece, side),
        EdgePlace::CastOn(_) => EdgePlace::CastOn(piece),
        EdgePlace::CastOff(_) => EdgePlace::CastOff(piece),
        _ => return Err(no_other("an open edge is of one piece: its name is its own")),
    };
    Stretch { place, ..edge }.given(lua, &"edge:of")
}

fn no_other(message: &str) -> mlua::Error {
    raise_one(
        Diagnostic::error(Code::ScriptConflict, message)
            .hint("name the edge itself: edge{ piece = ..., side = ... }"),
    )
}

pub(super) fn mark(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    (fields.text("name"), 0).into_lua_multi(lua)
}

pub(super) fn mark_shift(
    lua: &Lua,
    _: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let at = fields.row_at("mark").unwrap_or(RowAt::Row(0));
    match moved(&at, by(fields))? {
        RowAt::Mark(name, rows) => (name, rows).into_lua_multi(lua),
        RowAt::Row(row) => (Value::Nil, row).into_lua_multi(lua),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use knit::needle::Side;

    #[test]
    fn places_are_moved_and_stay_on_an_edge() {
        assert_eq!(moved(&RowAt::Row(4), 6).ok(), Some(RowAt::Row(10)));
        assert!(moved(&RowAt::Row(4), -5).is_err());
        assert!(moved(&RowAt::Row(4), i64::MAX).is_err());
        let armhole = RowAt::Mark("armhole".to_owned(), 2);
        assert_eq!(moved(&armhole, -5).ok(), Some(RowAt::Mark("armhole".to_owned(), -3)));
        assert!(moved(&armhole, MOST).is_err());
        let left = EdgePlace::Selvedge("front".to_owned(), Side::Left);
        let sound = stretch_of(left, RowAt::Row(2), Some(armhole.clone()), &"edge").expect("sound");
        let stretch = Stretch::from(sound);
        assert_eq!((stretch.from, stretch.to), (RowAt::Row(2), Some(armhole)));
    }
}
