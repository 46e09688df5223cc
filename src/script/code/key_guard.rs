//! Has every key looked at before an entry is made under it. Tables, functions, coroutines, buffers
//! and userdata lie in a table by their address. Where they lie decides where the other entries go,
//! and even how long a list with gaps is, so it is too late to look when a table is walked: such a
//! key never gets in.
//!
//! Keys that are written out are texts and numbers. All others go through one instruction of the
//! machine, and nothing but compiled code can stand before it: so it is the compiled code that is
//! changed. The instruction makes way for a jump to the end of the function, where the key's type is
//! asked for; then it is carried out, and a jump leads back. Nothing else moves, and lines stay.

use super::bytes::{Reader, put_number};
use super::function::CompiledFunction;
use super::names::KEY_GUARD;

/// The only version of compiled code, and of the types in it, that this can read.
const VERSIONS: [u8; 2] = [9, 3];

/// Why a chunk can't be guarded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unguarded {
    /// It is not as this knows compiled code to be.
    Unknown,
    /// A function uses all registers there are.
    Crowded,
}

/// What the guard compares with: types of keys that are most usual, then its own name.
const TEXTS: [&str; 3] = ["number", "string", KEY_GUARD];

/// The chunk with its keys guarded.
pub(super) fn guard_keys(chunk: &[u8]) -> Result<Vec<u8>, Unguarded> {
    let mut out = Vec::with_capacity(chunk.len() + chunk.len() / 4);
    let mut reader = Reader::new(chunk);
    let first_text = pass_head(&mut reader, &mut out).ok_or(Unguarded::Unknown)?;
    let functions = reader.count().ok_or(Unguarded::Unknown)?;
    put_number(&mut out, functions as u64);
    for _ in 0..functions {
        let from = reader.at();
        let function = CompiledFunction::read(&mut reader).ok_or(Unguarded::Unknown)?;
        let stores = stores(&function.code).ok_or(Unguarded::Unknown)?;
        if stores.is_empty() {
            out.extend(reader.since(from));
        } else {
            guard_function(function, &stores, first_text)?.write(&mut out);
        }
    }
    let from = reader.at();
    reader.number().filter(|_| reader.is_done()).ok_or(Unguarded::Unknown)?;
    out.extend(reader.since(from));
    Ok(out)
}

/// Copies what stands before the functions and adds our texts. Gives the number of the first.
fn pass_head(reader: &mut Reader<'_>, out: &mut Vec<u8>) -> Option<u32> {
    let versions = reader.take(VERSIONS.len())?;
    if versions != VERSIONS {
        return None;
    }
    out.extend(versions);
    let texts = reader.count()?;
    let from = reader.at();
    for _ in 0..texts {
        let length = reader.count()?;
        reader.take(length)?;
    }
    put_number(out, (texts + TEXTS.len()) as u64);
    out.extend(reader.since(from));
    for text in TEXTS {
        put_number(out, text.len() as u64);
        out.extend(text.as_bytes());
    }
    let from = reader.at();
    while reader.byte()? != 0 {
        reader.number()?;
    }
    out.extend(reader.since(from));
    u32::try_from(texts + 1).ok()
}

mod op {
    pub const MOVE: u8 = 6;
    pub const GETGLOBAL: u8 = 7;
    pub const SETTABLE: u8 = 14;
    pub const CALL: u8 = 21;
    pub const JUMP: u8 = 23;
    pub const JUMPX: u8 = 67;
    pub const FASTCALL1: u8 = 73;
    pub const JUMPXEQKS: u8 = 80;
    /// The number of `type` among the functions that FASTCALL1 knows.
    pub const TYPE: u8 = 40;
    /// One more than the last instruction there is.
    pub const COUNT: u8 = 91;
    /// Instructions with a second word.
    pub const LONG: [u8; 30] = [
        7, 8, 12, 15, 16, 20, 27, 28, 29, 30, 31, 32, 53, 55, 58, 60, 66, 74, 75, 77, 78, 79, 80,
        83, 84, 85, 86, 87, 88, 90,
    ];
}

/// Where an entry is made under a key that is not written out.
fn stores(code: &[u32]) -> Option<Vec<usize>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(word) = code.get(at) {
        let op = *word as u8;
        if op >= op::COUNT {
            return None;
        }
        if op == op::SETTABLE {
            found.push(at);
        }
        at += if op::LONG.contains(&op) { 2 } else { 1 };
    }
    (at == code.len()).then_some(found)
}

fn guard_function<'a>(
    mut function: CompiledFunction<'a>,
    stores: &[usize],
    first_text: u32,
) -> Result<CompiledFunction<'a>, Unguarded> {
    // Two registers more than the function uses: the guard, and what it is to look at.
    let spare = function.registers;
    function.registers = spare.checked_add(2).ok_or(Unguarded::Crowded)?;
    let mut text = first_text..;
    let [number, string, guard] = TEXTS.map(|_| function.add_text(text.next().unwrap_or_default()));
    for &at in stores {
        let store = function.code[at];
        let key = (store >> 24) as u8;
        let call = |results: u8| {
            let look = [abc(op::GETGLOBAL, spare, 0, 0), guard, abc(op::MOVE, spare + 1, key, 0)];
            look.into_iter().chain([abc(op::CALL, spare, 2, results + 1)])
        };
        let begin = function.code.len();
        // The type, by the short way, or by the guard where the machine knows none.
        let mut words = vec![abc(op::FASTCALL1, op::TYPE, key, 3)];
        words.extend(call(1));
        // On to the store: past what is left of this comparison, the other one and the call.
        words.extend([ad(op::JUMPXEQKS, spare, 7), number]);
        words.extend([ad(op::JUMPXEQKS, spare, 5), string]);
        words.extend(call(0));
        words.push(store);
        words.push(jump(begin + words.len(), at + 1)?);
        function.code[at] = jump(at, begin)?;
        let line = function.lines.get(at).copied();
        function.add_code(&words, line);
    }
    Ok(function)
}

