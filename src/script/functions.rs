//! What the functions of the API do.

use mlua::{Function, IntoLuaMulti, Lua, MultiValue, Table, Value};

use diag::{Code, Diagnostic, nearest};
use knit::needle::{Needle, Span};

use super::api::{Entry, Form, Handler};
use super::fault::{raise, raise_one};
use super::fields::{Fields, Range, Rounding, describe, read, read_arguments};
use super::kept_steps::KeptStep;
use super::plugin::{INIT, is_module_path};
use super::state::{ModuleState, State, Stop, line_in, spot};
use super::steps;

/// A function behind an entry: the checked arguments in, the results out.
pub(super) type Call = fn(&Lua, &State, &Fields) -> mlua::Result<MultiValue>;

const MOST_WARNINGS: usize = 100;
const MOST_CANDIDATES: u64 = 1_000_000;

/// Checks the arguments of `entry` and does what it stands for.
pub(super) fn dispatch(
    lua: &Lua,
    state: &State,
    entry: &'static Entry,
    mut arguments: MultiValue,
) -> mlua::Result<MultiValue> {
    let mut faults = Vec::new();
    let what = entry.name;
    // The prelude puts the table it will hand out before the arguments of the script.
    let made = match entry.handler {
        Handler::Step => arguments.pop_front(),
        _ => None,
    };
    let fields = match entry.form {
        Form::Positional => read_arguments(&arguments, entry.args, what, &mut faults),
        Form::Named => {
            let table = single_table(lua, entry, &arguments)?;
            read(&table, entry.args, what, &[], &mut faults)?
        }
    };
    if !faults.is_empty() {
        return Err(raise(faults));
    }
    match entry.handler {
        Handler::Step => {
            let action = steps::action(entry.split().1, &fields).map_err(raise_one)?;
            let line = line_in(lua, INIT);
            if let Some(Value::Table(made)) = made {
                let step = KeptStep { line, action, text: fields.text_bytes() };
                state.steps.borrow_mut().keep(&made, step);
            }
            line.into_lua_multi(lua)
        }
        Handler::Search => search(lua, &fields),
        Handler::Piece | Handler::View => line_in(lua, INIT).into_lua_multi(lua),
        Handler::Call(call) => call(lua, state, &fields),
        Handler::Require => Err(mlua::Error::runtime(format!("{what} is not set up"))),
    }
}

/// The one table a function with named arguments takes.
fn single_table(lua: &Lua, entry: &Entry, arguments: &MultiValue) -> mlua::Result<Table> {
    match (arguments.len(), arguments.front()) {
        (1, Some(Value::Table(table))) => Ok(table.clone()),
        // `step.wrap()`; what is needed is asked for by name further on.
        (0, _) => lua.create_table(),
        (count, first) => {
            let fault = Diagnostic::error(
                Code::ScriptArguments,
                format!(
                    "{} takes one table, not {}",
                    entry.name,
                    if count == 1 {
                        describe(first.unwrap_or(&Value::Nil))
                    } else {
                        format!("{count} values")
                    }
                ),
            );
            let (before, member) = entry.split();
            Err(raise_one(match before {
                Some(before) if count == 2 => {
                    fault.hint(format!("write {before}.{member} with a dot, not a colon"))
                }
                _ => fault.hint(format!("write {}{{ ... }}", entry.name)),
            }))
        }
    }
}

fn whole(fields: &Fields, name: &str) -> u32 {
    fields.whole(name).unwrap_or_default()
}

fn number(fields: &Fields, name: &str) -> f64 {
    fields.number(name).unwrap_or_default()
}

pub(super) fn centred(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    Span::centred(whole(fields, "n")).to_string().into_lua_multi(lua)
}

/// The `i`-th of `n` centred needles, from 1.
fn nth(n: u32, i: u32, name: &str) -> mlua::Result<Needle> {
    if i > n {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("`{name}` is {i}, but there are {n} needles"),
            )
            .hint("needles are counted from 1 at the left"),
        ));
    }
    Ok(Needle(Span::centred(n).left.0 + i as i32 - 1))
}

