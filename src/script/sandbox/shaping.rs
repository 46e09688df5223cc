//! The shaping functions of the API: checked arguments to [`knit::shaping`](knit::shaping),
//! and what it makes to tables. No sums of its own.

use mlua::{IntoLuaMulti, Lua, LuaString, MultiValue, Table};

use diag::{Code, Diagnostic};
use knit::needle::Side;
use knit::program::Action;
use knit::shaping::{self, Ends, Follow, HeelMarks, Move, Outline, ShortRowHeel, Stretch};

use super::call_state::CallState;
use super::guards::unlimited;
use super::kept_steps::KeptStep;
use super::stack::line_in;
use crate::code::INIT;
use crate::values::{CheckedFields, raise_one};

fn whole(fields: &CheckedFields, name: &str) -> u32 {
    fields.whole(name).unwrap_or_default()
}

fn number(fields: &CheckedFields, name: &str) -> f64 {
    fields.number(name).unwrap_or_default()
}

fn ends(fields: &CheckedFields) -> Ends {
    fields.ends("ends").unwrap_or(Ends::One)
}

pub(super) fn gaps(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    state.check_clock(lua)?;
    let gaps = shaping::gaps(whole(fields, "total"), whole(fields, "shapings"), ends(fields));
    lua.create_sequence_from(gaps)?.into_lua_multi(lua)
}

pub(super) fn schedule(
    lua: &Lua,
    _: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let multiple = fields.whole("multiple").unwrap_or(1);
    let (shapings, rows) = (whole(fields, "shapings"), whole(fields, "rows"));
    let made = shaping::schedule(shapings, rows, multiple, ends(fields)).map_err(raise_one)?;
    let intervals = lua.create_table()?;
    for interval in &made.intervals {
        let table = lua.create_table()?;
        table.raw_set("every", interval.every)?;
        table.raw_set("times", interval.times)?;
        intervals.raw_push(table)?;
    }
    (intervals, made.plain).into_lua_multi(lua)
}

pub(super) fn short_row_heel(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let stitches = whole(fields, "stitches");
    let to = fields.whole("to").unwrap_or_else(|| ShortRowHeel::third(stitches));
    let carriage = fields.side("carriage").unwrap_or(Side::Right);
    let heel =
        ShortRowHeel::new(stitches, to, carriage, fields.side("resting")).map_err(raise_one)?;
    let marks = HeelMarks { turn: fields.text("turn"), out: fields.text("tally") };
    unlimited(lua, || step_list(lua, state, &heel.moves(&marks)))?.into_lua_multi(lua)
}

pub(super) fn wedges(lua: &Lua, _: &CallState, fields: &CheckedFields) -> mlua::Result<MultiValue> {
    let exact = shaping::wedges(
        whole(fields, "step"),
        number(fields, "stitch_mm"),
        number(fields, "row_mm"),
        fields.number("fullness").unwrap_or(1.0),
    );
    (exact, exact.round()).into_lua_multi(lua)
}

/// What `along` and `steps_along` share.
fn followed(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<(u32, Vec<Stretch>)> {
    state.check_clock(lua)?;
    let follow = Follow {
        stitch_mm: number(fields, "stitch_mm"),
        row_mm: number(fields, "row_mm"),
        every: fields.whole("every").unwrap_or(2),
        symmetric: fields.flag_unless_false("symmetric"),
    };
    Outline::new(fields.points("points").unwrap_or_default())
        .and_then(|outline| outline.follow(follow))
        .map_err(raise_one)
}

pub(super) fn along(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let (cast_on, stretches) = followed(lua, state, fields)?;
    let list = lua.create_table()?;
    for stretch in stretches {
        let table = lua.create_table()?;
        table.raw_set("rows", stretch.rows)?;
        table.raw_set("change", stretch.change)?;
        list.raw_push(table)?;
    }
    (cast_on, list).into_lua_multi(lua)
}

pub(super) fn steps_along(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let both = [Side::Left, Side::Right];
    let sides = match (fields.flag_unless_false("symmetric"), fields.side("side")) {
        (true, None) => &both[..],
        (false, Some(Side::Left)) => &both[..1],
        (false, Some(Side::Right)) => &both[1..],
        (true, Some(_)) | (false, None) => {
            return Err(raise_one(
                Diagnostic::error(
                    Code::ScriptConflict,
                    "shape.steps_along takes `symmetric = false` and `side` together",
                )
                .hint("give both to shape one side, or leave both out to shape both"),
            ));
        }
    };
    let (cast_on, stretches) = followed(lua, state, fields)?;
    let moves = Stretch::moves(&stretches, sides);
    (cast_on, step_list(lua, state, &moves)?).into_lua_multi(lua)
}

/// Moves as the constructors in `step` make them, at the line of the script that asks.
fn step_list(lua: &Lua, state: &CallState, moves: &[Move]) -> mlua::Result<Table> {
    let line = line_in(lua, INIT, 1);
    MoveTables::new(lua, state, line)?.list(moves)
}

/// Makes tables of moves. The keys are made once, not for each move.
struct MoveTables<'l> {
    lua: &'l Lua,
    state: &'l CallState,
    line: u32,
    op: LuaString,
    line_key: LuaString,
    side: LuaString,
    count: LuaString,
}

impl<'l> MoveTables<'l> {
    fn new(lua: &'l Lua, state: &'l CallState, line: u32) -> mlua::Result<Self> {
        let key = |name: &str| lua.create_string(name);
        let (op, line_key) = (key("op")?, key("line")?);
        Ok(MoveTables { lua, state, line, op, line_key, side: key("side")?, count: key("count")? })
    }

    fn list(&self, moves: &[Move]) -> mlua::Result<Table> {
        let list = self.lua.create_table_with_capacity(moves.len(), 0)?;
        for each in moves {
            list.raw_push(self.table(each)?)?;
        }
        Ok(list)
    }

    fn table(&self, each: &Move) -> mlua::Result<Table> {
        let table = self.lua.create_table_with_capacity(0, 4)?;
        let op = |op: &str| table.raw_set(&self.op, op);
        let side = |name: &str, side: Side, count: u32| {
            op(name)?;
            table.raw_set(&self.side, side.name())?;
            table.raw_set(&self.count, count)
        };
        match each {
            Move::Knit(rows) => {
                op("knit")?;
                table.raw_set("rows", *rows)?;
            }
            Move::Hold(at) => side("hold", *at, 1)?,
            Move::BringBack(at) => side("bring_back", *at, 1)?,
            Move::CarriageAt(at) => {
                op("carriage_at")?;
                table.raw_set(&self.side, at.name())?;
            }
            Move::Wrap => op("wrap")?,
            Move::Mark(name) => {
                op("mark")?;
                table.raw_set("name", name.as_str())?;
            }
            Move::Increase(at, count) => side("increase", *at, *count)?,
            Move::Decrease(at, count) => side("decrease", *at, *count)?,
            Move::Again(times, moves) => {
                op("again")?;
                table.raw_set("times", *times)?;
                table.raw_set("steps", self.list(moves)?)?;
            }
        }
        table.raw_set(&self.line_key, self.line)?;
        table.set_readonly(true);
        let (action, text) = match each {
            Move::Again(times, _) => (Action::Repeat { times: *times, steps: Vec::new() }, 0),
            Move::Mark(name) => (Action::Mark(name.clone()), name.len()),
            other => (other.clone().into_step(self.line).action, 0),
        };
        self.state.steps.borrow_mut().keep(&table, KeptStep { line: self.line, action, text });
        Ok(table)
    }
}