fn abc(op: u8, a: u8, b: u8, c: u8) -> u32 {
    u32::from_le_bytes([op, a, b, c])
}

fn ad(op: u8, a: u8, d: i16) -> u32 {
    let [low, high] = d.to_le_bytes();
    abc(op, a, low, high)
}

/// A jump that stands at `from`: the short one where it reaches.
fn jump(from: usize, to: usize) -> Result<u32, Unguarded> {
    let far = to as i64 - from as i64 - 1;
    if let Ok(near) = i16::try_from(far) {
        return Ok(ad(op::JUMP, 0, near));
    }
    let reached = i32::try_from(far).ok().filter(|far| (-(1 << 23)..1 << 23).contains(far));
    let far = reached.ok_or(Unguarded::Crowded)?;
    Ok((far << 8).cast_unsigned() | u32::from(op::JUMPX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::compile::compiled;

    /// The functions of a chunk.
    fn functions(chunk: &[u8]) -> Vec<CompiledFunction<'_>> {
        let mut reader = Reader::new(chunk);
        pass_head(&mut reader, &mut Vec::new()).expect("a head");
        let count = reader.count().expect("functions");
        (0..count).map(|_| CompiledFunction::read(&mut reader).expect("a function")).collect()
    }

    /// Guards a source and holds that nothing but the stores has moved. Gives how many there are.
    fn guarded(source: &str) -> usize {
        let before = compiled(source).expect("it compiles");
        let after = guard_keys(&before).expect("it can be guarded");
        let (before, after) = (functions(&before), functions(&after));
        assert_eq!(before.len(), after.len());
        let mut all = 0;
        for (before, after) in before.iter().zip(&after) {
            let stores = stores(&before.code).expect("instructions");
            let old = before.code.len();
            for at in 0..old {
                let moved = stores.contains(&at);
                assert_eq!(before.code[at] != after.code[at], moved, "at {at} of\n{source}");
            }
            assert_eq!(before.lines[..], after.lines[..old]);
            for (nth, at) in stores.iter().enumerate() {
                let part = old + nth * WORDS..old + (nth + 1) * WORDS;
                assert_eq!(after.code[part.end - 2], before.code[*at]);
                assert!(after.lines[part].iter().all(|line| *line == before.lines[*at]));
            }
            assert_eq!(after.code.len(), old + stores.len() * WORDS);
            assert_eq!(super::stores(&after.code).map(|found| found.len()), Some(stores.len()));
            all += stores.len();
        }
        all
    }

    /// Words that guard one store.
    const WORDS: usize = 15;

    #[test]
    fn only_stores_move_and_lines_stay() {
        assert_eq!(guarded("local t = { 1, a = 2 } t.b, t[3] = 4, 5 return t[t]"), 0);
        assert_eq!(guarded("local t, k = {}, ... t[k] = 1"), 1);
        let kinds = "local k, w = ..., { [...] = 1, [k] = k } w[k] += 1\n\n\
            function w.f(t: { number }) return function() t[#t + 1], w[k] = `{k}`, 0x10 end end\n\
            for a, b in w do w[b] = a if a then continue end end return vector.create(1, 2, 3)";
        assert_eq!(guarded(kinds), 6);
        // Lines far apart, and more code than a short jump leaps over.
        let long = format!("local t, k = {{}}, ...\n{}", "t[k] = k\n\n\n".repeat(20_000));
        assert_eq!(guarded(&long), 20_000);
    }

    #[test]
    fn a_crowded_function_is_refused_and_nothing_else_is() {
        let names =
            |count: usize| (0..count).map(|n| format!("v{n}")).collect::<Vec<_>>().join(", ");
        let crowded = |deep: usize| {
            let call = format!("f({}{})", "1, ".repeat(deep), "t");
            format!("local f, t, k, {} = ...\nt[k] = {call}", names(190))
        };
        let most = (1..70).take_while(|deep| compiled(&crowded(*deep)).is_ok()).last();
        let at = |deep: usize| guard_keys(&compiled(&crowded(deep)).expect("it compiles"));
        assert_eq!(at(most.expect("some")), Err(Unguarded::Crowded));
        assert!(at(most.expect("some") - 2).is_ok());
    }

    /// What is not as it should be is told, never run.
    #[test]
    fn a_chunk_that_is_cut_or_of_another_version_is_unknown() {
        let chunk =
            compiled("local t, k = {}, ... t[k] = 1 return function() t[k] = 2 end").expect("good");
        for end in 0..chunk.len() {
            assert_eq!(guard_keys(&chunk[..end]), Err(Unguarded::Unknown), "cut at {end}");
        }
        for at in 0..VERSIONS.len() {
            let mut other = chunk.clone();
            other[at] += 1;
            assert_eq!(guard_keys(&other), Err(Unguarded::Unknown));
        }
        assert!(guard_keys(&[&chunk[..], &[0]].concat()).is_err());
    }
}
