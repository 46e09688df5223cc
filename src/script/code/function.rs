use super::bytes::{Reader, put_number, put_word};

/// One function of a compiled chunk, in its parts. What needs no change is kept as it is written.
pub(super) struct CompiledFunction<'a> {
    /// Registers it uses.
    pub registers: u8,
    /// From after the registers to before the code.
    head: &'a [u8],
    pub code: Vec<u32>,
    constants: usize,
    constants_bytes: &'a [u8],
    /// Texts added to the constants, by their number in the chunk, from 1.
    added: Vec<u32>,
    /// The functions inside it, where it begins, and its name.
    middle: &'a [u8],
    /// The line of each word of the code; empty where the compiler knows none.
    pub lines: Vec<i32>,
    debug: &'a [u8],
}

impl<'a> CompiledFunction<'a> {
    /// `None` for what is no function, or has a constant of a kind that is not known here.
    pub fn read(reader: &mut Reader<'a>) -> Option<Self> {
        let registers = reader.byte()?;
        let from = reader.at();
        // Parameters, upvalues, whether it takes any number, flags.
        reader.take(4)?;
        let types = reader.count()?;
        reader.take(types)?;
        let head = reader.since(from);
        let code = (0..reader.count()?).map(|_| reader.word()).collect::<Option<Vec<u32>>>()?;
        let constants = reader.count()?;
        let from = reader.at();
        for _ in 0..constants {
            pass_constant(reader)?;
        }
        let constants_bytes = reader.since(from);
        let from = reader.at();
        let inside = reader.count()?;
        // Each, then the line and the name.
        reader.numbers(inside + 2)?;
        let middle = reader.since(from);
        let lines = read_lines(reader, code.len())?;
        let from = reader.at();
        pass_debug(reader)?;
        let debug = reader.since(from);
        let added = Vec::new();
        Some(CompiledFunction {
            registers,
            head,
            code,
            constants,
            constants_bytes,
            added,
            middle,
            lines,
            debug,
        })
    }

    /// Adds a text, by its number in the chunk, and gives its place among the constants.
    pub fn add_text(&mut self, number: u32) -> u32 {
        self.added.push(number);
        (self.constants + self.added.len() - 1) as u32
    }

    /// Adds words that belong to a line.
    pub fn add_code(&mut self, words: &[u32], line: Option<i32>) {
        self.code.extend(words);
        self.lines.extend(line.iter().flat_map(|line| words.iter().map(|_| *line)));
    }

    pub fn write(&self, out: &mut Vec<u8>) {
        out.push(self.registers);
        out.extend(self.head);
        put_number(out, self.code.len() as u64);
        self.code.iter().for_each(|word| put_word(out, *word));
        put_number(out, (self.constants + self.added.len()) as u64);
        out.extend(self.constants_bytes);
        for number in &self.added {
            out.push(CONSTANT_TEXT);
            put_number(out, u64::from(*number));
        }
        out.extend(self.middle);
        self.write_lines(out);
        out.extend(self.debug);
    }

    /// Each word's line in full: longer than the compiler's way, and without its spans.
    fn write_lines(&self, out: &mut Vec<u8>) {
        out.push(u8::from(!self.lines.is_empty()));
        if self.lines.is_empty() {
            return;
        }
        out.push(0);
        out.extend(self.lines.iter().map(|_| 0));
        let before = [0].iter().chain(&self.lines);
        for (line, before) in self.lines.iter().zip(before) {
            out.extend((line - before).to_le_bytes());
        }
    }
}

const CONSTANT_TEXT: u8 = 3;

fn pass_constant(reader: &mut Reader<'_>) -> Option<()> {
    match reader.byte()? {
        // nil
        0 => {}
        // A boolean, a number, an import, a vector.
        1 => drop(reader.take(1)?),
        2 => drop(reader.take(8)?),
        4 => drop(reader.take(4)?),
        7 => drop(reader.take(16)?),
        // A text, a function.
        CONSTANT_TEXT | 6 => drop(reader.number()?),
        // The keys of a table, without values and with them.
        5 => {
            let keys = reader.count()?;
            reader.numbers(keys)?;
        }
        8 => {
            for _ in 0..reader.count()? {
                reader.number()?;
                reader.word()?;
            }
        }
        // A sign and a whole number.
        9 => {
            reader.byte()?;
            reader.number()?;
        }
        _ => return None,
    }
    Some(())
}

/// The line of each of so many words; nothing where none is known.
fn read_lines(reader: &mut Reader<'_>, words: usize) -> Option<Vec<i32>> {
    if reader.byte()? == 0 {
        return Some(Vec::new());
    }
    let span = u32::from(reader.byte()?);
    let mut offset = 0_u8;
    let mut offsets = Vec::with_capacity(words);
    for _ in 0..words {
        offset = offset.wrapping_add(reader.byte()?);
        offsets.push(offset);
    }
    let mut base = 0_i32;
    let mut bases = Vec::new();
    for _ in 0..(words.checked_sub(1)?.checked_shr(span)? + 1) {
        base = base.wrapping_add(reader.word()?.cast_signed());
        bases.push(base);
    }
    let line = |(at, offset): (usize, &u8)| bases[at >> span] + i32::from(*offset);
    Some(offsets.iter().enumerate().map(line).collect())
}

fn pass_debug(reader: &mut Reader<'_>) -> Option<()> {
    if reader.byte()? == 0 {
        return Some(());
    }
    for _ in 0..reader.count()? {
        reader.numbers(3)?;
        reader.byte()?;
    }
    let upvalues = reader.count()?;
    reader.numbers(upvalues)
}