pub(super) fn slice(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    let (n, first, last) = (whole(fields, "n"), whole(fields, "first"), whole(fields, "last"));
    if first > last {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptNumber,
                format!("`first` is {first} and `last` is {last}"),
            )
            .hint("`first` is the left one"),
        ));
    }
    let span = Span { left: nth(n, first, "first")?, right: nth(n, last, "last")? };
    span.to_string().into_lua_multi(lua)
}

pub(super) fn at(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    nth(whole(fields, "n"), whole(fields, "i"), "i")?.to_string().into_lua_multi(lua)
}

/// The cost function and the ranges of a search, a `{ from, to, step }` each; the prelude does the
/// search.
fn search(lua: &Lua, fields: &Fields) -> mlua::Result<MultiValue> {
    let (Some(ranges), Some(cost)) = (fields.ranges("over"), fields.function("cost")) else {
        return Ok(MultiValue::new());
    };
    let count = ranges.iter().fold(1_u64, |count, range| count.saturating_mul(range.count()));
    if count > MOST_CANDIDATES {
        return Err(raise_one(
            Diagnostic::error(
                Code::ScriptSize,
                format!("fit.best would try {count} combinations, over {MOST_CANDIDATES}"),
            )
            .hint("narrow the ranges round a first guess"),
        ));
    }
    let bounds = |range: &Range| {
        lua.create_sequence_from([range.from, range.to, range.step].map(|n| n as f64))
    };
    let ranges = ranges.iter().map(bounds).collect::<mlua::Result<Vec<Table>>>()?;
    (cost, ranges).into_lua_multi(lua)
}

/// What is said of a cost that is no finite number.
pub(super) fn no_cost(cost: &Value, choice: &[f64]) -> mlua::Error {
    let given = choice.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    raise_one(
        Diagnostic::error(
            Code::ScriptNumber,
            format!("the cost of ({given}) is {}", describe(cost)),
        )
        .hint("return a number, or nil when that choice can't be"),
    )
}

pub(super) fn to_multiple(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    let multiple = f64::from(whole(fields, "multiple"));
    let plus = fields.number("plus").unwrap_or(0.0);
    let share = (number(fields, "x") - plus) / multiple;
    let times = match fields.rounding("rounding").unwrap_or(Rounding::Nearest) {
        Rounding::Nearest => (share + 0.5).floor(),
        Rounding::Up => share.ceil(),
        Rounding::Down => share.floor(),
    };
    (times * multiple + plus).into_lua_multi(lua)
}

pub(super) fn round(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    number(fields, "x").round().into_lua_multi(lua)
}

pub(super) fn spread(lua: &Lua, _: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    let (total, parts) = (u64::from(whole(fields, "total")), u64::from(whole(fields, "parts")));
    let share = |i: u64| (i + 1) * total / parts - i * total / parts;
    lua.create_sequence_from((0..parts).map(|i| share(i) as f64))?.into_lua_multi(lua)
}

pub(super) fn warn(_: &Lua, state: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    let mut warnings = state.warnings.borrow_mut();
    if warnings.len() >= MOST_WARNINGS {
        return Err(raise_one(
            Diagnostic::error(Code::ScriptSize, format!("more than {MOST_WARNINGS} warnings"))
                .hint("nobody reads so many: warn once, outside the loop"),
        ));
    }
    warnings.extend(fields.text("text"));
    Ok(MultiValue::new())
}

pub(super) fn refuse(lua: &Lua, state: &State, fields: &Fields) -> mlua::Result<MultiValue> {
    Err(state.halt(
        lua,
        Stop::Refused {
            reason: fields.text("reason").unwrap_or_default(),
            hints: fields.texts("hints").unwrap_or_default(),
        },
    ))
}

