use mlua::{Table, Value};

use diag::Code;

use super::misfit::Misfit;
use super::show::{describe, number};

/// The items of a list of at most `most`, in order.
pub(crate) fn items(list: &Table, most: usize) -> Result<Vec<Value>, Misfit> {
    let length = list.raw_len();
    if length > most {
        return Err(Misfit::new(Code::ScriptSize, format!("has {length} entries, over {most}"))
            .hint("make it shorter"));
    }
    let broken = |_| Misfit::new(Code::ScriptMemory, "can't be read".to_owned());
    let mut all = Vec::with_capacity(length);
    for at in 1..=length {
        all.push(list.raw_get::<Value>(at).map_err(broken)?);
    }
    match stray_key(list, length) {
        Ok(None) => Ok(all),
        Ok(Some(key)) => Err(Misfit::new(
            Code::ScriptList,
            format!("must be a list without gaps or names; it has {key}"),
        )
        .hint("a nil inside a list makes a gap: leave such entries out")),
        Err(_) => Err(broken(mlua::Error::StackError)),
    }
}

/// A key of `list` that is not one of `1..=length`, as a message shows it.
pub(crate) fn stray_key(list: &Table, length: usize) -> mlua::Result<Option<String>> {
    let mut stray = None;
    // The values don't matter: as truths they cost nothing to hand over.
    let walked = list.for_each(|key: Value, _: bool| {
        let place = number(&key).filter(|n| n.fract() == 0.0);
        if place.is_some_and(|n| n >= 1.0 && n <= length as f64) {
            return Ok(());
        }
        stray = Some(describe(&key));
        // Only ends the walk.
        Err(mlua::Error::StackError)
    });
    match stray {
        Some(key) => Ok(Some(key)),
        None => walked.map(|()| None),
    }
}
