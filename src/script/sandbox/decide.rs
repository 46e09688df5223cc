//! Whole numbers that a script chooses and a knitter may fix: `decide`, `decide_count`. The prelude
//! searches; here ranges are checked, and what is fixed takes the place of what would be chosen.

use mlua::{Function, IntoLuaMulti, Lua, MultiValue, Table, Value};

use diag::{Code, Diagnostic};

use super::call_state::{CallState, Halt};
use super::decided::Asked;
use super::functions::next_multiple;
use super::search::MOST_CANDIDATES;
use crate::values::{
    AskedDecision, CheckedFields, NAME_HINT, Rounding, SearchRange, describe, is_decision_name,
    raise_one,
};

/// More than any garment has to decide.
const MOST_DECISIONS: usize = 200;

/// Combinations tried to find what can be beside numbers that can't.
const MOST_BESIDE: u64 = 60_000;

/// One dimension of a search: what it is called and what is tried.
type Dimension<'a> = (&'a AskedDecision, SearchRange);

/// What the prelude searches: tables as its `decide_maker` reads them.
pub(super) fn asked(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let Some(all) = fields.decisions("of") else { return Ok(MultiValue::new()) };
    let cost = fields.function("cost");
    let mut fixed = Vec::new();
    for one in &all {
        claim(state, &one.name)?;
        if let Some(n) = fixed_in(lua, state, &one.name, one.may)? {
            fixed.push((one, n));
        }
    }
    let value_of = |name: &str| fixed.iter().find(|(one, _)| one.name == name).map(|(_, n)| *n);
    let tried: Vec<Dimension<'_>> = all
        .iter()
        .filter_map(|one| match value_of(&one.name) {
            Some(n) => Some((one, only(n))),
            None => Some((one, one.range?)),
        })
        .collect();
    let count = combinations(&tried);
    if count > MOST_CANDIDATES {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptSize,
                format!("decide would try {count} combinations, over {MOST_CANDIDATES}"),
            )
            .hint("narrow the ranges round a first guess; a knitter may fix what lies in `may`"),
        ));
    }
    let turn = state.decided.borrow_mut().next_turn();
    for one in &all {
        let title = one.title.clone().unwrap_or_else(|| spaced(&one.name));
        ask(state, &one.name, title, one.may, turn);
    }
    let fixed_names = lua.create_table()?;
    for (one, _) in &fixed {
        fixed_names.raw_set(one.name.as_str(), true)?;
    }
    fixed_names.set_readonly(true);
    let followers: Vec<&AskedDecision> =
        all.iter().filter(|one| one.range.is_none() && value_of(&one.name).is_none()).collect();
    let table = searched(lua, &tried, &followers, cost.as_ref(), &fixed_names)?;
    table.raw_set("id", turn)?;
    let held = lua.create_table()?;
    for (one, n) in &fixed {
        let most = MOST_BESIDE / fixed.len().max(1) as u64;
        held.raw_push(held_table(lua, &tried, one, *n, most)?)?;
    }
    table.raw_set("held", held)?;
    let free = match fixed.is_empty() {
        true => lua.create_table()?,
        false => set_free(lua, &all, cost.as_ref())?,
    };
    table.raw_set("free", free)?;
    table.into_lua_multi(lua)
}

fn only(n: i64) -> SearchRange {
    SearchRange { from: n, to: n, step: 1 }
}

fn combinations(tried: &[Dimension<'_>]) -> u64 {
    tried.iter().fold(1_u64, |count, (_, range)| count.saturating_mul(range.count()))
}

/// Looks whether a number of that name can be asked for here.
fn claim(state: &CallState, name: &str) -> mlua::Result<()> {
    let decided = state.decided.borrow();
    if decided.has(name) {
        return Err(raise_one(
            Diagnostic::error(Code::ScriptName, format!("`{name}` is decided twice"))
                .hint("decide each number once, outside of loops and of what tells a cost"),
        ));
    }
    if decided.count() >= MOST_DECISIONS {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptSize,
                format!("more than {MOST_DECISIONS} numbers are decided"),
            )
            .hint("decide those that a knitter would want to fix"),
        ));
    }
    Ok(())
}

fn ask(state: &CallState, name: &str, title: String, may: SearchRange, turn: usize) {
    let asked = Asked { name: name.to_owned(), title, may, turn, value: None };
    state.decided.borrow_mut().ask(asked);
}

/// What the knitter fixed a number to, where it is one that it may be.
fn fixed_in(
    lua: &Lua,
    state: &CallState,
    name: &str,
    may: SearchRange,
) -> mlua::Result<Option<i64>> {
    let Some(n) = state.decided.borrow().fixed(name) else { return Ok(None) };
    if may.has(n) {
        return Ok(Some(n));
    }
    let near = may.beside(n);
    let (can, hint) = match near.first() {
        Some(first) => (
            format!("; {} can", either(&near)),
            format!("fix it to {first}, or leave it to the garment"),
        ),
        None => (String::new(), "leave it to the garment".to_owned()),
    };
    let reason = format!("{name} can't be {n}: {may}{can}");
    Err(state.halt(lua, Halt::Unfixable { reason, hint }))
}