/// `require("./other")`: a module of the plugin, run once in a call.
pub(super) fn require(
    lua: &Lua,
    state: &State,
    entry: &'static Entry,
    arguments: &MultiValue,
    load: impl Fn(&str) -> mlua::Result<Function>,
) -> mlua::Result<Value> {
    let mut faults = Vec::new();
    let fields = read_arguments(arguments, entry.args, "require", &mut faults);
    if !faults.is_empty() {
        return Err(raise(faults));
    }
    let asked = fields.text("path").unwrap_or_default();
    let module = module_path(lua, &asked).ok_or_else(|| {
        raise_one(
            Diagnostic::error(Code::ScriptRequire, format!("`{}` is not a module of this plugin", super::fields::clip(&asked)))
                .hint("write require(\"./name\") for name.luau in the same folder; nothing outside it can be reached"),
        )
    })?;
    match state.modules.borrow().get(&module) {
        Some(ModuleState::Ready(value)) => return Ok(value.clone()),
        Some(ModuleState::Loading) => {
            return Err(raise_one(
                Diagnostic::error(
                    Code::ScriptRequire,
                    format!("`{module}` requires itself, directly or through another"),
                )
                .hint("move what both need into a third module"),
            ));
        }
        None => {}
    }
    let known: Vec<String> = state
        .code
        .borrow()
        .as_ref()
        .map(|code| code.modules.keys().filter(|name| *name != INIT).cloned().collect())
        .unwrap_or_default();
    if !known.contains(&module) {
        let fault = Diagnostic::error(Code::ScriptRequire, format!("the plugin has no `{module}`"));
        return Err(raise_one(match nearest(&module, known.iter().map(String::as_str)) {
            Some(near) => {
                fault.hint(format!("did you mean `./{}`?", near.trim_end_matches(".luau")))
            }
            None => fault.hint("a module is a .luau file beside init.luau"),
        }));
    }
    state.modules.borrow_mut().insert(module.clone(), ModuleState::Loading);
    let results: MultiValue = load(&module)?.call(())?;
    let value = match (results.len(), results.front()) {
        (1, Some(value)) if !value.is_nil() => value.clone(),
        _ => {
            return Err(raise_one(
                Diagnostic::error(Code::ScriptRequire, format!("`{module}` must return one value"))
                    .hint("end it with `return { ... }`"),
            ));
        }
    };
    state.modules.borrow_mut().insert(module, ModuleState::Ready(value.clone()));
    Ok(value)
}

/// `./name` as a file of the plugin, beside the module that asks.
fn module_path(lua: &Lua, asked: &str) -> Option<String> {
    let name = asked.strip_prefix("./")?;
    let asking = spot(lua).map(|spot| spot.module).unwrap_or_default();
    let folder = asking.rfind('/').map_or("", |at| &asking[..=at]);
    let path = format!("{folder}{}.luau", name.strip_suffix(".luau").unwrap_or(name));
    is_module_path(&path).then_some(path)
}

/// Plain search in linear time, for any bytes: where `word` begins and ends, counted from 1.
/// The machine's own takes the product of both lengths and can't be interrupted.
pub(super) fn plain_find(text: &[u8], word: &[u8], from: f64) -> Option<(usize, usize)> {
    let from = from as i64;
    let length = text.len() as i64;
    let start = if from < 0 { (length + from).max(0) } else { (from - 1).max(0) };
    let rest = text.get(usize::try_from(start).ok()?..)?;
    let found = match (std::str::from_utf8(rest), std::str::from_utf8(word)) {
        (Ok(rest), Ok(word)) => rest.find(word),
        _ => {
            // Byte by byte as characters, which `str::find` searches in linear time.
            let wide = |bytes: &[u8]| bytes.iter().map(|b| char::from(*b)).collect::<String>();
            let (rest, word) = (wide(rest), wide(word));
            rest.find(&word).map(|at| rest[..at].chars().count())
        }
    }?;
    let begin = start as usize + found + 1;
    Some((begin, begin + word.len() - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_find_counts_as_the_language_does() {
        assert_eq!(plain_find(b"hello", b"l", 1.0), Some((3, 3)));
        assert_eq!(plain_find(b"hello", b"l", 4.0), Some((4, 4)));
        assert_eq!(plain_find(b"hello", b"lo", -2.0), Some((4, 5)));
        assert_eq!(plain_find(b"hello", b"h", -99.0), Some((1, 1)));
        assert_eq!(plain_find(b"hello", b"", 6.0), Some((6, 5)));
        assert_eq!(plain_find(b"hello", b"", 7.0), None);
        assert_eq!(plain_find(b"\xff\x80a", b"\x80", 1.0), Some((2, 2)));
        assert_eq!(plain_find("né".as_bytes(), "é".as_bytes(), 1.0), Some((2, 3)));
    }
}