/// `190 or 192`.
fn either(numbers: &[i64]) -> String {
    numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
}

/// `band_stitches` as people read it.
fn spaced(name: &str) -> String {
    let words = name.replace('_', " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn bounds(lua: &Lua, range: SearchRange) -> mlua::Result<Table> {
    lua.create_sequence_from([range.from, range.to, range.step].map(|n| n as f64))
}

fn searched(
    lua: &Lua,
    tried: &[Dimension<'_>],
    followers: &[&AskedDecision],
    cost: Option<&Function>,
    fixed: &Table,
) -> mlua::Result<Table> {
    let table = lua.create_table()?;
    let ranges =
        tried.iter().map(|(_, range)| bounds(lua, *range)).collect::<mlua::Result<Vec<_>>>()?;
    let mays =
        followers.iter().map(|one| bounds(lua, one.may)).collect::<mlua::Result<Vec<_>>>()?;
    let names = tried.iter().map(|(one, _)| one.name.as_str());
    table.raw_set("names", lua.create_sequence_from(names)?)?;
    table.raw_set("ranges", lua.create_sequence_from(ranges)?)?;
    let names = followers.iter().map(|one| one.name.as_str());
    table.raw_set("followers", lua.create_sequence_from(names)?)?;
    let follow = followers.iter().filter_map(|one| one.follows.clone());
    table.raw_set("follow", lua.create_sequence_from(follow)?)?;
    table.raw_set("bounds", lua.create_sequence_from(mays)?)?;
    table.raw_set("cost", cost)?;
    table.raw_set("fixed", fixed)?;
    Ok(table)
}

/// A fixed number, and how far a search for those beside it goes: no further than it may try.
fn held_table(
    lua: &Lua,
    tried: &[Dimension<'_>],
    one: &AskedDecision,
    n: i64,
    most: u64,
) -> mlua::Result<Table> {
    let at = tried.iter().position(|(other, _)| other.name == one.name).map_or(0, |at| at + 1);
    let times = (most / combinations(tried).max(1) / 2) as i64;
    let reach = one.may.step.saturating_mul(times);
    let table = lua.create_table()?;
    table.raw_set("at", at)?;
    table.raw_set("value", n as f64)?;
    table.raw_set("from", one.may.from.max(n.saturating_sub(reach)) as f64)?;
    table.raw_set("to", one.may.to.min(n.saturating_add(reach)) as f64)?;
    table.raw_set("step", one.may.step as f64)?;
    Ok(table)
}

/// The search without anything fixed; empty where it would try too much.
fn set_free(lua: &Lua, all: &[AskedDecision], cost: Option<&Function>) -> mlua::Result<Table> {
    let tried: Vec<Dimension<'_>> = all.iter().filter_map(|one| Some((one, one.range?))).collect();
    if combinations(&tried) > MOST_CANDIDATES {
        return lua.create_table();
    }
    let followers: Vec<&AskedDecision> = all.iter().filter(|one| one.range.is_none()).collect();
    let nothing = lua.create_table()?;
    nothing.set_readonly(true);
    searched(lua, &tried, &followers, cost, &nothing)
}

/// What the prelude found: the turn, the numbers by name, those next to each fixed one that can be, and
/// the numbers by name with nothing fixed.
pub(super) type Found = (usize, Option<Table>, Option<Vec<Vec<f64>>>, Option<Table>);

/// Keeps what was decided, or says what can't be with the others.
pub(super) fn settle(
    lua: &Lua,
    state: &CallState,
    (turn, found, near, free): Found,
) -> mlua::Result<()> {
    let mut decided = state.decided.borrow_mut();
    if let Some(found) = found {
        for asked in decided.of_turn(turn) {
            asked.value = found.raw_get::<Option<f64>>(asked.name.as_str())?.map(|n| n as i64);
        }
        return Ok(());
    }
    let fixed: Vec<(String, i64)> = decided.fixed_of(turn);
    decided.give_up(turn);
    let chosen = |(name, _): &(String, i64)| {
        let free = free.as_ref()?.raw_get::<Option<f64>>(name.as_str()).ok()??;
        Some((name.clone(), free as i64))
    };
    let free: Vec<(String, i64)> = fixed.iter().filter_map(chosen).collect();
    match unfixable(&fixed, &near.unwrap_or_default(), &free) {
        Some(halt) => Err(state.halt(lua, halt)),
        None => Ok(()),
    }
}

/// Why what is fixed can't be with the others; nothing where nothing could be without it either.
/// `free` is what would be chosen in its place.
fn unfixable(fixed: &[(String, i64)], near: &[Vec<f64>], free: &[(String, i64)]) -> Option<Halt> {
    let list = |all: &[(String, i64)], between: &str| {
        let each = all.iter().map(|(name, n)| format!("{name} {n}"));
        each.collect::<Vec<_>>().join(between)
    };
    let ways: Vec<(&str, Vec<i64>)> = fixed
        .iter()
        .zip(near)
        .filter(|(_, near)| !near.is_empty())
        .map(|((name, _), near)| (name.as_str(), near.iter().map(|n| *n as i64).collect()))
        .collect();
    let alone = fixed.len() == 1;
    let can = ways.iter().map(|(name, near)| match alone {
        true => format!("{} can", either(near)),
        false => format!("{name} {} can", either(near)),
    });
    let (can, hint) = match (ways.first(), free) {
        (Some((name, near)), _) => (
            can.collect::<Vec<_>>().join(", or "),
            format!("fix {name} to {}, or leave it to the garment", near[0]),
        ),
        (None, []) => return None,
        (None, free) => (
            format!("the garment would take {}", list(free, ", ")),
            if alone { "leave it to the garment" } else { "leave one of them to the garment" }
                .to_owned(),
        ),
    };
    let reason = match fixed {
        [(name, n)] => format!("{name} can't be {n} with the rest of the garment; {can}"),
        _ => format!("{} can't be together; {can}", list(fixed, " with ")),
    };
    Some(Halt::Unfixable { reason, hint })
}

/// What a script gave where a number was wanted: of a follower its name and what it may be.
pub(super) type WrongValue = (Option<String>, Value, Option<f64>, Option<f64>);

pub(super) fn not_decided((name, value, from, to): WrongValue) -> mlua::Error {
    let (message, hint) = match (name, from, to) {
        (Some(name), Some(from), Some(to)) => (
            format!("`{name}` follows from the others as {}", describe(&value)),
            format!(
                "return a whole number from {from} to {to}, as `may` says, or nil when it can't be"
            ),
        ),
        _ => (
            format!("the cost of a choice is {}", describe(&value)),
            "return a number, or nil when that choice can't be".to_owned(),
        ),
    };
    raise_one(Diagnostic::error(Code::ScriptNumber, message).hint(hint))
}

/// `decide_count`: so many stitches for so many millimetres.
pub(super) fn count(
    lua: &Lua,
    state: &CallState,
    fields: &CheckedFields,
) -> mlua::Result<MultiValue> {
    let name = fields.text("name").unwrap_or_default();
    if !is_decision_name(&name) {
        let fault =
            Diagnostic::error(Code::ScriptName, format!("a number can't be called `{name}`"));
        return Err(raise_one(fault.hint(NAME_HINT)));
    }
    claim(state, &name)?;
    let multiple = fields.whole("multiple").unwrap_or(1);
    let plus = fields.number("plus").unwrap_or(0.0);
    let number = |field: &str| fields.number(field).unwrap_or_default();
    let to = |x: f64, rounding| next_multiple(x, f64::from(multiple), plus, Some(rounding));
    let rounding = fields.rounding("rounding").unwrap_or(Rounding::Nearest);
    let wanted = to(number("mm") / number("per"), rounding);
    let least = to(fields.number("least").unwrap_or((wanted / 2.0).max(1.0)), Rounding::Up);
    let most = to(fields.number("most").unwrap_or((wanted * 2.0).max(least)), Rounding::Down);
    if least > most {
        let fault = format!("`{name}` can be no number: from {least} on, {most} at most");
        return Err(raise_one(Diagnostic::error(Code::ScriptNumber, fault).hint(
            "a number of the form multiple * k + plus must lie between `least` and `most`",
        )));
    }
    let may = SearchRange { from: least as i64, to: most as i64, step: i64::from(multiple) };
    let fixed = fixed_in(lua, state, &name, may)?;
    let value = fixed.unwrap_or(wanted.clamp(least, most) as i64);
    let mut decided = state.decided.borrow_mut();
    let turn = decided.next_turn();
    let title = fields.text("title").unwrap_or_else(|| spaced(&name));
    decided.ask(Asked { name, title, may, turn, value: Some(value) });
    (value as f64).into_lua_multi(lua)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(fixed: &[(&str, i64)], near: &[Vec<f64>], free: &[(&str, i64)]) -> Option<String> {
        let owned = |all: &[(&str, i64)]| -> Vec<(String, i64)> {
            all.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect()
        };
        match unfixable(&owned(fixed), near, &owned(free))? {
            Halt::Unfixable { reason, hint } => Some(format!("{reason} ({hint})")),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_can_be_beside_it_is_named() {
        assert_eq!(
            told(&[("steps", 9)], &[vec![8.0, 10.0]], &[("steps", 7)]).expect("told"),
            "steps can't be 9 with the rest of the garment; 8 or 10 can (fix steps to 8, or \
             leave it to the garment)"
        );
        assert_eq!(
            told(&[("a", 1), ("b", 2)], &[vec![], vec![5.0]], &[]).expect("told"),
            "a 1 with b 2 can't be together; b 5 can (fix b to 5, or leave it to the garment)"
        );
        assert_eq!(
            told(&[("a", 1), ("b", 2)], &[vec![], vec![]], &[("a", 3), ("b", 4)]).expect("told"),
            "a 1 with b 2 can't be together; the garment would take a 3, b 4 (leave one of them to the garment)"
        );
        assert_eq!(told(&[("a", 1)], &[vec![]], &[]), None, "the garment says why itself");
    }

    #[test]
    fn a_name_is_read_as_words() {
        assert_eq!(spaced("band_stitches"), "Band stitches");
    }
}
